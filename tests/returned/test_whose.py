import pytest
from msgspec.structs import replace

from sheetgen.class_folder.keep import ALPHABET
from sheetgen.finding import Finding
from sheetgen.returned.whose import (
    OnRecord,
    class_code_in,
    copy_codes_in,
    label_share,
    matched_tabs,
    named_text,
    settings_text_in,
    whose,
)
from sheetgen.sheet.reference_tabs import shipped_figures
from sheetgen.sheet.student import SheetCopy, sheet_identity
from sheetgen.texts.templates import read_template
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.returned.given import state_of, untouched, with_cell, with_tab
from tests.sheets import sheet_of

BARE = Snapshot((), {}, {}, False)

LAYOUT = sheet_of().layout
KEYS = {"care", "start", "readings", "results", "working", "sites", "about", "calculator"}


def _tab(title: str, text: str, column: int = 1) -> TabState:
    return TabState(title, {(0, column): CellState(text)}, True, "visible")


def test_sheet_as_handed_out() -> None:
    state = untouched()
    assert copy_codes_in(state) == ("7K3F-9QXM",)
    assert class_code_in(state) == "CLASS2"
    assert settings_text_in(state) == sheet_of().layout.settings_text


def test_code_is_found_on_the_first_row_where_names_are_lost() -> None:
    state = replace(untouched(), names={})
    assert copy_codes_in(state) == ("7K3F-9QXM",)
    assert class_code_in(state) == "CLASS2"
    assert settings_text_in(state) == sheet_of().layout.settings_text


def test_code_is_found_on_the_hidden_tab_where_the_first_rows_are_gone() -> None:
    tabs = tuple(
        replace(tab, cells={place: cell for place, cell in tab.cells.items() if place[0] > 0})
        for tab in untouched().tabs
    )
    assert copy_codes_in(replace(untouched(), tabs=tabs)) == ("7K3F-9QXM",)


def test_code_of_the_hidden_tab_comes_first() -> None:
    state = untouched()
    results = with_cell(state.tabs[2], 0, 1, value="Sheet AAAA-2222   Measurer S02   Participant P-9Z9Z")
    assert copy_codes_in(with_tab(state, "Results", cells=results.cells)) == ("7K3F-9QXM", "AAAA-2222")


# student_id: some look like codes
STUDENTS = ("2024-0001", "2345-6789", "ABCD-EFGH", "9999-9999-9999")


@pytest.mark.parametrize("student_id", STUDENTS)
def test_student_id_that_looks_like_a_code_is_none(student_id: str) -> None:
    source = sheet_of().source
    copy = SheetCopy("7K3F-9QXM", "CLASS2", student_id, "P-2A3B", 1, "C1")
    identity = sheet_identity(source.protocol, source.settings, source.texts, copy)
    state = state_of(rendered(source.layout, identity, read_template("style.toml"), shipped_figures()))
    assert copy_codes_in(state) == ("7K3F-9QXM",)
    assert copy_codes_in(replace(state, names={})) == ("7K3F-9QXM",)


# text on the first row of a tab, codes
LINES = (
    ("Sheet 7K3F-9QXM   Measurer S01", ("7K3F-9QXM",)),
    ("Blatt 7K3F-9QXM", ("7K3F-9QXM",)),
    ("Sheet 7k3f-9qxm", ()),
    ("Sheet 17K3F-9QXM", ()),
    ("Sheet 7K3F-9QXM-2", ()),
    ("Sheet 2024-0001", ()),
    ("2345-6789", ()),
    (" 2345-6789 ", ()),
    ("Notes", ()),
)


@pytest.mark.parametrize(("text", "codes"), LINES)
def test_line_of_a_tab(text: str, codes: tuple[str, ...]) -> None:
    assert copy_codes_in(replace(BARE, tabs=(_tab("Start", text),))) == codes


def test_line_is_looked_for_in_the_first_columns_only() -> None:
    assert copy_codes_in(replace(BARE, tabs=(_tab("Start", "Sheet 7K3F-9QXM", column=8),))) == ()


def test_codes_are_made_of_the_characters_that_are_looked_for() -> None:
    for character in ALPHABET:
        code = f"{character * 4}-{character * 4}"
        assert copy_codes_in(replace(BARE, tabs=(_tab("Start", f"Sheet {code}"),))) == (code,)


def test_workbook_of_somebody_else() -> None:
    state = replace(BARE, tabs=(_tab("Sheet1", "Shopping list"),))
    assert (copy_codes_in(state), class_code_in(state), settings_text_in(state)) == ((), "", "")


def test_class_code_that_a_program_stored_as_a_number() -> None:
    cells = {(4, 0): CellState("class_code"), (4, 1): CellState(234567.0)}
    assert class_code_in(replace(BARE, tabs=(TabState("Calculator", cells, True, "hidden"),))) == "234567"


def test_student_id_that_a_program_stored_as_a_number() -> None:
    state = untouched()
    key, row, column = LAYOUT.places()["student_id"]
    title = LAYOUT.tab(key).title
    (tab,) = (tab for tab in state.tabs if tab.title == title)
    state = with_tab(state, title, cells=with_cell(tab, row, column, value=1001.0).cells)
    found = whose(state, OnRecord(None, "", {}))
    assert not isinstance(found, Finding)
    assert found[0].student_id == "1001"


# target of a name, text found
TARGETS = (
    ("Calculator!$B$3", "text"),
    ("'calculator'!B3", "text"),
    ("'it''s'!$AA$10", "far"),
    ("Calculator!$B$4", ""),
    ("Nowhere!$B$3", ""),
    ("Calculator!#REF!", ""),
    ("Calculator!$B$3:$B$4", ""),
    ("0.5", ""),
    ("", ""),
)


@pytest.mark.parametrize(("target", "text"), TARGETS)
def test_named_text(target: str, text: str) -> None:
    tabs = (
        TabState("Calculator", {(2, 1): CellState("text"), (3, 1): CellState(7.0)}, True, "hidden"),
        TabState("it's", {(9, 26): CellState("far")}, True, "visible"),
    )
    assert named_text(replace(BARE, tabs=tabs, names={"copy_code": target}), "copy_code") == text


def test_named_text_of_a_name_that_is_not_there() -> None:
    assert named_text(BARE, "copy_code") == ""


def _titles(tabs: dict[str, TabState]) -> dict[str, str]:
    return {key: state.title for key, state in tabs.items()}


def test_tabs_of_an_untouched_sheet() -> None:
    matched = matched_tabs(LAYOUT, untouched())
    assert _titles(matched) == {tab.key: tab.title for tab in LAYOUT.tabs}
    assert set(matched) == KEYS


def test_tabs_in_another_order_with_one_added() -> None:
    state = untouched()
    added = TabState("Notes", {}, False, "visible")
    shuffled = replace(state, tabs=(added, *reversed(state.tabs)))
    assert _titles(matched_tabs(LAYOUT, shuffled)) == {tab.key: tab.title for tab in LAYOUT.tabs}


def test_tab_that_was_renamed_is_found_by_its_labels() -> None:
    matched = matched_tabs(LAYOUT, with_tab(untouched(), "Readings", title="My readings"))
    assert matched["readings"].title == "My readings"


def test_tabs_that_swapped_their_names() -> None:
    state = with_tab(untouched(), "Readings", title="swap")
    state = with_tab(with_tab(state, "Results", title="Readings"), "swap", title="Results")
    matched = matched_tabs(LAYOUT, state)
    assert (matched["readings"].title, matched["results"].title) == ("Results", "Readings")


def test_copy_of_a_tab_leaves_the_one_of_the_right_name() -> None:
    state = untouched()
    copy = replace(next(tab for tab in state.tabs if tab.title == "Readings"), title="Readings (2)")
    matched = matched_tabs(LAYOUT, replace(state, tabs=(copy, *state.tabs)))
    assert matched["readings"].title == "Readings"


def test_tab_that_was_removed_is_missing() -> None:
    state = untouched()
    rest = tuple(tab for tab in state.tabs if tab.title != "Sites")
    assert set(matched_tabs(LAYOUT, replace(state, tabs=rest))) == KEYS - {"sites"}


def test_tab_whose_labels_are_gone_is_missing() -> None:
    assert "sites" not in matched_tabs(LAYOUT, with_tab(untouched(), "Sites", cells={}))


def test_label_share_counts_the_printed_texts() -> None:
    tab = LAYOUT.tab("sites")
    state = next(tab for tab in untouched().tabs if tab.title == "Sites")
    assert label_share(tab, state) == 1.0
    texts = [
        (cell.row, cell.column)
        for cell in tab.cells
        if cell.role == "label" and cell.value and isinstance(cell.value, str)
    ]
    half = {place: cell for place, cell in state.cells.items() if place not in texts[: len(texts) // 2]}
    # Half of an odd number is one more or less.
    assert label_share(tab, replace(state, cells=half)) == pytest.approx(0.5, abs=0.02)


def test_label_share_of_a_tab_without_labels() -> None:
    assert label_share(replace(LAYOUT.tab("sites"), cells=()), untouched().tabs[0]) == 0.0
