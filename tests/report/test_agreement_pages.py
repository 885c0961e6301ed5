import pytest

from sheetgen.report.agreement_pages import agreement_page, calipers_page, plots_page
from sheetgen.statistics.agreement import Agreement
from sheetgen.statistics.repeatability import Undefined
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS


def test_calipers_page_finds_the_forgotten_zero() -> None:
    page = calipers_page(compared()[2], TEXTS)
    looks_forgotten = {row[0]: row[6] for row in page.rows if row[6] is not None}
    assert looks_forgotten == {"C04": 1.0}
    assert page.sentences[2] == "Each interval is one of 99.55 %."


def test_calipers_page_lists_a_typed_zero_that_is_not_the_registered_one() -> None:
    page = calipers_page(compared()[2], TEXTS)
    assert page.more[0].rows == (("C02", "S01-P00-1", -0.5, 0.0),)
    assert page.sentences[-1] == (
        "Sheets left out: 1 with two calipers, one not registered, or a zero that is not the registered one; "
        "2 with the same numbers as another, see To talk to."
    )


def test_calipers_page_says_that_they_cannot_be_told() -> None:
    page = calipers_page(alone()[2], TEXTS)
    assert page.sentences == (
        "No participant was measured with two calipers: a caliper that reads off looks like a thicker or "
        "thinner person, so the calipers cannot be told.",
    )
    assert (page.headings, page.rows, page.charts) == ((), (), ())
    assert page.more[0].sentences == ("Every typed zero is the registered one.",)


def test_agreement_page_between_students() -> None:
    page = agreement_page(compared()[2], TITLES, TEXTS)
    assert page.sentences[-1] == "Sheets with the same numbers as another are left out: 2, see To talk to."
    assert [row[:3] for row in page.rows] == [(title, 30, 88) for title in TITLES.values()]
    assert {row[6:8] for row in page.rows} == {(10.0, 7.5)}


def test_agreement_page_states_the_multiplier() -> None:
    (against,) = agreement_page(compared()[2], TITLES, TEXTS).more
    assert against.sentences[1] == (
        "Limits of agreement: mean difference minus and plus 1.96 standard deviations."
    )
    for row in against.rows:
        mean, deviation, lower, upper = row[3], row[5], row[6], row[9]
        assert isinstance(mean, float)
        assert isinstance(deviation, float)
        assert (lower, upper) == pytest.approx((mean - 1.96 * deviation, mean + 1.96 * deviation))


def test_agreement_page_of_single_measurers_says_why_there_is_none() -> None:
    page = agreement_page(alone()[2], TITLES, TEXTS)
    assert (page.headings, page.rows) == ((), ())
    assert page.sentences[-1] == "At every site: no participant was measured by two students."
    assert page.more[0].sentences == (
        "It cannot be given: the teacher returned no sheet of their own, so there is no criterion measure.",
    )


def test_plots_page_has_a_chart_a_site_over_its_own_rows() -> None:
    criterion = compared()[2].criterion
    assert not isinstance(criterion, Undefined)
    page = plots_page(criterion, 1, TITLES, TEXTS)
    assert page.above
    assert [chart.title for chart in page.charts] == list(TITLES.values())
    for chart, one in zip(page.charts, criterion, strict=True):
        assert chart.rows is not None
        rows = page.rows[chart.rows[0] : chart.rows[1] + 1]
        assert {row[0] for row in rows} == {chart.title}
        assert isinstance(one.agreement, Agreement)
        limits = (one.agreement.lower_limit, one.agreement.mean_difference, one.agreement.upper_limit)
        assert {row[5:] for row in rows} == {limits}
