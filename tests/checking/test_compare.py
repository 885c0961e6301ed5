"""Every locked cell, changed in every way a person or a program can change it."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import pytest

from sheetgen.checking.compare import compared
from sheetgen.checking.tab_match import matched_tabs
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Cell, Layout
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from tests.checking.given import WOMAN, returned, untouched, with_cell, with_tab
from tests.sheets import sheet_of

SHEET = sheet_of()
LAYOUT, VALUES = SHEET.layout, SHEET.identity.values
KEYS = tuple(tab.key for tab in LAYOUT.tabs)


def _compared(state: Snapshot) -> tuple[Finding, ...]:
    return compared(LAYOUT, VALUES, state, matched_tabs(LAYOUT, state))


def _codes(state: Snapshot) -> list[str]:
    return [finding.code for finding in _compared(state)]


@lru_cache(maxsize=len(KEYS))
def _alone(key: str) -> tuple[Layout, dict[str, TabState]]:
    """Layout and returned tabs with the cells of one tab only: a test of every cell stays short."""
    tabs = (tab if tab.key == key else replace(tab, cells=()) for tab in LAYOUT.tabs)
    states = {
        tab.key: state if tab.key == key else replace(state, cells={})
        for tab, state in zip(LAYOUT.tabs, untouched().tabs, strict=True)
    }
    return replace(LAYOUT, tabs=tuple(tabs)), states


def _changed(key: str, cell: Cell, **changes: object) -> list[tuple[str, str]]:
    """(code, cell) of every finding about a sheet in which one cell is another one."""
    layout, states = _alone(key)
    tabs = {**states, key: with_cell(states[key], cell.row, cell.column, **changes)}
    state = replace(untouched(), tabs=tuple(tabs.values()))
    return [(finding.code, finding.cell) for finding in compared(layout, VALUES, state, tabs)]


def _address(cell: Cell) -> str:
    return f"{'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[cell.column]}{cell.row + 1}"


def _locked(role: str) -> list[tuple[str, Cell]]:
    return [(tab.key, cell) for tab in LAYOUT.tabs for cell in tab.cells if cell.role == role]


def test_untouched_sheet_gives_nothing() -> None:
    assert _compared(untouched()) == ()


def test_filled_sheet_gives_nothing() -> None:
    assert _compared(returned(WOMAN)) == ()


def test_every_formula_changed() -> None:
    cells = _locked("formula")
    assert len(cells) > 250
    missed = [
        (key, _address(cell))
        for key, cell in cells
        if _changed(key, cell, formula=f"{cell.formula}+0") != [("sheet-formula-changed", _address(cell))]
    ]
    assert missed == []


@pytest.mark.parametrize("value", [12.5, "yes", None])
def test_every_formula_replaced_by_a_value(value: float | str | None) -> None:
    missed = [
        (key, _address(cell))
        for key, cell in _locked("formula")
        if _changed(key, cell, formula="", value=value) != [("sheet-formula-replaced", _address(cell))]
    ]
    assert missed == []


# how a label is changed, and of which labels
LABEL_CHANGES: tuple[tuple[str, Callable[[Cell], object]], ...] = (
    ("another text", lambda cell: f"{cell.value} x"),
    ("a number", lambda cell: cell.value + 0.001 if isinstance(cell.value, float | int) else 1.0),
    ("a truth", lambda cell: True),
    ("nothing", lambda cell: None if cell.value not in (None, "") else "x"),
)


@pytest.mark.parametrize(
    "change", [change for _, change in LABEL_CHANGES], ids=[name for name, _ in LABEL_CHANGES]
)
def test_every_label_changed(change: Callable[[Cell], object]) -> None:
    cells = _locked("label")
    assert len(cells) > 250
    missed = [
        (key, _address(cell))
        for key, cell in cells
        if _changed(key, cell, value=change(cell)) != [("sheet-label-changed", _address(cell))]
    ]
    assert missed == []


@pytest.mark.parametrize("value", ["other", 7.125, True, None])
def test_every_identity_changed(value: object) -> None:
    cells = _locked("identity")
    assert len(cells) == 6 + 8 + 6 + 21
    missed = [
        (key, _address(cell))
        for key, cell in cells
        if _changed(key, cell, value=value) != [("identity-changed", _address(cell))]
    ]
    assert missed == []


@pytest.mark.parametrize("role", ["label", "identity"])
def test_every_fixed_cell_with_a_formula_that_gives_the_same(role: str) -> None:
    code = "identity-changed" if role == "identity" else "sheet-label-changed"
    missed = [
        (key, _address(cell))
        for key, cell in _locked(role)
        if _changed(key, cell, formula="=1") != [(code, _address(cell))]
    ]
    assert missed == []


@pytest.mark.parametrize("role", ["label", "identity", "formula"])
def test_every_locked_cell_unlocked(role: str) -> None:
    missed = [
        (key, _address(cell))
        for key, cell in _locked(role)
        if _changed(key, cell, locked=False) != [("sheet-cell-unlocked", _address(cell))]
    ]
    assert missed == []


def test_every_entry_locked() -> None:
    missed = [
        (key, _address(cell))
        for key, cell in _locked("entry")
        if _changed(key, cell, locked=True) != [("sheet-entry-locked", _address(cell))]
    ]
    assert missed == []


def test_every_entry_without_its_rule() -> None:
    missed = [
        (key, _address(cell))
        for key, cell in _locked("entry")
        if _changed(key, cell, has_rule=False) != [("sheet-rules-lost", _address(cell))]
    ]
    assert missed == []


def test_every_entry_may_hold_anything() -> None:
    for key, cell in _locked("entry"):
        assert _changed(key, cell, value="anything") == []


def test_rules_of_all_entries_lost_are_one_finding() -> None:
    state = untouched()
    for title in ("Start", "Readings", "Working"):
        tab = next(tab for tab in state.tabs if tab.title == title)
        bare = {place: replace(cell, has_rule=False) for place, cell in tab.cells.items()}
        state = with_tab(state, title, cells=bare)
    assert [(finding.code, finding.found) for finding in _compared(state)] == [
        ("sheet-rules-lost", "14 entries without their rule"),
        ("sheet-rules-lost", "28 entries without their rule"),
        ("sheet-rules-lost", "17 entries without their rule"),
    ]


def _rewritten(change: Callable[[str], str]) -> Snapshot:
    state = untouched()
    tabs = tuple(
        replace(
            tab,
            cells={
                place: replace(cell, formula=change(cell.formula)) if cell.formula else cell
                for place, cell in tab.cells.items()
            },
        )
        for tab in state.tabs
    )
    return replace(state, tabs=tabs)


def _outside_texts(formula: str, change: Callable[[str], str]) -> str:
    parts = formula.split('"')
    return '"'.join(change(part) if at % 2 == 0 else part for at, part in enumerate(parts))


# ways in which programs write the same formula
REWRITINGS: tuple[tuple[str, Callable[[str], str]], ...] = (
    ("spaces", lambda text: text.replace(",", " , ").replace("(", "( ")),
    ("small letters", lambda text: text.lower()),
    ("no dollars", lambda text: text.replace("$", "")),
    ("semicolons", lambda text: text.replace(",", ";")),
    ("quoted tabs", lambda text: text.replace("Calculator!", "'Calculator'!")),
)


@pytest.mark.parametrize("change", [change for _, change in REWRITINGS], ids=[name for name, _ in REWRITINGS])
def test_formulas_written_another_way_give_nothing(change: Callable[[str], str]) -> None:
    state = _rewritten(lambda formula: _outside_texts(formula, change))
    assert state != untouched()
    assert _compared(state) == ()


def test_label_with_other_spaces_gives_nothing() -> None:
    cell = next(cell for cell in LAYOUT.tab("start").cells if cell.value == "Next step")
    assert _changed("start", cell, value="Next  step ") == []


def test_content_in_an_empty_locked_cell() -> None:
    state = untouched()
    start = with_cell(state.tabs[0], 40, 5, value="note to self")
    (finding,) = _compared(with_tab(state, "Start", cells=start.cells))
    assert (finding.code, finding.tab, finding.cell) == ("sheet-content-added", "Start", "F41")
    assert (finding.found, finding.expected) == ("'note to self'", "an empty cell")


def test_empty_cells_unlocked_are_one_finding() -> None:
    """A whole tab unlocked has thousands of them."""
    state = untouched()
    open_cells = {(row, column): CellState(locked=False) for row in range(60, 90) for column in range(10)}
    start = {**state.tabs[0].cells, **open_cells}
    (finding,) = _compared(with_tab(state, "Start", cells=start))
    assert (finding.code, finding.cell, finding.found) == (
        "sheet-cell-unlocked",
        "A61",
        "300 open cells that are empty",
    )


# name, where it points, code, cell of the finding
NAMES = (
    ("reading_1_chest", "Readings!$B$9", "sheet-damaged-by-cut", "Readings", "B8"),
    ("reading_1_chest", "Readings!#REF!", "sheet-damaged-by-cut", "Readings", "B8"),
    ("age_years", "Readings!$B$11", "sheet-damaged-by-cut", "Start", "B11"),
    ("sum_mm", "Readings!$B$8", "sheet-name-moved", "Calculator", ""),
    ("copy_code", "Calculator!$B$4", "sheet-name-moved", "Calculator", "B3"),
)


@pytest.mark.parametrize(("name", "target", "code", "tab", "cell"), NAMES)
def test_name_that_points_at_another_cell(name: str, target: str, code: str, tab: str, cell: str) -> None:
    state = untouched()
    (finding,) = _compared(replace(state, names={**state.names, name: target}))
    assert (finding.code, finding.tab) == (code, tab)
    assert finding.cell == cell or name == "sum_mm"
    assert finding.found == f"the name {name} at {target}"


def test_names_written_another_way_give_nothing() -> None:
    state = untouched()
    names = {
        name: target.replace("$", "").replace("Start!", "'Start'!") for name, target in state.names.items()
    }
    assert _codes(replace(state, names=names)) == []


def test_names_lost_are_one_note() -> None:
    (finding,) = _compared(replace(untouched(), names={}))
    assert finding.code == "sheet-names-lost"
    assert finding.found.endswith(" names missing, cautions_confirmed first")


# tab, what is changed, code, tab of the finding
TABS: tuple[tuple[str, dict[str, object], str], ...] = (
    ("Readings", {"title": "My readings"}, "sheet-tab-renamed"),
    ("Readings", {"protected": False}, "sheet-protection-off"),
    ("Readings", {"visibility": "hidden"}, "sheet-tab-hidden"),
    ("Calculator", {"visibility": "visible"}, "sheet-tab-shown"),
    ("Calculator", {"protected": False}, "sheet-protection-off"),
)


@pytest.mark.parametrize(("title", "changes", "code"), TABS)
def test_tab_changed(title: str, changes: dict[str, object], code: str) -> None:
    (finding,) = _compared(with_tab(untouched(), title, **changes))
    assert (finding.code, finding.tab) == (code, title)


def test_hidden_tab_that_is_less_hidden_gives_nothing() -> None:
    assert _codes(with_tab(untouched(), "Calculator", visibility="hidden")) == []


def test_tab_added() -> None:
    state = untouched()
    notes = TabState("Notes", {}, False, "visible")
    (finding,) = _compared(replace(state, tabs=(*state.tabs, notes)))
    assert (finding.code, finding.tab) == ("sheet-tab-added", "Notes")


def test_tab_removed() -> None:
    state = untouched()
    (finding,) = _compared(replace(state, tabs=tuple(tab for tab in state.tabs if tab.title != "About")))
    assert (finding.code, finding.tab) == ("sheet-tab-missing", "About")


def test_structure_open() -> None:
    (finding,) = _compared(replace(untouched(), structure_protected=False))
    assert finding.code == "sheet-structure-open"


def test_renamed_tab_with_its_formulas_rewritten_gives_the_note_only() -> None:
    state = _rewritten(lambda formula: formula.replace("Calculator!", "'Sums 1'!"))
    names = {name: target.replace("Calculator!", "'Sums 1'!") for name, target in state.names.items()}
    state = replace(with_tab(state, "Calculator", title="Sums 1"), names=names)
    assert _codes(state) == ["sheet-tab-renamed"]


# Formulas of another syntax.


def _in_another_syntax(state: Snapshot) -> Snapshot:
    tabs = tuple(
        replace(
            tab,
            cells={
                place: replace(cell, formula="=[.A1]" if cell.formula else "")
                for place, cell in tab.cells.items()
            },
        )
        for tab in state.tabs
    )
    return replace(state, tabs=tabs, formulas_comparable=False)


def test_formulas_in_another_syntax_are_one_note() -> None:
    assert _codes(_in_another_syntax(untouched())) == ["sheet-saved-as-ods"]


@pytest.mark.parametrize(
    ("role", "changes", "code"),
    [
        ("formula", {"formula": "", "value": 17.5}, "sheet-formula-replaced"),
        ("label", {"value": "Other words"}, "sheet-label-changed"),
        ("identity", {"value": "Other words"}, "identity-changed"),
        ("formula", {"locked": False}, "sheet-cell-unlocked"),
    ],
)
def test_a_change_is_found_where_formulas_are_in_another_syntax(
    role: str, changes: dict[str, object], code: str
) -> None:
    state = _in_another_syntax(untouched())
    key, cell = _locked(role)[-1]
    (index,) = (number for number, tab in enumerate(LAYOUT.tabs) if tab.key == key)
    tabs = list(state.tabs)
    tabs[index] = with_cell(tabs[index], cell.row, cell.column, **changes)
    assert _codes(replace(state, tabs=tuple(tabs))) == ["sheet-saved-as-ods", code]
