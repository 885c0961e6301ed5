"""Read what came back, and write the results."""

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

from sheetgen.class_book.book import coded, load_book
from sheetgen.class_book.sheets_wanted import claims_of, expected_back, handed_out_in, is_spare
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import make_folder, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import first_seen, load_secret
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import load_scores
from sheetgen.commands.forget import remove_old_memory
from sheetgen.errors import UsageError
from sheetgen.finding import Finding
from sheetgen.marking.marks import (
    Marks,
    adjusted_marks,
    marked_attempts,
    merged_scores,
    scheme_of,
    sheet_scores,
    with_answer_marks,
    withdrawn_sheets,
)
from sheetgen.marking.scheme import Marking
from sheetgen.report.results import Read, by_subject, write_missing, write_results
from sheetgen.returned.attempt import Attempt, with_findings, with_late_findings
from sheetgen.returned.corrections import files_answered
from sheetgen.returned.incoming import file_bytes, files_below, open_returned
from sheetgen.returned.one_file import attempts_from, refused_attempt
from sheetgen.returned.which_counts import Arrival, told_apart, with_answers
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.review.rows import Reviewed
from sheetgen.review.taking_over import harvest_review, redraw_review
from sheetgen.sheet.student import counts_as_under_18
from sheetgen.texts.languages import DEFAULT_LANGUAGE
from sheetgen.workbook.read.bounded_zip import label_of


@dataclass(frozen=True, slots=True)
class ReadSummary:
    """attempts : in order of file. missing : sheets handed out of which nothing came back.

    notes : about the review workbook and the journal of decisions.
    message : the file with a message to those whose sheets are missing; empty where none is.
    language : of the class. kept : students whose score is kept and no file counts any more.
    """

    attempts: tuple[Attempt, ...]
    missing: tuple[CopyRecord, ...]
    passed_over: int
    results: str
    notes: tuple[Finding, ...] = ()
    message: str = ""
    language: str = DEFAULT_LANGUAGE
    kept: int = 0


def read_returned(
    folder: ClassFolder,
    session: int,
    paths: Sequence[Path] = (),
    progress: Callable[[int, int], None] | None = None,
    today: str = "",
    executor: Executor | None = None,
) -> ReadSummary:
    """Read everything in returned/ of a session and write results/.

    Parameters
    ----------
    paths : files and folders that are copied into returned/ first.
    progress : is told how many files are done, of how many.
    today : the day of this reading, YYYY-MM-DD; empty: as the clock says.
    executor : reads the files and makes the pages of feedback; its workers must see the class folder. None:
        this process.

    Notes
    -----
    The results are the same to the byte whoever reads.

    Raises
    ------
    FolderError : the class book or the record cannot be used, or a result cannot be written.
    UsageError : a path is not there.
    """
    today = today or date.today().isoformat()
    remove_old_memory(folder)
    book = load_book(folder)
    secret = load_secret(folder)
    book = book if secret is None else coded(folder, book, secret)
    language = book.settings.language
    scheme = scheme_of(folder, language)
    refused = list(taken_in(folder, session, paths))
    harvested = harvest_review(folder, session)
    known = replace(
        on_record(folder),
        decisions=harvested.decisions,
        minors=frozenset(
            person.participant_code.casefold()
            for person in book.people
            if counts_as_under_18(person, book.minors)
        ),
        claims=claims_of(book),
    )
    attempts_of = partial(_attempts, folder, book, today, executor)
    attempts, passed_over = attempts_of(session, known, progress)
    attempts = [*refused, *attempts]
    earlier: list[Attempt] = []
    for number in range(1, session):
        decisions = tuple(each for each in harvested.journal if each.session == number)
        earlier += attempts_of(number, replace(known, decisions=decisions))[0]
    markings = marked_attempts(book, attempts, scheme, secret or "")
    handed_out = handed_out_in(known.builds, book, session)
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    marked_sheets = [
        record for record in handed_out if record.student_id not in teachers and not is_spare(record)
    ]
    decided = by_subject(harvested.decisions)
    marks = _scored(folder, session, attempts, markings, decided, today)
    reviewed = Reviewed(session, marked_sheets, attempts, markings, book.people, marks.scores)
    notes = redraw_review(folder, reviewed, harvested, language)
    whole = Read(session, book, attempts, earlier, handed_out, scheme, marks, decided, today)
    write_results(folder, whole, executor)
    back = {attempt.record.copy_code for attempt in attempts if attempt.record is not None}
    missing = tuple(
        record
        for record in expected_back(handed_out, book)
        if record.copy_code not in back and record.copy_code not in marks.gone
    )
    message = write_missing(folder, session, missing, book)
    results = str(folder.results(session))
    students = len(set(marks.gone.values()))
    return ReadSummary(tuple(attempts), missing, passed_over, results, notes, message, language, students)


def _scored(
    folder: ClassFolder,
    session: int,
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decided: Mapping[str, Sequence[Decision]],
    today: str,
) -> Marks:
    given = {code: with_answer_marks(one, decided.get(code, ()), code) for code, one in markings.items()}
    adjusted = adjusted_marks(given, decided)
    withdrawn = withdrawn_sheets(one for decisions in decided.values() for one in decisions)
    now = sheet_scores(attempts, given, adjusted, session, today)
    before = [score for score in load_scores(folder) if score.session == session]
    return Marks(given, adjusted, merged_scores(before, now, today), withdrawn)


def _attempts(
    folder: ClassFolder,
    book: ClassBook,
    today: str,
    executor: Executor | None,
    session: int,
    known: OnRecord,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[list[Attempt], int]:
    """Every file of a session as an attempt, and how many side-files were passed over."""
    with open_returned(folder.returned(session)) as came:
        read = attempts_from(came.files, known, progress, executor)
    attempts = [_of_session(attempt, session) for attempt in read]
    days = first_seen(folder, [attempt.sha256 for attempt in attempts], today)
    arrivals = {
        attempt.file: Arrival(days.get(attempt.sha256, ""), file.time, file.in_bundle)
        for attempt, file in zip(attempts, came.files, strict=True)
    }
    attempts = with_late_findings(attempts, days, book)
    answers = files_answered(known.decisions)
    return with_answers(told_apart(attempts, answers, arrivals, book.people), answers), came.passed_over


def _of_session(attempt: Attempt, session: int) -> Attempt:
    if attempt.record is None or attempt.record.session == session:
        return attempt
    finding = Finding("file-other-session", {"found": attempt.record.session, "own": session})
    return with_findings(attempt, [finding], first=True)


_LARGEST_TAKEN_IN = 500_000_000
"""Bytes: beyond the download of a whole course; a film among them would fill the memory."""
_LONG_NAME = 240
"""Bytes; most systems allow 255."""


def taken_in(folder: ClassFolder, session: int, paths: Iterable[Path]) -> list[Attempt]:
    """Copy files and folders into returned/, bytes and times kept; zips are not unpacked.

    A file that is there with other bytes is never overwritten: the new one gets a number. Links inside a
    folder are not followed.

    Returns
    -------
    Those that cannot be read or are far too large, refused: one of them keeps no other from being taken in.

    Raises
    ------
    UsageError : a path is not there, or holds the class folder itself.
    FolderError : a copy cannot be written.
    """
    refused: list[Attempt] = []
    target = folder.returned(session)
    make_folder(target)
    for path in paths:
        _check(folder, path)
        below = files_below(path) if path.is_dir() else iter([((path.name,), path)])
        for steps, source in below:
            if isinstance(source, Path) and source.resolve().is_relative_to(target.resolve()):
                continue
            data = source if isinstance(source, Finding) else file_bytes(source, _LARGEST_TAKEN_IN)
            if isinstance(data, Finding):
                refused.append(refused_attempt(label_of(steps), "", data))
            elif isinstance(source, Path):
                _copied(source, data, target.joinpath(*steps))
    return refused


def _check(folder: ClassFolder, path: Path) -> None:
    try:
        if not path.exists():
            raise UsageError(path, "no such file or folder", "what came back", "Check the name.")
        if not path.is_dir() and not path.is_file():
            raise UsageError(path, "a device or pipe", "a file or folder", "Save it as a file first.")
    except OSError as fault:
        found = f"it cannot be looked at ({fault.strerror or fault})"
        raise UsageError(path, found, "a file or folder", "Check your right to read it.") from fault
    if folder.root.resolve().is_relative_to(path.resolve()):
        remedy = "Name the folder of downloads."
        raise UsageError(path, "the class folder is inside", "what came back", remedy)


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
    write_beside(target, data, sync=False, copy_of=source)
