from dataclasses import replace

import pytest

from sheetgen.checking.identity import (
    class_code_in,
    copy_codes_in,
    named_text,
    settings_text_in,
)
from sheetgen.layout.sheet_copy import SheetCopy, sheet_identity
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from sheetgen.store.figures import shipped_figures
from sheetgen.store.keep import ALPHABET
from sheetgen.store.templates import read_template
from sheetgen.workbook.render import rendered
from tests.checking.given import state_of, untouched, with_cell, with_tab
from tests.sheets import sheet_of

BARE = Snapshot((), {}, {}, False)


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
