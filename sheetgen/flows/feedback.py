"""A page of feedback for every sheet that counts, and all of them in one zip; what has not changed stays.

A page follows from what is known of one sheet, and making it takes about as long as reading the file: workers
that are there make pages too, and a page that would hold the same as before is not made again.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec

from sheetgen.checking.corrections import comment_given
from sheetgen.flows.workers import Workers, shared_out
from sheetgen.model.attempt import Attempt
from sheetgen.model.decision import Decision
from sheetgen.model.marking import Marking
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook
from sheetgen.report.feedback import cut_feedback_master, feedback_master, feedback_parts, feedback_zip
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there, sha256_of, sync_folder, write_beside
from sheetgen.store.known_files import KnownFiles
from sheetgen.store.program_digest import program_digest
from sheetgen.store.templates import read_template
from sheetgen.store.texts import texts_in
from sheetgen.workbook.repack import packer, with_language

__all__ = ["FeedbackPage", "feedback_pages", "write_feedback"]

_COUNTED = ("accepted", "review")
_TASK_PAGES = 50


@dataclass(frozen=True, slots=True)
class FeedbackPage:
    """All that one page follows from, besides what is common to all.

    name : of its file. incoming : the name that the sheet came in with.
    """

    name: str
    incoming: str
    attempt: Attempt
    protocol: Protocol
    marking: Marking
    comment: str
    adjusted: float | None


@dataclass(frozen=True, slots=True)
class _Common:
    texts: Mapping[str, str]
    master: bytes
    with_body_values: bool


@dataclass(frozen=True, slots=True)
class _Task:
    common: _Common
    pages: tuple[FeedbackPage, ...]


def feedback_pages(
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decisions: Mapping[str, Sequence[Decision]],
    adjusted: Mapping[str, float],
) -> Iterator[FeedbackPage]:
    """Give what each page follows from, for the sheets that count and are marked.

    Parameters
    ----------
    markings, adjusted : by copy code. decisions : by what they are about.
    """
    for attempt in attempts:
        record, built_with = attempt.record, attempt.built_with
        if record is None or built_with is None or attempt.status not in _COUNTED:
            continue
        code = record.copy_code
        if code in markings:
            yield FeedbackPage(
                record.file_name or f"{code}.xlsx",
                attempt.file,
                replace(attempt, built_with=None),
                built_with.protocol,
                markings[code],
                comment_given(decisions.get(code, ()), code),
                adjusted.get(code),
            )


def write_feedback(
    folder: ClassFolder,
    session: int,
    book: ClassBook,
    pages: Sequence[FeedbackPage],
    remembered: KnownFiles | None = None,
    workers: Workers | None = None,
) -> None:
    """Write the pages that are not there yet, and the zip of all of them.

    Parameters
    ----------
    remembered : of this session; None: every page is made. workers : who else makes pages; None: nobody.

    Raises
    ------
    FolderError : a page cannot be written.
    """
    language = book.settings.language
    texts = texts_in(language, "sheet", "marking", "feedback")
    master = with_language(feedback_master(texts, read_template("style.toml"), language), language)
    common = _Common(texts, master, book.settings.show_results != "never")
    shared = _digest((program_digest(), common))
    place = folder.feedback(session)
    make_folder(place)
    follow_from = [_digest((shared, replace(page, incoming=""))) for page in pages]
    data: dict[int, bytes] = {}
    noted: dict[str, str] = {}
    for index, page in enumerate(pages):
        before = "" if remembered is None else remembered.written(_key(page))
        there = _as_written(place / page.name, follow_from[index], before)
        if there is not None:
            data[index] = there
    missing = [index for index in range(len(pages)) if index not in data]
    for index, made in zip(missing, _made([pages[index] for index in missing], common, workers), strict=True):
        data[index] = made
        write_beside(place / pages[index].name, made, sync=False)
        noted[_key(pages[index])] = f"{follow_from[index]} {sha256_of(made)}"
    bundle = feedback_zip(_as_handed_over({page.incoming: data[index] for index, page in enumerate(pages)}))
    if noted or read_if_there(folder.feedback_zip(session)) != bundle:
        write_beside(folder.feedback_zip(session), bundle, sync=False)
    if noted:
        sync_folder(place)
    if remembered is not None:
        # Noted last: a page that is noted is there.
        remembered.note_written(noted, [_key(page) for page in pages])


def _made(pages: Sequence[FeedbackPage], common: _Common, workers: Workers | None) -> Iterator[bytes]:
    starts = range(0, len(pages), _TASK_PAGES)
    tasks = (_Task(common, tuple(pages[start : start + _TASK_PAGES])) for start in starts)
    for some in shared_out(_pages_made, tasks, workers or Workers(), here=_pages_made, again=_pages_made):
        yield from some


def _pages_made(task: _Task) -> list[bytes]:
    common = task.common
    master, pack = cut_feedback_master(common.master), packer(common.master)
    return [
        pack(
            feedback_parts(
                page.attempt,
                page.marking,
                page.protocol,
                common.texts,
                master,
                with_body_values=common.with_body_values,
                comment=page.comment,
                adjusted=page.adjusted,
            )
        )
        for page in task.pages
    ]


def _key(page: FeedbackPage) -> str:
    return f"feedback/{page.name}"


def _as_written(path: Path, follows_from: str, noted: str) -> bytes | None:
    """A page as it was written, where it follows from the same as now and has not been changed since."""
    before, _, digest = noted.partition(" ")
    if not follows_from or before != follows_from:
        return None
    data = read_if_there(path)
    return data if data is not None and sha256_of(data) == digest else None


def _as_handed_over(incoming: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """The names inside the platform's bundle, as it wants them back; whole ones where two would clash."""
    inside = {_inside_bundle(name): data for name, data in incoming.items()}
    return inside if len(inside) == len(incoming) else incoming


def _inside_bundle(name: str) -> str:
    bundle, slash, inside = name.partition("/")
    return inside if slash and bundle.casefold().endswith(".zip") else name


def _digest(value: object) -> str:
    """A digest of what something follows from; empty where a text cannot be written down."""
    try:
        return hashlib.sha256(msgspec.msgpack.encode(value)).hexdigest()
    except UnicodeError:
        return ""
