from dataclasses import replace

import pytest

from sheetgen.checking.retest import BandSource
from sheetgen.core.outcome import Undefined
from sheetgen.report.measurement_pages import retest_page
from sheetgen.report.page import Page
from tests.report.analysed import CODES, TITLES, retested
from tests.report.invented import TEXTS


def page(source: BandSource | None = None) -> Page:
    report = retested()[2].retest
    assert report is not None
    report = replace(report, source=source or report.source)
    return retest_page(report, 1, 2, TITLES, CODES, TEXTS)


def test_retest_page_says_in_words_what_is_change() -> None:
    assert [(row[0], row[7]) for row in page().rows[:3]] == [
        ("P00", "no change score: another caliper: C02, then C09"),
        ("P01", "more than measurement error"),
        ("P02", "cannot be told from measurement error"),
    ]
    assert page().rows[1][3:6] == (84.0, 140.0, 56.0)


def test_retest_page_shows_both_values_where_there_is_no_change_score() -> None:
    sites = page().more[0].rows
    assert sites[0] == ("P00", "S01-P00-1", "Chest", 12.5, 12.5, None, None, "no change score")
    assert sites[7][:6] == ("P01", "S02-P01-1", "Chest", 9.75, 17.75, 8.0)


# where the errors come from, in words
BANDS = (
    (BandSource("class"), "the class's own technical error, both sessions"),
    (
        BandSource("published"),
        "the published limit of 7.5 % for a beginner, Gore et al. in Norton & Olds 2000 (from memory): the "
        "class has too few pairs of readings of its own",
    ),
    (
        BandSource("both", ("chest", "thigh")),
        "the class's own technical error, both sessions; at Chest, Thigh the published limit of 7.5 % for a "
        "beginner, Gore et al. in Norton & Olds 2000 (from memory)",
    ),
)


@pytest.mark.parametrize(("source", "words"), BANDS)
def test_retest_page_says_where_the_band_comes_from(source: BandSource, words: str) -> None:
    assert page(source).sentences[0] == f"The band: {words}."


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
    shown = retest_page(replace(report, rows=(row,)), 1, 2, TITLES, CODES, TEXTS).rows[0][7]
    assert shown == (f"no change score: someone else than printed was measured in one session; {words}")


def test_retest_page_has_the_progress_of_each_measurer_by_code() -> None:
    progress = page().more[1].rows
    assert [row[0] for row in progress] == [f"P{number:02}" for number in range(30)]
    assert {row[7] for row in progress} == {"repeats as before"}
