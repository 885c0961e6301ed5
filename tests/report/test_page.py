from sheetgen.core.outcome import Interval, Undefined
from sheetgen.report.page import (
    code_of,
    ends,
    said_once,
    sentence,
    short,
    shown,
    site_width,
    span,
    student_codes,
)
from tests.report.invented import BOOK, TEXTS

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
