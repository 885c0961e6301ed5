"""Read what came back, and write the results."""

import os
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from datetime import date
from functools import partial
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from sheetgen.class_book.book import book_that_holds, coded, delete_reminder
from sheetgen.class_book.sheets_wanted import claims_of, handed_out_in, is_spare, off_the_roster
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import make_folder, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import days_to_come, first_seen, load_secret
from sheetgen.class_folder.records import EXERCISES, ClassBook
from sheetgen.class_folder.scores import load_scores
from sheetgen.commands.forget import remove_old_memory
from sheetgen.errors import UsageError
from sheetgen.finding import Finding
from sheetgen.marking import marks
from sheetgen.marking.scheme import Marking
from sheetgen.report.answers import write_missing
from sheetgen.report.page import session_of
from sheetgen.report.results import Read, by_subject, write_results
from sheetgen.report.second_marker import second_marked
from sheetgen.returned.attempt import Attempt, answered, file_id, named_by_copy, with_late_findings
from sheetgen.returned.came_back import Awaited, Unusable, awaited, in_nobodys_place, unusable_files
from sheetgen.returned.corrections import files_answered
from sheetgen.returned.incoming import Incoming, file_bytes, files_below, open_returned
from sheetgen.returned.one_file import attempts_from, refused_attempt
from sheetgen.returned.typed_in import with_typed_forms
from sheetgen.returned.which_counts import Arrival, told_apart
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.review.rows import Reviewed
from sheetgen.review.taking_over import harvest_review, redraw_review
from sheetgen.sheet.student import counts_as_under_18
from sheetgen.texts.languages import DEFAULT_LANGUAGE
from sheetgen.workbook.read.bounded_zip import label_of, unique_label


class ReadSummary(Struct, frozen=True):
    """attempts : in order of file. missing : sheets handed out of which no file counts, with what came.
    notes : about the review workbook and the journal of decisions. message : the file with a message to those
    whose sheets are missing; empty where none is. said : about the class folder, one sentence each.
    language : of the class. kept : students whose score is kept and no file counts any more. reminder : that
    the day to delete body values has come; empty where it has not. unusable : files that cannot be used, and
    whose they are. elsewhere : other session to how many of its sheets lie in the folder of this one.
    talk : a line about each person to talk to. second : about the second marker. answers, decisions : how
    many answers wait for points and files for a decision, in the file `review`."""

    attempts: tuple[Attempt, ...]
    missing: tuple[Awaited, ...]
    passed_over: int
    results: str
    notes: tuple[Finding, ...] = ()
    message: str = ""
    language: str = DEFAULT_LANGUAGE
    kept: int = 0
    unusable: tuple[Unusable, ...] = ()
    elsewhere: Mapping[int, int] = field(default_factory=dict)
    reminder: str = ""
    talk: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    answers: int = 0
    decisions: int = 0
    review: str = ""
    second: tuple[str, ...] = ()


def read_returned(
    folder: ClassFolder,
    session: int,
    paths: Sequence[Path] = (),
    progress: Callable[[int, int], None] | None = None,
    today: str = "",
    executor: Executor | None = None,
    second_marker: bool = False,
) -> ReadSummary:
    """Read everything in returned/ of a session and write results/. paths : files and folders that are copied
    into returned/ first. progress : is told how many files are done, of how many. today : the day of this
    reading, YYYY-MM-DD; empty: as the clock says. executor : reads the files and makes the pages of feedback;
    its workers must see the class folder. None: this process. second_marker : write a blind sample, or
    compare what came back of it. The results are the same to the byte whoever reads. FolderError : the class
    book or the record cannot be used, or a result cannot be written. UsageError : a path is not there."""
    today = today or date.today().isoformat()
    remove_old_memory(folder)
    book, stale = book_that_holds(folder)
    secret = load_secret(folder)
    said = _of_folder(folder, stale, secret, today)
    book = book if secret is None else coded(folder, book, secret)
    language = book.settings.language
    scheme = marks.scheme_of(folder, language)
    refused = list(taken_in(folder, session, paths))
    harvested = harvest_review(folder, session)
    young = (person for person in book.people if counts_as_under_18(person, book.minors))
    minors = frozenset(person.participant_code.casefold() for person in young)
    known = replace(on_record(folder), decisions=harvested.journal, minors=minors, claims=claims_of(book))
    read = partial(attempts_from, known=known, executor=executor)
    found, strays, passed_over = _found(folder, session, read, known, progress)
    days = first_seen(folder, [attempt.sha256 for came in found.values() for attempt, _ in came], today)
    by_session = _settled(found, book, days, harvested.journal)
    attempts = [*named_by_copy(refused, {}, by_session[session]), *by_session[session]]
    earlier = [attempt for number in range(1, session) for attempt in by_session[number]]
    handed_out = handed_out_in(known.builds, book, session)
    beside = in_nobodys_place(attempts, handed_out, book)
    attempts = [attempt for attempt in attempts if attempt not in beside]
    markings = marks.marked_attempts(book, attempts, scheme, secret or "")
    attempts = marks.with_less_measured(attempts, markings, scheme)
    teachers = book.teachers
    marked_sheets = [
        record
        for record in handed_out
        if record.exercise == EXERCISES[0] and record.student_id not in teachers and not is_spare(record)
    ]
    decided = by_subject(harvested.decisions)
    scored = _scored(folder, session, attempts, markings, decided, today)
    unusable = unusable_files(attempts, strays, book, session)
    of_nothing = {one.student_id for one in unusable if not one.copy_code}
    reviewed = Reviewed(session, marked_sheets, attempts, markings, book.people, scored.scores, of_nothing)
    notes = redraw_review(folder, reviewed, harvested, language)
    waited = awaited(handed_out, book, attempts, unusable)
    waited = tuple(one for one in waited if one.record.copy_code not in scored.gone)
    whole = Read(session, book, attempts, earlier, handed_out, scheme, scored, decided, today)
    whole = replace(whole, waited=waited, unusable=unusable, strays=len(strays))
    talk = write_results(folder, whole, executor)
    return ReadSummary(
        attempts=tuple(attempts),
        missing=waited,
        passed_over=passed_over + len(beside),
        results=str(folder.results(session)),
        notes=notes,
        message=write_missing(folder, session, waited, book),
        language=language,
        kept=len(set(scored.gone.values())),
        unusable=unusable,
        elsewhere=Counter(session_of(attempt, session) for attempt in strays),
        reminder=delete_reminder(folder, book, today),
        talk=talk,
        said=(*said, *(f"{folder.book}: {line}" for line in off_the_roster(known.builds, book))),
        answers=sum(len(marking.to_be_marked) for marking in scored.markings.values()),
        decisions=sum(attempt.status == "review" for attempt in attempts),
        review=str(folder.review(session)),
        second=second_marked(folder, session, attempts, scored.markings, language) if second_marker else (),
    )


def _of_folder(folder: ClassFolder, stale: str, secret: str | None, today: str) -> tuple[str, ...]:
    """What is to be said of the class folder before anything in it is read, one sentence each."""
    to_come = days_to_come(folder, today)
    ahead = (
        f"{folder.arrivals}: a clock was ahead: days of first reading still to come: {to_come}; expected "
        "today or earlier. Those that are here count as read today; nothing is late by it."
    )
    lost = (
        f"{folder.secret}: nothing; expected what the class book was made with. Put back the folder keep "
        "from a copy: until then nobody's sheet is proven, and scores of files that are gone are not known."
    )
    return tuple(filter(None, (stale, ahead if to_come else "", "" if secret else lost)))


def _scored(
    folder: ClassFolder,
    session: int,
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decided: Mapping[str, Sequence[Decision]],
    today: str,
) -> marks.Marks:
    given = {
        code: marks.with_answer_marks(one, decided.get(code, ()), code) for code, one in markings.items()
    }
    adjusted = marks.adjusted_marks(given, decided)
    withdrawn = marks.withdrawn_sheets(one for decisions in decided.values() for one in decisions)
    now = marks.sheet_scores(attempts, given, adjusted, session, today)
    before = [score for score in load_scores(folder) if score.session == session]
    return marks.Marks(given, adjusted, marks.merged_scores(before, now, today), withdrawn)


_Found = list[tuple[Attempt, Incoming]]
_SESSION_FOLDER = re.compile("session-([1-9][0-9]?)")


def _found(
    folder: ClassFolder,
    session: int,
    read: Callable[..., list[Attempt]],
    known: OnRecord,
    progress: Callable[[int, int], None] | None,
) -> tuple[dict[int, _Found], list[Attempt], int]:
    """Every file that came back by the session it counts for, whatever folder it lies in; and in the folder
    of the session being read the sheets of other sessions, and how many side-files were passed over. A file
    that is no sheet belongs to the session of its folder. A sheet in the folder of another session bears that
    in its name; where its own folder holds the same bytes, it is left out."""
    names = [path.name for path in folder.returned(session).parent.glob("session-*")]
    numbers = {int(match[1]) for match in map(_SESSION_FOLDER.fullmatch, names) if match}
    own: dict[int, _Found] = defaultdict(list)
    strays: list[tuple[int, Attempt, Incoming]] = []
    passed_over = 0
    for number in sorted({session, *numbers}):
        with open_returned(folder.returned(number)) as came:
            attempts = read(came.files, progress=progress if number == session else None)
            pairs = zip(attempts, came.files, strict=True)
            for attempt, file in with_typed_forms(pairs, known, read):
                if attempt.record is None or attempt.record.session == number:
                    own[number].append((attempt, file))
                else:
                    strays.append((number, attempt, file))
            passed_over += came.passed_over if number == session else 0
    for number, attempt, file in strays:
        theirs = own[session_of(attempt, number)]
        if attempt.sha256 not in {one.sha256 for one, _ in theirs}:
            taken = {one.file: 2 for one, _ in theirs}
            label = unique_label(f"session-{number}/{attempt.file}", taken)
            theirs.append((replace(attempt, file=label), file))
    return own, [attempt for number, attempt, _ in strays if number == session], passed_over


def _settled(
    found: Mapping[int, _Found], book: ClassBook, days: Mapping[str, str], journal: Iterable[Decision]
) -> dict[int, list[Attempt]]:
    """The attempts of each session: what came late, which of several counts, what the teacher said of them.
    days : digest of a file to the day on which it was first read."""
    settled: dict[int, list[Attempt]] = defaultdict(list)
    for session, came in sorted(found.items()):
        attempts = named_by_copy([attempt for attempt, _ in came], days)
        arrivals = {
            attempt.file: Arrival(days.get(attempt.sha256, ""), file.time, file.in_bundle)
            for attempt, (_, file) in zip(attempts, came, strict=True)
        }
        answers = files_answered(one for one in journal if one.session == session)
        attempts = with_late_findings(attempts, days, book)
        told = told_apart(attempts, answers, arrivals, book.people)
        settled[session] = [answered(attempt, answers.get(file_id(attempt))) for attempt in told]
    return settled


_LARGEST_TAKEN_IN = 500_000_000
"""Bytes: beyond the download of a whole course; a film among them would fill the memory."""
_LONG_NAME = 240  # Bytes; most systems allow 255.


def taken_in(folder: ClassFolder, session: int, paths: Iterable[Path]) -> list[Attempt]:
    """Copy files and folders into returned/, bytes and times kept; zips are not unpacked. A file that is
    there with other bytes is never overwritten: the new one gets a number. Links inside a folder are not
    followed. Those that cannot be read or are far too large, refused: one of them keeps no other from being
    taken in. UsageError : a path is not there, or holds the class folder itself. FolderError : a copy cannot
    be written."""
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
