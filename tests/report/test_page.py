import pytest

from sheetgen.report.page import (
    code_of,
    counts,
    ends,
    said_once,
    sentence,
    session_of,
    short,
    shown,
    site_width,
    span,
    student_codes,
    writable_text,
)
from sheetgen.statistics.repeatability import Interval, Undefined
from tests.report.invented import BOOK, TEXTS, accepted, refused_without_record, returned

WHY = Undefined("few-sites")


def test_a_statistic_that_cannot_be_given_is_an_empty_cell() -> None:
    assert (shown(WHY), ends(WHY), span(WHY, TEXTS)) == (None, (None, None), "")
    assert short(WHY, TEXTS) == "fewer than two sites have enough readings to be compared"


def test_a_statistic_as_cells() -> None:
    interval = Interval(-0.5, 1.25, 0.95)
    assert (shown(1.5), ends(interval), span(interval, TEXTS), short(0.00042, TEXTS)) == (
        1.5,
        (-0.5, 1.25),
        "-0.50 to 1.25",
        "0.00042",
    )


def test_a_reason_is_said_once_where_it_holds_everywhere() -> None:
    assert said_once(["too few people"] * 3, TEXTS) == ("At every site: too few people.",)
    assert [said_once(reasons, TEXTS) for reasons in ([], ["", ""], ["too few people", ""])] == [(), (), ()]


def test_student_codes() -> None:
    assert student_codes(BOOK) == {"1001": "P01", "1002": "P02", "1003": "P03"}


def test_who_has_no_code_goes_by_a_sheet() -> None:
    codes = {"1001": "P01", "1002": ""}
    assert [code_of(one, ("K1", "K2"), codes, TEXTS) for one in codes] == ["P01", "sheet K1"]


def test_a_sentence_begins_with_a_capital() -> None:
    assert (sentence("no pair differs."), sentence("")) == ("No pair differs.", "")


def test_a_column_is_as_wide_as_the_longest_word_above_it() -> None:
    assert (site_width("Calf, mm"), round(site_width("Subscapular, mm"), 1)) == (10.0, 15.2)


@pytest.mark.parametrize(
    ("status", "expected"),
    [("accepted", True), ("review", True), ("refused", False), ("superseded", False)],
)
def test_counts_by_status(status: str, expected: bool) -> None:
    assert counts(returned(1, status)) is expected


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
