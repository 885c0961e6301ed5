"""What one validation of a tab lets through, as far as its form is understood."""

import re
from dataclasses import replace
from functools import lru_cache

from lxml import etree

from sheetgen.model.snapshot import RuleState
from sheetgen.workbook.formula_shift import shift_formula
from sheetgen.workbook.xml_parts import attribute_true, local_name

__all__ = ["is_relative", "rule_at_distance", "rule_state"]

_KINDS = {
    "list": "list",
    "whole": "whole",
    "decimal": "decimal",
    "textLength": "length",
    "custom": "custom",
    "date": "date",
    "time": "time",
}
_COUNTS = {"whole", "length"}
# Longer ones are none of a sheet handed out, and would take long to move from cell to cell.
_LONGEST_FORMULA = 2_000
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_WORDS = re.compile(r'"((?:[^"]|"")*)"')


def rule_state(rule: etree._Element) -> RuleState | None:
    """Return what a validation lets through; None where it is written in a form that is not understood.

    A list that is no text of words but a reference has no words. A limit that is no number is not understood.
    """
    kind = _KINDS.get(rule.get("type", ""))
    first, second = _formula(rule, "formula1"), _formula(rule, "formula2")
    if kind is None or max(len(first), len(second)) > _LONGEST_FORMULA:
        return None
    stops = rule.get("errorStyle", "stop") == "stop" and attribute_true(rule, "showErrorMessage")
    operator = rule.get("operator", "between")
    return _state(kind, operator, stops, attribute_true(rule, "allowBlank"), first, second)


# The same rules come back with every sheet; each is short.
@lru_cache(maxsize=1_024)
def _state(
    kind: str, operator: str, stops: bool, ignores_blank: bool, first: str, second: str
) -> RuleState | None:
    state = RuleState(kind, stops=stops, ignores_blank=ignores_blank)
    if kind == "custom":
        return replace(state, formula=f"={first}")
    if kind == "list":
        inside = _WORDS.fullmatch(first)
        if inside is None:
            return state
        return replace(state, words=frozenset(map(str.strip, inside[1].replace('""', '"').split(","))))
    if kind in ("date", "time"):
        return state
    limits = _limits(operator, first, second, 1 if kind in _COUNTS else 0)
    return None if limits is None else replace(state, minimum=limits[0], maximum=limits[1])


def is_relative(state: RuleState) -> bool:
    """Say whether a rule means another thing at another place."""
    return bool(state.formula) and _is_relative(state.formula)


@lru_cache(maxsize=1_024)
def _is_relative(formula: str) -> bool:
    return shift_formula(formula, 1, 1) != formula


def rule_at_distance(state: RuleState, rows: int, columns: int) -> RuleState:
    """Return a rule as it is for a cell so far from the one it is written for."""
    return replace(state, formula=shift_formula(state.formula, rows, columns))


def _formula(rule: etree._Element, name: str) -> str:
    """In the extension list the text stands one element deeper."""
    for one in rule:
        if local_name(one) == name:
            return "".join(map(str, one.itertext())).strip()
    return ""


def _limits(operator: str, first: str, second: str, step: int) -> tuple[float | None, float | None] | None:
    """Return the least and the most that is let through, None for a side that is open.

    step : to the next number, where only whole ones count; 0 where there is no next one.
    """
    pair = operator in ("between", "notBetween")
    if not _NUMBER.fullmatch(first) or (pair and not _NUMBER.fullmatch(second)):
        return None
    limit = float(first)
    return {
        "between": (limit, float(second) if pair else None),
        "equal": (limit, limit),
        "greaterThanOrEqual": (limit, None),
        "lessThanOrEqual": (None, limit),
        "greaterThan": (limit + step, None),
        "lessThan": (None, limit - step),
        "notBetween": (None, None),
        "notEqual": (None, None),
    }.get(operator)
