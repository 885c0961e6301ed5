"""Every locked cell, changed in every way a person or a program can change it."""

from collections.abc import Callable, Mapping
from functools import lru_cache

import pytest
from msgspec.structs import replace

from sheetgen.finding import Worded
from sheetgen.protocols.names import live_names
from sheetgen.protocols.recalculation import is_ready, live_values, recalculate
from sheetgen.returned.comparison import (
    cached_findings,
    canonical,
    compared,
    expected_rule,
    loosened_rules,
    same_formula,
)
from sheetgen.returned.whose import matched_tabs
from sheetgen.texts.findings import in_words
from sheetgen.workbook.layout import Cell, Layout, Rule, Tab, Value
from sheetgen.workbook.snapshot import CellState, RuleState, Snapshot, TabState
from tests.returned.given import WOMAN, returned, untouched, with_cell, with_tab, without
from tests.sheets import sheet_of
from tests.wording import said

SHEET = sheet_of()
LAYOUT, VALUES = SHEET.layout, SHEET.identity.values
KEYS = tuple(tab.key for tab in LAYOUT.tabs)

NUMBER = Rule("decimal", "Mass", "kg", "10 to 350", minimum=10, maximum=350)
LENGTH = Rule("length", "Today", "code", "at most 12", minimum=0, maximum=12)
LIST = Rule("list", "Side", "side", "right, left", words=("right", "left"))
CUSTOM = Rule("custom", "Reading", "mm", "a number", formula="=AND(ISNUMBER($B$8),Start!$B$9>2)")

# ours, theirs: written another way
SAME_OF_FORMULA_TEXT = (
    ("=SUM(B9,B10)", "=sum( B9 ; $B$10 )"),
    ("=SUM(B9,B10)", "SUM(B9,B10)"),
    ('=IF($B$9="","",1)', '=IF(B9="";"";1)'),
    ("=B9*2.50", "=B9*2.5"),
    ("=B9*0.5", "=B9*.5"),
    ("=B9*1000000", "=B9*1E6"),
    ("=MEDIAN(B9,B10)", "=_xlfn.MEDIAN(B9,B10)"),
    ("=Readings!$B$9", "='Readings'!B9"),
    ("='My tab'!$B$9", "='my tab'!$B$9"),
    ("='it''s'!$B$9", "='It''s'!B9"),
    ("=Readings!$B$9", "=$Readings.$B$9".replace(".", "!")),
    ("=A1\n+A2", "=A1+A2"),
)

# ours, theirs: another meaning
DIFFERENT = (
    ("=B9+1", "=B10+1"),
    ("=B9+1", "=B9+2"),
    ("=B9+1", "=B9-1"),
    ("=SUM(B9,B10)", "=MAX(B9,B10)"),
    ('=IF(B9="yes",1,0)', '=IF(B9="Yes",1,0)'),
    ('=IF(B9="a b",1,0)', '=IF(B9="ab",1,0)'),
    ("=Readings!C6", "=Results!B9"),
    ("=Readings!C6", "=B9"),
    ("=B9", ""),
    ("=B9*0.5", "=B9*5"),
    ("=A1+A2", "=A1+#REF!"),
)

SHEET_OF_CACHED = sheet_of()
PROTOCOL, SETTINGS, LAYOUT_OF_CACHED = (
    SHEET_OF_CACHED.source.protocol,
    SHEET_OF_CACHED.source.settings,
    SHEET_OF_CACHED.layout,
)


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
    ("a number", lambda cell: cell.value + 0.001 if isinstance(cell.value, float | int) else 999.0),
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
    assert len(cells) == 7 + 1 + 8 + 6 + 21
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
    assert (finding.code, finding.tab, finding.cell) == (
        "sheet-rules-changed",
        "Start",
        "B5, B6, B7, B8, B9",
    )
    assert finding.found == "an entry whose rule lets other things through (the first of 16)"
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
        ("sheet-rules-lost", "an entry without its rule (the first of 59)"),
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
    cell = next(cell for cell in LAYOUT.tab("start").cells if cell.value == "Body mass")
    assert _changed("start", cell, value="Body  mass ") == []


def test_content_in_an_empty_locked_cell() -> None:
    state = untouched()
    start = with_cell(_tab(state, "Start"), 40, 5, value="note to self")
    (finding,) = _compared(with_tab(state, "Start", cells=start.cells))
    assert (finding.code, finding.tab, finding.cell) == ("sheet-content-added", "Start", "F41")
    assert (finding.found, finding.expected) == ("'note to self'", "an empty cell")


def test_empty_cells_unlocked_are_one_finding() -> None:
    """A whole tab unlocked has thousands of them."""
    state = untouched()
    open_cells = {(row, column): CellState(locked=False) for row in range(60, 90) for column in range(10)}
    start = {**_tab(state, "Start").cells, **open_cells}
    (finding,) = _compared(with_tab(state, "Start", cells=start))
    assert (finding.code, finding.cell, finding.count, finding.found) == (
        "sheet-cell-unlocked",
        "A61, B61, C61, D61, E61",
        300,
        "an open cell (the first of 300)",
    )


def test_stray_numbers_are_one_finding_however_many() -> None:
    """Thousands of them in a small file once gave as many lines."""
    state = untouched()
    strays = {(row, column): CellState(value=12.5) for row in range(60, 560) for column in range(48)}
    (finding,) = _compared(with_tab(state, "Start", cells={**_tab(state, "Start").cells, **strays}))
    assert (finding.code, finding.count, finding.cell) == (
        "sheet-content-added",
        24_000,
        "A61, B61, C61, D61, E61",
    )


def test_a_sheet_pasted_as_values_is_one_finding_a_tab() -> None:
    found = _compared(_rewritten(lambda formula: ""))
    titles = dict.fromkeys(LAYOUT.tab(key).title for key, _ in _locked("formula"))
    assert [(one.code, one.tab) for one in found] == [("sheet-formula-replaced", title) for title in titles]
    assert sum(one.count for one in found) == len(_locked("formula"))


def test_a_changed_settings_line_is_told_from_where_it_differs() -> None:
    cell = next(cell for cell in LAYOUT.tab("calculator").cells if cell.name == "settings")
    line = str(cell.value)
    state = untouched()
    changed = f"{line[:200]}#{line[201:]}"
    tab = with_cell(_tab(state, "Calculator"), cell.row, cell.column, value=changed)
    (finding,) = _compared(with_tab(state, "Calculator", cells=tab.cells))
    assert finding.code == "sheet-label-changed"
    assert (finding.found, finding.expected) == (
        repr(f"...{changed[192:232]}"),
        repr(f"...{line[192:232]}"),
    )


def test_a_name_that_points_at_a_text_does_not_show_it_on_a_screen() -> None:
    state = untouched()
    (finding,) = compared(
        LAYOUT,
        VALUES,
        replace(state, names={**state.names, "sum_mm": '"61.5 kg"'}),
        matched_tabs(LAYOUT, state),
    )
    assert in_words([finding], "en")[0].found == "the name sum_mm at ..."
    assert in_words([finding], "en", on_screen=False)[0].found == 'the name sum_mm at "61.5 kg"'


# name, where it points, code, cell of the finding
NAMES = (
    ("reading_1_chest", "Readings!$B$9", "sheet-damaged-by-cut", "Readings", "C5"),
    ("reading_1_chest", "Readings!#REF!", "sheet-damaged-by-cut", "Readings", "C5"),
    ("age_years", "Readings!$B$11", "sheet-damaged-by-cut", "Start", "B6"),
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
    assert finding.found == "the name cautions_confirmed is missing (the first of 99)"


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


def test_locks_on_a_tab_whose_protection_was_dropped_are_one_note() -> None:
    state = untouched()
    (readings,) = (tab for tab in state.tabs if tab.title == "Readings")
    entries = {(cell.row, cell.column) for _, cell in _locked("entry")}
    cells = {place: replace(cell, locked=place in entries) for place, cell in readings.cells.items()}
    (finding,) = _compared(with_tab(state, "Readings", protected=False, cells=cells))
    assert (finding.code, finding.tab) == ("sheet-protection-off", "Readings")


# value handed out, value found: the same
NUMBERS_AS_TEXT: tuple[tuple[Value, Value], ...] = (
    ("1001", 1001.0), ("007", 7.0), ("1", 1), (" 12.50 ", 12.5), (12.5, "12.5"), ("1E3", 1000.0), (0, "0"),
)  # fmt: skip
# value handed out, value found: another one
OTHER_NUMBERS: tuple[tuple[Value, Value], ...] = (
    ("1001", 1002.0), ("1001", "1001.0"), ("1_0", 10.0), ("inf", 1.0), ("S07", 7.0), ("", 0.0), (None, 0.0),
)  # fmt: skip


@pytest.mark.parametrize(
    ("ours", "theirs", "codes"),
    [(*pair, []) for pair in NUMBERS_AS_TEXT] + [(*pair, ["identity-changed"]) for pair in OTHER_NUMBERS],
)
def test_text_that_looks_like_a_number_and_the_number_are_the_same(
    ours: Value, theirs: Value, codes: list[str]
) -> None:
    (key, cell) = next((key, cell) for key, cell in _locked("identity") if cell.name == "student_id")
    (tab,) = (tab for tab in LAYOUT.tabs if tab.key == key)
    state = untouched()
    (found,) = (found for found in state.tabs if found.title == tab.title)
    state = with_tab(state, tab.title, cells=with_cell(found, cell.row, cell.column, value=theirs).cells)
    findings = compared(LAYOUT, {**VALUES, "student_id": ours}, state, matched_tabs(LAYOUT, state))
    assert [finding.code for finding in findings] == codes


def test_hidden_tab_that_is_less_hidden_gives_nothing() -> None:
    assert _codes(with_tab(untouched(), "Calculator", visibility="hidden")) == []


def test_tab_added() -> None:
    state = untouched()
    notes = TabState("Notes", {}, False, "visible")
    (finding,) = _compared(replace(state, tabs=(*state.tabs, notes)))
    assert (finding.code, finding.tab) == ("sheet-tab-added", "")


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


SUM = "=IF(COUNT($B$163,$B$166,$B$169,$B$172,$B$175,$B$178,$B$181)=7,SUM($B$163,$B$166,"
"""The start of the formula of the sum, as far as it is shown; of two formulas the half."""
# tab, row and column from 0, what is changed in the cell; everything that is said of it
CELLS: tuple[tuple[str, int, int, dict[str, object], tuple[str, ...]], ...] = (
    ("Calculator", 182, 1, {"formula": "", "value": 17.5},
     ("sheet-formula-replaced", "the value '17.5'", SUM, "B183")),
    ("Calculator", 182, 1, {"formula": "", "value": "x" * 41},
     ("sheet-formula-replaced", f"the value {'x' * 40!r}", SUM, "B183")),
    ("Calculator", 182, 1, {"formula": "", "value": ""},
     ("sheet-formula-replaced", "no formula", SUM, "B183")),
    ("Calculator", 182, 1, {"formula": "", "value": None},
     ("sheet-formula-replaced", "no formula", SUM, "B183")),
    ("Calculator", 182, 1, {"formula": "=" + "1" * 80},
     ("sheet-formula-changed", "=" + "1" * 39, SUM[:40], "B183")),
    ("Calculator", 182, 1, {"locked": False},
     ("sheet-cell-unlocked", "an open cell", "a locked cell", "B183")),
    ("Calculator", 2, 1, {"value": "X"}, ("identity-changed", "'X'", "'7K3F-9QXM'", "B3")),
    ("Calculator", 2, 1, {"value": "y" * 90}, ("identity-changed", repr("y" * 40), "'7K3F-9QXM'", "B3")),
    ("Calculator", 2, 1, {"formula": "=1"}, ("identity-changed", "'=1'", "'7K3F-9QXM'", "B3")),
    ("Readings", 4, 0, {"value": None}, ("sheet-label-changed", "None", "'Chest'", "A5")),
    ("Readings", 4, 2, {"locked": True}, ("sheet-entry-locked", "a locked cell", "an open entry", "C5")),
    ("Readings", 4, 2, {"has_rule": False},
     ("sheet-rules-lost", "an entry without its rule", "a rule on every entry", "C5")),
    ("Start", 40, 5, {"formula": "=2"}, ("sheet-content-added", "'=2'", "an empty cell", "F41")),
    ("Start", 40, 5, {"value": "z" * 61}, ("sheet-content-added", repr("z" * 60), "an empty cell", "F41")),
    ("Start", 40, 5, {"value": 0.0}, ("sheet-content-added", "'0.0'", "an empty cell", "F41")),
    ("Start", 40, 5, {"locked": False},
     ("sheet-cell-unlocked", "an open cell", "a locked cell", "F41")),
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
    cells = with_cell(calculator, 181, 1, formula="", value=1.0, locked=False).cells
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
         ("sheet-tab-added", "a tab 'Notes'", "only the tabs handed out", "", "")),
        (replace(state, tabs=without_about),
         ("sheet-tab-missing", "no tab with its labels", "the tab 'About'", "About", "")),
        (replace(state, structure_protected=False),
         ("sheet-structure-open", "tabs may be added and moved", "the order of tabs protected", "", "")),
        (_in_another_syntax(state),
         ("sheet-saved-as-ods", "formulas in another syntax", "a workbook saved as .xlsx", "", "")),
        (replace(state, names={}),
         ("sheet-names-lost", "the name cautions_confirmed is missing (the first of 99)",
          "all names kept", "", "", 99)),
        (replace(state, names={**state.names, **names[0]}),
         ("sheet-damaged-by-cut", "the name reading_1_chest at Readings!$B$9", "at Readings!$C$5",
          "Readings", "C5")),
        (replace(state, names={**state.names, **names[1]}),
         ("sheet-name-moved", "the name sum_mm at Readings!$B$9", "at Calculator!$B$183", "Calculator",
          "B183")),
    )  # fmt: skip
    for changed, (code, found, expected, *place) in said:
        assert _compared(changed) == (Worded(code, "", found, expected, "", *place),)


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


@pytest.mark.parametrize(("ours", "theirs"), SAME_OF_FORMULA_TEXT)
def test_same_formula_written_another_way(ours: str, theirs: str) -> None:
    assert same_formula(ours, theirs, {})


@pytest.mark.parametrize(("ours", "theirs"), DIFFERENT)
def test_same_formula_of_another_meaning(ours: str, theirs: str) -> None:
    assert not same_formula(ours, theirs, {})


def test_same_formula_on_a_tab_that_was_renamed() -> None:
    titles = {"round two": "Readings"}
    assert same_formula("=Readings!$B$9", "='Round two'!B9", titles)
    assert not same_formula("=Readings!$B$9", "='Round two'!B9", {})


def test_same_formula_on_tabs_that_swapped_their_names() -> None:
    titles = {"results": "Readings", "readings": "Results"}
    assert same_formula("=Readings!B9", "=Results!B9", titles)
    assert not same_formula("=Readings!B9", "=Readings!B9 ", titles)


def test_canonical_keeps_texts_and_shortens_numbers() -> None:
    assert canonical("=if( $B$9 = \"a b\" ; 2.50 ; 'My tab'!c3 )", ()) == 'IF(B9="a b",2.5,MY TAB!C3)'


def _expected(entries: Mapping[str, Value]) -> dict[str, float | str]:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    ready = "yes" if is_ready(PROTOCOL, SETTINGS, entries, results) else "no"
    return {**live_values(results), "ready": ready}


EXPECTED = _expected(WOMAN)


def _findings(state: Snapshot, expected: dict[str, float | str] = EXPECTED) -> tuple[Worded, ...]:
    return said(
        cached_findings(
            LAYOUT_OF_CACHED, SHEET_OF_CACHED.identity.values, matched_tabs(LAYOUT_OF_CACHED, state), expected
        )
    )


def test_all_live_results_are_compared() -> None:
    assert set(EXPECTED) == set(live_names(PROTOCOL))


def test_results_that_are_equal() -> None:
    assert _findings(returned(WOMAN, EXPECTED)) == ()


def test_results_that_are_equal_to_the_last_digit_but_one() -> None:
    density = EXPECTED["density_g_ml"]
    assert isinstance(density, float)
    assert _findings(returned(WOMAN, {**EXPECTED, "density_g_ml": density * (1 + 2e-16)})) == ()


# live result, what is stored
DIFFERENT_OF_CACHED: tuple[tuple[str, Value], ...] = (
    ("density_g_ml", 1.0461244),
    ("sum_mm", 118.0),
    ("sum_mm", "118.4"),
    ("sum_mm", None),
    ("third_triceps", "no"),
    ("ready", "yes"),
    ("fat_mass_kg", ""),
)


@pytest.mark.parametrize(("name", "stored"), DIFFERENT_OF_CACHED)
def test_result_that_differs(name: str, stored: Value) -> None:
    (finding,) = _findings(returned(WOMAN, {**EXPECTED, name: stored}))
    key, row, column = LAYOUT_OF_CACHED.places()[name]
    shown = None if stored in (None, "") else stored
    found = {f"{name} {shown!r}", f"{name} {stored!r}"}
    assert finding.found in found
    assert replace(finding, found="") == Worded(
        "sheet-result-differs", "", "", repr(EXPECTED[name]), "", "Calculator", f"B{row + 1}"
    )
    assert (key, column) == ("calculator", 1)


def test_result_that_is_a_truth_value() -> None:
    state = returned(WOMAN, EXPECTED)
    _, row, column = LAYOUT_OF_CACHED.places()["again_chest"]
    tabs = matched_tabs(LAYOUT_OF_CACHED, state)
    tabs["calculator"] = with_cell(tabs["calculator"], row, column, value=False)
    (finding,) = said(cached_findings(LAYOUT_OF_CACHED, SHEET_OF_CACHED.identity.values, tabs, EXPECTED))
    assert finding.found == "again_chest False"


def test_stale_results_are_told_one_by_one() -> None:
    """A program that worked out some results and left others is not one that does not calculate."""
    stale = _expected(without(WOMAN, "reading_2_thigh"))
    codes = {finding.code for finding in _findings(returned(WOMAN, stale))}
    assert codes == {"sheet-result-differs"}
    assert len(_findings(returned(WOMAN, stale))) == 7


def test_results_never_recalculated_with_none_stored() -> None:
    assert _findings(returned(WOMAN)) == (
        Worded(
            "sheet-not-recalculated", "", "no results stored, or those of the empty sheet",
            "results worked out from the entries", "",
        ),
    )  # fmt: skip


def test_results_never_recalculated_with_those_of_the_empty_sheet() -> None:
    """A program that writes entries and leaves the stored results as they were handed out."""
    (finding,) = _findings(untouched())
    assert finding.code == "sheet-not-recalculated"


def test_empty_sheet_with_the_results_of_the_empty_sheet() -> None:
    assert _findings(untouched(), _expected({"caliper_id": "C1", "data_source": "measured"})) == ()


def test_results_of_a_hidden_tab_that_is_missing_are_not_compared() -> None:
    tabs = {
        key: tab for key, tab in matched_tabs(LAYOUT_OF_CACHED, untouched()).items() if key != "calculator"
    }
    assert cached_findings(LAYOUT_OF_CACHED, SHEET_OF_CACHED.identity.values, tabs, EXPECTED) == ()
