from collections.abc import Sequence
from dataclasses import replace

import pytest

from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.report.overview import (
    class_summary_page,
    count_words,
    missing_sheets,
    session_counts,
)
from sheetgen.report.page import SessionResults
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import class_analysis
from tests.class_samples import CLASSES
from tests.report.analysed import TITLES, compared
from tests.report.invented import BOOK, TEXTS, accepted, record, refused_without_record, returned
from tests.simulation import BOOK as BOOK_of_class_summary
from tests.simulation import attempt_of

HANDED_OUT = (record(1), record(2), record(3))


def results_of(
    attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord], book: ClassBook = BOOK
) -> SessionResults:
    return SessionResults(book, attempts, 1, handed_out, class_analysis(attempts, book, 1))


def numbers(attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord] = HANDED_OUT) -> list[int]:
    return [number for _, number, _ in session_counts(results_of(attempts, handed_out), TEXTS)]


def test_session_counts_of_every_status() -> None:
    attempts = [
        accepted(1),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "review"),
        refused_without_record(),
    ]
    counts = session_counts(results_of(attempts, HANDED_OUT), TEXTS)
    assert [(what, number) for what, number, _ in counts] == [
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
    assert [to_do for _, _, to_do in counts if not to_do.startswith("Nothing to do")] == [
        "Open the tab Sheets, look for the status review, and decide on each file."
    ]


def test_session_counts_of_practice_are_those_of_measured() -> None:
    assert numbers([accepted(1, data_source="practice")]) == numbers([accepted(1)])


def test_session_counts_leave_out_other_sessions() -> None:
    assert numbers([], [record(1), record(1, session=2)]) == [1, 0, 0, 0, 0, 0, 1]


def test_session_counts_name_sheets_for_nobody_on_the_roster() -> None:
    spare = replace(record(1), copy_code="S1", student_id="")
    first = session_counts(results_of([], [record(1), spare]), TEXTS)[0]
    assert first[1:] == (
        2,
        "1 of them not for people on the roster. Nothing to do.",
    )
    assert numbers([], [spare])[-1] == 0


def test_missing_sheets_with_what_came_back() -> None:
    attempts = [accepted(1), returned(2, "refused", file="copy.xlsx")]
    assert missing_sheets(results_of(attempts, HANDED_OUT[::-1]), TEXTS) == (
        ("=Tam Reeve", "1002", "session-1-1002.xlsx", "refused: copy.xlsx", "tam@school.example"),
        ("Ines Holt", "1003", "session-1-1003.xlsx", "nothing", ""),
    )


def test_missing_sheets_where_all_came_back() -> None:
    attempts = [accepted(1), returned(2, "review"), accepted(3)]
    assert missing_sheets(results_of(attempts, HANDED_OUT), TEXTS) == ()


def test_missing_sheets_of_who_has_left_are_not_waited_for() -> None:
    people = tuple(
        replace(person, status="left") if person.student_id == "1003" else person for person in BOOK.people
    )
    missing = missing_sheets(results_of([], HANDED_OUT, replace(BOOK, people=people)), TEXTS)
    assert "1003" not in [one[1] for one in missing]
    assert len(missing) == 2


# count, of, what the class is shown
@pytest.mark.parametrize(
    ("count", "of", "words"),
    [(0, 30, "fewer than 5"), (4, 30, "fewer than 5"), (5, 30, "5"), (25, 30, "25"), (26, 30, "nearly all")],
)
def test_count_words(count: int, of: int, words: str) -> None:
    assert count_words(count, of, TEXTS) == words


def test_class_summary_names_the_site_to_work_on() -> None:
    page = class_summary_page(compared()[2], TITLES, TEXTS)
    assert page.wall
    assert page.sentences == (
        "90 sheets are in this picture.",
        "The site to work on: Abdominal. It repeats worst, by more than chance.",
        "No final digit stands out among the readings.",
    )


def test_class_summary_holds_no_code_and_no_small_count() -> None:
    page = class_summary_page(compared()[2], TITLES, TEXTS)
    assert {row[0] for row in page.rows} == set(TITLES.values())
    counts = [row[2] for row in page.rows]
    assert "fewer than 5" in counts
    assert all(int(str(count)) >= 5 for count in counts if str(count).isdigit())


def test_class_summary_tells_digits_that_pile_up() -> None:
    page = class_summary_page(CLASSES["class-digit-preference"](), TITLES, TEXTS)
    assert page.sentences[-1] == (
        "Scales of 0.5 mm: readings pile up on the digit 0: read what the scale shows, not rounder."
    )


def test_class_summary_of_few_students_shows_nothing() -> None:
    sheets = [attempt_of(f"S{number:02}", "P20", {"reading_1_chest": 10.0}) for number in range(4)]
    page = class_summary_page(class_analysis(sheets, BOOK_of_class_summary, 1), TITLES, TEXTS)
    assert page.sentences == ("Fewer than 5 students handed in a sheet that counts: nothing is shown.",)
    assert (page.headings, page.rows, page.charts) == ((), (), ())
