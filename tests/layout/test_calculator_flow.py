import pytest

from sheetgen.layout.calculator_flow import flow_lines
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
