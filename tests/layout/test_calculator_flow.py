import pytest

from sheetgen.layout.calculator_flow import entries_due, flow_lines
from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import STEPS
from tests.sheets import settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol


def _lines(show_results: str = "after-working") -> dict[str, Line]:
    return {line.name: line for line in flow_lines(PROTOCOL, settings_with(show_results=show_results))}


def test_next_step_asks_in_the_order_of_the_steps() -> None:
    formula = _lines()["next_step"].formula
    at = [formula.index(f'"{word}"') for word in STEPS]
    assert at == sorted(at)
    assert formula.count("IF(") == len(STEPS) - 1 == 11


def test_ready_is_the_last_line_and_follows_the_next_step() -> None:
    assert flow_lines(PROTOCOL, settings_with())[-1] == Line(
        "ready", '=IF({next_step}="done","yes","no")', "no"
    )


def test_entries_due_count_seven_single_entries_two_rounds_and_the_thirds() -> None:
    """An age is not due where only the sum is wanted, else such a sheet would never be complete."""
    no_age = 'IF(AND({in_sex_equation}="sum-only",NOT(ISNUMBER({in_age_years}))),1,0)'
    assert _lines()["entries_due"] == Line("entries_due", "=21+{thirds_due}-" + no_age, 21)


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
    lines = {line.name: line for line in flow_lines(source.protocol, source.settings)}
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
    lines = {line.name: line for line in flow_lines(source.protocol, source.settings)}
    assert {word for word in STEPS if f'"{word}"' not in lines["next_step"].formula} == left_out


def test_age_is_due_on_a_sheet_with_sums_only_so_that_trunk_sites_can_close() -> None:
    source = sheet_of(settings_with(estimates="sums-only")).source
    lines = {line.name: line for line in flow_lines(source.protocol, source.settings)}
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
    assert _lines(setting)["show_results"] == Line("show_results", formula, first)


def test_round_is_complete_with_seven_sites_done() -> None:
    assert _lines()["round_1_complete"].formula == '=IF({done_1}=7,"yes","no")'
    assert _lines()["done_2"].formula.count("ISNUMBER({in_reading_2_") == 7
    assert 'OR({left_out_chest}="yes",' in _lines()["done_2"].formula
