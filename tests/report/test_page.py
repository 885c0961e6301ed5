import pytest

from sheetgen.report.page import (
    Column,
    code_of,
    counted,
    sentence,
    session_of,
    short,
    writable_text,
)
from sheetgen.statistics.repeatability import Interval, Undefined
from tests.report.invented import TEXTS, accepted, refused_without_record

WHY = Undefined("few-sites")


CELL = Column("report_heading.in_words", 15, "0")


def test_a_statistic_that_cannot_be_given_is_an_empty_cell() -> None:
    assert [CELL.cell((value,), TEXTS) for value in (WHY, None)] == [None, None]
    assert Column("report_heading.in_words", 15, "0.upper").cell((WHY,), TEXTS) is None
    assert short(WHY, TEXTS) == "fewer than two sites have enough readings to be compared"


def test_a_statistic_as_cells() -> None:
    interval = Interval(-0.5, 1.25, 0.95)
    assert [CELL.cell((value,), TEXTS) for value in (1.5, interval)] == [1.5, "-0.50 to 1.25"]
    assert short(0.00042, TEXTS) == "0.00042"


def test_a_sentence_with_a_count_stands_only_where_there_is_one() -> None:
    key = "report_pile_up.off_scale"
    assert counted(key, 0, TEXTS) == ()
    assert counted(key, 2, TEXTS) == ("Readings that the scale cannot show: 2.",)


def test_who_has_no_code_goes_by_a_sheet() -> None:
    codes = {"1001": "P01", "1002": ""}
    assert [code_of(one, ("K1", "K2"), codes, TEXTS) for one in codes] == ["P01", "sheet K1"]


def test_a_sentence_begins_with_a_capital() -> None:
    assert (sentence("no pair differs."), sentence("")) == ("No pair differs.", "")


def test_session_of_a_file_without_record_is_the_one_being_read() -> None:
    assert (session_of(accepted(1), 4), session_of(refused_without_record(), 4)) == (1, 4)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a\x00b\x1b[31m", "a?b?[31m"),
        ("\ufffe\uffff", "??"),
        ("\udc80", "?"),
        ("1\t2\r\n3 é😀", "1\t2\r\n3 é😀"),
    ],
)
def test_writable_text_has_no_sign_that_spoils_a_table(text: str, expected: str) -> None:
    """A cell may hold any sign as a number between marks; ESC steers a terminal, U+FFFF is no XML."""
    assert writable_text(text) == expected
