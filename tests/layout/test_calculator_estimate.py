import re

import pytest

from sheetgen.layout.calculator_estimate import EQUATION_FIELDS, estimate_lines
from sheetgen.layout.lines import Line
from sheetgen.model.protocol import FORMS
from tests.sheets import settings_with, sheet_of

STATES = [
    "sum-missing",
    "sum-only",
    "sex-missing",
    "age-missing",
    "age-outside",
    "sum-below",
    "sum-above",
    "ok",
]


def _lines(**changes: object) -> dict[str, Line]:
    source = sheet_of(settings_with(**changes)).source
    return {line.name: line for line in estimate_lines(source.protocol, source.settings)}


def _states(**changes: object) -> list[str]:
    """The words of the state in the order in which they are looked for."""
    formula = _lines(**changes)["estimate_state"].formula
    named = ("under-18", "sex-outside", "no-equation", *STATES)
    return [word for word in re.findall(r'"([a-z0-9-]+)"', formula) if word in named and word != "sum-only"]


def test_table_has_a_field_for_every_coefficient() -> None:
    assert {name for names in FORMS.values() for name in names} - set(EQUATION_FIELDS) == set()


def test_equation_fits_by_sex_and_age() -> None:
    lines = _lines()
    assert lines["fits_1"].formula == (
        '=IF(AND({in_sex_equation}="male",ISNUMBER({in_age_years})),'
        "IF(AND({in_age_years}>=18,{in_age_years}<=61),1,0),0)"
    )
    assert lines["equation_row"].formula == '=IF({fits_1}=1,1,IF({fits_2}=1,2,""))'


def test_equation_fits_by_band_of_ages() -> None:
    """Bands: Durnin & Womersley 1974, Br J Nutr 32:77-97."""
    lines = _lines(protocol_id="four-sites")
    bands = [
        re.findall(r'"(female|male)"|[<>]=(\d+)', lines[f"fits_{number}"].formula) for number in range(1, 11)
    ]
    assert [(sex, int(low), int(high)) for (sex, _), (_, low), (_, high) in bands] == [
        ("male", 17, 19),
        ("male", 20, 29),
        ("male", 30, 39),
        ("male", 40, 49),
        ("male", 50, 72),
        ("female", 16, 19),
        ("female", 20, 29),
        ("female", 30, 39),
        ("female", 40, 49),
        ("female", 50, 68),
    ]
    assert lines["equation_row"].formula.startswith("=IF({fits_1}=1,1,IF({fits_2}=1,2,")


def test_density_has_a_term_for_every_coefficient_of_a_density() -> None:
    assert _lines()["density_g_ml"].formula == (
        '=IF({estimate_state}<>"ok","",IF({equation_form}="linear-percent","",'
        "{equation_constant}+{equation_sum_linear}*{sum_mm}+{equation_sum_squared}*{sum_mm}^2"
        "+{equation_sum_log10}*LOG10({sum_mm})+{equation_age}*{in_age_years}))"
    )


LINEAR = "{equation_constant}+{equation_sum_linear}*{sum_mm}"


def test_per_cent_without_a_density_comes_straight_from_the_sum() -> None:
    lines = _lines(protocol_id="youth-two-sites")
    assert lines["fat_percent"].formula == f'=IF({{estimate_state}}="ok",{LINEAR},"")'
    assert "conversion_numerator" not in lines


def test_per_cent_from_a_density_goes_by_the_conversion_of_the_class() -> None:
    lines = _lines(conversion="brozek")
    # Brozek et al. 1963: fat % = 457 / D - 414.2.
    assert (lines["conversion_numerator"].first, lines["conversion_offset"].first) == (457, 414.2)
    assert "{conversion_numerator}/{density_g_ml}-{conversion_offset}" in lines["fat_percent"].formula
    assert f'IF({{equation_form}}="linear-percent",{LINEAR},' in lines["fat_percent"].formula


def test_band_is_one_standard_error_wide_on_either_side() -> None:
    lines = _lines()
    assert lines["fat_low"].formula == (
        '=IF(ISNUMBER({fat_percent}),{fat_percent}-{equation_standard_error_percent},"")'
    )
    assert lines["fat_high"].formula == (
        '=IF(ISNUMBER({fat_percent}),{fat_percent}+{equation_standard_error_percent},"")'
    )


USUAL = [word for word in STATES if word != "sum-only"]
# settings, states in the order in which they are looked for
ORDERS: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({}, ["under-18", *USUAL]),
    ({"protocol_id": "four-sites"}, ["under-18", *USUAL]),
    ({"protocol_id": "three-sites-men"}, ["under-18", *USUAL[:2], "sex-outside", *USUAL[2:]]),
    ({"protocol_id": "three-sites-women"}, ["under-18", *USUAL[:2], "sex-outside", *USUAL[2:]]),
    ({"protocol_id": "youth-two-sites"}, ["under-18", *USUAL]),
    ({"protocol_id": "youth-two-sites", "under_18": True, "youth_estimate": "on"}, USUAL),
    ({"protocol_id": "folds-only"}, ["sum-missing", "under-18", "no-equation"]),
    ({"estimates": "sums-only"}, ["sum-missing", "under-18", "no-equation"]),
    ({"under_18": True}, ["sum-missing", "under-18", "under-18"]),
    ({"protocol_id": "youth-two-sites", "under_18": True}, ["sum-missing", "under-18", "under-18"]),
)


@pytest.mark.parametrize(("changes", "states"), ORDERS)
def test_state_is_the_first_reason_against_an_estimate(changes: dict[str, object], states: list[str]) -> None:
    assert _states(**changes) == states


def test_sum_only_is_looked_for_before_the_equation() -> None:
    formula = _lines()["estimate_state"].formula
    assert 'IF({in_sex_equation}="sum-only","sum-only",IF(AND({in_sex_equation}<>"female",' in formula


def test_equation_for_the_other_sex_is_named_outside() -> None:
    men = _lines(protocol_id="three-sites-men")["estimate_state"].formula
    women = _lines(protocol_id="three-sites-women")["estimate_state"].formula
    assert 'IF({in_sex_equation}="female","sex-outside",' in men
    assert 'IF({in_sex_equation}="male","sex-outside",' in women


def test_lines_without_an_equation_are_empty_whatever_is_entered() -> None:
    lines = _lines(under_18=True)
    assert list(lines) == [
        "estimate_state", "density_g_ml", "fat_percent", "fat_low", "fat_high", "fat_mass_kg",
        "fat_free_mass_kg",
    ]  # fmt: skip
    assert {line.formula for name, line in lines.items() if name != "estimate_state"} == {'=""'}
    assert lines["estimate_state"] == Line(
        "estimate_state",
        '=IF({sum_mm}="","sum-missing",IF({under_18}="yes","under-18","under-18"))',
        "sum-missing",
    )
