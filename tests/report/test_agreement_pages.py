import pytest

from sheetgen.core.agreement import Agreement
from sheetgen.core.outcome import Undefined
from sheetgen.report.agreement_pages import agreement_page, plots_page
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS


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
