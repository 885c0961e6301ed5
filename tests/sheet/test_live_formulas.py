import re

import pytest

from sheetgen.protocols.names import STEPS
from sheetgen.protocols.protocol import FORMS
from sheetgen.sheet.live_formulas import (
    EQUATION_FIELDS,
    entries_due,
    estimate_lines,
    progress_lines,
    result_lines,
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
    assert _formulas()["change_row"] == (
        '=IF({in_changed_from}="","",IF(ISNUMBER(MATCH({in_changed_from},{change_first}:{change_last},0)),'
        "IF(INDEX({change_first}:{change_last},MATCH({in_changed_from},{change_first}:{change_last},0))"
        '={in_changed_from},MATCH({in_changed_from},{change_first}:{change_last},0),""),""))'
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
    formula = _lines(**changes)["estimate_state"].formula
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


PROTOCOL = sheet_of().source.protocol


def _progress(show_results: str = "after-working") -> dict[str, Line]:
    return {line.name: line for line in progress_lines(PROTOCOL, settings_with(show_results=show_results))}


def test_next_step_asks_in_the_order_of_the_steps() -> None:
    formula = _progress()["next_step"].formula
    at = [formula.index(f'"{word}"') for word in STEPS]
    assert at == sorted(at)
    assert formula.count("IF(") == len(STEPS) - 1 == 11


def test_ready_is_the_last_line_and_follows_the_next_step() -> None:
    assert progress_lines(PROTOCOL, settings_with())[-1] == Line(
        "ready", '=IF({next_step}="done","yes","no")', "no"
    )


def test_entries_due_count_seven_single_entries_two_rounds_and_the_thirds() -> None:
    """An age is not due where only the sum is wanted, else such a sheet would never be complete."""
    no_age = 'IF(AND({in_sex_equation}="sum-only",NOT(ISNUMBER({in_age_years}))),1,0)'
    assert _progress()["entries_due"] == Line("entries_due", "=21+{thirds_due}-" + no_age, 21)


# settings, entries due before any third reading
DUE: tuple[tuple[dict[str, object], int], ...] = (
    ({}, 7 + 14),
    ({"under_18": True}, 5 + 4),
    ({"estimates": "sums-only"}, 6 + 14),
    ({"protocol_id": "three-sites-men"}, 6 + 6),
    ({"protocol_id": "four-sites"}, 6 + 8),
    ({"protocol_id": "folds-only"}, 5 + 8),
    ({"protocol_id": "youth-two-sites", "under_18": True}, 4 + 4),
    ({"protocol_id": "youth-two-sites", "under_18": True, "youth_estimate": "on"}, 6 + 4),
)


@pytest.mark.parametrize(("changes", "due"), DUE)
def test_entries_due_count_what_the_sheet_asks_for(changes: dict[str, object], due: int) -> None:
    source = sheet_of(settings_with(**changes)).source
    assert entries_due(source.protocol) == due
    lines = {line.name: line for line in progress_lines(source.protocol, source.settings)}
    assert lines["entries_due"].first == due
    singles = lines["entries_made"].formula.removesuffix("+{done_1}+{done_2}+{thirds_done}")
    assert singles.count("COUNT(") + singles.count("IF(") == due - 2 * len(source.protocol.sites)


# settings, steps that the sheet does not go through
STEPS_LEFT_OUT: tuple[tuple[dict[str, object], set[str]], ...] = (
    ({"under_18": True}, {"sex-equation", "age"}),
    ({"estimates": "sums-only"}, {"sex-equation"}),
    ({"protocol_id": "folds-only"}, {"sex-equation", "age"}),
    ({"protocol_id": "four-sites"}, set()),
)


@pytest.mark.parametrize(("changes", "left_out"), STEPS_LEFT_OUT)
def test_next_step_goes_through_what_the_sheet_asks_for(
    changes: dict[str, object], left_out: set[str]
) -> None:
    source = sheet_of(settings_with(**changes)).source
    lines = {line.name: line for line in progress_lines(source.protocol, source.settings)}
    assert {word for word in STEPS if f'"{word}"' not in lines["next_step"].formula} == left_out


def test_age_is_due_on_a_sheet_with_sums_only_so_that_trunk_sites_can_close() -> None:
    source = sheet_of(settings_with(estimates="sums-only")).source
    lines = {line.name: line for line in progress_lines(source.protocol, source.settings)}
    assert 'IF(NOT(ISNUMBER({in_age_years})),"age",' in lines["next_step"].formula
    assert lines["entries_due"].formula == "=20+{thirds_due}-0"


# setting, formula, first value
SHOWN = (
    ("always", '="yes"', "yes"),
    ("never", '="no"', "no"),
    ("after-working", '=IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")', "no"),
)


@pytest.mark.parametrize(("setting", "formula", "first"), SHOWN)
def test_show_results(setting: str, formula: str, first: str) -> None:
    assert _progress(setting)["show_results"] == Line("show_results", formula, first)


def test_round_is_complete_with_seven_sites_done() -> None:
    assert _progress()["round_1_complete"].formula == '=IF({done_1}=7,"yes","no")'
    assert _progress()["done_2"].formula.count("ISNUMBER({in_reading_2_") == 7
    assert 'OR({left_out_chest}="yes",' in _progress()["done_2"].formula
