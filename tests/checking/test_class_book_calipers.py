import pytest

from sheetgen.model.finding import Worded
from sheetgen.model.settings import CaliperCheck
from tests.class_books import BOOK, read_back, typed

TODAY = "2027-02-01"


def test_calipers_from_a_register_without_faults() -> None:
    book, problems = read_back(typed({}), TODAY)
    assert problems == ()
    assert book.settings.calipers == BOOK.settings.calipers
    assert book.checks == BOOK.checks


CASES = [
    # what is typed of caliper 1 (0.5 mm steps, zero 0), warnings: code, cell, found
    ({"zero": 1.0, "block_10": 11.0, "block_20": 21.0, "block_40": 41.0}, []),
    (
        {"zero": -1.1, "block_10": 9.0, "block_20": 19.0, "block_40": 39.0},
        [("class-book-caliper-zero", "E6", "caliper C1: zero -1.1 mm")],
    ),
    ({"block_10": 10.5, "block_20": 19.5}, []),
    ({"block_30": "30,6"}, [("class-book-caliper-block", "I6", "caliper C1: 30.6 mm on 30 mm, zero 0 mm")]),
    (
        {"zero": 0.4, "block_10": 10.0, "block_20": 19.8, "block_40": 41.0},
        [
            ("class-book-caliper-block", "H6", "caliper C1: 19.8 mm on 20 mm, zero 0.4 mm"),
            ("class-book-caliper-block", "J6", "caliper C1: 41 mm on 40 mm, zero 0.4 mm"),
        ],
    ),
    ({"checked_on": None}, [("class-book-check-missing", "K6", "caliper C1: no check on record")]),
    ({"checked_on": "2026-02-01"}, []),
    (
        {"checked_on": "2026-01-31"},
        [("class-book-check-old", "K6", "caliper C1: checked on 2026-01-31")],
    ),
]


@pytest.mark.parametrize(("line", "expected"), CASES)
def test_calipers_from_a_check_that_says_something(
    line: dict[str, str | float | None], expected: list[tuple[str, str, str]]
) -> None:
    """Every one is a warning, and the book is whole."""
    book, problems = read_back(typed({f"caliper_1_{name}": value for name, value in line.items()}), TODAY)
    assert [(each.code, each.cell, each.found) for each in problems] == expected
    assert {each.severity for each in problems} <= {"warning"}
    assert len(book.pairings) == 5


def test_calipers_from_one_out_of_service() -> None:
    """Of what is not used nothing is said."""
    changes = {"caliper_3_zero": 5.0, "caliper_3_block_10": 30.0}
    assert read_back(typed(changes), TODAY)[1] == ()


def test_calipers_from_a_book_read_without_a_day() -> None:
    _, problems = read_back(typed({"caliper_1_checked_on": None, "caliper_2_checked_on": "1999-01-01"}))
    assert problems == ()


FAULTS = [
    # what is typed, code, cell
    ({"block_10": "ten"}, "class-book-number", "G6"),
    ({"block_40": 61.0}, "class-book-number", "J6"),
    ({"checked_on": "31.3.2027"}, "class-book-date", "K6"),
    ({"checked_by": "x" * 41}, "class-book-text", "L6"),
]


@pytest.mark.parametrize(("line", "code", "cell"), FAULTS)
def test_calipers_from_a_check_that_cannot_be_read(
    line: dict[str, str | float], code: str, cell: str
) -> None:
    _, problems = read_back(typed({f"caliper_1_{name}": value for name, value in line.items()}))
    assert [(each.code, each.severity, each.cell) for each in problems] == [(code, "error", cell)]


def test_calipers_from_a_check_of_one_without_readings() -> None:
    book, _ = read_back(typed({"caliper_3_checked_by": "T. Cher"}))
    assert book.checks[2] == CaliperCheck("C3", checked_by="T. Cher")


BLOCK = "Read the block again; have the caliper adjusted, or take it out of service."
# what is typed of calipers 1 and 2, everything that is said of it
SAID = [
    (
        {"1_zero": -1.1, "1_block_10": 9.0, "1_block_20": 19.0, "1_block_40": 39.0},
        Worded("class-book-caliper-zero", "warning", "caliper C1: zero -1.1 mm",
                "at most 1 mm either way, by common practice",
                "Use it for practice only, or have it adjusted; or take it out of service.", "Calipers",
                "E6"),
    ),
    (
        {"1_block_30": "30,6"},
        Worded("class-book-caliper-block", "warning", "caliper C1: 30.6 mm on 30 mm, zero 0 mm",
                "30 mm within one step of 0.5 mm, the zero deducted", BLOCK, "Calipers", "I6"),
    ),
    (
        {"1_checked_on": None},
        Worded("class-book-check-missing", "warning", "caliper C1: no check on record",
                "the day it was checked", "Check it on gauge blocks and type the day.", "Calipers", "K6"),
    ),
    (
        {"1_checked_on": "2026-01-31"},
        Worded("class-book-check-old", "warning", "caliper C1: checked on 2026-01-31",
                "a check within the last 12 months, by common practice",
                "Check it on gauge blocks and type the day.", "Calipers", "K6"),
    ),
    (
        {"2_identifier": "c1"},
        Worded("class-book-id-twice", "error", "'c1', which A6 has too", "each id once",
                "Correct one of the two, or empty its line.", "Calipers", "A7"),
    ),
    (
        {"2_identifier": " "},
        Worded("class-book-id-empty", "error", "nothing", "an id in every line",
                "Type the id, or empty the line.", "Calipers", "A7"),
    ),
    (
        {"1_identifier": "a,b"},
        Worded("class-book-caliper-id", "error", "'a,b'", "a label without commas, semicolons and quotes",
                "Give the caliper a shorter label, without commas and quotes.", "Calipers", "A6"),
    ),
    (
        {"1_division": 0.3},
        Worded("class-book-number", "error", "0.3", "1 or 0.5 or 0.2 or 0.1", "Type the number alone.",
                "Calipers", "C6"),
    ),
    (
        {"1_opening": 900.0},
        Worded("class-book-number", "error", "900.0", "a number from 10 to 120", "Type the number alone.",
                "Calipers", "D6"),
    ),
    (
        {"1_zero": "x"},
        Worded("class-book-number", "error", "'x'", "a number from -10 to 10", "Type the number alone.",
                "Calipers", "E6"),
    ),
    (
        {"1_block_10": "ten"},
        Worded("class-book-number", "error", "'ten'", "a number from 0 to 60", "Type the number alone.",
                "Calipers", "G6"),
    ),
    (
        {"1_in_service": "maybe"},
        Worded("class-book-word", "error", "'maybe'", "yes or no",
                "Choose one of these words from the list of the cell.", "Calipers", "F6"),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("cells", "finding"), SAID)
def test_calipers_from_a_line_of_which_something_is_said(
    cells: dict[str, str | float | None], finding: Worded
) -> None:
    """Found, expected, what to do, and where."""
    _, problems = read_back(typed({f"caliper_{name}": value for name, value in cells.items()}), TODAY)
    assert problems == (finding,)


def test_calipers_with_a_label_that_a_list_can_hold() -> None:
    for label, usable in (("C 1", True), ("x", True), ("a;b", False), ('a"b', False), ("a b c", True)):
        book, problems = read_back(
            typed({"caliper_1_identifier": label, "pair_1_caliper": None, "pair_2_caliper": None}), TODAY
        )
        wrong = [one for one in problems if one.code == "class-book-caliper-id"]
        assert (len(wrong), book.settings.calipers[0].identifier) == (int(not usable), label)
