"""Every locked cell, changed in every way a person or a program can change it."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import pytest

from sheetgen.checking.compare import compared
from sheetgen.checking.tab_match import matched_tabs
from sheetgen.model.finding import Worded
from sheetgen.model.layout import Cell, Layout
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from tests.checking.given import WOMAN, returned, untouched, with_cell, with_tab
from tests.sheets import sheet_of
from tests.wording import said

SHEET = sheet_of()
LAYOUT, VALUES = SHEET.layout, SHEET.identity.values
KEYS = tuple(tab.key for tab in LAYOUT.tabs)


def _compared(state: Snapshot) -> tuple[Worded, ...]:
    return said(compared(LAYOUT, VALUES, state, matched_tabs(LAYOUT, state)))


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


def _tab(state: Snapshot, title: str) -> TabState:
    return next(tab for tab in state.tabs if tab.title == title)


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


def test_every_entry_whose_rule_only_warns() -> None:
    missed = []
    for key, cell in _locked("entry"):
        layout, states = _alone(key)
        rules, at = states[key].rules, (cell.row, cell.column)
        tabs = {**states, key: replace(states[key], rules={**rules, at: replace(rules[at], stops=False)})}
        found = compared(layout, VALUES, replace(untouched(), tabs=tuple(tabs.values())), tabs)
        if [(one.code, one.cell) for one in found] != [("sheet-rules-changed", _address(cell))]:
            missed.append((key, _address(cell)))
    assert missed == []


def test_rules_of_all_entries_changed_are_one_finding() -> None:
    state = untouched()
    rules = {place: replace(rule, kind="date") for place, rule in _tab(state, "Start").rules.items()}
    (finding,) = _compared(with_tab(state, "Start", rules=rules))
    assert (finding.code, finding.tab, finding.cell) == ("sheet-rules-changed", "Start", "B8")
    assert finding.found == "14 entries whose rule lets other things through"
    assert finding.expected == "the rules handed out"


def test_a_rule_that_is_gone_is_not_told_as_changed_too() -> None:
    state = untouched()
    tab = _tab(state, "Start")
    bare = {place: replace(cell, has_rule=False) for place, cell in tab.cells.items()}
    rules = {place: replace(rule, stops=False) for place, rule in tab.rules.items()}
    assert _codes(with_tab(state, "Start", cells=bare, rules=rules)) == ["sheet-rules-lost"]


def test_rules_that_are_not_understood_are_no_finding() -> None:
    state = untouched()
    for title in ("Start", "Readings", "Working"):
        state = with_tab(state, title, rules={})
    assert _codes(state) == []


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


SUM = "=IF(COUNT($B$161,$B$164,$B$167,$B$170,$B$173,$B$176,$B$179)=7,SUM($B$161,$B$164,"
"""The start of the formula of the sum, as far as it is shown."""
# tab, row and column from 0, what is changed in the cell; everything that is said of it
CELLS: tuple[tuple[str, int, int, dict[str, object], tuple[str, ...]], ...] = (
    ("Calculator", 180, 1, {"formula": "", "value": 17.5},
     ("sheet-formula-replaced", "the value '17.5'", SUM, "B181")),
    ("Calculator", 180, 1, {"formula": "", "value": "x" * 41},
     ("sheet-formula-replaced", f"the value {'x' * 40!r}", SUM, "B181")),
    ("Calculator", 180, 1, {"formula": "", "value": ""},
     ("sheet-formula-replaced", "no formula", SUM, "B181")),
    ("Calculator", 180, 1, {"formula": "", "value": None},
     ("sheet-formula-replaced", "no formula", SUM, "B181")),
    ("Calculator", 180, 1, {"formula": "=" + "1" * 80},
     ("sheet-formula-changed", "=" + "1" * 79, SUM, "B181")),
    ("Calculator", 180, 1, {"locked": False},
     ("sheet-cell-unlocked", "an open cell", "a locked cell", "B181")),
    ("Calculator", 2, 1, {"value": "X"}, ("identity-changed", "'X'", "'7K3F-9QXM'", "B3")),
    ("Calculator", 2, 1, {"value": "y" * 90}, ("identity-changed", "'" + "y" * 79, "'7K3F-9QXM'", "B3")),
    ("Calculator", 2, 1, {"formula": "=1"}, ("identity-changed", "'=1'", "'7K3F-9QXM'", "B3")),
    ("Readings", 7, 0, {"value": None}, ("sheet-label-changed", "None", "'Chest'", "A8")),
    ("Readings", 7, 1, {"locked": True}, ("sheet-entry-locked", "a locked cell", "an open entry", "B8")),
    ("Readings", 7, 1, {"has_rule": False},
     ("sheet-rules-lost", "1 entries without their rule", "a rule on every entry", "B8")),
    ("Start", 40, 5, {"formula": "=2"}, ("sheet-content-added", "'=2'", "an empty cell", "F41")),
    ("Start", 40, 5, {"value": "z" * 61}, ("sheet-content-added", repr("z" * 60), "an empty cell", "F41")),
    ("Start", 40, 5, {"value": 0.0}, ("sheet-content-added", "'0.0'", "an empty cell", "F41")),
    ("Start", 40, 5, {"locked": False},
     ("sheet-cell-unlocked", "1 open cells that are empty", "locked cells", "F41")),
)  # fmt: skip


@pytest.mark.parametrize(("title", "row", "column", "changes", "said"), CELLS)
def test_every_word_about_a_cell_that_was_changed(
    title: str, row: int, column: int, changes: dict[str, object], said: tuple[str, str, str, str]
) -> None:
    state = untouched()
    tab = next(tab for tab in state.tabs if tab.title == title)
    code, found, expected, cell = said
    assert _compared(with_tab(state, title, cells=with_cell(tab, row, column, **changes).cells)) == (
        Worded(code, "", found, expected, "", title, cell),
    )


def test_an_entry_both_locked_and_a_formula_both_replaced_and_open() -> None:
    """Two things about one cell are two findings."""
    state = untouched()
    calculator = next(tab for tab in state.tabs if tab.title == "Calculator")
    cells = with_cell(calculator, 180, 1, formula="", value=1.0, locked=False).cells
    assert _codes(with_tab(state, "Calculator", cells=cells)) == [
        "sheet-formula-replaced", "sheet-cell-unlocked",
    ]  # fmt: skip


def test_every_word_about_the_file_and_its_tabs() -> None:
    """Of each change alone; a note about the whole file has no place."""
    state = untouched()
    notes = TabState("Notes", {}, False, "visible")
    names = {"reading_1_chest": "Readings!$B$9"}, {"sum_mm": "Readings!$B$9"}
    without_about = tuple(tab for tab in state.tabs if tab.title != "About")
    said = (
        (with_tab(state, "Readings", title="My readings"),
         ("sheet-tab-renamed", "the title 'My readings'", "the title 'Readings'", "Readings", "")),
        (with_tab(state, "Readings", protected=False),
         ("sheet-protection-off", "no protection", "the tab protected", "Readings", "")),
        (with_tab(state, "Readings", visibility="hidden"),
         ("sheet-tab-hidden", "the tab hidden", "the tab shown", "Readings", "")),
        (with_tab(state, "Calculator", visibility="visible"),
         ("sheet-tab-shown", "the tab shown", "the tab hidden", "Calculator", "")),
        (replace(state, tabs=(*state.tabs, notes)),
         ("sheet-tab-added", "a tab 'Notes'", "only the tabs handed out", "Notes", "")),
        (replace(state, tabs=without_about),
         ("sheet-tab-missing", "no tab with its labels", "the tab 'About'", "About", "")),
        (replace(state, structure_protected=False),
         ("sheet-structure-open", "tabs may be added and moved", "the order of tabs protected", "", "")),
        (_in_another_syntax(state),
         ("sheet-saved-as-ods", "formulas in another syntax", "a workbook saved as .xlsx", "", "")),
        (replace(state, names={}),
         ("sheet-names-lost", "96 names missing, cautions_confirmed first", "all names kept", "", "")),
        (replace(state, names={**state.names, **names[0]}),
         ("sheet-damaged-by-cut", "the name reading_1_chest at Readings!$B$9", "at Readings!$B$8",
          "Readings", "B8")),
        (replace(state, names={**state.names, **names[1]}),
         ("sheet-name-moved", "the name sum_mm at Readings!$B$9", "at Calculator!$B$181", "Calculator",
          "B181")),
    )  # fmt: skip
    for changed, (code, found, expected, tab, cell) in said:
        assert _compared(changed) == (Worded(code, "", found, expected, "", tab, cell),)
