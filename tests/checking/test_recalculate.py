from dataclasses import replace

import pytest

from sheetgen.checking.recalculate import live_values, number_of, recalculate, text_of, tolerance_of, zero_of
from sheetgen.core.readings import Tolerance
from sheetgen.model.attempt import Results, SiteResult
from sheetgen.model.layout import Value
from tests.checking.given import MAN, SITES, WOMAN, without
from tests.sheets import SETTINGS, settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol


def _results(entries: dict[str, Value], **changes: object) -> Results:
    return recalculate(PROTOCOL, settings_with(**changes), entries)


def _site(results: Results, word: str) -> SiteResult:
    return next(site for site in results.sites if site.site == word)


def _with_sum(sum_mm: float, **entries: Value) -> dict[str, Value]:
    """Entries of a man of 34 with a zero of 0 whose folds add up to a sum; the odd part is on the thigh."""
    base = round(sum_mm / 7)
    thigh = sum_mm - 6 * base
    return {
        "zero_mm": 0,
        "age_years": 34,
        "sex_equation": "male",
        **{f"reading_{number}_{site}": base for site in SITES for number in (1, 2)},
        "reading_1_thigh": round(thigh + 0.005, 2) if round(thigh * 1000) % 10 else thigh,
        "reading_2_thigh": round(thigh - 0.005, 2) if round(thigh * 1000) % 10 else thigh,
        **entries,
    }


def test_whole_sheet_of_a_woman_by_hand() -> None:
    """D = 1.0970 - 0.00046971 x 118.5 + 0.00000056 x 118.5^2 - 0.00012828 x 24 = 1.046124305.

    Equation: Jackson, Pollock & Ward 1980; fat = 495 / D - 450: Siri 1961.
    """
    results = _results(WOMAN)
    assert results.sites == (
        SiteResult("chest", (10.5, 11.5, None), 11.0, (1, 2), "no", False, ""),
        SiteResult("midaxillary", (12.5, 14.5, None), 13.5, (1, 2), "no", False, ""),
        SiteResult("triceps", (16.0, 18.5, 17.5), 17.5, (3,), "yes", False, ""),
        SiteResult("subscapular", (13.0, 13.0, None), 13.0, (1, 2), "no", False, ""),
        SiteResult("abdominal", (20.5, 23.5, 26.5), 23.5, (2,), "yes", True, ""),
        SiteResult("suprailiac", (14.5, 15.0, 15.5), 14.75, (1, 2), "no", False, ""),
        SiteResult("thigh", (24.5, 26.0, None), 25.25, (1, 2), "no", False, ""),
    )
    assert (results.midpoint_upper_arm_cm, results.midpoint_thigh_cm) == (16.5, 22.75)
    assert results.sum_mm == 118.5
    assert results.density_g_ml == pytest.approx(1.046124305, abs=1e-12)
    assert results.fat_percent == pytest.approx(23.1751261625, abs=1e-9)
    assert results.fat_mass_kg == pytest.approx(13.9050756975, abs=1e-9)
    assert results.fat_free_mass_kg == pytest.approx(46.0949243025, abs=1e-9)
    assert (results.estimate_state, results.equation_id) == ("ok", "women-seven-sites")


def test_whole_sheet_of_a_man_by_hand() -> None:
    """D = 1.112 - 0.00043499 x 178 + 0.00000055 x 178^2 - 0.00028826 x 34 = 1.04219714.

    Equation: Jackson & Pollock 1978; fat = 457 / D - 414.2: Brozek et al. 1963. The midpoints and the zero of
    3 mm are common practice.
    """
    results = _results(MAN, site_rule="closest-pair", conversion="brozek")
    assert results.sites == (
        SiteResult("chest", (19.0, 22.0, 21.0), 21.5, (2, 3), "yes", False, ""),
        SiteResult("midaxillary", (22.0, 22.0, None), 22.0, (1, 2), "no", False, ""),
        SiteResult("triceps", (15.0, 18.0, 21.0), 18.0, (2,), "yes", True, ""),
        SiteResult("subscapular", (28.0, 28.0, None), 28.0, (1, 2), "no", False, ""),
        SiteResult("abdominal", (35.0, 33.0, None), 34.0, (1, 2), "no", False, ""),
        SiteResult("suprailiac", (29.0, 31.0, None), 30.0, (1, 2), "no", False, ""),
        SiteResult("thigh", (24.0, 25.0, None), 24.5, (1, 2), "no", False, ""),
    )
    assert (results.midpoint_upper_arm_cm, results.midpoint_thigh_cm) == (20.0, 21.0)
    assert results.sum_mm == 178.0
    assert results.density_g_ml is not None
    assert round(results.density_g_ml, 6) == 1.042197
    assert results.fat_percent == pytest.approx(24.2966936294, abs=1e-9)
    assert results.fat_mass_kg == pytest.approx(19.5588383717, abs=1e-9)
    assert results.fat_free_mass_kg == pytest.approx(60.9411616283, abs=1e-9)
    assert (results.estimate_state, results.equation_id) == ("ok", "men-seven-sites")


def test_sheet_with_nothing_entered() -> None:
    results = _results({})
    assert {site.value_mm for site in results.sites} == {None}
    assert (results.sum_mm, results.density_g_ml, results.fat_mass_kg) == (None, None, None)
    assert results.estimate_state == "sum-missing"


# reading, zero, corrected reading
ZEROS = (
    (15, 3, 12.0),
    (15, -0.5, 15.5),
    (15, 0, 15.0),
    (3, 3, None),
    (2, 3, None),
    (0.3, -0.1, 0.4),
    (12.345, 0, 12.35),
    (2.675, 0, 2.68),
)


@pytest.mark.parametrize(("reading", "zero", "expected"), ZEROS)
def test_zero_is_deducted(reading: float, zero: float, expected: float | None) -> None:
    results = _results({"zero_mm": zero, "reading_1_chest": reading})
    assert _site(results, "chest").corrected == (expected, None, None)


def test_readings_without_a_zero_give_no_value() -> None:
    assert _results(without(WOMAN, "zero_mm")).sum_mm is None


def test_missing_site_gives_no_sum() -> None:
    results = _results(without(WOMAN, "reading_1_thigh"))
    assert _site(results, "thigh").value_mm is None
    assert (results.sum_mm, results.density_g_ml, results.estimate_state) == (None, None, "sum-missing")


def test_site_not_taken_leaves_its_readings_out() -> None:
    results = _results({**WOMAN, "not_taken_thigh": "skin"})
    assert _site(results, "thigh") == SiteResult("thigh", (None, None, None), None, (), "", False, "skin")
    assert results.sum_mm is None


def test_third_reading_that_is_needed_and_missing_leaves_the_mean() -> None:
    site = _site(_results(without(WOMAN, "reading_3_triceps")), "triceps")
    assert (site.value_mm, site.kept_rounds, site.third_needed) == (17.25, (1, 2), "yes")


def test_third_reading_needed_by_per_cent() -> None:
    """15.5 and 18 mm with a zero of -0.5: a gap of 2.5 mm on a mean of 17.25, that is 14.5 %."""
    at_14 = _results(WOMAN, tolerance_kind="percent", tolerance=14.4)
    at_15 = _results(WOMAN, tolerance_kind="percent", tolerance=14.5)
    assert _site(at_14, "triceps").third_needed == "yes"
    assert _site(at_15, "triceps").third_needed == "no"


def test_second_caliper_from_a_reading_on() -> None:
    """From 2_triceps in circuit order on the zero is 0.4, before it 0."""
    entries = {**WOMAN, "zero_mm": 0, "caliper_id_2": "C2", "zero_2_mm": 0.4, "changed_from": "2_Triceps"}
    results = _results(entries)
    assert _site(results, "chest").corrected == (10.0, 11.0, None)
    assert _site(results, "midaxillary").corrected == (12.0, 14.0, None)
    assert _site(results, "triceps").corrected == (15.5, 17.6, 16.6)
    assert _site(results, "thigh").corrected == (24.0, 25.1, None)


def test_second_caliper_without_its_zero_gives_no_values_from_there_on() -> None:
    results = _results({**WOMAN, "caliper_id_2": "C2", "changed_from": "2_thigh"})
    assert _site(results, "suprailiac").value_mm == 14.75
    assert _site(results, "thigh").value_mm is None


def test_second_caliper_from_a_word_that_is_no_reading_changes_nothing() -> None:
    results = _results({**WOMAN, "zero_2_mm": 5, "changed_from": "2_*"})
    assert results.sum_mm == 118.5


def test_zero_of_a_reading() -> None:
    entries: dict[str, Value] = {"zero_mm": 0.5, "zero_2_mm": -1, "changed_from": "2_chest"}
    assert zero_of(PROTOCOL, entries, 1, "thigh") == 0.5
    assert zero_of(PROTOCOL, entries, 2, "chest") == -1.0
    assert zero_of(PROTOCOL, entries, 3, "chest") == -1.0


def test_sum_only_gives_no_estimate() -> None:
    results = _results({**WOMAN, "sex_equation": "sum-only"})
    assert (results.sum_mm, results.density_g_ml, results.fat_percent) == (118.5, None, None)
    assert (results.estimate_state, results.equation_id) == ("sum-only", "")


# equation, age, state; ranges 18 to 61 and 18 to 55 of the samples
AGES = (
    ("male", 17.99, "age-outside"),
    ("male", 18, "ok"),
    ("male", 55, "ok"),
    ("male", 56, "ok"),
    ("male", 61, "ok"),
    ("male", 61.01, "age-outside"),
    ("male", 62, "age-outside"),
    ("female", 17, "age-outside"),
    ("female", 18, "ok"),
    ("female", 55, "ok"),
    ("female", 56, "age-outside"),
    ("female", 62, "age-outside"),
    ("male", None, "age-missing"),
    ("male", "34", "age-missing"),
    ("", 34, "sex-missing"),
    ("other", 34, "sex-missing"),
)


@pytest.mark.parametrize(("sex", "age", "state"), AGES)
def test_estimate_at_the_edges_of_age(sex: str, age: Value, state: str) -> None:
    results = _results({**WOMAN, "sex_equation": sex, "age_years": age})
    assert results.estimate_state == state
    assert (results.density_g_ml is not None) == (state == "ok")
    assert results.sum_mm == 118.5


# sum, state; range 32 to 272 mm of the sample
SUMS = (
    (31.995, "sum-below"),
    (32.0, "ok"),
    (32.005, "ok"),
    (272.0, "ok"),
    (272.005, "sum-above"),
)


@pytest.mark.parametrize(("sum_mm", "state"), SUMS)
def test_estimate_at_the_edges_of_the_sum(sum_mm: float, state: str) -> None:
    results = _results(_with_sum(sum_mm))
    assert (results.sum_mm, results.estimate_state) == (sum_mm, state)
    assert results.equation_id == "men-seven-sites"
    assert (results.density_g_ml is not None) == (state == "ok")


def test_estimate_of_an_equation_without_a_published_range() -> None:
    open_ended = tuple(replace(one, sum_minimum=None, sum_maximum=None) for one in PROTOCOL.equations)
    results = recalculate(replace(PROTOCOL, equations=open_ended), SETTINGS, _with_sum(300))
    assert (results.sum_mm, results.estimate_state) == (300.0, "ok")


def test_estimate_of_coefficients_that_lead_to_no_density() -> None:
    """A density of 0 or less has no per cent fat; a file with such coefficients must not stop a run."""
    coefficients = (("constant", 0.0), ("sum_linear", 0.0), ("sum_squared", 0.0), ("age", 0.0))
    odd = tuple(replace(one, coefficients=coefficients) for one in PROTOCOL.equations)
    results = recalculate(replace(PROTOCOL, equations=odd), SETTINGS, WOMAN)
    assert (results.density_g_ml, results.fat_percent, results.fat_mass_kg) == (0.0, None, None)


@pytest.mark.parametrize("mass", [None, 0, -60, "60"])
def test_masses_need_a_body_mass(mass: Value) -> None:
    results = _results({**WOMAN, "mass_kg": mass})
    assert results.fat_percent is not None
    assert (results.fat_mass_kg, results.fat_free_mass_kg) == (None, None)


@pytest.mark.parametrize("length", [None, 0, -1, "33"])
def test_midpoint_needs_a_length(length: Value) -> None:
    assert _results({**WOMAN, "length_upper_arm_cm": length}).midpoint_upper_arm_cm is None


# what stands in a number entry, the number
NUMBERS: tuple[tuple[Value, float | None], ...] = (
    (12.5, 12.5),
    (12, 12.0),
    (12.345, 12.35),
    (-0.005, -0.01),
    (999_999, 999_999.0),
    (1_000_000, None),
    (-1_000_000, None),
    (float("inf"), None),
    (float("nan"), None),
    ("12.5", None),
    ("", None),
    (None, None),
)


@pytest.mark.parametrize(("value", "expected"), NUMBERS)
def test_number_of(value: Value, expected: float | None) -> None:
    assert number_of({"zero_mm": value}, "zero_mm") == expected


def test_number_of_an_entry_that_is_not_there() -> None:
    assert number_of({}, "zero_mm") is None


# what stands in a text entry, its text; spaces go as the sheet's TRIM takes them away
WORDS: tuple[tuple[Value, str], ...] = (
    ("Female", "female"),
    ("  sum-only ", "sum-only"),
    ("left   over", "left over"),
    ("yes\u00a0", "yes\u00a0"),
    (" ", ""),
    (7, "7"),
    (7.0, "7"),
    (0.5, "0.5"),
    (None, ""),
)


@pytest.mark.parametrize(("value", "expected"), WORDS)
def test_text_of(value: Value, expected: str) -> None:
    assert text_of({"caliper_id": value}, "caliper_id") == expected


def test_live_values_have_the_empty_text_where_there_is_no_value() -> None:
    values = live_values(_results(without(WOMAN, "reading_1_thigh")))
    assert (values["site_thigh"], values["third_thigh"], values["again_thigh"]) == ("", "", "no")
    assert (values["site_abdominal"], values["third_abdominal"], values["again_abdominal"]) == (
        23.5,
        "yes",
        "yes",
    )
    assert (values["sum_mm"], values["midpoint_thigh_cm"]) == ("", 22.75)
    assert len(values) == 28


def test_tolerance_of_a_class() -> None:
    assert tolerance_of(SETTINGS) == Tolerance("mm", 200)
    assert tolerance_of(settings_with(tolerance_kind="percent", tolerance=7.5)) == Tolerance("percent", 750)


def test_settings_that_are_no_rule() -> None:
    with pytest.raises(ValueError, match="a tolerance is in mm or percent, not 'inch'"):
        tolerance_of(settings_with(tolerance_kind="inch"))
    with pytest.raises(ValueError, match="the site rule must be one of"):
        _results(WOMAN, site_rule="best")
