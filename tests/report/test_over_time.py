import pytest
from msgspec.structs import replace

from sheetgen.report.over_time import retest_page, retest_sites, site_titles
from sheetgen.report.page import Page
from sheetgen.statistics.repeatability import Undefined
from tests.report.analysed import TITLES, retested
from tests.report.invented import PROTOCOLS, TEXTS, returned


def page(*source: object) -> Page:
    report = retested()[2].retest
    assert report is not None
    if source:
        report = replace(report, source=source[0], limited=source[1])
    return retest_page(report, ("2", "1"), TITLES, TEXTS)


def test_retest_page_says_in_words_what_is_change() -> None:
    assert [(row[0], row[5]) for row in page().rows[:3]] == [
        ("P00", "no change score: another caliper: C02, then C09"),
        ("P01", "more than measurement error"),
        ("P02", "cannot be told from measurement error"),
    ]
    assert page().rows[1][1:4] == (82.5, 138.5, 56.0)


def test_retest_page_shows_both_values_where_there_is_no_change_score() -> None:
    report = retested()[2].retest
    assert report is not None
    sites = retest_sites(report, TITLES, TEXTS).rows
    assert sites[0] == ("P00", "Chest", 12.5, 13.0, None, None, "no change score")
    assert sites[7][:5] == ("P01", "Chest", 9.75, 17.75, 8.0)


# where the errors come from, in words
BANDS = (
    (
        ("class", ()),
        "the class's own technical error at a fold of this thickness, both sessions; it grows with the fold "
        "as far as the class's errors do",
    ),
    (
        ("published", ("chest",)),
        "the limit of 7.5 % held acceptable of a beginner, Gore et al. in Norton & Olds 2000 (from memory): "
        "the class has too few pairs of readings of its own",
    ),
    (
        ("both", ("chest", "thigh")),
        "the class's own technical error, both sessions; at Chest, Thigh the limit of 7.5 % held "
        "acceptable of a beginner, Gore et al. in Norton & Olds 2000 (from memory)",
    ),
)


@pytest.mark.parametrize(("source", "words"), BANDS)
def test_retest_page_says_where_the_band_comes_from(source: tuple[str, tuple[str, ...]], words: str) -> None:
    assert page(*source).sentences[0] == f"The band: {words}."


# why there is no change score, in words
REASONS = (
    (Undefined("another-measurer"), "another measurer"),
    (Undefined("other-side", (("first", "right"), ("then", "left"))), "the other side: right, then left"),
    (
        Undefined("another-protocol", (("first", "seven-sites"), ("then", "four-sites"))),
        "another protocol: seven-sites, then four-sites",
    ),
)


@pytest.mark.parametrize(("reason", "words"), REASONS)
def test_retest_page_says_why_there_is_no_change_score(reason: Undefined, words: str) -> None:
    report = retested()[2].retest
    assert report is not None
    row = replace(report.rows[0], reasons=(Undefined("someone-else"), reason))
    shown = retest_page(replace(report, rows=(row,)), ("2", "1"), TITLES, TEXTS).rows[0][5]
    assert shown == (f"no change score: someone else than printed was measured in one session; {words}")


def test_site_titles_are_in_circuit_order() -> None:
    attempts = [returned(1, "review")]
    assert site_titles(attempts, PROTOCOLS) == {"triceps": "Triceps", "front_thigh": "Front thigh"}
    assert site_titles(attempts, {}) == {"triceps": "triceps", "front_thigh": "front_thigh"}
