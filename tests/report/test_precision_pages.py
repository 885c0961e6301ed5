from collections.abc import Mapping

import pytest
from msgspec.structs import replace

from sheetgen.report.page import Page, Section
from sheetgen.report.precision_pages import (
    agreement_sections,
    caliper_sections,
    limit_columns,
    measured_page,
    repeat_section,
)
from sheetgen.statistics.analysis import ClassAnalysis
from sheetgen.statistics.precision import LeftOut
from sheetgen.statistics.repeatability import Interval
from tests.class_samples import CLASSES
from tests.report.analysed import CODES, TITLES, alone, compared
from tests.report.invented import TEXTS


def measured(analysis: ClassAnalysis, codes: Mapping[str, str] = CODES) -> Page:
    page = measured_page(analysis, "1", TITLES, codes, TEXTS)
    assert page is not None
    return page


def part(analysis: ClassAnalysis, title: str) -> Section:
    (found,) = (one for one in measured(analysis).more if one.title == title)
    return found


def test_what_says_nothing_has_no_section() -> None:
    assert [one.title for one in measured(alone()[2]).more] == []


def test_digits_of_rounded_readings() -> None:
    section = part(CLASSES["class-digit-preference"](), "Readings that pile up on a digit")
    assert "readings pile up on the digit 0: read what the scale shows, not rounder" in section.sentences[1]
    assert [row[:3] for row in section.rows] == [("0.5 mm", "0", 210), ("0.5 mm", "5", 0)]
    assert [chart.rows for chart in section.charts] == [(0, 1)]


def test_digits_count_readings_that_the_scale_cannot_show() -> None:
    analysis = CLASSES["class-digit-preference"]()
    (scale,) = analysis.digits
    digits = (replace(scale, counts=replace(scale.counts, off_scale=1)),)
    section = part(replace(analysis, digits=digits), "Readings that pile up on a digit")
    assert section.sentences[1].endswith(" Readings that the scale cannot show: 1.")


def test_a_student_whose_second_round_is_thinner_goes_by_code() -> None:
    section = part(CLASSES["class-second-round-thinner"](), "Second round thinner wherever the rounds differ")
    assert section.sentences[0].startswith(
        "P01: round 2 thinner in 7 of 7 pairs that differ: by chance 1 in 128"
    )


def test_a_sheet_with_equal_rounds_goes_by_code() -> None:
    section = part(CLASSES["class-rounds-identical"](), "Round 2 equal to round 1 at every site")
    assert section.sentences[0].startswith(
        "S01-P00-1: round 2 equals round 1 at all 7 sites; a question only"
    )


def test_how_we_measured_names_the_worst_site_and_the_source_of_the_limits() -> None:
    page = measured(compared()[2])
    assert page.sentences[0].startswith("Abdominal repeats worst, ")
    assert "Gore et al. in Norton & Olds 2000 (from memory)" in page.sentences[2]
    row = next(row for row in page.rows if row[0] == "Abdominal")
    # Two pairs are unsettled or a slip; the simulated error is 1.9 mm; 90 pairs tell it within 15 per cent.
    assert row[1] == 30
    assert row[2] == pytest.approx(1.9, rel=0.15)
    assert str(row[8]).endswith("): above 7.5 %, held acceptable of a beginner")


def test_how_we_measured_names_sheets_left_out_and_counts_practice() -> None:
    told = (LeftOut("off-scale", 2, ("K1", "K2")), LeftOut("practice", 3, ("K3", "K4", "K5")))
    section = measured(replace(compared()[2], left_out=told)).more[0]
    assert section.sentences[-1].startswith("With all of that the error would be, in mm: Chest ")
    assert section.sentences[:-1] == (
        "Between two marks of the caliper's scale: 2 (K1, K2).",
        "Sheets of practice readings: 3.",
    )


def test_how_we_measured_is_not_made_without_an_error() -> None:
    assert measured_page(replace(compared()[2], sites=()), "1", TITLES, CODES, TEXTS) is None


def test_chart_of_the_error_has_its_interval_and_a_line_a_limit() -> None:
    page = measured(compared()[2])
    (chart,) = page.charts
    columns = (chart.words, chart.numbers, *chart.lines, *(chart.reach or ()))
    assert [page.headings[column].text for column in columns] == [
        "Site",
        "Error, % of fold",
        "Limit: new, %",
        "Limit: skilled, %",
        "95 %: less",
        "95 %: more",
    ]
    one = compared()[2].sites[0]
    assert isinstance(one.relative, float)
    assert isinstance(one.relative_interval, Interval)
    assert page.rows[0][4:6] == (
        pytest.approx(one.relative - one.relative_interval.lower),
        pytest.approx(one.relative_interval.upper - one.relative),
    )


@pytest.mark.parametrize(("comparison", "percents"), [("within", [7.5, 5.0]), ("between", [10.0, 7.5])])
def test_limits_stand_under_their_headings(comparison: str, percents: list[float]) -> None:
    columns = limit_columns(comparison)
    assert [column.cell(None, TEXTS) for column in columns] == percents
    assert [column.heading(TEXTS).text for column in columns] == ["Limit: new, %", "Limit: skilled, %"]


def test_repeat_differences_are_ordered_by_code_and_hold_no_student_id() -> None:
    rows = repeat_section(compared()[2], TITLES, CODES, TEXTS).rows
    codes = [row[0] for row in rows]
    assert codes == [*sorted(code for student, code in CODES.items() if student != "T1"), "PT1, teacher"]
    assert rows[0][1] == 21


def test_repeat_difference_of_someone_without_a_code() -> None:
    assert repeat_section(compared()[2], TITLES, {}, TEXTS).rows[0][0] == "sheet S00-P27-1"


def test_calipers_side_by_side_find_the_forgotten_zero() -> None:
    offsets, _ = caliper_sections(compared()[2], TEXTS)
    assert {row[0]: row[6] for row in offsets.rows if row[6] is not None} == {"C04": 1.0}
    assert offsets.sentences[2] == "Each interval is one of 99.55 %."
    assert offsets.sentences[-1] == (
        "Sheets left out: 1 with two calipers, one not registered, or a zero that is not the registered one; "
        "2 with the same numbers as another."
    )


def test_calipers_list_a_typed_zero_that_is_not_the_registered_one() -> None:
    said = caliper_sections(compared()[2], TEXTS)[1].sentences[0]
    assert said == "S01-P00-1, caliper C02: typed -0.5 mm, on record 0 mm."


def test_calipers_that_cannot_be_told_have_no_section() -> None:
    assert caliper_sections(alone()[2], TEXTS) == ()


def test_agreement_between_students() -> None:
    between, _ = agreement_sections(compared()[2], TITLES, TEXTS)
    assert between.sentences[-1] == ("Sheets left out because they hold the same numbers as another: 2.")
    assert [row[:2] for row in between.rows] == [(title, 30) for title in TITLES.values()]
    assert all(row[8] for row in between.rows)
    assert {row[6:8] for row in between.rows} == {(10.0, 7.5)}


def test_agreement_with_the_teacher_states_the_multiplier() -> None:
    _, against = agreement_sections(compared()[2], TITLES, TEXTS)
    assert against.sentences[1] == (
        "Limits of agreement: mean difference minus and plus 1.96 standard deviations."
    )
    for row in against.rows:
        deviation, mean, lower, upper = row[2:6]
        assert isinstance(mean, float)
        assert isinstance(deviation, float)
        assert (lower, upper) == pytest.approx((mean - 1.96 * deviation, mean + 1.96 * deviation))


def test_agreement_of_single_measurers_has_no_section() -> None:
    assert agreement_sections(alone()[2], TITLES, TEXTS) == ()
