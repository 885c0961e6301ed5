import pytest

from sheetgen.checking.class_book_cells import (
    Line,
    day_of,
    faulty_id,
    in_range,
    lines_of,
    number_of,
    text_of,
    word_of,
)
from sheetgen.model.finding import Finding, Worded, term
from sheetgen.model.snapshot import CellState, TabState
from tests.wording import in_english


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
    assert [(one.code, one.cell, one.found) for one in in_english(problems)] == [
        ("class-book-date", "B9", each) for each in found
    ]


def test_day_of_an_error_value() -> None:
    cell = Line("Class", 8, {"word": 1}, {"word": CellState("#REF!", is_error=True)})
    assert [one.code for one in day_of(cell, "word")[1]] == ["class-book-date"]


def test_word_of_names_the_near_miss() -> None:
    word, problems = word_of(line("yse"), "word", ("yes", "no"), "no")
    assert (word, in_english(problems)[0].expected) == ("no", "yes or no (did you mean yes?)")


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
    assert [each.expected for each in in_english(problems)] == (
        [] if expected else ["a number from 0.1 to 50"]
    )


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
    taken, problems = text_of(cell, "word", 5)
    told = finding("class-book-text", found, expected, TYPE_ANEW)
    assert (taken, in_english(problems)) == (text, (told,))


LISTS = {"es": {"yes": "sí", "no": "no"}, "en": {"yes": "yes", "no": "no"}}
CHOOSE = "Choose one of these words from the list of the cell."
# language of the table, typed, word, what is said to be found and expected
WORDS = (
    ("es", "SÍ", "yes", None),
    ("es", "yes", "yes", None),
    ("en", "si", "yes", None),
    ("en", "", "no", None),
    ("es", "maybe", "no", ("'maybe'", "sí or no")),
    ("en", "maybe", "no", ("'maybe'", "yes or no")),
    ("fr", "nno", "no", ("'nno'", "yes or no (did you mean no?)")),
)


@pytest.mark.parametrize(("language", "typed", "word", "said"), WORDS)
def test_word_of_a_list_in_the_language_of_the_table(
    language: str, typed: str, word: str, said: tuple[str, str] | None
) -> None:
    """Words of every language are understood; those of the table are named."""
    cell = Line("Roster", 8, {"word": 1}, {"word": CellState(typed)}, LISTS, language)
    told = () if said is None else (finding("class-book-word", *said, CHOOSE),)
    read, problems = word_of(cell, "word", ("yes", "no"), "no")
    assert (read, in_english(problems)) == (word, told)


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
    told = finding("class-book-number", found, "a number from 0 on", "Type the number alone.")
    read, problems = number_of(cell, "word", lambda number: number > 0, term("number-from-0"))
    assert (read, in_english(problems)) == (None, (told,))


def test_day_of_what_is_no_day_says_what_is_expected() -> None:
    remedy = "Type the day as year-month-day, such as 2027-03-31, or empty the cell."
    told = finding("class-book-date", repr("x" * 60), "a day as YYYY-MM-DD, or nothing", remedy)
    day, problems = day_of(line("x" * 61), "word")
    assert (day, in_english(problems)) == ("", (told,))


def test_faulty_id_empty_twice_or_neither() -> None:
    """Ids are compared without case, and the one above is named by its place."""
    seen: dict[str, str] = {"s1": "B4"}
    problems: list[Finding] = []
    assert not faulty_id(line("s2"), "word", "s2", seen, problems)
    assert (seen, problems) == ({"s1": "B4", "s2": "B9"}, [])
    assert faulty_id(line("S1"), "word", "S1", seen, problems)
    assert faulty_id(line(" "), "word", "", seen, problems)
    assert faulty_id(line(True), "word", "", seen, problems)
    assert list(in_english(problems)) == [
        finding("class-book-id-twice", "'S1', which B4 has too", "each id once",
                "Correct one of the two, or empty its line."),
        finding("class-book-id-empty", "nothing", "an id in every line", "Type the id, or empty the line."),
    ]  # fmt: skip


def test_lines_of_a_table_without_its_headings() -> None:
    """Those that are missing are named in their order, those it may lack are not."""
    tab = TabState("Roster", {(0, 0): CellState("Role")}, True, "visible")
    headings = {"student_id": "Student id", "role": "Role", "email": "Email", "group": "Group"}
    remedy = "Type the heading again where it was, or put back an earlier copy."
    lines, problems = lines_of(tab, headings, ("group",))
    assert (lines, in_english(problems)) == (
        [],
        (Worded("class-book-column-missing", "error", "not in one row",
                       "the headings Student id, Email", remedy, "Roster"),),
    )  # fmt: skip


def test_lines_of_a_table_carry_the_lists_and_the_language() -> None:
    tab = TabState("Roster", {(2, 1): CellState("Role"), (4, 1): CellState("x")}, True, "visible")
    assert lines_of(tab, {"role": "Role"}, (), LISTS, "es") == (
        [Line("Roster", 4, {"role": 1}, {"role": CellState("x")}, LISTS, "es")], [],
    )  # fmt: skip
