from collections.abc import Mapping
from typing import Any

import pytest

from sheetgen.class_book.cells_read import Line, Reading, lines_of, rows_of, value_of
from sheetgen.class_book.table import Entry, Table
from sheetgen.finding import Worded
from sheetgen.workbook.snapshot import CellState, TabState
from tests.class_books import known
from tests.wording import in_english

TEXT, DAY = Entry("word", most=5), Entry("word", "day", most=10)
NUMBER, TOLERANCE = (
    Entry("word", "number", least=-1e6, most=1e6),
    Entry("word", "number", least=0.1, most=50.0),
)
YES_NO = Entry("word", "word", ("yes", "no"))


def line(value: str | float | bool | None) -> Line:
    return Line("Roster", 8, {"word": 1}, {"word": CellState(value)})


def read(
    cell: Line, entry: Entry, default: Any = None, words: Mapping[str, str] | None = None
) -> tuple[Any, list[Worded]]:
    """What a cell holds, and what is said of it. words : that lists show instead of the code words."""
    shown = {f"book_word.{code}": word for code, word in (words or {}).items()}
    reading = Reading({**known().texts, **shown}, known().kinds)
    return value_of(reading, cell, entry, default), list(in_english(reading.problems))


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
    assert read(line(value), TEXT) == (expected, [])


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
    number, problems = read(line(value), NUMBER)
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
    found_day, problems = read(cell, DAY)
    assert found_day == day
    assert [(one.code, one.cell, one.found) for one in problems] == [
        ("class-book-date", "B9", each) for each in found
    ]


def test_day_of_an_error_value() -> None:
    cell = Line("Class", 8, {"word": 1}, {"word": CellState("#REF!", is_error=True)})
    assert [one.code for one in read(cell, DAY)[1]] == ["class-book-date"]


def test_word_of_names_the_near_miss() -> None:
    word, problems = read(line("yse"), YES_NO, "no")
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
    lines, missing = lines_of(tab, {"student_id": "Student id", "role": "Role"})
    assert missing == []
    assert [(each.row, each.cells["student_id"].value) for each in lines] == [(5, "s1")]
    assert lines[0].place("student_id") == "C6"


def test_lines_of_a_table_without_a_column_that_it_may_lack() -> None:
    cells = {(0, 0): CellState("Student id"), (1, 0): CellState("s1")}
    tab = TabState("Roster", cells, True, "visible")
    headings = {"student_id": "Student id", "under_18": "Under 18"}
    lines, missing = lines_of(tab, headings, ("under_18",))
    assert missing == []
    assert lines[0].cells == {"student_id": CellState("s1"), "under_18": CellState()}


@pytest.mark.parametrize(("value", "expected"), [(0.1, 0.1), (50.0, 50.0), (0.0, None), (50.1, None)])
def test_in_range(value: float, expected: float | None) -> None:
    number, problems = read(line(value), TOLERANCE)
    assert number == expected
    assert [each.expected for each in problems] == ([] if expected else ["a number from 0.1 to 50"])


def finding(code: str, found: str, expected: str, remedy: str) -> Worded:
    return Worded(code, "error", found, expected, remedy, "Roster", "B9")


TYPE_ANEW = "Type the cell anew."
# what stands there, text that is taken all the same, found, expected
NOT_TEXTS = (
    (CellState("#N/A", is_error=True), "", "an error, '#N/A'", "a text"),
    (CellState(46477.0, is_date=True), "", "a date, 46477.0", "a text"),
    (CellState(True), "", "yes or no as a value, True", "a text"),
    (CellState("a\nb"), "a\nb", "'a\\nb'", "a text on one line"),
    (CellState("a\u2028b"), "a\u2028b", "'a\\u2028b'", "a text on one line"),
    (CellState("a\uffff"), "a\uffff", "'a\\uffff'", "a text on one line"),
    (CellState("abcdef"), "abcdef", "6 characters", "at most 5 characters"),
    (CellState(123456.0), "123456", "6 characters", "at most 5 characters"),
)


@pytest.mark.parametrize(("state", "text", "found", "expected"), NOT_TEXTS)
def test_text_of_what_is_no_text(state: CellState, text: str, found: str, expected: str) -> None:
    cell = Line("Roster", 8, {"word": 1}, {"word": state})
    assert read(cell, TEXT) == (text, [finding("class-book-text", found, expected, TYPE_ANEW)])


LISTS = {"es": {"yes": "sí", "no": "no"}, "en": {"yes": "yes", "no": "no"}}
CHOOSE = "Choose one of these words from the list of the cell."
# language of the table, typed, word, what is said to be found and expected
WORDS = (
    ("es", "SÍ", "yes", None),
    ("es", "yes", "yes", None),
    ("en", "si", "yes", None),
    ("en", "", "no", None),
    ("en", "x", "yes", None),
    ("en", " ✓", "yes", None),
    ("es", "n", "no", None),
    ("es", "maybe", "no", ("'maybe'", "sí or no")),
    ("en", "maybe", "no", ("'maybe'", "yes or no")),
    ("en", "nno", "no", ("'nno'", "yes or no (did you mean no?)")),
)


@pytest.mark.parametrize(("language", "typed", "word", "said"), WORDS)
def test_word_of_a_list_in_the_language_of_the_table(
    language: str, typed: str, word: str, said: tuple[str, str] | None
) -> None:
    """Words of every language are understood; those of the table are named."""
    cell = Line("Roster", 8, {"word": 1}, {"word": CellState(typed)}, LISTS)
    told = [] if said is None else [finding("class-book-word", *said, CHOOSE)]
    assert read(cell, YES_NO, "no", LISTS[language]) == (word, told)


# what stands there, found
NOT_NUMBERS = (
    (CellState(None), "nothing"),
    (CellState("1,234.5"), "'1,234.5'"),
    (CellState(46477.0, is_date=True), "the date 46477.0"),
    (CellState(True), "True"),
    (CellState(0.0), "0.0"),
    (CellState("#N/A", is_error=True), "'#N/A'"),
)


@pytest.mark.parametrize(("state", "found"), NOT_NUMBERS)
def test_number_of_what_is_not_wanted(state: CellState, found: str) -> None:
    cell = Line("Roster", 8, {"word": 1}, {"word": state})
    told = [finding("class-book-number", found, "a number from 0.1 to 50", "Type the number alone.")]
    assert read(cell, TOLERANCE) == (None, told)


def test_day_of_what_is_no_day_says_what_is_expected() -> None:
    remedy = "Type the day as year-month-day, such as 2027-03-31, or empty the cell."
    told = [finding("class-book-date", repr("x" * 60), "a day as YYYY-MM-DD, or nothing", remedy)]
    assert read(line("x" * 61), DAY) == ("", told)


def test_rows_of_a_table_with_an_id_empty_twice_or_neither() -> None:
    """Ids are compared without case, and the one above is named by its place; only sound lines count."""
    table = Table("roster", "roster", 0, (Entry("word", "id", most=5),))
    values: list[str | bool | None] = ["s1", "s2", "S1", " ", True]
    lines = [
        Line("Roster", row, {"word": 1}, {"word": CellState(value)})
        for row, value in enumerate(values, start=3)
    ]
    reading = Reading(known().texts, known().kinds)
    assert [row.values["word"] for row in rows_of(reading, lines, table, {})] == ["s1", "s2"]
    problems = in_english(reading.problems)
    assert [(each.code, each.cell, each.found, each.expected, each.remedy) for each in problems] == [
        ("class-book-id-twice", "B6", "'S1', which B4 has too", "each id once",
         "Correct one of the two, or empty its line."),
        ("class-book-id-empty", "B7", "nothing", "an id in every line", "Type the id, or empty the line."),
        ("class-book-text", "B8", "yes or no as a value, True", "a text", TYPE_ANEW),
    ]  # fmt: skip


def test_lines_of_a_table_without_its_headings() -> None:
    """Those that are missing are named in their order, those it may lack are not."""
    tab = TabState("Roster", {(0, 0): CellState("Role")}, True, "visible")
    headings = {"student_id": "Student id", "role": "Role", "email": "Email", "group": "Group"}
    assert lines_of(tab, headings, ("group",)) == ([], ["Student id", "Email"])


def test_lines_of_a_table_carry_the_lists() -> None:
    tab = TabState("Roster", {(2, 1): CellState("Role"), (4, 1): CellState("x")}, True, "visible")
    assert lines_of(tab, {"role": "Role"}, (), LISTS) == (
        [Line("Roster", 4, {"role": 1}, {"role": CellState("x")}, LISTS)], [],
    )  # fmt: skip
