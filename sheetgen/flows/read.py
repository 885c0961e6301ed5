"""Read what came back, and write the results."""

import os
import shutil
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from sheetgen.checking.catalogue import completed
from sheetgen.checking.copies import answered, told_apart
from sheetgen.checking.corrections import files_answered, with_answer_marks
from sheetgen.checking.late import with_late_findings
from sheetgen.errors import UsageError
from sheetgen.flows.examine_file import OnRecord, attempt_of, on_record
from sheetgen.flows.marking import marked_attempts, scheme_of
from sheetgen.flows.results import Read, write_results
from sheetgen.flows.review import Harvested, harvest_review, redraw_review
from sheetgen.flows.sources import load_book
from sheetgen.layout.care import counts_as_under_18
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.finding import Finding
from sheetgen.model.settings import ClassBook
from sheetgen.store.arrivals import first_seen
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, write_beside

__all__ = ["ReadSummary", "read_returned", "taken_in"]

_PASSED_OVER = ("~$", ".", "__MACOSX")
_SIDE_FILES = ("thumbs.db", "desktop.ini")
_LARGEST_TAKEN_IN = 500_000_000
"""Bytes: beyond the download of a whole course; a film among them would fill the memory."""
_LONG_NAME = 240
"""Bytes; most systems allow 255."""


@dataclass(frozen=True, slots=True)
class ReadSummary:
    """attempts : in order of file. missing : sheets handed out of which nothing came back.

    notes : about the review workbook and the journal of decisions.
    """

    attempts: tuple[Attempt, ...]
    missing: tuple[CopyRecord, ...]
    passed_over: int
    results: str
    notes: tuple[Finding, ...] = ()


def read_returned(
    folder: ClassFolder,
    session: int,
    paths: Sequence[Path] = (),
    progress: Callable[[int, int], None] | None = None,
    today: str = "",
) -> ReadSummary:
    """Read everything in returned/ of a session and write results/.

    Parameters
    ----------
    paths : files and folders that are copied into returned/ first.
    progress : is told how many files are done, of how many.
    today : the day of this reading, YYYY-MM-DD; empty: as the clock says.

    Raises
    ------
    FolderError : the class book or the record cannot be used, or a result cannot be written.
    UsageError : a path is not there.
    """
    book = load_book(folder)
    scheme = scheme_of(folder)
    refused = taken_in(folder, session, paths)
    harvested = harvest_review(folder, session)
    known = replace(
        on_record(folder),
        decisions=harvested.decisions,
        minors=frozenset(
            person.participant_code.casefold()
            for person in book.people
            if counts_as_under_18(person, book.minors)
        ),
    )
    day = today or date.today().isoformat()
    attempts, passed_over = _attempts(folder, session, known, progress, book, day)
    attempts = [*refused, *attempts]
    earlier = [
        attempt
        for number in range(1, session)
        for attempt in _attempts(folder, number, _decided(known, harvested, number), None, book, day)[0]
    ]
    markings = marked_attempts(book, attempts, scheme)
    handed_out = _handed_out(known, session)
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    marked_sheets = [record for record in handed_out if record.student_id not in teachers]
    notes = redraw_review(folder, session, attempts, markings, harvested, marked_sheets, book.people)
    given = {code: with_answer_marks(one, harvested.decisions, code) for code, one in markings.items()}
    write_results(
        folder, Read(session, book, attempts, earlier, handed_out, scheme, given, harvested.decisions)
    )
    back = {attempt.record.copy_code for attempt in attempts if attempt.record is not None}
    missing = tuple(record for record in handed_out if record.copy_code not in back)
    return ReadSummary(tuple(attempts), missing, passed_over, str(folder.results(session)), notes)


def _attempts(
    folder: ClassFolder,
    session: int,
    known: OnRecord,
    progress: Callable[[int, int], None] | None,
    book: ClassBook,
    today: str,
) -> tuple[list[Attempt], int]:
    """Every file of a session as an attempt, and how many side-files were passed over."""
    root = folder.returned(session)
    files, passed_over = _returned_files(root)
    attempts = []
    for number, path in enumerate(files, start=1):
        name = path.relative_to(root).as_posix()
        attempts.append(_of_session(attempt_of(path, name, known), session))
        if progress is not None:
            progress(number, len(files))
    days = first_seen(folder, [attempt.sha256 for attempt in attempts], today)
    attempts = with_late_findings(attempts, days, book, load_catalogue())
    answers = files_answered(known.decisions)
    return answered(told_apart(attempts, load_catalogue(), answers), answers), passed_over


def _decided(known: OnRecord, harvested: Harvested, session: int) -> OnRecord:
    """What is known, with the teacher's decisions on one session."""
    return replace(known, decisions=tuple(one for one in harvested.journal if one.session == session))


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


def _handed_out(known: OnRecord, session: int) -> list[CopyRecord]:
    newest = [builds[-1] for builds in known.builds.values() if builds]
    return sorted(
        (record for record in newest if record.session == session), key=lambda record: record.file_name
    )
