"""One diff of a Snapshot against its Layout: what was changed in the locked parts of a sheet."""

import math
from collections.abc import Iterator, Mapping

from sheetgen.checking.formula_text import same_formula
from sheetgen.checking.rule_changes import loosened_rules
from sheetgen.checking.tab_match import renamed_titles
from sheetgen.layout.address import absolute, in_tab
from sheetgen.model.finding import Finding, Values, quoted, typed, written
from sheetgen.model.layout import Cell, Layout, Tab, Value
from sheetgen.model.snapshot import CellState, Snapshot, TabState

__all__ = ["compared"]

_EMPTY = CellState()


def compared(
    layout: Layout, values: Mapping[str, Value], snapshot: Snapshot, tabs: Mapping[str, TabState]
) -> tuple[Finding, ...]:
    """Return a finding for every locked part that is not as it was handed out.

    Parameters
    ----------
    values : what this copy carried, by cell name.
    tabs : tab key to the tab as it came back.
    """
    titles = renamed_titles(layout, tabs)
    findings = [*_whole_file(layout, snapshot, tabs), *_name_findings(layout, snapshot, titles)]
    for tab in layout.tabs:
        state = tabs.get(tab.key)
        if state is not None:
            findings += _tab_findings(tab, state, values, titles, snapshot.formulas_comparable)
    return tuple(findings)


def _whole_file(layout: Layout, snapshot: Snapshot, tabs: Mapping[str, TabState]) -> Iterator[Finding]:
    found_titles = {state.title for state in tabs.values()}
    for state in snapshot.tabs:
        if state.title not in found_titles:
            yield Finding("sheet-tab-added", {"title": quoted(state.title)}, state.title)
    for tab in layout.tabs:
        found = tabs.get(tab.key)
        if found is None:
            yield Finding("sheet-tab-missing", {"title": quoted(tab.title)}, tab.title)
            continue
        if found.title != tab.title:
            titles = {"found": quoted(found.title), "title": quoted(tab.title)}
            yield Finding("sheet-tab-renamed", titles, tab.title)
        if not found.protected:
            yield Finding("sheet-protection-off", tab=tab.title)
        if tab.hidden and found.visibility == "visible":
            yield Finding("sheet-tab-shown", tab=tab.title)
        if not tab.hidden and found.visibility != "visible":
            yield Finding("sheet-tab-hidden", tab=tab.title)
    if not snapshot.formulas_comparable:
        yield Finding("sheet-saved-as-ods")
    if not snapshot.structure_protected:
        yield Finding("sheet-structure-open")


def _name_findings(layout: Layout, snapshot: Snapshot, titles: Mapping[str, str]) -> Iterator[Finding]:
    """Names are a cross-check: a cut carries them along, so a name elsewhere tells of a cut."""
    lost = []
    named = ((tab, cell) for tab in layout.tabs for cell in tab.cells if cell.named)
    for tab, cell in named:
        expected = in_tab(tab.title, absolute(cell.row, cell.column))
        target = snapshot.names.get(cell.defined_name)
        if target is None:
            lost.append(cell.defined_name)
        elif target != expected and not same_formula(expected, target, titles):
            code = "sheet-damaged-by-cut" if cell.role == "entry" else "sheet-name-moved"
            values = {"name": cell.defined_name, "found": target, "place": expected}
            yield _about_cell(code, values, tab, cell)
    if lost:
        yield Finding("sheet-names-lost", {"count": len(lost), "name": lost[0]})


def _tab_findings(
    tab: Tab, state: TabState, values: Mapping[str, Value], titles: Mapping[str, str], comparable: bool
) -> Iterator[Finding]:
    cells = state.cells
    bare_entries = []
    for cell in tab.cells:
        found = cells.get((cell.row, cell.column), _EMPTY)
        if cell.role != "entry":
            yield from _locked_cell(tab, cell, found, values, titles, comparable)
            continue
        if found.locked:
            yield _about_cell("sheet-entry-locked", {}, tab, cell)
        if not found.has_rule:
            bare_entries.append(cell)
    if bare_entries:
        yield _about_cell("sheet-rules-lost", {"count": len(bare_entries)}, tab, bare_entries[0])
    loosened = [cell for cell in loosened_rules(tab, state, titles) if cell not in bare_entries]
    if loosened:
        yield _about_cell("sheet-rules-changed", {"count": len(loosened)}, tab, loosened[0])
    places = {(cell.row, cell.column) for cell in tab.cells}
    open_places = []
    for (row, column), found in cells.items():
        if (row, column) in places:
            continue
        place = absolute(row, column).replace("$", "")
        if found.value is not None or found.formula:
            shown = found.formula or str(found.value)
            yield Finding("sheet-content-added", {"content": typed(shown)}, tab.title, place)
        elif not found.locked:
            open_places.append(place)
    if open_places:
        # One for all of them: a whole tab unlocked has thousands.
        count = {"count": len(open_places)}
        yield Finding("sheet-cell-unlocked", count, tab.title, open_places[0], case="empty")


def _locked_cell(
    tab: Tab,
    cell: Cell,
    found: CellState,
    values: Mapping[str, Value],
    titles: Mapping[str, str],
    comparable: bool,
) -> Iterator[Finding]:
    """What was changed in one locked cell; where formulas are not comparable, only that one is gone."""
    if cell.role == "formula":
        if not found.formula:
            there: Values = {"value": typed(str(found.value), 40), "formula": cell.formula[:80]}
            case = "gone" if found.value in (None, "") else ""
            yield _about_cell("sheet-formula-replaced", there, tab, cell, case)
        elif comparable and not same_formula(cell.formula, found.formula, titles):
            there = {"found": written(found.formula, 80), "formula": cell.formula[:80]}
            yield _about_cell("sheet-formula-changed", there, tab, cell)
    else:
        expected = values.get(cell.name, cell.value) if cell.role == "identity" else cell.value
        if found.formula or not _same_value(expected, found.value):
            # A printed identity is a code; in place of another text anything may stand.
            identity, content = cell.role == "identity", found.formula or found.value
            shown = {
                "found": quoted(content) if identity else typed(content, 80),
                "printed": quoted(expected),
            }
            yield _about_cell("identity-changed" if identity else "sheet-label-changed", shown, tab, cell)
    if not found.locked:
        yield _about_cell("sheet-cell-unlocked", {}, tab, cell)


def _same_value(expected: Value, found: Value | bool) -> bool:
    if expected is None or expected == "":
        return found is None or found == ""
    if isinstance(expected, str):
        return isinstance(found, str) and expected.split() == found.split()
    if isinstance(found, bool) or not isinstance(found, int | float):
        return False
    return math.isclose(expected, found, rel_tol=1e-12)


def _about_cell(code: str, values: Values, tab: Tab, cell: Cell, case: str = "") -> Finding:
    return Finding(code, values, tab.title, absolute(cell.row, cell.column).replace("$", ""), case)
