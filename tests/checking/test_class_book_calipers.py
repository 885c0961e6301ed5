import pytest

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
