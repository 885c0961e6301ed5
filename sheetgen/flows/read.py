"""Read what came back, and write the results."""

import os
import shutil
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetgen.checking.catalogue import completed, status_of
from sheetgen.errors import UsageError
from sheetgen.flows.examine_file import OnRecord, attempt_of, on_record
from sheetgen.flows.sources import all_protocols, load_book
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.finding import Finding
from sheetgen.model.settings import ClassBook
from sheetgen.report.datapackage import datapackage_text
from sheetgen.report.tables import attempts_table, findings_table, readings_table, sites_table
from sheetgen.report.workbook import report_bytes
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.store.texts import load_texts

__all__ = ["ReadSummary", "read_returned", "taken_in"]

_PASSED_OVER = ("~$", ".", "__MACOSX")
_SIDE_FILES = ("thumbs.db", "desktop.ini")
_LARGEST_TAKEN_IN = 500_000_000
"""Bytes: beyond the download of a whole course; a film among them would fill the memory."""
_LONG_NAME = 240
"""Bytes; most systems allow 255."""


@dataclass(frozen=True, slots=True)
class ReadSummary:
    """attempts : in order of file. missing : sheets handed out of which nothing came back."""

    attempts: tuple[Attempt, ...]
    missing: tuple[CopyRecord, ...]
    passed_over: int
    results: str


def read_returned(
    folder: ClassFolder,
    session: int,
    paths: Sequence[Path] = (),
    progress: Callable[[int, int], None] | None = None,
) -> ReadSummary:
    """Read everything in returned/ of a session and write results/.

    Parameters
    ----------
    paths : files and folders that are copied into returned/ first.
    progress : is told how many files are done, of how many.

    Raises
    ------
    FolderError : the class book or the record cannot be used, or a result cannot be written.
    UsageError : a path is not there.
    """
    book = load_book(folder)
    known = on_record(folder)
    attempts = taken_in(folder, session, paths)
    files, passed_over = _returned_files(folder.returned(session))
    for number, path in enumerate(files, start=1):
        name = path.relative_to(folder.returned(session)).as_posix()
        attempts.append(_of_session(attempt_of(path, name, known), session))
        if progress is not None:
            progress(number, len(files))
    attempts = _copies_told_apart(attempts)
    handed_out = _handed_out(known, session)
    _write_results(folder, session, book, attempts, handed_out)
    back = {attempt.record.copy_code for attempt in attempts if attempt.record is not None}
    missing = tuple(record for record in handed_out if record.copy_code not in back)
    return ReadSummary(tuple(attempts), missing, passed_over, str(folder.results(session)))


def taken_in(folder: ClassFolder, session: int, paths: Iterable[Path]) -> list[Attempt]:
    """Copy files and folders into returned/; a file that is there with other bytes is never overwritten.

    Returns
    -------
    Those that cannot be read or are far too large, refused: one of them keeps no other from being taken in.

    Raises
    ------
    UsageError : a path is not there, or holds the class folder itself.
    FolderError : a copy cannot be written.
    """
    unreadable: list[Attempt] = []
    target = folder.returned(session)
    make_folder(target)
    for path in paths:
        if not path.exists():
            raise UsageError(path, "no such file or folder", "what came back", "Check the name.")
        if not path.is_dir() and not path.is_file():
            raise UsageError(path, "a device or pipe", "a file or folder", "Save it as a file first.")
        if folder.root.resolve().is_relative_to(path.resolve()):
            raise UsageError(
                path, "the class folder is inside", "what came back", "Name the folder of downloads."
            )
        sources = sorted(one for one in path.rglob("*") if one.is_file()) if path.is_dir() else [path]
        for source in sources:
            if source.resolve().is_relative_to(target.resolve()):
                continue
            inside = source.relative_to(path) if path.is_dir() else Path(source.name)
            data = _contents(source)
            if isinstance(data, bytes):
                _copied(source, data, target / inside)
            else:
                findings = completed((data,), load_catalogue())
                unreadable.append(Attempt(inside.as_posix(), "", "refused", None, "", {}, None, findings))
    return unreadable


def _contents(source: Path) -> bytes | Finding:
    """The bytes of a file, or why it cannot be taken in."""
    try:
        size = source.stat().st_size
        if size <= _LARGEST_TAKEN_IN:
            return source.read_bytes()
    except OSError as fault:
        return Finding("file-unreadable", "", str(fault.strerror or fault), "a file that can be read", "")
    expected = f"at most {_LARGEST_TAKEN_IN:,} bytes"
    return Finding("file-too-large", "", f"a file of {size:,} bytes", expected, "")


def _copied(source: Path, data: bytes, wanted: Path) -> None:
    """Copy under the wanted name, or the next free one where something else stands under it."""
    # A name may be as long as the system allows, so that nothing can be added to it.
    stem = wanted.stem if len(os.fsencode(wanted.name)) < _LONG_NAME else wanted.stem[:50]
    target, number = wanted, 1
    while target.exists():
        if target.is_file() and target.read_bytes() == data:
            return
        number += 1
        target = wanted.with_name(f"{stem}-{number}{wanted.suffix}")
    make_folder(target.parent)
    write_beside(target, data, sync=False)
    shutil.copystat(source, target)


def _returned_files(root: Path) -> tuple[list[Path], int]:
    """The files to read in order of name, and how many side-files were passed over."""
    every = sorted((path for path in root.rglob("*") if path.is_file()), key=lambda path: path.as_posix())
    kept = [
        path
        for path in every
        if path.name.lower() not in _SIDE_FILES
        and not any(part.startswith(_PASSED_OVER) for part in path.relative_to(root).parts)
    ]
    return kept, len(every) - len(kept)


def _of_session(attempt: Attempt, session: int) -> Attempt:
    if attempt.record is None or attempt.record.session == session:
        return attempt
    found, expected = f"session {attempt.record.session}", f"session {session}"
    finding = completed((Finding("file-other-session", "", found, expected, ""),), load_catalogue())
    return replace(attempt, status="refused", findings=(*finding, *attempt.findings))


def _copies_told_apart(attempts: list[Attempt]) -> list[Attempt]:
    """The same file twice counts once; two different files of one copy wait for the teacher."""
    by_code: dict[str, list[int]] = defaultdict(list)
    for index, attempt in enumerate(attempts):
        if attempt.record is not None and attempt.status != "refused":
            by_code[attempt.record.copy_code].append(index)
    catalogue = load_catalogue()
    told = list(attempts)
    for code, indexes in by_code.items():
        first_of: dict[str, int] = {}
        for index in indexes:
            if told[index].sha256 in first_of:
                told[index] = replace(told[index], status="superseded")
            else:
                first_of[told[index].sha256] = index
        if len(first_of) < 2:
            continue
        for index in first_of.values():
            others = ", ".join(told[other].file for other in first_of.values() if other != index)
            finding = Finding(
                "identity-copy-twice", "", f"copy code {code} also in {others}", "one file a copy", ""
            )
            findings = (*told[index].findings, *completed((finding,), catalogue))
            told[index] = replace(told[index], findings=findings, status=status_of(findings, catalogue))
    return told


def _handed_out(known: OnRecord, session: int) -> list[CopyRecord]:
    newest = [builds[-1] for builds in known.builds.values() if builds]
    return sorted(
        (record for record in newest if record.session == session), key=lambda record: record.file_name
    )


def _write_results(
    folder: ClassFolder,
    session: int,
    book: ClassBook,
    attempts: Sequence[Attempt],
    handed_out: Sequence[CopyRecord],
) -> None:
    make_folder(folder.results(session))
    protocols = all_protocols(folder)
    codes = [record.participant_code for record in handed_out]
    outputs = {
        folder.attempts(session): attempts_table(attempts, session, codes),
        folder.sites(session): sites_table(attempts, session, codes),
        folder.readings(session): readings_table(attempts, session, codes),
        folder.findings(session): findings_table(attempts, session),
        folder.description(session): datapackage_text(),
    }
    for path, text in outputs.items():
        write_beside(path, text.encode("utf-8"), sync=False)
    texts = load_texts(book.settings.language)
    words = {key.removeprefix("state."): text for key, text in texts.items() if key.startswith("state.")}
    style = read_template("style.toml")
    report = report_bytes(book, attempts, session, handed_out, protocols, words, style)
    write_beside(folder.report(session), report, sync=False)
    sync_folder(folder.results(session))
