"""A rule that still stands: what of it is a change, and what another program's way of writing."""

from dataclasses import replace

import pytest

from sheetgen.checking.rule_changes import expected_rule, loosened_rules
from sheetgen.model.layout import Cell, Rule, Tab
from sheetgen.model.snapshot import RuleState, TabState

NUMBER = Rule("decimal", "Mass", "kg", "10 to 350", minimum=10, maximum=350)
LENGTH = Rule("length", "Today", "code", "at most 12", minimum=0, maximum=12)
LIST = Rule("list", "Side", "side", "right, left", words=("right", "left"))
CUSTOM = Rule("custom", "Reading", "mm", "a number", formula="=AND(ISNUMBER($B$8),Start!$B$9>2)")


def changed(
    rule: Rule, found: RuleState | None, titles: dict[str, str] | None = None
) -> list[tuple[int, int]]:
    tab = Tab("start", "Start", (Cell(7, 1, "entry", rule=rule),))
    rules = {} if found is None else {(7, 1): found}
    state = TabState("Start", {}, True, "visible", rules)
    return [(cell.row, cell.column) for cell in loosened_rules(tab, state, titles or {})]


def test_rules_as_they_are_written_into_a_sheet() -> None:
    assert expected_rule(NUMBER) == RuleState("decimal", 10, 350)
    assert expected_rule(LENGTH) == RuleState("length", 0, 12)
    assert expected_rule(LIST) == RuleState("list", words=frozenset({"left", "right"}))
    assert expected_rule(CUSTOM) == RuleState("custom", formula=CUSTOM.formula, ignores_blank=False)


@pytest.mark.parametrize("rule", [NUMBER, LENGTH, LIST, CUSTOM])
def test_the_rule_handed_out_is_no_change_and_one_that_only_warns_is(rule: Rule) -> None:
    assert changed(rule, expected_rule(rule)) == []
    assert changed(rule, None) == []
    assert changed(rule, replace(expected_rule(rule), stops=False)) == [(7, 1)]
    assert changed(rule, replace(expected_rule(rule), kind="time")) == [(7, 1)]


# the rule handed out, the one found
SAME = (
    (NUMBER, RuleState("decimal", 10.0, 350.00000000000006)),
    (NUMBER, RuleState("decimal", 10, 350, ignores_blank=False)),
    (LENGTH, RuleState("length", None, 12)),
    (LENGTH, RuleState("length", -1, 12)),
    (LIST, RuleState("list")),
    (CUSTOM, RuleState("custom", formula="=and(isnumber(B8); 'Start'!B9 > 2.0)", ignores_blank=False)),
)
OTHER = (
    (NUMBER, RuleState("decimal", 10, 5350)),
    (NUMBER, RuleState("decimal", None, 350)),
    (NUMBER, RuleState("decimal", 10, None)),
    (NUMBER, RuleState("whole", 10, 350)),
    (LENGTH, RuleState("length", 1, 12)),
    (LENGTH, RuleState("length", 0, None)),
    (LIST, RuleState("list", words=frozenset({"right", "left", "other"}))),
    (LIST, RuleState("list", words=frozenset({"right"}))),
    (LIST, RuleState("custom", formula="=TRUE", ignores_blank=False)),
    (CUSTOM, RuleState("custom", formula="=AND(ISNUMBER($B$8),Start!$B$9>1)", ignores_blank=False)),
    (CUSTOM, RuleState("custom", formula=CUSTOM.formula, ignores_blank=True)),
)


@pytest.mark.parametrize(("rule", "found"), SAME)
def test_another_way_of_writing_is_no_change(rule: Rule, found: RuleState) -> None:
    assert changed(rule, found) == []


@pytest.mark.parametrize(("rule", "found"), OTHER)
def test_what_lets_other_things_through_is_a_change(rule: Rule, found: RuleState) -> None:
    assert changed(rule, found) == [(7, 1)]


def test_a_formula_follows_a_tab_that_was_renamed() -> None:
    found = replace(expected_rule(CUSTOM), formula="=AND(ISNUMBER($B$8),'Start (2)'!$B$9>2)")
    assert changed(CUSTOM, found) == [(7, 1)]
    assert changed(CUSTOM, found, {"start (2)": "Start"}) == []


def test_a_rule_over_whole_columns_counts() -> None:
    tab = Tab("start", "Start", (Cell(7, 1, "entry", rule=NUMBER), Cell(8, 1, "label")))
    wide = (((0, 1, 4_999, 1), RuleState("decimal", None, None)),)
    state = TabState("Start", {}, True, "visible", {}, wide)
    assert [cell.row for cell in loosened_rules(tab, state, {})] == [7]
