from dataclasses import replace

import pytest

from sheetgen.report.measurement_pages import results_page, retest_page, site_titles
from sheetgen.report.page import Page
from sheetgen.statistics.repeatability import Undefined
from sheetgen.statistics.retest import BandSource
from tests.report.analysed import CODES, TITLES, retested
from tests.report.invented import PROTOCOLS, TEXTS, accepted, refused_without_record, returned


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
    assert page().rows[1][3:6] == (82.5, 138.5, 56.0)


def test_retest_page_shows_both_values_where_there_is_no_change_score() -> None:
    sites = page().more[0].rows
    assert sites[0] == ("P00", "S01-P00-1", "Chest", 12.5, 13.0, None, None, "no change score")
    assert sites[7][:6] == ("P01", "S02-P01-1", "Chest", 9.75, 17.75, 8.0)


# where the errors come from, in words
BANDS = (
    (
        BandSource("class"),
        "the class's own technical error at a fold of this thickness, both sessions; it grows with the fold "
        "as far as the class's errors do",
    ),
    (
        BandSource("published"),
        "the limit of 7.5 % held acceptable of a beginner, Gore et al. in Norton & Olds 2000 (from memory): "
        "the class has too few pairs of readings of its own",
    ),
    (
        BandSource("both", ("chest", "thigh")),
        "the class's own technical error, both sessions; at Chest, Thigh the limit of 7.5 % held "
        "acceptable of a beginner, Gore et al. in Norton & Olds 2000 (from memory)",
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


PRINTED = ("P01", "P02", "P03")


def test_results_page_is_ordered_by_code_and_holds_no_names() -> None:
    page = results_page([accepted(2, reading_1_triceps=None), accepted(1)], 1, PROTOCOLS, PRINTED, TEXTS)
    assert [heading.text for heading in page.headings] == [
        "Sheet",
        "Participant",
        "Sum, mm",
        "Density, g/ml",
        "Fat, low end, %",
        "Fat, high end, %",
        "Estimate",
        "Triceps, mm",
        "Front thigh, mm",
    ]
    first, second = page.rows
    assert second == ("K2", "P02", None, None, None, None, "no sum: a site has no value", None, 20.25)
    assert first[:4] == ("K1", "P01", 31.25, 1.005859375)
    assert first[6:] == ("estimate made", 11.0, 20.25)
    # 500 / 1.005859375 - 450 = 47.087379, minus and plus the standard error of 3.5 points
    assert list(first[4:6]) == pytest.approx([43.587379, 50.587379], abs=1e-6)


def test_results_page_of_a_protocol_that_was_taken_away_since() -> None:
    page = results_page([accepted(1)], 1, {}, PRINTED, TEXTS)
    assert [heading.text for heading in page.headings[-2:]] == ["triceps, mm", "front_thigh, mm"]
    assert page.rows == (("K1", "P01", 31.25, 1.005859375, None, None, "estimate made", 11.0, 20.25),)


def test_results_page_leaves_out_refused_and_superseded_files() -> None:
    attempts = [
        returned(1, "review"),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "refused"),
        refused_without_record(),
    ]
    assert [row[0] for row in results_page(attempts, 1, PROTOCOLS, PRINTED, TEXTS).rows] == ["K1"]


def test_results_page_does_not_tell_practice() -> None:
    practice = results_page([accepted(1, data_source="practice")], 1, PROTOCOLS, PRINTED, TEXTS)
    assert practice == results_page([accepted(1)], 1, PROTOCOLS, PRINTED, TEXTS)


def test_results_page_without_attempts() -> None:
    assert results_page([], 1, PROTOCOLS, PRINTED, TEXTS).rows == ()


def test_site_titles_are_in_circuit_order() -> None:
    attempts = [returned(1, "review")]
    assert site_titles(attempts, PROTOCOLS) == {"triceps": "Triceps", "front_thigh": "Front thigh"}
    assert site_titles(attempts, {}) == {"triceps": "triceps", "front_thigh": "front_thigh"}
