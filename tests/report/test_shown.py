from sheetgen.core.outcome import Interval, Undefined
from sheetgen.report.shown import ends, said_once, short, shown, span, student_codes
from tests.report.invented import BOOK

WHY = Undefined("too few people")


def test_a_statistic_that_cannot_be_given_is_an_empty_cell() -> None:
    assert (shown(WHY), ends(WHY), span(WHY), short(WHY)) == (None, (None, None), "", "too few people")


def test_a_statistic_as_cells() -> None:
    interval = Interval(-0.5, 1.25, 0.95)
    assert (shown(1.5), ends(interval), span(interval), short(0.00042)) == (
        1.5,
        (-0.5, 1.25),
        "-0.50 to 1.25",
        "0.00042",
    )


def test_a_reason_is_said_once_where_it_holds_everywhere() -> None:
    assert said_once(["too few people"] * 3) == ("At every site: too few people.",)
    assert [said_once(reasons) for reasons in ([], ["", ""], ["too few people", ""])] == [(), (), ()]


def test_student_codes() -> None:
    assert student_codes(BOOK) == {"1001": "P01", "1002": "P02", "1003": "P03"}
