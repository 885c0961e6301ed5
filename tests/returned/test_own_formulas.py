from collections.abc import Mapping

import pytest
from msgspec.structs import replace

from sheetgen.returned.own_formulas import lines_that_take_a_result
from sheetgen.returned.whose import matched_tabs
from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.returned.given import untouched, with_cell, with_tab
from tests.sheets import sheet_of

CELL = CellState(value=1.0)
LAYOUT = sheet_of().layout
TITLES = {tab.key: tab.title for tab in LAYOUT.tabs}


def at(name: str, tab: str = "") -> str:
    """Address of a cell by its name, as seen from a tab."""
    key, row, column = LAYOUT.places()[name]
    return absolute(row, column) if key == tab else in_tab(TITLES[key], absolute(row, column))


def filled(formulas: Mapping[str, str], state: Snapshot | None = None) -> Snapshot:
    """A sheet with formulas typed into entries; {name} in one stands for the address of a cell."""
    state = state or untouched()
    for name, formula in formulas.items():
        key, row, column = LAYOUT.places()[name]
        title = TITLES[key]
        tab = next(one for one in state.tabs if one.title == title)
        text = formula.format_map({each: at(each, key) for each in LAYOUT.places()})
        state = with_tab(state, title, cells=with_cell(tab, row, column, value=12.5, formula=text).cells)
    return state


def takers(formulas: Mapping[str, str], state: Snapshot | None = None) -> set[str]:
    returned = filled(formulas, state)
    return set(lines_that_take_a_result(LAYOUT, returned, matched_tabs(LAYOUT, returned)))


# formula of the sum
OWN = (
    "=5+7.5",
    "=ROUND(5+7.5,1)",
    '="A1"&"sum_mm"',
    "=1E5+LOG10(7)-2.5*TRUE",
    "=SUM({own_site_chest}:{own_site_thigh})",
    "=sum( {own_site_chest} : {own_site_thigh} )",
    "={own_site_chest}+{own_site_midaxillary}*1",
    "=SUM(own_site_chest,own_site_thigh)",
    "=({reading_1_chest}+{reading_2_chest})/2-{zero_mm}",
    "=_xlfn.STDEV.S({own_site_chest}:{own_site_thigh})",
    # what the cell points at has gone: it gives no value, and takes none
    "=#REF!+{own_site_chest}",
)


@pytest.mark.parametrize("formula", OWN)
def test_constants_and_what_was_typed_are_working(formula: str) -> None:
    assert takers({"own_sum_mm": formula}) == set()


# formula of the sum
TAKEN = (
    "={sum_mm}",
    "={sum_mm}*1",
    "=sum_mm",
    "=SUM_MM+0",
    "=SUM({site_chest}:{site_thigh})",
    "=SUM({own_site_chest}:{own_site_thigh})+0*{density_g_ml}",
    "=VLOOKUP(1,Calculator!A:ZZ,2)",
    "=SUM(Calculator!1:400)",
    '=INDIRECT("sum_mm")',
    "=OFFSET({own_site_chest},3,0)",
    '=CELL("contents",{own_site_chest})',
    "=_xlfn.OFFSET({own_site_chest},3,0)",
    "=INDEX({own_site_chest}:{own_site_thigh},1):{own_site_thigh}",
    "={own_site_chest}:INDEX({own_site_chest}:{own_site_thigh},1)",
    "=[1]Results!B9",
    "='C:\\[other.xlsx]Results'!B9",
    "=Nowhere!B9",
    "=Working:Results!B9",
    "=Table1[sum]",
    "=nothing_of_that_name",
)


@pytest.mark.parametrize("formula", TAKEN)
def test_a_result_of_the_sheet_is_no_working_however_it_is_pointed_at(formula: str) -> None:
    assert takers({"own_sum_mm": formula}) == {"own_sum_mm"}


def test_a_result_that_comes_by_way_of_another_cell_is_taken_all_the_same() -> None:
    assert takers({"reading_3_thigh": "={sum_mm}", "own_sum_mm": "={reading_3_thigh}"}) == {"own_sum_mm"}
    # The last line is below the sum and no ground of it.
    below = {"own_fat_free_mass_kg": "={sum_mm}", "own_sum_mm": "={own_fat_free_mass_kg}"}
    assert takers(below) == {"own_sum_mm", "own_fat_free_mass_kg"}
    scratch = TabState("Notes", {(0, 0): replace(CELL, formula=f"={at('sum_mm')}")}, False, "visible")
    state = replace(untouched(), tabs=(*untouched().tabs, scratch))
    assert takers({"own_sum_mm": "=Notes!A1"}, state) == {"own_sum_mm"}
    assert takers({"own_sum_mm": "=Notes!A2"}, state) == set()


def test_a_line_costs_itself_and_not_the_line_that_goes_on_from_it() -> None:
    lines = {"own_site_chest": "={site_chest}", "own_sum_mm": "=SUM({own_site_chest}:{own_site_thigh})"}
    assert takers(lines) == {"own_site_chest"}


def test_a_name_of_the_students_own_is_what_it_stands_for() -> None:
    names = {**untouched().names, "mine": at("own_site_chest"), "theirs": at("sum_mm"), "round": "=round+1"}
    state = replace(untouched(), names=names)
    assert takers({"own_sum_mm": "=mine*7"}, state) == set()
    assert takers({"own_sum_mm": "=theirs*7"}, state) == {"own_sum_mm"}
    assert takers({"own_sum_mm": "=round"}, state) == {"own_sum_mm"}


def test_formulas_in_a_ring_end() -> None:
    assert takers({"own_sum_mm": "={reading_3_thigh}", "reading_3_thigh": "={own_sum_mm}"}) == set()


def test_references_of_the_open_document_kind() -> None:
    """`[.C8:.C14]` on the same tab, `[$Calculator.$B$9]` on another."""
    first, last = at("own_site_chest", "working"), at("own_site_thigh", "working")
    assert takers({"own_sum_mm": f"=SUM([.{first}:.{last}])"}) == set()
    place = at("sum_mm").rpartition("!")[2]
    assert takers({"own_sum_mm": f"=[$Calculator.{place}]"}) == {"own_sum_mm"}
    assert takers({"own_sum_mm": f"=['file:///a.ods'#$Calculator.{place}]"}) == {"own_sum_mm"}


def test_what_leads_too_far_is_not_followed() -> None:
    """A thousand cells that each point at a column of a thousand cells are not worked through."""
    crowd = {(row, 0): replace(CELL, formula="=A:A") for row in range(1000)}
    state = replace(untouched(), tabs=(*untouched().tabs, TabState("Notes", crowd, False, "visible")))
    assert takers({"own_sum_mm": "=Notes!A1"}, state) == {"own_sum_mm"}
