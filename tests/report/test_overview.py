from collections.abc import Sequence
from dataclasses import replace

from sheetgen.checking.class_analysis import class_analysis
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.settings import ClassBook
from sheetgen.report.overview import MissingSheet, missing_sheets, session_counts
from sheetgen.report.page import SessionResults
from tests.report.invented import BOOK, TEXTS, accepted, record, refused_without_record, returned

HANDED_OUT = (record(1), record(2), record(3))


def results_of(
    attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord], book: ClassBook = BOOK
) -> SessionResults:
    return SessionResults(book, attempts, 1, handed_out, class_analysis(attempts, book, 1))


def numbers(attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord] = HANDED_OUT) -> list[int]:
    return [count.number for count in session_counts(results_of(attempts, handed_out), TEXTS)]


def test_session_counts_of_every_status() -> None:
    attempts = [
        accepted(1),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "review"),
        refused_without_record(),
    ]
    counts = session_counts(results_of(attempts, HANDED_OUT), TEXTS)
    assert [(count.what, count.number) for count in counts] == [
        ("Sheets handed out", 3),
        ("Files returned", 4),
        ("Files accepted", 1),
        ("Files for review", 1),
        ("Files refused", 1),
        ("Files superseded", 1),
        ("Sheets missing", 1),
    ]


def test_session_counts_say_what_to_do_only_where_there_is_something() -> None:
    counts = session_counts(results_of([accepted(1), accepted(2), returned(3, "review")], HANDED_OUT), TEXTS)
    assert [count.to_do for count in counts if not count.to_do.startswith("Nothing to do")] == [
        "Open the tab Sheets, look for the status review, and decide on each file."
    ]


def test_session_counts_of_practice_are_those_of_measured() -> None:
    assert numbers([accepted(1, data_source="practice")]) == numbers([accepted(1)])


def test_session_counts_leave_out_other_sessions() -> None:
    assert numbers([], [record(1), record(1, session=2)]) == [1, 0, 0, 0, 0, 0, 1]


def test_session_counts_name_sheets_for_nobody_on_the_roster() -> None:
    spare = replace(record(1), copy_code="S1", student_id="")
    first = session_counts(results_of([], [record(1), spare]), TEXTS)[0]
    assert (first.number, first.to_do) == (
        2,
        "1 of them not for people on the roster. Nothing to do.",
    )
    assert numbers([], [spare])[-1] == 0


def test_missing_sheets_with_what_came_back() -> None:
    attempts = [accepted(1), returned(2, "refused", file="copy.xlsx")]
    assert missing_sheets(results_of(attempts, HANDED_OUT[::-1]), TEXTS) == (
        MissingSheet("=Tam Reeve", "1002", "session-1-1002.xlsx", "refused: copy.xlsx", "tam@school.example"),
        MissingSheet("Ines Holt", "1003", "session-1-1003.xlsx", "nothing", ""),
    )


def test_missing_sheets_where_all_came_back() -> None:
    attempts = [accepted(1), returned(2, "review"), accepted(3)]
    assert missing_sheets(results_of(attempts, HANDED_OUT), TEXTS) == ()


def test_missing_sheets_of_who_has_left_are_not_waited_for() -> None:
    people = tuple(
        replace(person, status="left") if person.student_id == "1003" else person for person in BOOK.people
    )
    missing = missing_sheets(results_of([], HANDED_OUT, replace(BOOK, people=people)), TEXTS)
    assert "1003" not in [one.student_id for one in missing]
    assert len(missing) == 2
