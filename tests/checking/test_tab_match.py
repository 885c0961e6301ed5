from dataclasses import replace

import pytest

from sheetgen.checking.tab_match import label_share, matched_tabs, renamed_titles
from sheetgen.model.snapshot import TabState
from tests.checking.given import untouched, with_tab
from tests.sheets import sheet_of

LAYOUT = sheet_of().layout
KEYS = {"start", "readings", "results", "working", "sites", "about", "calculator"}


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
    assert renamed_titles(LAYOUT, matched)["my readings"] == "Readings"


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
    texts = [(cell.row, cell.column) for cell in tab.cells if cell.role == "label" and cell.value]
    half = {place: cell for place, cell in state.cells.items() if place not in texts[: len(texts) // 2]}
    # Half of an odd number is one more or less.
    assert label_share(tab, replace(state, cells=half)) == pytest.approx(0.5, abs=0.02)


def test_label_share_of_a_tab_without_labels() -> None:
    assert label_share(replace(LAYOUT.tab("sites"), cells=()), untouched().tabs[0]) == 0.0
