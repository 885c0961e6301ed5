"""Every sentence about a number that is printed, with the test that shows it to be true.

A new one that speaks of chance, an interval or the error of an equation has no proof until it stands here.
"""

import re
from pathlib import Path

import pytest

from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.sheet.working import cautions_of
from sheetgen.texts.languages import texts_in
from tests.sheets import SETTINGS

ROOT = Path(__file__).parent
ABOUT_A_NUMBER = re.compile(
    r"in three|by (more than )?chance|chance(,| alone| allows)|beyond chance|\d ?% interval|standard error|"
    r"times the median|points? of fat|120 mm|a habit|Innocent pairs",
)

# text, file of its proof, name of its test
PROOFS: dict[str, tuple[str, str]] = {
    "results.band": ("protocols/test_loading.py", "test_notes_about_error_say_for_whom_how_much"),
    "results.thick": ("protocols/test_loading.py", "test_the_note_about_large_sums_is_of"),
    "about.range": ("protocols/test_loading.py", "test_equations_are_loaded_as_published"),
    "caution.c01": ("test_sentences.py", "test_the_first_caution_says_the_errors_of_its_own_equations"),
    "report_precision.chart": ("test_coverage.py", "test_technical_error"),
    "report_precision.below": ("test_coverage.py", "test_technical_error"),
    "report_precision.above": ("test_coverage.py", "test_technical_error"),
    "report_agreement.lower_interval": ("test_coverage.py", "test_limits_of_agreement"),
    "report_agreement.upper_interval": ("test_coverage.py", "test_limits_of_agreement"),
    "report_column.tem_low_mm": ("test_coverage.py", "test_technical_error"),
    "report_column.tem_high_mm": ("test_coverage.py", "test_technical_error"),
    "report_calipers.rule": ("statistics/test_calipers.py", "test_the_family_wise_rule_is_in_the_interval"),
    "report_retest.note": ("test_coverage.py", "test_band_of_the_retest_in_every_fifth_of_thickness"),
    "report_same_numbers.cause_5": ("statistics/test_same_numbers.py", "test_chances_against_drawn_pairs"),
    "report_words.far_apart": (
        "statistics/test_readings_frame.py",
        "test_a_pair_further_apart_than_the_class_allows_is_a_slip",
    ),
    "slip_redo.density-rounded-2": ("test_sentences.py", "test_what_rounding_the_density_can_cost"),
    "slip_redo.density-rounded-3": ("test_sentences.py", "test_what_rounding_the_density_can_cost"),
    "report_agreement.against_hint": ("test_coverage.py", "test_limits_of_agreement"),
    "report_words.above_the_teacher": ("test_coverage.py", "test_limits_of_agreement"),
    "report_words.below_the_teacher": ("test_coverage.py", "test_limits_of_agreement"),
    "class-digit-preference.means": ("statistics/test_digits.py", "test_digit_test_against_scipy"),
    "report_pile_up.hint": ("statistics/test_digits.py", "test_thinner_everywhere_by_chance"),
    "report_pile_up.expected_thinner": (
        "statistics/test_digits.py",
        "test_thinner_everywhere_by_chance",
    ),
    "report_pile_up.expected_identical": (
        "statistics/test_digits.py",
        "test_all_pairs_identical_against_the_reference",
    ),
    "report_words.thinner_everywhere": (
        "statistics/test_digits.py",
        "test_thinner_everywhere_by_chance",
    ),
    "report_words.identical_chance": (
        "statistics/test_digits.py",
        "test_all_pairs_identical_against_the_reference",
    ),
    "class-rounds-identical.means": (
        "statistics/test_digits.py",
        "test_all_pairs_identical_against_the_reference",
    ),
    "class-caliper-off.means": (
        "statistics/test_calipers.py",
        "test_the_standard_error_is_that_of_repeated_classes",
    ),
    "class-site-stands-out.means": ("statistics/test_precision.py", "test_worst_site"),
    **dict.fromkeys(
        (
            "report_same_numbers.no_pair", "report_same_numbers.thresholds", "report_same_numbers.expected",
            "class-same-numbers.means",
        ),
        ("statistics/test_same_numbers.py", "test_all_kinds_together_stay_below_the_bound"),
    ),
    **dict.fromkeys(
        (
            "report_summary.worst_beyond_chance", "report_summary.worst_by_chance",
            "report_words.worst_beyond_chance", "report_words.worst_by_chance",
        ),
        ("statistics/test_precision.py", "test_worst_site"),
    ),
    **{
        f"protocol:{protocol}.{number}": ("protocols/test_loading.py", test)
        for protocol, number, test in (
            ("four-sites", 1, "test_notes_about_error_say_for_whom_how_much"),
            ("seven-sites", 1, "test_notes_about_error_say_for_whom_how_much"),
            ("three-sites-men", 1, "test_notes_about_error_say_for_whom_how_much"),
            ("three-sites-women", 1, "test_notes_about_error_say_for_whom_how_much"),
            ("youth-two-sites", 2, "test_notes_about_error_say_for_whom_how_much"),
            ("four-sites", 2, "test_the_note_about_large_sums_is_of"),
            ("three-sites-men", 2, "test_the_note_about_large_sums_is_of"),
            ("three-sites-women", 2, "test_the_note_about_large_sums_is_of"),
        )
    },
}  # fmt: skip


def test_every_sentence_about_a_number_has_its_proof_and_every_proof_its_sentence() -> None:
    texts = texts_in("en", "sheet", "report", "feedback", "marking", "review", "findings")
    for protocol in shipped_protocols():
        texts |= {f"protocol:{protocol}.{at}": note for at, note in enumerate(find_protocol(protocol).notes)}
    spoken = {key for key, text in texts.items() if ABOUT_A_NUMBER.search(text)}
    assert (sorted(spoken - set(PROOFS)), sorted(set(PROOFS) - set(texts))) == ([], [])


@pytest.mark.parametrize("proof", sorted(set(PROOFS.values())))
def test_the_proof_is_there(proof: tuple[str, str]) -> None:
    path, name = proof
    assert f"def {name}" in (ROOT / path).read_text(encoding="utf-8")


@pytest.mark.parametrize("language", ("en", "es"))
@pytest.mark.parametrize("name", shipped_protocols())
def test_the_first_caution_says_the_errors_of_its_own_equations(name: str, language: str) -> None:
    """Standard errors: from 3.4 (men, three sites) to 5 points (men, four sites, from memory)."""
    protocol = find_protocol(name)
    errors = [each.standard_error_percent for each in protocol.equations]
    caution = cautions_of(protocol, SETTINGS, texts_in(language, "sheet"))["caution.c01"]
    numbers = [float(each.replace(",", ".")) for each in re.findall(r"\d+(?:[.,]\d+)?", caution)]
    assert numbers == sorted({min(errors), max(errors)} if errors else ())


@pytest.mark.parametrize(("decimals", "points", "within"), ((2, 2.0, 0.3), (3, 0.2, 0.03)))
def test_what_rounding_the_density_can_cost(decimals: int, points: float, within: float) -> None:
    """Half a unit of the last place at D = 1.05, by Siri 1961 (495 / D - 450): 2.24 and 0.224 points."""
    half = 0.5 * 10**-decimals
    assert 495 / (1.05 - half) - 495 / 1.05 == pytest.approx(points, abs=within)
