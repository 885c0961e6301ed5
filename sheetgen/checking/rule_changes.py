"""Entries whose rule still stands and lets other things through than the one handed out."""

import math
from collections.abc import Iterator, Mapping

from sheetgen.checking.formula_text import same_formula
from sheetgen.model.layout import Cell, Rule, Tab
from sheetgen.model.snapshot import RuleState, TabState

__all__ = ["expected_rule", "loosened_rules"]


def loosened_rules(tab: Tab, state: TabState, titles: Mapping[str, str]) -> Iterator[Cell]:
    """Yield the entries whose rule was changed in what it lets through.

    A rule that only refuses blanks too is no change, and neither is one in a form that is not understood.

    Parameters
    ----------
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed.
    """
    for cell in tab.cells:
        if cell.role == "entry" and cell.rule is not None:
            expected, found = expected_rule(cell.rule), state.rule(cell.row, cell.column)
            if found is not None and found != expected and not _same_rule(expected, found, titles):
                yield cell


def expected_rule(rule: Rule) -> RuleState:
    """Return what a rule of the Layout lets through, as it is written into a sheet."""
    words = ",".join(rule.words).split(",") if rule.words else ()
    return RuleState(
        rule.kind,
        rule.minimum,
        rule.maximum,
        frozenset(map(str.strip, words)),
        rule.formula,
        ignores_blank=rule.kind != "custom",
    )


def _same_rule(expected: RuleState, found: RuleState, titles: Mapping[str, str]) -> bool:
    if not found.stops or found.kind != expected.kind:
        return False
    if found.kind == "custom":
        return not found.ignores_blank and same_formula(expected.formula, found.formula, titles)
    if found.kind == "list":
        # A list of cells instead of words is another program's way.
        return not found.words or found.words == expected.words
    if found.kind == "length":
        least, least_found = expected.minimum or 0, found.minimum or 0
        return least == max(0, least_found) and _same_limit(expected.maximum, found.maximum)
    return _same_limit(expected.minimum, found.minimum) and _same_limit(expected.maximum, found.maximum)


def _same_limit(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-12)
