"""A page of feedback for every sheet that counts, and all of them in one zip; equal files are left alone."""

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from sheetgen.checking.corrections import comment_given
from sheetgen.flows.pool import mapped
from sheetgen.model.attempt import Attempt
from sheetgen.model.decision import Decision
from sheetgen.model.marking import Marking
from sheetgen.model.settings import ClassBook
from sheetgen.report.feedback import Feedback, feedback_bytes, feedback_zip
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.store.texts import texts_in
from sheetgen.workbook.repack import with_language

__all__ = ["FeedbackPage", "feedback_pages", "write_feedback"]

_COUNTED = ("accepted", "review")


@dataclass(frozen=True, slots=True)
class FeedbackPage:
    """One page. name : of its file. incoming : the name that the sheet came in with."""

    name: str
    incoming: str
    feedback: Feedback


@dataclass(frozen=True, slots=True)
class _Task:
    """A page to be made, in the language of the class."""

    language: str
    feedback: Feedback


def feedback_pages(
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decisions: Mapping[str, Sequence[Decision]],
    adjusted: Mapping[str, float],
    *,
    with_body_values: bool,
) -> Iterator[FeedbackPage]:
    """Give the pages of the sheets that count and are marked.

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
            comment = comment_given(decisions.get(code, ()), code)
            bare = replace(attempt, built_with=None)
            feedback = Feedback(
                bare, markings[code], built_with.protocol, comment, adjusted.get(code), with_body_values
            )
            yield FeedbackPage(record.file_name or f"{code}.xlsx", attempt.file, feedback)


def write_feedback(
    folder: ClassFolder,
    session: int,
    book: ClassBook,
    pages: Sequence[FeedbackPage],
    executor: Executor | None = None,
) -> None:
    """Write the pages, and the zip of all of them.

    executor : makes the pages; None: this process.

    Raises
    ------
    FolderError : a page cannot be written.
    """
    place = folder.feedback(session)
    make_folder(place)
    tasks = (_Task(book.settings.language, page.feedback) for page in pages)
    made = list(mapped(_page_made, tasks, len(pages), executor, _page_made))
    for page, data in zip(pages, made, strict=True):
        if read_if_there(place / page.name) != data:
            write_beside(place / page.name, data, sync=False)
    incoming = {page.incoming: data for page, data in zip(pages, made, strict=True)}
    bundle = feedback_zip(_as_handed_over(incoming))
    if read_if_there(folder.feedback_zip(session)) != bundle:
        write_beside(folder.feedback_zip(session), bundle, sync=False)
        sync_folder(place)


def _page_made(task: _Task) -> bytes:
    texts = texts_in(task.language, "sheet", "marking", "feedback")
    data = feedback_bytes(task.feedback, texts, read_template("style.toml"), task.language)
    return with_language(data, task.language)


def _as_handed_over(incoming: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """The names inside the platform's bundle, as it wants them back; whole ones where two would clash."""
    inside = {_inside_bundle(name): data for name, data in incoming.items()}
    return inside if len(inside) == len(incoming) else incoming


def _inside_bundle(name: str) -> str:
    bundle, slash, inside = name.partition("/")
    return inside if slash and bundle.casefold().endswith(".zip") else name
