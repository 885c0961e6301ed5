"""Practice readings of a copy: the same every time, on the scale, and an estimate follows from them."""

import pytest

from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.recalculation import Results, recalculate
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet.sheet_copy import practice_names, practice_values
from sheetgen.workbook.layout import Value
from tests.sheets import CALIPERS, SETTINGS, settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol
CODES = ("7K3F-9QXM", "AAAA-2222", "ZZ99-WXYZ", "2345-6789", "HJKM-NPQR")


def _entries(caliper: Caliper, code: str) -> dict[str, Value]:
    values = practice_values(PROTOCOL, caliper, code)
    return {name.removeprefix("practice_"): value for name, value in values.items()}


def _results(caliper: Caliper, code: str) -> Results:
    return recalculate(PROTOCOL, SETTINGS, _entries(caliper, code))


def test_values_of_one_code_are_the_same_every_time() -> None:
    first = practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")
    assert first == practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")
    assert (first["practice_age_years"], first["practice_sex_equation"]) == (24, "male")
    assert first["practice_reading_1_chest"] == 9.5


def test_values_of_different_codes_differ() -> None:
    sets = {tuple(practice_values(PROTOCOL, CALIPERS[0], code).items()) for code in CODES}
    assert len(sets) == len(CODES)


def test_names_are_those_of_the_values() -> None:
    assert set(practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")) == set(practice_names(PROTOCOL))
    assert len(practice_names(PROTOCOL)) == 6 + 21


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("code", CODES)
def test_readings_stand_on_the_scale_above_the_zero_and_inside_the_opening(
    caliper: Caliper, code: str
) -> None:
    readings = [value for name, value in _entries(caliper, code).items() if name.startswith("reading_")]
    assert len(readings) == 21
    for reading in readings:
        assert isinstance(reading, float)
        assert hundredths(reading) % hundredths(caliper.division) == 0
        assert caliper.zero < reading <= caliper.opening


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("code", CODES)
def test_two_sites_call_for_a_third_reading_and_an_estimate_follows(caliper: Caliper, code: str) -> None:
    results = _results(caliper, code)
    assert [site.third_needed for site in results.sites].count("yes") == 2
    assert [site.measure_again for site in results.sites].count(True) == 0
    assert results.estimate_state == "ok"
    assert results.fat_mass_kg is not None


# settings, details of the practice set
DETAILS: tuple[tuple[dict[str, object], set[str]], ...] = (
    ({"under_18": True}, {"zero_mm", "length_upper_arm_cm", "length_thigh_cm"}),
    (
        {"protocol_id": "three-sites-men"},
        {"age_years", "sex_equation", "mass_kg", "zero_mm", "length_thigh_cm"},
    ),
    ({"protocol_id": "folds-only"}, {"zero_mm", "length_upper_arm_cm", "length_thigh_cm"}),
)


@pytest.mark.parametrize(("changes", "details"), DETAILS)
def test_set_holds_only_what_the_sheet_asks_for(changes: dict[str, object], details: set[str]) -> None:
    protocol = sheet_of(settings_with(**changes)).source.protocol
    names = {name.removeprefix("practice_") for name in practice_values(protocol, CALIPERS[0], "7K3F-9QXM")}
    readings = {f"reading_{number}_{site.word}" for number in (1, 2, 3) for site in protocol.sites}
    assert names == details | readings


PROTOCOLS = ("three-sites-men", "three-sites-women", "four-sites", "youth-two-sites")


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("protocol_id", PROTOCOLS)
def test_estimate_follows_by_every_protocol_that_makes_one(protocol_id: str, code: str) -> None:
    """The age is one that an equation takes: 17 at most where the equations are for young people."""
    youth = protocol_id == "youth-two-sites"
    sheet = sheet_of(settings_with(protocol_id=protocol_id, under_18=youth, youth_estimate="on"))
    values = practice_values(sheet.source.protocol, CALIPERS[0], code)
    entries = {name.removeprefix("practice_"): value for name, value in values.items()}
    results = recalculate(sheet.source.protocol, sheet.source.settings, entries)
    assert results.estimate_state == "ok"
    assert results.fat_percent is not None


def test_zero_is_that_of_the_caliper() -> None:
    assert _entries(CALIPERS[1], "7K3F-9QXM")["zero_mm"] == -0.4


def test_third_reading_is_there_for_a_class_with_a_narrow_tolerance() -> None:
    results = recalculate(PROTOCOL, settings_with(tolerance=0.1), _entries(CALIPERS[0], "7K3F-9QXM"))
    assert all(site.corrected[2] is not None for site in results.sites)
