from dataclasses import replace
from types import SimpleNamespace

import pytest

from sheetgen.report.precision_pages import (
    LIMIT_COLUMNS,
    pile_up_page,
    precision_page,
    repeat_page,
)
from sheetgen.statistics.agreement import ACCEPTABLE_LIMITS
from tests.class_samples import CLASSES
from tests.report.analysed import CODES, TITLES, alone, compared
from tests.report.invented import TEXTS


def test_pile_up_page_of_an_honest_class() -> None:
    page = pile_up_page(alone()[2], CODES, TEXTS)
    assert [row[:2] for row in page.rows] == [("0.5 mm", "0"), ("0.5 mm", "5")]
    assert [row[3] for row in page.rows] == [105.0, 105.0]
    assert [chart.rows for chart in page.charts] == [(0, 1)]
    thinner, identical = page.more
    assert thinner.sentences[-1] == "No student is thinner everywhere."
    assert identical.sentences[-1] == "No sheet is so."


def test_pile_up_page_of_rounded_readings() -> None:
    page = pile_up_page(CLASSES["class-digit-preference"](), CODES, TEXTS)
    assert "readings pile up on the digit 0: read what the scale shows, not rounder" in page.sentences[1]
    assert [row[2] for row in page.rows] == [210, 0]


def test_pile_up_page_counts_readings_that_the_scale_cannot_show() -> None:
    analysis = alone()[2]
    (scale,) = analysis.digits
    digits = (replace(scale, counts=replace(scale.counts, off_scale=1)),)
    page = pile_up_page(replace(analysis, digits=digits), CODES, TEXTS)
    assert page.sentences[1].endswith(" Readings that the scale cannot show: 1.")


def test_pile_up_page_names_a_student_by_code_whose_second_round_is_thinner() -> None:
    (row,) = pile_up_page(CLASSES["class-second-round-thinner"](), CODES, TEXTS).more[0].rows
    assert row[:3] == ("P01", 7, 0)
    assert str(row[4]).startswith("round 2 thinner in 7 of 7 pairs that differ: by chance 1 in 128")


def test_pile_up_page_names_a_sheet_with_equal_rounds() -> None:
    (row,) = pile_up_page(CLASSES["class-rounds-identical"](), CODES, TEXTS).more[1].rows
    assert row[:3] == ("P01", "S01-P00-1", 7)
    assert str(row[4]).startswith("round 2 equals round 1 at all 7 sites; a question only")


def test_precision_page_names_the_worst_site_and_the_source_of_the_limits() -> None:
    page = precision_page(compared()[2], TITLES, TEXTS)
    assert page.sentences[0].startswith("The worst site: Abdominal repeats worst, ")
    assert "Gore et al. in Norton & Olds 2000 (from memory)" in page.sentences[2]
    row = next(row for row in page.rows if row[0] == "Abdominal")
    assert row[1:3] == (90, 30)
    # The simulated error is 1.9 mm; 90 pairs tell it within 15 per cent.
    assert row[3] == pytest.approx(1.9, rel=0.15)
    assert row[7:] == (7.5, 5.0, "above 7.5 %, held acceptable of a beginner")


def test_precision_page_counts_readings_left_out() -> None:
    analysis = compared()[2]
    beyond = [number < 2 for number in range(len(analysis.readings))]
    readings = analysis.readings.assign(beyond_opening=beyond)
    page = precision_page(replace(analysis, readings=readings), TITLES, TEXTS)
    assert page.sentences[3:] == ("Readings left out, beyond the opening of their caliper: 2.",)
    assert len(precision_page(analysis, TITLES, TEXTS).sentences) == 3


def test_precision_page_chart_has_a_line_a_limit() -> None:
    page = precision_page(compared()[2], TITLES, TEXTS)
    (chart,) = page.charts
    assert [page.headings[column].text for column in (chart.words, chart.numbers, *chart.lines)] == [
        "Site",
        "TEM, % of the fold",
        "Limit, beginner measurer, %",
        "Limit, skilled measurer, %",
    ]


def test_precision_page_has_third_readings() -> None:
    (thirds,) = precision_page(compared()[2], TITLES, TEXTS).more
    assert [row[0] for row in thirds.rows] == list(TITLES.values())
    assert {row[1] for row in thirds.rows} == {90}


@pytest.mark.parametrize(("comparison", "percents"), [("within", [7.5, 5.0]), ("between", [10.0, 7.5])])
def test_limits_stand_under_their_headings(comparison: str, percents: list[float]) -> None:
    limits = [limit for limit in ACCEPTABLE_LIMITS if limit.comparison == comparison]
    row = SimpleNamespace(limits=limits)
    assert [column.cell(row, TEXTS) for column in LIMIT_COLUMNS] == percents
    assert [column.heading(TEXTS).text for column in LIMIT_COLUMNS] == [
        "Limit, beginner measurer, %",
        "Limit, skilled measurer, %",
    ]
    assert [limit.experience for limit in limits] == ["beginner", "skilled"]


def test_repeat_page_is_ordered_by_code_and_holds_no_student_id() -> None:
    page = repeat_page(compared()[2], TITLES, CODES, TEXTS)
    codes = [row[0] for row in page.rows]
    assert codes == [*sorted(code for student, code in CODES.items() if student != "T1"), "PT1, teacher"]
    assert page.rows[0][1:3] == (3, 21)


def test_repeat_page_of_someone_without_a_code() -> None:
    page = repeat_page(compared()[2], TITLES, {}, TEXTS)
    assert page.rows[0][0] == "sheet S00-P27-1"
