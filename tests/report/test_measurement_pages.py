import pytest

from sheetgen.report.measurement_pages import results_page, site_titles
from tests.report.invented import PROTOCOLS, TEXTS, accepted, refused_without_record, returned

CODES = ("P01", "P02", "P03")


def test_results_page_is_ordered_by_code_and_holds_no_names() -> None:
    page = results_page([accepted(2, reading_1_triceps=None), accepted(1)], 1, PROTOCOLS, CODES, TEXTS)
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
    page = results_page([accepted(1)], 1, {}, CODES, TEXTS)
    assert [heading.text for heading in page.headings[-2:]] == ["triceps, mm", "front_thigh, mm"]
    assert page.rows == (("K1", "P01", 31.25, 1.005859375, None, None, "estimate made", 11.0, 20.25),)


def test_results_page_leaves_out_refused_and_superseded_files() -> None:
    attempts = [
        returned(1, "review"),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "refused"),
        refused_without_record(),
    ]
    assert [row[0] for row in results_page(attempts, 1, PROTOCOLS, CODES, TEXTS).rows] == ["K1"]


def test_results_page_does_not_tell_practice() -> None:
    practice = results_page([accepted(1, data_source="practice")], 1, PROTOCOLS, CODES, TEXTS)
    assert practice == results_page([accepted(1)], 1, PROTOCOLS, CODES, TEXTS)


def test_results_page_without_attempts() -> None:
    assert results_page([], 1, PROTOCOLS, CODES, TEXTS).rows == ()


def test_site_titles_are_in_circuit_order() -> None:
    attempts = [returned(1, "review")]
    assert site_titles(attempts, PROTOCOLS) == {"triceps": "Triceps", "front_thigh": "Front thigh"}
    assert site_titles(attempts, {}) == {"triceps": "triceps", "front_thigh": "front_thigh"}
