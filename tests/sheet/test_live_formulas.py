import re

import pytest

from sheetgen.protocols.protocol import FORMS
from sheetgen.sheet.live_formulas import (
    EQUATION_FIELDS,
    difference_text,
    estimate_lines,
    progress_lines,
    result_lines,
    shown_site,
    uncovered,
)
from sheetgen.workbook.cells import Line
from tests.sheets import settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol


def _formulas(**changes: object) -> dict[str, str]:
    return {line.name: line.formula for line in result_lines(PROTOCOL, settings_with(**changes))}


def test_lines_use_only_lines_above_them_mirrors_and_tables() -> None:
    """No circle: a program works the lines out in one pass."""
    known: set[str] = set()
    for line in result_lines(PROTOCOL, settings_with(site_rule="closest-pair")):
        names = {part.partition("}")[0] for part in line.formula.split("{")[1:]}
        tables = {
            name for name in names if name.startswith(("in_", "register_", "change_first", "change_last"))
        }
        tables |= {
            name for name in names if name.startswith("equation_") and name.endswith(("_first", "_last"))
        }
        assert names - tables - known == set(), line.name
        known.add(line.name)


def test_lookup_compares_what_match_found() -> None:
    """MATCH takes * and ? in what was typed for any text."""
    found = "MATCH({in_caliper_id},{register_identifier_first}:{register_identifier_last},0)"
    table = "{register_identifier_first}:{register_identifier_last}"
    assert _formulas()["caliper_row"] == (
        f'=IF({{in_caliper_id}}="","",IF(ISNUMBER({found}),'
        f'IF(INDEX({table},{found})={{in_caliper_id}},{found},""),""))'
    )


def test_place_of_the_second_caliper_is_counted_from_its_round_and_site() -> None:
    site = "MATCH({in_changed_from_site},{change_first}:{change_last},0)"
    assert _formulas()["change_row"] == (
        '=IF(OR({in_changed_from_round}="1",{in_changed_from_round}="2",{in_changed_from_round}="3"),'
        f'IF(ISNUMBER({site}),(VALUE({{in_changed_from_round}})-1)*7+{site},""),"")'
    )


def test_corrected_reading_takes_the_second_zero_from_its_place_in_the_circuit_on() -> None:
    formulas = _formulas()
    assert formulas["zero_2_chest"] == (
        "=IF(AND(ISNUMBER({change_row}),{change_row}<=8),{in_zero_2_mm},{in_zero_mm})"
    )
    assert formulas["corrected_1_thigh"] == (
        '=IF(AND({left_out_thigh}="no",ISNUMBER({in_reading_1_thigh}),ISNUMBER({zero_1_thigh})),'
        'IF(ROUND({in_reading_1_thigh}-{zero_1_thigh},2)>0,ROUND({in_reading_1_thigh}-{zero_1_thigh},2),""),"")'
    )


def test_age_below_18_leaves_the_trunk_sites_out() -> None:
    formulas = _formulas()
    assert formulas["under_18"] == '=IF(ISNUMBER({in_age_years}),IF({in_age_years}<18,"yes","no"),"no")'
    assert formulas["left_out_chest"] == '=IF(OR({in_not_taken_chest}<>"",{under_18}="yes"),"yes","no")'
    assert formulas["left_out_triceps"] == '=IF({in_not_taken_triceps}<>"","yes","no")'


def test_sheet_that_asks_for_no_age_has_no_trunk_site_to_leave_out() -> None:
    protocol = sheet_of(settings_with(under_18=True)).source.protocol
    formulas = {line.name: line.formula for line in result_lines(protocol, settings_with(under_18=True))}
    assert formulas["under_18"] == '="no"'
    assert [name for name in formulas if name.startswith("left_out_")] == [
        "left_out_triceps",
        "left_out_thigh",
    ]


def test_third_compares_whole_hundredths() -> None:
    both = "AND(ISNUMBER({corrected_1_chest}),ISNUMBER({corrected_2_chest}))"
    gap = "ROUND(ABS({corrected_1_chest}-{corrected_2_chest})*100,0)"
    assert _formulas(tolerance=1.5)["third_chest"] == f'=IF({both},IF({gap}>150,"yes","no"),"")'
    mean = "ROUND(({corrected_1_chest}+{corrected_2_chest})*100,0)"
    assert _formulas(tolerance_kind="percent", tolerance=7.5)["third_chest"] == (
        f'=IF({both},IF({gap}*20000>750*{mean},"yes","no"),"")'
    )


def test_site_value_of_the_median_rule_has_no_gaps() -> None:
    formulas = _formulas()
    assert "MEDIAN({corrected_1_chest},{corrected_2_chest},{corrected_3_chest})" in formulas["site_chest"]
    assert "gap_12_chest" not in formulas
    assert "smallest_gap_chest" in _formulas(site_rule="closest-pair")


def test_no_coefficient_stands_in_a_formula() -> None:
    text = " ".join(_formulas().values())
    assert "0.0004" not in text
    assert "1.112" not in text
    assert "495" not in text


def test_state_is_the_missing_sum_at_first() -> None:
    firsts = {line.name: line.first for line in result_lines(PROTOCOL, settings_with())}
    assert firsts["estimate_state"] == "sum-missing"
    assert firsts["density_g_ml"] == ""
    assert firsts["again_chest"] == "no"


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
    lines = _lines(**changes)
    formula = lines.get("equation_state", lines["estimate_state"]).formula
    named = ("under-18", "sex-outside", "no-equation", *STATES)
    return [word for word in re.findall(r'"([a-z0-9-]+)"', formula) if word in named and word != "sum-only"]


def test_table_has_a_field_for_every_coefficient() -> None:
    assert {name for form in FORMS.values() for name in form.coefficients} - set(EQUATION_FIELDS) == set()


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


LINEAR = "{equation_constant}+{equation_sum_linear}*{sum_mm}"


def test_per_cent_without_a_density_comes_straight_from_the_sum() -> None:
    lines = _lines(protocol_id="youth-two-sites")
    assert lines["raw_percent"].formula == f'=IF({{equation_state}}="ok",{LINEAR},"")'
    assert "conversion_numerator" not in lines


def test_per_cent_from_a_density_goes_by_the_conversion_of_the_class() -> None:
    lines = _lines(conversion="brozek")
    # Brozek et al. 1963: fat % = 457 / D - 414.2.
    assert (lines["conversion_numerator"].first, lines["conversion_offset"].first) == (457, 414.2)
    assert "{conversion_numerator}/{raw_density}-{conversion_offset}" in lines["raw_percent"].formula
    assert f'IF({{equation_form}}="linear-percent",{LINEAR},' in lines["raw_percent"].formula


def test_estimate_is_given_only_where_it_can_be_true() -> None:
    """Limits of our own: 2 to 60 per cent."""
    lines = _lines()
    assert lines["estimate_state"].formula == (
        '=IF({equation_state}="ok",IF(ISNUMBER({raw_percent}),'
        'IF(AND({raw_percent}>=2,{raw_percent}<=60),"ok","percent-outside"),"percent-outside"),'
        "{equation_state})"
    )
    assert lines["fat_percent"].formula == '=IF({estimate_state}="ok",{raw_percent},"")'
    assert lines["density_g_ml"].formula.startswith('=IF({estimate_state}="ok",')


def test_band_is_one_standard_error_wide_on_either_side_and_ends_at_0() -> None:
    lines = _lines()
    assert lines["fat_low"].formula == (
        '=IF(ISNUMBER({fat_percent}),MAX({fat_percent}-{equation_standard_error_percent},0),"")'
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
    formula = _lines()["equation_state"].formula
    assert 'IF({in_sex_equation}="sum-only","sum-only",IF(AND({in_sex_equation}<>"female",' in formula


def test_equation_for_the_other_sex_is_named_outside() -> None:
    men = _lines(protocol_id="three-sites-men")["equation_state"].formula
    women = _lines(protocol_id="three-sites-women")["equation_state"].formula
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


def _progress(show_results: str = "after-working") -> dict[str, Line]:
    return {line.name: line for line in progress_lines(PROTOCOL, settings_with(show_results=show_results))}


def test_working_is_complete_with_every_line_that_is_due() -> None:
    lines = _progress()
    assert lines["own_due"].formula.startswith("=COUNT({midpoint_upper_arm_cm},{midpoint_thigh_cm},")
    assert lines["own_due"].formula.count("{") == 14
    assert lines["own_done"].formula.count("IF(AND(ISNUMBER({") == 14
    assert lines["working_complete"].formula == '=IF({own_done}>={own_due},"yes","no")'


def test_readings_are_counted_in_the_first_two_rounds() -> None:
    lines = _progress()
    assert lines["readings_made"].formula.count("{in_reading_") == 14
    assert "in_reading_3" not in lines["readings_made"].formula
    assert lines["sites_open"].formula.startswith('=7-(IF({left_out_chest}="yes",1,0)+')
    assert (lines["readings_made"].first, lines["sites_open"].first) == (0, 7)


# setting, formula, first value
SHOWN = (
    ("always", '="yes"', "yes"),
    ("never", '="no"', "no"),
    ("after-working", '=IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")', "no"),
)


@pytest.mark.parametrize(("setting", "formula", "first"), SHOWN)
def test_show_results(setting: str, formula: str, first: str) -> None:
    assert _progress(setting)["show_results"] == Line("show_results", formula, first)


@pytest.mark.parametrize("number", [1, 2])
def test_round_is_complete_with_seven_sites_done_or_left_out(number: int) -> None:
    formula = _progress()[f"round_{number}_complete"].formula
    assert formula.startswith('=IF(IF(OR({left_out_chest}="yes",ISNUMBER({in_reading_')
    assert formula.endswith('=7,"yes","no")')
    assert formula.count(f"ISNUMBER({{in_reading_{number}_") == 7


def test_text_of_a_difference() -> None:
    assert difference_text("chest") == (
        "IF(AND(ISNUMBER({corrected_1_chest}),ISNUMBER({corrected_2_chest})),"
        'ROUND(ABS({corrected_1_chest}-{corrected_2_chest}),2),"")'
    )


# setting, what is shown of a site value
SITE_SHOWN = (
    ("always", "{site_chest}"),
    ("after-working", 'IF(ISNUMBER({in_own_site_chest}),{site_chest},"")'),
    ("never", 'IF(ISNUMBER({in_own_site_chest}),{site_chest},"")'),
)


@pytest.mark.parametrize(("setting", "text"), SITE_SHOWN)
def test_site_value_is_shown_once_the_own_one_is_typed(setting: str, text: str) -> None:
    assert shown_site("chest", settings_with(show_results=setting)) == text


def test_what_is_covered_with_round_1() -> None:
    assert uncovered(settings_with(), "{sum_mm}") == "={sum_mm}"
    covered = settings_with(cover_round_1=True)
    assert uncovered(covered, "{sum_mm}") == '=IF({covered}="yes","",{sum_mm})'
    assert uncovered(covered, "{sum_mm}", '"later"') == '=IF({covered}="yes","later",{sum_mm})'
