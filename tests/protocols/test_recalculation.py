from collections.abc import Mapping

import pytest
from msgspec.structs import replace

from sheetgen.protocols.names import ANSWERS, own_steps
from sheetgen.protocols.recalculation import (
    Results,
    SiteResult,
    caliper_of,
    is_ready,
    is_under_18,
    lacks_zero,
    live_values,
    number_of,
    reading_faults,
    recalculate,
    repeat_difference,
    stored_results,
    text_of,
    zero_of,
)
from sheetgen.sheet.student import Source
from sheetgen.workbook.layout import Value
from tests.returned.given import MAN, SITES, WOMAN, without
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
    assert _site(results, "thigh") == SiteResult("thigh", (None, None, None), None, (), "", False, "left-out")
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


FROM_2_TRICEPS: dict[str, Value] = {"changed_from_round": "2", "changed_from_site": "Triceps"}


def test_second_caliper_from_one_entry_is_that_from_two() -> None:
    """Sheets of the first two forms have one entry for round and site."""
    second: dict[str, Value] = {**WOMAN, "zero_mm": 0, "caliper_id_2": "C2", "zero_2_mm": 0.4}
    former = _results({**second, "changed_from": "2_Triceps"})
    assert former == _results({**second, **FROM_2_TRICEPS})


def test_second_caliper_from_a_reading_on() -> None:
    """From 2_triceps in circuit order on the zero is 0.4, before it 0."""
    entries = {**WOMAN, "zero_mm": 0, "caliper_id_2": "C2", "zero_2_mm": 0.4, **FROM_2_TRICEPS}
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
    ("male", 18, "ok"),
    ("male", 55, "ok"),
    ("male", 56, "ok"),
    ("male", 61, "ok"),
    ("male", 61.99, "ok"),
    ("male", 62, "age-outside"),
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
    assert (results.density_g_ml, results.fat_percent, results.fat_mass_kg) == (None, None, None)
    assert results.estimate_state == "percent-outside"


def test_masses_of_a_kilogram_are_the_parts_of_it() -> None:
    """23.1751 per cent of 1 kg."""
    results = _results({**WOMAN, "mass_kg": 1})
    assert results.fat_mass_kg == pytest.approx(0.231751, abs=1e-6)
    assert results.fat_free_mass_kg == pytest.approx(0.768249, abs=1e-6)


@pytest.mark.parametrize("mass", [None, 0, -60, "60"])
def test_masses_need_a_body_mass(mass: Value) -> None:
    results = _results({**WOMAN, "mass_kg": mass})
    assert results.fat_percent is not None
    assert (results.fat_mass_kg, results.fat_free_mass_kg) == (None, None)


def test_midpoint_of_a_length_below_a_centimetre_is_its_half() -> None:
    """A length typed in metres is a question about the entry; the sheet halves it all the same."""
    assert _results({**WOMAN, "length_upper_arm_cm": 0.33}).midpoint_upper_arm_cm == 0.165


# entries, |round 1 - round 2| [mm] of the triceps: 15.5 and 18 as read
DIFFERENCES: tuple[tuple[dict[str, Value], float | None], ...] = (
    ({}, 2.5),
    # each with the zero of its caliper: 15.5 - 0 and 18 - 0.4
    ({"zero_mm": 0, "zero_2_mm": 0.4, **FROM_2_TRICEPS}, 2.1),
    # without a zero as read
    ({"zero_mm": None}, 2.5),
    ({"zero_mm": None, "zero_2_mm": 0.4, **FROM_2_TRICEPS}, 2.5),
    ({"zero_mm": None, "reading_2_triceps": None}, None),
    ({"reading_1_triceps": None}, None),
    ({"reading_2_triceps": "eighteen"}, None),
)


@pytest.mark.parametrize(("changes", "difference"), DIFFERENCES)
def test_repeat_difference_of_a_site(changes: dict[str, Value], difference: float | None) -> None:
    entries = {**WOMAN, **changes}
    assert repeat_difference(entries, _site(_results(entries), "triceps")) == difference


def test_caliper_of_a_reading_is_the_one_in_hand() -> None:
    entries: dict[str, Value] = {"caliper_id": "C1", "caliper_id_2": " 7 ", **FROM_2_TRICEPS}
    found = [caliper_of(PROTOCOL, SETTINGS, entries, number, "triceps") for number in (1, 2)]
    assert [one.identifier for one in found if one is not None] == ["C1", "7"]
    assert caliper_of(PROTOCOL, SETTINGS, {"caliper_id": "C9"}, 1, "triceps") is None


# reading [mm] with a caliper of 0.5 mm steps that opens 60 mm and reads 1 mm when closed, limits broken
BROKEN: tuple[tuple[Value, dict[str, float]], ...] = (
    (12.5, {}),
    (60.0, {}),
    (60.5, {"opening": 60.0}),
    (12.2, {"division": 0.5}),
    (1.0, {"zero": 1.0}),
    (0.7, {"zero": 1.0, "division": 0.5}),
    (None, {}),
    ("12.2", {}),
)


@pytest.mark.parametrize(("reading", "faults"), BROKEN)
def test_limits_that_a_reading_breaks(reading: Value, faults: dict[str, float]) -> None:
    entries: dict[str, Value] = {"caliper_id": "C1", "zero_mm": 1.0, "reading_1_chest": reading}
    assert reading_faults(PROTOCOL, SETTINGS, entries, 1, "chest") == faults


# entries, whether the first two readings of the triceps are there and a zero of theirs is not
LACKING: tuple[tuple[dict[str, Value], bool], ...] = (
    ({}, False),
    ({"zero_mm": None}, True),
    ({"zero_mm": "half"}, True),
    ({"zero_mm": None, "reading_1_triceps": None}, False),
    ({"zero_mm": None, "reading_2_triceps": None}, False),
    ({"zero_mm": None, "reading_3_triceps": None}, True),
    # the first round with a caliper whose zero is not there, the second with one whose zero is
    ({"zero_mm": None, "zero_2_mm": 0.4, **FROM_2_TRICEPS}, True),
    # the second caliper is in hand from its second reading on
    (FROM_2_TRICEPS, True),
    ({"zero_2_mm": 0.4, **FROM_2_TRICEPS}, False),
    ({"changed_from_round": "2", "changed_from_site": "thigh"}, False),
)


@pytest.mark.parametrize(("changes", "lacks"), LACKING)
def test_site_without_the_zero_of_its_readings(changes: dict[str, Value], lacks: bool) -> None:
    assert lacks_zero(PROTOCOL, {**WOMAN, **changes}, "triceps") == lacks


@pytest.mark.parametrize("length", [None, 0, -1, "33"])
def test_midpoint_needs_a_length(length: Value) -> None:
    assert _results({**WOMAN, "length_upper_arm_cm": length}).midpoint_upper_arm_cm is None


# age typed, whether it closes the trunk sites; it counts in whole years, as the sheet takes it
YOUNG: tuple[tuple[Value, bool], ...] = (
    (5, True),
    (17, True),
    (17.996, True),
    (18, False),
    (24, False),
    (None, False),
    ("17", False),
    (1_000_000, False),
)


@pytest.mark.parametrize(("age", "expected"), YOUNG)
def test_age_below_18(age: Value, expected: bool) -> None:
    assert is_under_18(PROTOCOL, {"age_years": age}) == expected


def test_age_below_18_on_a_sheet_that_asks_for_none() -> None:
    assert not is_under_18(_source(protocol_id="folds-only").protocol, {"age_years": 12})


def test_age_of_17_on_a_sheet_for_adults_takes_no_trunk_value() -> None:
    results = _results({**WOMAN, "age_years": 17})
    trunk = ("chest", "midaxillary", "subscapular", "abdominal", "suprailiac")
    assert [site.site for site in results.sites if site.not_taken] == list(trunk)
    assert _site(results, "chest") == SiteResult("chest", (None, None, None), None, (), "", False, "under-18")
    assert (_site(results, "triceps").value_mm, _site(results, "thigh").value_mm) == (17.5, 25.25)
    assert (results.sum_mm, results.density_g_ml, results.fat_percent) == (None, None, None)
    assert (results.estimate_state, results.equation_id) == ("under-18", "")


def test_reason_why_a_trunk_site_was_not_taken_stays_under_18() -> None:
    results = _results({**WOMAN, "age_years": 17, "not_taken_chest": "declined"})
    assert _site(results, "chest").not_taken == "left-out"
    assert _site(results, "abdominal").not_taken == "under-18"


def test_age_of_17_comes_before_every_other_reason() -> None:
    for sex in ("female", "sum-only", "", "other"):
        assert _results({"age_years": 17, "sex_equation": sex}).estimate_state == "under-18"


def _source(**changes: object) -> Source:
    return sheet_of(settings_with(**changes)).source


def _by(source: Source, values: Mapping[str, float], **entries: Value) -> Results:
    """What follows from two equal readings at each site."""
    readings = {f"reading_{number}_{site}": value for site, value in values.items() for number in (1, 2)}
    return recalculate(source.protocol, source.settings, {"zero_mm": 0, **readings, **entries})


FOUR_40_MM = {"biceps": 8, "triceps": 10, "subscapular": 10, "suprailiac": 12}
# equation, age, state, equation that fits, density of a sum of 40 mm by hand: c - m x 1.602059991
# Equations: Durnin & Womersley 1974, Br J Nutr 32:77-97, table 5.
BANDS = (
    ("male", 17, "under-18", "", None),
    ("male", 19, "ok", "men-17-19", 1.0610702205),
    ("male", 20, "ok", "men-20-29", 1.0618498085),
    ("male", 29, "ok", "men-20-29", 1.0618498085),
    ("male", 30, "ok", "men-30-39", 1.0550479365),
    ("male", 50, "ok", "men-50-72", 1.0466995267),
    ("male", 72, "ok", "men-50-72", 1.0466995267),
    ("male", 73, "age-outside", "", None),
    ("female", 16, "under-18", "", None),
    ("female", 19, "ok", "women-16-19", 1.0462803326),
    ("female", 20, "ok", "women-20-29", 1.0450322986),
    ("female", 68, "ok", "women-50-68", 1.0305671306),
    ("female", 69, "age-outside", "", None),
)


@pytest.mark.parametrize(("sex", "age", "state", "equation_id", "density"), BANDS)
def test_estimate_by_band_of_ages(
    sex: str, age: float, state: str, equation_id: str, density: float | None
) -> None:
    results = _by(_source(protocol_id="four-sites"), FOUR_40_MM, sex_equation=sex, age_years=age)
    assert (results.estimate_state, results.equation_id) == (state, equation_id)
    assert results.density_g_ml == (None if density is None else pytest.approx(density, abs=1e-9))
    assert results.sum_mm == (None if state == "under-18" else 40.0)


# equation, age, per cent fat of a sum of 40 mm as printed; the equation gives it within 0.1 points.
# Durnin & Womersley 1974, Br J Nutr 32:77-97. The columns of the young are means of two bands, so not here.
PRINTED = (
    ("male", 35, 19.2),
    ("male", 45, 21.4),
    ("male", 60, 22.9),
    ("female", 35, 25.5),
    ("female", 45, 28.2),
    ("female", 60, 30.3),
)


@pytest.mark.parametrize(("sex", "age", "printed"), PRINTED)
def test_estimate_by_band_of_ages_gives_the_printed_value(sex: str, age: float, printed: float) -> None:
    results = _by(_source(protocol_id="four-sites"), FOUR_40_MM, sex_equation=sex, age_years=age)
    assert results.fat_percent == pytest.approx(printed, abs=0.1)


YOUTH_20_MM = {"triceps": 9, "calf": 11}
# equation, per cent fat of a sum of 20 mm by hand: 1.0 + 0.735 x 20 and 5.1 + 0.610 x 20
# Equations: Slaughter et al. 1988, Hum Biol 60:709-723.
YOUTH = (("male", "boys-two-sites", 15.7), ("female", "girls-two-sites", 17.3))


@pytest.mark.parametrize(("sex", "equation_id", "percent"), YOUTH)
def test_estimate_straight_to_per_cent_where_the_class_turned_it_on(
    sex: str, equation_id: str, percent: float
) -> None:
    source = _source(protocol_id="youth-two-sites", under_18=True, youth_estimate="on")
    results = _by(source, YOUTH_20_MM, sex_equation=sex, age_years=16, mass_kg=50)
    assert (results.estimate_state, results.equation_id) == ("ok", equation_id)
    assert (results.sum_mm, results.density_g_ml) == (20.0, None)
    assert results.fat_percent == pytest.approx(percent, abs=1e-9)
    assert results.fat_mass_kg == pytest.approx(percent / 2, abs=1e-9)
    assert results.fat_free_mass_kg == pytest.approx(50 - percent / 2, abs=1e-9)


# settings of the two youth sites, age, state
YOUTH_STATES: tuple[tuple[dict[str, object], Value, str], ...] = (
    ({"under_18": True, "youth_estimate": "on"}, 8, "ok"),
    ({"under_18": True, "youth_estimate": "on"}, 17, "ok"),
    ({"under_18": True, "youth_estimate": "on"}, 7, "age-outside"),
    ({"under_18": True, "youth_estimate": "on"}, 18, "age-outside"),
    ({"under_18": True, "youth_estimate": "on"}, None, "age-missing"),
    ({"under_18": True, "youth_estimate": "on", "estimates": "sums-only"}, 16, "under-18"),
    ({"under_18": True, "youth_estimate": "off"}, 16, "under-18"),
    ({"under_18": False, "youth_estimate": "on"}, 16, "under-18"),
    ({"under_18": False, "youth_estimate": "off"}, 18, "age-outside"),
)


@pytest.mark.parametrize(("changes", "age", "state"), YOUTH_STATES)
def test_youth_estimate_on_and_off(changes: dict[str, object], age: Value, state: str) -> None:
    source = _source(protocol_id="youth-two-sites", **changes)
    results = _by(source, YOUTH_20_MM, sex_equation="male", age_years=age)
    assert (results.sum_mm, results.estimate_state) == (20.0, state)
    assert (results.fat_percent is None) == (state != "ok")


def test_youth_estimate_turned_on_gives_none_where_a_trunk_site_would_be_needed() -> None:
    source = _source(protocol_id="four-sites", under_18=True, youth_estimate="on")
    results = _by(source, {"biceps": 8, "triceps": 10}, sex_equation="male", age_years=17)
    assert (results.sum_mm, results.estimate_state, results.fat_percent) == (18.0, "under-18", None)


# age, sum, state where nobody in the class gets an estimate
SUMS_ONLY = ((24, 118.5, "no-equation"), (None, 118.5, "no-equation"), (17, None, "sum-missing"))


@pytest.mark.parametrize(("age", "sum_mm", "state"), SUMS_ONLY)
def test_sums_only_for_the_whole_class(age: Value, sum_mm: float | None, state: str) -> None:
    source = _source(estimates="sums-only")
    results = recalculate(source.protocol, source.settings, {**WOMAN, "age_years": age})
    assert (results.sum_mm, results.estimate_state, results.equation_id) == (sum_mm, state, "")
    assert (results.density_g_ml, results.fat_percent, results.fat_mass_kg) == (None, None, None)


def test_folds_only() -> None:
    folds = {"biceps": 8, "triceps": 10, "thigh": 20, "calf": 12}
    results = _by(_source(protocol_id="folds-only"), folds, length_thigh_cm=45)
    assert (results.sum_mm, results.estimate_state) == (50.0, "no-equation")
    assert (results.midpoint_upper_arm_cm, results.midpoint_thigh_cm) == (None, 22.5)


THREE_46_MM = {"chest": 11, "abdominal": 19, "thigh": 16}
# equation chosen, state by the three sites for men; no equation for the one chosen comes before a missing age
OTHER_SEX = (
    ("male", 34, "ok"),
    ("female", 34, "sex-outside"),
    ("female", None, "sex-outside"),
    ("sum-only", 34, "sum-only"),
    ("female", 17, "under-18"),
)


@pytest.mark.parametrize(("sex", "age", "state"), OTHER_SEX)
def test_equation_that_the_protocol_does_not_have(sex: str, age: Value, state: str) -> None:
    results = _by(_source(protocol_id="three-sites-men"), THREE_46_MM, sex_equation=sex, age_years=age)
    assert results.estimate_state == state
    assert (results.fat_percent is None) == (state != "ok")


def test_estimate_by_three_sites_by_hand() -> None:
    """D = 1.10938 - 0.0008267 x 46 + 0.0000016 x 46^2 - 0.0002574 x 34 = 1.0659858.

    Equation: Jackson & Pollock 1978, Br J Nutr 40:497-504.
    """
    results = _by(_source(protocol_id="three-sites-men"), THREE_46_MM, sex_equation="male", age_years=34)
    assert results.density_g_ml == pytest.approx(1.0659858, abs=1e-12)


def test_length_that_the_protocol_does_not_ask_for_has_no_midpoint() -> None:
    source = _source(protocol_id="three-sites-men")
    results = recalculate(source.protocol, source.settings, WOMAN)
    assert (results.midpoint_upper_arm_cm, results.midpoint_thigh_cm) == (None, 22.75)


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


def test_settings_that_are_no_rule() -> None:
    with pytest.raises(ValueError, match="a tolerance is in mm or percent, not 'inch'"):
        _results(WOMAN, tolerance_kind="inch")
    with pytest.raises(ValueError, match="the site rule must be one of"):
        _results(WOMAN, site_rule="best")


PROTOCOL = sheet_of().source.protocol
OWN: dict[str, Value] = {name: 1.5 for name, _ in own_steps(PROTOCOL)}
WORDS: dict[str, Value] = {f"answer_{word}": "Because." for word in ANSWERS}
COMPLETE = {**WOMAN, **OWN, **WORDS}


def _ready(entries: dict[str, Value]) -> bool:
    return is_ready(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))


# what is missing or wrong in a complete sheet, each by itself
NOT_READY: tuple[dict[str, Value], ...] = (
    {"cautions_confirmed": "no"},
    {"data_source": None},
    {"sex_equation": None},
    {"age_years": None},
    {"age_years": "24"},
    {"age_years": 140},
    {"mass_kg": "60 kg"},
    {"mass_kg": 4},
    {"caliper_id": "C9"},
    {"caliper_id": "*"},
    {"zero_mm": None},
    {"zero_mm": 11},
    {"side": "both"},
    {"length_thigh_cm": None},
    {"own_midpoint_thigh_cm": None},
    {"reading_1_thigh": None},
    {"reading_1_thigh": "24"},
    {"reading_1_thigh": 60.5},
    {"reading_1_thigh": 24.2},
    {"reading_1_chest": -3},
    {"reading_2_chest": None},
    {"reading_3_triceps": None},
    {"reading_3_chest": 99},
    {"own_sum_mm": None},
    {"own_sum_mm": "118,5"},
    {"answer_zero": None},
    {"answer_zero": "  "},
    {"caliper_id_2": "C2"},
    {"zero_2_mm": 0.5},
    {"changed_from_round": "2"},
    {"changed_from_site": "triceps"},
    {"changed_from": "2_triceps"},
    {"caliper_id_2": "C2", "zero_2_mm": 0.5},
    {"caliper_id_2": "C2", "zero_2_mm": 0.5, "changed_from_round": "2", "changed_from_site": "nose"},
)


@pytest.mark.parametrize("changes", NOT_READY)
def test_sheet_is_not_ready_while_something_is_missing_or_wrong(changes: dict[str, Value]) -> None:
    empty = [name for name, value in changes.items() if value is None]
    assert _ready(COMPLETE)
    assert not _ready(without({**COMPLETE, **changes}, *empty))


def test_stored_results_are_what_the_cells_of_the_sheet_hold() -> None:
    """A number typed as text is none for a formula: 18 as text leaves the triceps one reading, and no sum."""
    whole = stored_results(PROTOCOL, SETTINGS, COMPLETE)
    assert (whole["sum_mm"], whole["site_triceps"], whole["ready"]) == (118.5, 17.5, "yes")
    assert stored_results(PROTOCOL, SETTINGS, without(COMPLETE, "answer_zero"))["ready"] == "no"
    as_text = stored_results(PROTOCOL, SETTINGS, {**COMPLETE, "reading_2_triceps": "18"})
    assert (as_text["sum_mm"], as_text["site_triceps"], as_text["ready"]) == ("", "", "no")
    # a word stays a word, and an empty entry is none
    sum_only = {**without(COMPLETE, "age_years"), "sex_equation": "sum-only", "reading_3_chest": None}
    assert stored_results(PROTOCOL, SETTINGS, sum_only)["sum_mm"] == 118.5
    assert stored_results(PROTOCOL, SETTINGS, sum_only)["fat_percent"] == ""


def test_stored_results_count_what_is_filled_in_when_a_sheet_is_handed_out() -> None:
    assert stored_results(PROTOCOL, SETTINGS, without(COMPLETE, "data_source", "side"))["ready"] == "yes"


def test_sheet_is_ready_without_what_may_stay_empty() -> None:
    assert _ready(without(COMPLETE, "mass_kg", "own_fat_mass_kg", "own_fat_free_mass_kg", "side"))


def test_sheet_of_sum_only_is_ready_without_an_age() -> None:
    entries = without(
        {**COMPLETE, "sex_equation": "sum-only"}, "age_years", "own_density_g_ml", "own_fat_percent"
    )
    assert _ready(entries)


def test_sheet_with_a_site_left_out_is_ready_without_the_sum() -> None:
    entries = {**COMPLETE, "not_taken_thigh": "left-out"}
    left_out = ("reading_1_thigh", "reading_2_thigh", "own_site_thigh", "own_sum_mm", "own_density_g_ml")
    assert _ready(without(entries, *left_out, "own_fat_percent", "own_fat_mass_kg", "own_fat_free_mass_kg"))


def test_sheet_is_ready_with_words_in_any_case() -> None:
    assert _ready({**COMPLETE, "cautions_confirmed": " YES", "caliper_id": "c1"})


def test_sheet_is_ready_with_a_whole_second_caliper() -> None:
    second: dict[str, Value] = {"caliper_id_2": "C1", "zero_2_mm": -0.5, **FROM_2_TRICEPS}
    assert _ready({**COMPLETE, **second})


TRUNK = tuple(site.word for site in PROTOCOL.sites if site.trunk)
OWN_UNDER_18 = {
    "own_midpoint_upper_arm_cm", "own_midpoint_thigh_cm", "own_site_triceps", "own_site_thigh",
}  # fmt: skip


def test_sheet_under_18_is_ready_without_trunk_sites() -> None:
    readings = [f"reading_{number}_{site}" for number in (1, 2, 3) for site in TRUNK]
    own = [name for name in OWN if name not in OWN_UNDER_18]
    assert _ready(without({**COMPLETE, "age_years": 17}, *readings, *own))


# settings, entries on Start besides caliper and zero that the sheet asks for
ASKED: tuple[tuple[dict[str, object], tuple[str, ...]], ...] = (
    ({"under_18": True}, ("length_upper_arm_cm", "length_thigh_cm")),
    ({"estimates": "sums-only"}, ("age_years", "length_upper_arm_cm", "length_thigh_cm")),
    ({"protocol_id": "three-sites-men"}, ("sex_equation", "age_years", "length_thigh_cm")),
    ({"protocol_id": "youth-two-sites", "under_18": True}, ("length_upper_arm_cm",)),
)


@pytest.mark.parametrize(("changes", "names"), ASKED)
def test_sheet_is_ready_with_what_it_asks_for(changes: dict[str, object], names: tuple[str, ...]) -> None:
    source = sheet_of(settings_with(**changes)).source

    def ready(entries: dict[str, Value]) -> bool:
        results = recalculate(source.protocol, source.settings, entries)
        return is_ready(source.protocol, source.settings, entries, results)

    sites = [site.word for site in source.protocol.sites]
    entries: dict[str, Value] = {
        "cautions_confirmed": "yes",
        "data_source": "measured",
        "caliper_id": "C1",
        "zero_mm": 0,
        **WORDS,
        **{name: WOMAN[name] for name in names},
        **{f"reading_{number}_{site}": 12 for number in (1, 2) for site in sites},
        **{name: 1.5 for name, _ in own_steps(source.protocol)},
    }
    assert ready(entries)
    for name in names:
        assert not ready(without(entries, name))


# Four folds of 0.5 mm: the equation gives -17.3 % fat, which cannot be. From the readings of a man of 24.
THIN = {
    f"reading_{number}_{site}": 0.5
    for number in (1, 2)
    for site in ("biceps", "triceps", "subscapular", "suprailiac")
}


def test_estimate_that_cannot_be_true_is_none() -> None:
    source = sheet_of(settings_with(protocol_id="four-sites")).source
    entries: dict[str, Value] = {**MAN, "age_years": 24, "mass_kg": 70, "zero_mm": 0, **THIN}
    results = recalculate(source.protocol, source.settings, entries)
    assert (results.sum_mm, results.density_g_ml, results.fat_percent, results.fat_mass_kg) == (
        2.0,
        None,
        None,
        None,
    )
    assert results.estimate_state == "percent-outside"
    before = recalculate(source.protocol, source.settings, entries, within_limits=False)
    assert before.fat_percent is not None and before.fat_percent < 0


def test_estimate_at_the_highest_that_can_be_true_is_given() -> None:
    """The woman's own 23.175 % as the limit of a protocol."""
    percent = recalculate(PROTOCOL, SETTINGS, WOMAN).fat_percent
    assert percent is not None
    for limits in ({"fat_maximum": percent}, {"fat_minimum": percent}):
        results = recalculate(replace(PROTOCOL, **limits), SETTINGS, WOMAN)
        assert (results.estimate_state, results.fat_percent) == ("ok", percent)


@pytest.mark.parametrize(("low", "high", "state"), ((2.0, 60.0, "ok"), (30.0, 60.0, "percent-outside")))
def test_limits_of_an_estimate_are_the_protocols_own(low: float, high: float, state: str) -> None:
    protocol = replace(PROTOCOL, fat_minimum=low, fat_maximum=high)
    assert recalculate(protocol, SETTINGS, WOMAN).estimate_state == state
