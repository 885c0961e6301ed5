import pytest

from sheetgen.checking.class_book_cells import (
    Line,
    day_of,
    in_range,
    lines_of,
    number_of,
    text_of,
    word_of,
)
from sheetgen.model.snapshot import CellState, TabState


def line(value: str | float | bool | None) -> Line:
    return Line("Roster", 8, {"word": 1}, {"word": CellState(value)})


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (7.0, "7"),
        (7.5, "7.5"),
        (" 007 ", "007"),
        (None, ""),
        ("\u00a0a\u00a0b ", "a\u00a0b"),
        ("e\u0301", "\u00e9"),
    ],
)
def test_text_of(value: str | float | None, expected: str) -> None:
    assert text_of(line(value), "word", 5) == (expected, [])


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (2.0, 2.0),
        ("2,5", 2.5),
        (" -0.4 ", -0.4),
        ("\u22120,4", -0.4),
        ("1,234.5", None),
        ("", None),
        (None, None),
    ],
)
def test_number_of(value: str | float | None, expected: float | None) -> None:
    number, problems = number_of(line(value), "word", lambda number: True, "a number")
    assert number == expected
    assert [problem.cell for problem in problems] == ([] if expected is not None else ["B9"])


# what stands there, whether it is a date of the workbook, the day, what is said to be found
DAYS: tuple[tuple[str | float | bool | None, bool, str, list[str]], ...] = (
    (None, False, "", []),
    ("  ", False, "", []),
    ("2028-02-29", False, "2028-02-29", []),
    ("2027-02-29", False, "", ["'2027-02-29'"]),
    ("20270331", False, "", ["'20270331'"]),
    ("31/03/2027", False, "", ["'31/03/2027'"]),
    (61.0, True, "1900-03-01", []),
    (46477.75, True, "2027-03-31", []),
    (46477.0, False, "", ["46477.0"]),
    (0.5, True, "", ["0.5"]),
    (2958466.0, True, "", ["2958466.0"]),
    (True, False, "", ["True"]),
)


@pytest.mark.parametrize(("value", "is_date", "day", "found"), DAYS)
def test_day_of(value: str | float | bool | None, is_date: bool, day: str, found: list[str]) -> None:
    cell = Line("Class", 8, {"word": 1}, {"word": CellState(value, is_date=is_date)})
    read, problems = day_of(cell, "word")
    assert read == day
    assert [(one.code, one.cell, one.found) for one in problems] == [
        ("class-book-date", "B9", each) for each in found
    ]


def test_day_of_an_error_value() -> None:
    cell = Line("Class", 8, {"word": 1}, {"word": CellState("#REF!", is_error=True)})
    assert [one.code for one in day_of(cell, "word")[1]] == ["class-book-date"]


def test_word_of_names_the_near_miss() -> None:
    word, problems = word_of(line("yse"), "word", ("yes", "no"), "no")
    assert (word, problems[0].expected) == ("no", "yes or no (did you mean yes?)")


def test_lines_of_takes_the_row_with_most_headings() -> None:
    """A word above the table that reads like one of its headings is not taken for it."""
    cells = {
        (0, 0): CellState("Role"),
        (3, 2): CellState("student_ID"),
        (3, 0): CellState(" role"),
        (5, 2): CellState("s1"),
        (6, 1): CellState("a note in a column of no heading"),
        (7, 0): CellState("  "),
    }
    tab = TabState("Roster", cells, True, "visible")
    lines, problems = lines_of(tab, {"student_id": "Student id", "role": "Role"})
    assert problems == []
    assert [(each.row, each.cells["student_id"].value) for each in lines] == [(5, "s1")]
    assert lines[0].place("student_id") == "C6"


def test_lines_of_a_table_without_a_column_that_it_may_lack() -> None:
    cells = {(0, 0): CellState("Student id"), (1, 0): CellState("s1")}
    tab = TabState("Roster", cells, True, "visible")
    headings = {"student_id": "Student id", "under_18": "Under 18"}
    lines, problems = lines_of(tab, headings, ("under_18",))
    assert problems == []
    assert lines[0].cells == {"student_id": CellState("s1"), "under_18": CellState()}


@pytest.mark.parametrize(("value", "expected"), [(0.1, 0.1), (50.0, 50.0), (0.0, None), (50.1, None)])
def test_in_range(value: float, expected: float | None) -> None:
    number, problems = in_range(line(value), "word", "tolerance")
    assert number == expected
    assert [each.expected for each in problems] == ([] if expected else ["a number from 0.1 to 50"])
