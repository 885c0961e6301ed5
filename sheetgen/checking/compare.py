"""One diff of a Snapshot against its Layout: what was changed in the locked parts of a sheet."""

import math
from collections.abc import Iterator, Mapping

from sheetgen.checking.formula_text import same_formula
from sheetgen.checking.rule_changes import loosened_rules
from sheetgen.checking.tab_match import renamed_titles
from sheetgen.layout.address import absolute, in_tab
from sheetgen.model.finding import Finding
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
            yield _note("sheet-tab-added", f"a tab {state.title!r}", "only the tabs handed out", state.title)
    for tab in layout.tabs:
        found = tabs.get(tab.key)
        if found is None:
            yield _note("sheet-tab-missing", "no tab with its labels", f"the tab {tab.title!r}", tab.title)
            continue
        if found.title != tab.title:
            yield _note(
                "sheet-tab-renamed", f"the title {found.title!r}", f"the title {tab.title!r}", tab.title
            )
        if not found.protected:
            yield _note("sheet-protection-off", "no protection", "the tab protected", tab.title)
        if tab.hidden and found.visibility == "visible":
            yield _note("sheet-tab-shown", "the tab shown", "the tab hidden", tab.title)
        if not tab.hidden and found.visibility != "visible":
            yield _note("sheet-tab-hidden", "the tab hidden", "the tab shown", tab.title)
    if not snapshot.formulas_comparable:
        yield _note("sheet-saved-as-ods", "formulas in another syntax", "a workbook saved as .xlsx")
    if not snapshot.structure_protected:
        yield _note("sheet-structure-open", "tabs may be added and moved", "the order of tabs protected")


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
            yield _cell_note(code, f"the name {cell.defined_name} at {target}", f"at {expected}", tab, cell)
    if lost:
        yield _note("sheet-names-lost", f"{len(lost)} names missing, {lost[0]} first", "all names kept")


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
            yield _cell_note("sheet-entry-locked", "a locked cell", "an open entry", tab, cell)
        if not found.has_rule:
            bare_entries.append(cell)
    if bare_entries:
        yield _cell_note(
            "sheet-rules-lost", f"{len(bare_entries)} entries without their rule", "a rule on every entry",
            tab, bare_entries[0],
        )  # fmt: skip
    loosened = [cell for cell in loosened_rules(tab, state, titles) if cell not in bare_entries]
    if loosened:
        yield _cell_note(
            "sheet-rules-changed", f"{len(loosened)} entries whose rule lets other things through",
            "the rules handed out", tab, loosened[0],
        )  # fmt: skip
    places = {(cell.row, cell.column) for cell in tab.cells}
    open_places = []
    for (row, column), found in cells.items():
        if (row, column) in places:
            continue
        place = absolute(row, column).replace("$", "")
        if found.value is not None or found.formula:
            shown = found.formula or str(found.value)
            yield _note("sheet-content-added", repr(shown[:60]), "an empty cell", tab.title, place)
        elif not found.locked:
            open_places.append(place)
    if open_places:
        # One for all of them: a whole tab unlocked has thousands.
        shown = f"{len(open_places)} open cells that are empty"
        yield _note("sheet-cell-unlocked", shown, "locked cells", tab.title, open_places[0])


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
            shown = "no formula" if found.value in (None, "") else f"the value {str(found.value)[:40]!r}"
            yield _cell_note("sheet-formula-replaced", shown, cell.formula[:80], tab, cell)
        elif comparable and not same_formula(cell.formula, found.formula, titles):
            yield _cell_note("sheet-formula-changed", found.formula[:80], cell.formula[:80], tab, cell)
    else:
        expected = values.get(cell.name, cell.value) if cell.role == "identity" else cell.value
        if found.formula or not _same_value(expected, found.value):
            code = "identity-changed" if cell.role == "identity" else "sheet-label-changed"
            yield _cell_note(code, repr(found.formula or found.value)[:80], repr(expected)[:80], tab, cell)
    if not found.locked:
        yield _cell_note("sheet-cell-unlocked", "an open cell", "a locked cell", tab, cell)


def _same_value(expected: Value, found: Value | bool) -> bool:
    if expected is None or expected == "":
        return found is None or found == ""
    if isinstance(expected, str):
        return isinstance(found, str) and expected.split() == found.split()
    if isinstance(found, bool) or not isinstance(found, int | float):
        return False
    return math.isclose(expected, found, rel_tol=1e-12)


def _cell_note(code: str, found: str, expected: str, tab: Tab, cell: Cell) -> Finding:
    return _note(code, found, expected, tab.title, absolute(cell.row, cell.column).replace("$", ""))


def _note(code: str, found: str, expected: str, tab: str = "", cell: str = "") -> Finding:
    return Finding(code, "", found, expected, "", tab, cell)
