import pytest

from sheetgen.report.measurement_pages import repeat_page, results_page
from tests.report.invented import PROTOCOLS, accepted, refused_without_record, returned

WORDS = {"ok": "", "sum-missing": "no sum: a site has no value"}
CODES = ("P01", "P02", "P03")


def test_results_page_is_ordered_by_code_and_holds_no_names() -> None:
    page = results_page([accepted(2, reading_1_triceps=None), accepted(1)], 1, PROTOCOLS, WORDS, CODES)
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
    page = results_page([accepted(1)], 1, {}, WORDS, CODES)
    assert [heading.text for heading in page.headings[-2:]] == ["triceps, mm", "front_thigh, mm"]
    assert page.rows == (("K1", "P01", 31.25, 1.005859375, None, None, "estimate made", 11.0, 20.25),)


def test_results_page_leaves_out_refused_and_superseded_files() -> None:
    attempts = [
        returned(1, "review"),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "refused"),
        refused_without_record(),
    ]
    assert [row[0] for row in results_page(attempts, 1, PROTOCOLS, WORDS, CODES).rows] == ["K1"]


def test_results_page_does_not_tell_practice() -> None:
    practice = results_page([accepted(1, data_source="practice")], 1, PROTOCOLS, WORDS, CODES)
    assert practice == results_page([accepted(1)], 1, PROTOCOLS, WORDS, CODES)


def test_results_page_without_attempts() -> None:
    assert results_page([], 1, PROTOCOLS, WORDS, CODES).rows == ()


def test_repeat_page_over_the_class() -> None:
    """Differences at the triceps 2.0 and 1.0, at the thigh 3.0 and 4.0 with no two of three agreeing."""
    again = accepted(2, reading_2_triceps=10.5, reading_2_front_thigh=23.5, reading_3_front_thigh=27.0)
    assert repeat_page([accepted(1), again], 1, PROTOCOLS).rows == (
        ("Triceps", 2, 1.5, 0, 0),
        ("Front thigh", 2, 3.5, 2, 1),
    )


def test_repeat_page_leaves_out_practice_refused_and_superseded() -> None:
    attempts = [
        accepted(1),
        accepted(2, data_source="practice", reading_2_triceps=30.0),
        returned(3, "refused", reading_2_triceps=30.0),
        returned(1, "superseded", file="old.xlsx", reading_2_triceps=30.0),
    ]
    assert repeat_page(attempts, 1, PROTOCOLS).rows == repeat_page([accepted(1)], 1, PROTOCOLS).rows


def test_repeat_page_of_a_site_without_pairs() -> None:
    page = repeat_page([accepted(1, not_taken_triceps="skin")], 1, PROTOCOLS)
    assert page.rows[0] == ("Triceps", 0, None, 0, 0)
