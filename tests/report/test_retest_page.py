from sheetgen.report.page import Page
from sheetgen.report.retest_page import retest_page
from tests.report.analysed import CODES, TITLES, retested


def page() -> Page:
    report = retested()[2].retest
    assert report is not None
    return retest_page(report, 1, 2, TITLES, CODES)


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


def test_retest_page_says_where_the_band_comes_from() -> None:
    assert page().sentences[0] == "The band: the class's own technical error, both sessions."


def test_retest_page_has_the_progress_of_each_measurer_by_code() -> None:
    progress = page().more[1].rows
    assert [row[0] for row in progress] == [f"P{number:02}" for number in range(30)]
    assert {row[7] for row in progress} == {"repeats as before"}
