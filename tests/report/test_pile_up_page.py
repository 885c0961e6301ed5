from dataclasses import replace

from sheetgen.report.precision_pages import pile_up_page
from tests.class_samples import CLASSES
from tests.report.analysed import CODES, alone
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
