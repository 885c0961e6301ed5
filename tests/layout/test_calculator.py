from dataclasses import replace

import pytest

from sheetgen.flows.sources import layout_of
from sheetgen.layout.student import LAYOUT_VERSION
from sheetgen.layout.vocabulary import entry_names
from sheetgen.model.layout import Cell, Layout
from sheetgen.model.settings import BuiltWith
from tests.sheets import SETTINGS, settings_with, sheet_of


def _by_name(layout: Layout) -> dict[str, Cell]:
    return {cell.name: cell for cell in layout.tab("calculator").cells if cell.name}


def test_every_entry_is_mirrored_by_fixed_place() -> None:
    sheet = sheet_of()
    lines = _by_name(sheet.layout)
    places = sheet.layout.places()
    for name in entry_names(sheet.source.protocol):
        tab, row, column = places[name]
        title = sheet.layout.tab(tab).title
        assert f"INDEX({title}!$A$1:" in lines[f"in_{name}"].formula
        assert f",{row + 1},{column + 1})" in lines[f"in_{name}"].formula


def test_mirrored_block_reaches_beyond_every_cell_of_its_tab() -> None:
    """A cut of a corner cell would move the block with it, so the corner is a cell nobody uses."""
    formula = _by_name(sheet_of().layout)["in_reading_1_chest"].formula
    assert "INDEX(Readings!$A$1:$M$15,8,2)" in formula
    tab = sheet_of().layout.tab("readings")
    assert max(cell.row for cell in tab.cells) == 13
    assert max(cell.column for cell in tab.cells) == 11


def test_mirror_of_a_number_a_text_and_own_working() -> None:
    lines = _by_name(sheet_of().layout)
    cell = "INDEX(Start!$A$1:$F$22,11,2)"
    assert lines["in_age_years"].formula == f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,INT({cell}),""),"")'
    cell = "INDEX(Start!$A$1:$F$22,13,2)"
    assert lines["in_mass_kg"].formula == (
        f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,ROUND({cell},2),""),"")'
    )
    cell = "INDEX(Start!$A$1:$F$22,12,2)"
    assert lines["in_sex_equation"].formula == (
        f'=IF(OR(ISTEXT({cell}),ISNUMBER({cell})),TRIM({cell}&""),"")'
    )
    assert lines["in_own_sum_mm"].formula.startswith("=IF(ISNUMBER(INDEX(Working!$A$1:")


def test_register_holds_every_caliper() -> None:
    cells = {(cell.row, cell.column): cell.value for cell in sheet_of().layout.tab("calculator").cells}
    rows = [[cells[row, column] for column in range(3, 7)] for row in range(1, 5)]
    assert rows == [
        ["identifier", "division", "opening", "zero"],
        ["C1", 0.5, 60.0, 0.0],
        ["C2", 0.2, 80.0, -0.4],
        ["7", 1.0, 60.0, 3.0],
    ]


def test_register_of_one_caliper_still_spans_a_range() -> None:
    layout = sheet_of(settings_with(calipers=SETTINGS.calipers[:1])).layout
    assert "MATCH($B$57" not in _by_name(layout)["caliper_row"].formula
    assert ",$D$3:$D$4,0)" in _by_name(layout)["caliper_row"].formula


def test_equation_without_a_published_range_is_not_shut_out_by_an_empty_cell() -> None:
    """INDEX of an empty cell gives 0, and a largest sum of 0 would leave out everybody."""
    protocol = sheet_of().source.protocol
    open_ended = replace(protocol.equations[0], sum_minimum=None, sum_maximum=None)
    layout = layout_of(BuiltWith(SETTINGS, replace(protocol, equations=(open_ended,)), LAYOUT_VERSION)).layout
    lines = _by_name(layout)
    assert lines["equation_sum_minimum_first"].value == "none"
    assert lines["equation_sum_maximum_first"].value == "none"


def test_equation_table_holds_a_coefficient_of_0_where_the_form_has_none() -> None:
    """Coefficients: Durnin & Womersley 1974, Br J Nutr 32:77-97, table 5: men of 17 to 19."""
    lines = _by_name(sheet_of(settings_with(protocol_id="four-sites")).layout)
    fields = ("form", "constant", "sum_linear", "sum_squared", "sum_log10", "age")
    assert [lines[f"equation_{field}_first"].value for field in fields] == [
        "log10", 1.1620, 0.0, 0.0, -0.0630, 0.0,
    ]  # fmt: skip


@pytest.mark.parametrize(
    "changes", [{"under_18": True}, {"estimates": "sums-only"}, {"protocol_id": "folds-only"}]
)
def test_no_equation_table_where_there_is_no_estimate(changes: dict[str, object]) -> None:
    names = _by_name(sheet_of(settings_with(**changes)).layout)
    assert [name for name in names if name.startswith(("equation_", "fits_", "conversion_"))] == []


def test_settings_are_printed_whole() -> None:
    sheet = sheet_of()
    assert _by_name(sheet.layout)["settings"].value == sheet.layout.settings_text
    assert sheet.layout.settings_text.startswith('{"settings":{"protocol_id":"seven-sites"')
