from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.protocols.names import entry_names
from sheetgen.protocols.settings import BuiltWith
from sheetgen.sheet import calculator
from sheetgen.sheet.calculator import NOTES, slip_lines
from sheetgen.sheet.student import LAYOUT_VERSION, layout_of
from sheetgen.workbook.cells import Line
from sheetgen.workbook.layout import Cell, Layout, Value
from tests.office.client import Office
from tests.sheets import SETTINGS, Sheet, settings_with, sheet_of


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


Entries = dict[str, Value]

SHEET = sheet_of()
START: Entries = {"cautions_confirmed": "yes", "age_years": 34, "sex_equation": "female", "zero_mm": 0}
SITES = [site.word for site in SHEET.source.protocol.sites]
ROUND_1: Entries = {f"reading_1_{site}": 12.5 for site in SITES}
ROUND_2: Entries = {f"reading_2_{site}": 13.0 for site in SITES}


def _lines(**changes: object) -> dict[str, Line]:
    source = sheet_of(settings_with(**changes)).source
    cells = {name: f"<{name}>" for name in entry_names(source.protocol)}
    found = slip_lines(source.protocol, source.settings, source.texts, cells)
    return {line.name: line for line in found}


def test_every_note_and_every_warning_has_its_words() -> None:
    texts = SHEET.source.texts
    assert {key.removeprefix("note.") for key in texts if key.startswith("note.")} == set(NOTES)


def test_every_entry_that_is_warned_about_has_its_line() -> None:
    assert set(calculator.WARNINGS.values()) <= set(_lines())


def test_first_value_of_every_line_is_that_of_an_empty_sheet() -> None:
    lines = _lines(cover_round_1=True)
    others = {"covered", "practice_typed"}
    assert {line.first for name, line in lines.items() if name not in others} == {""}
    assert lines["practice_typed"].first == 0
    assert lines["covered"].first == "no"


def test_sheet_that_asks_no_age_warns_of_none() -> None:
    assert "age_warning" not in _lines(under_18=True)


def _shown(office: Office, folder: Path, sheet: Sheet, entries: Entries, names: list[str]) -> list[Value]:
    path = folder / "sheet.xlsx"
    path.write_bytes(sheet.data)
    with office.workbook(path) as handle:
        office.set(handle, [[*sheet.place(name), value] for name, value in entries.items()])
        return office.get(handle, [sheet.place(name) for name in names])  # type: ignore[return-value]


# what is typed on top of a good sheet, the note of the chest
TYPED: tuple[tuple[Entries, str], ...] = (
    ({}, ""),
    ({"reading_1_chest": 12.3}, "scale-1"),
    ({"reading_2_chest": 125}, "scale-2"),
    ({"reading_2_chest": -3}, "scale-2"),
    ({"reading_1_chest": "12,5"}, "text-1"),
    ({"reading_3_chest": "about 12"}, "text-3"),
    ({"reading_1_chest": "   "}, "round-1-first"),
    ({"reading_1_chest": ""}, "round-1-first"),
    ({"reading_2_chest": 16}, "third"),
    ({"reading_2_chest": 21.5}, "third-far"),
    ({"reading_2_chest": 21.5, "reading_3_chest": 13}, ""),
    ({"reading_2_chest": 21.5, "reading_3_chest": 50}, "again"),
    ({"reading_3_chest": 13}, "third-extra"),
    ({"not_taken_chest": "declined"}, "left-out-typed"),
    (
        {"not_taken_chest": "skin", "reading_1_chest": "", "reading_2_chest": ""},
        "left-out",
    ),
    ({"age_years": 17, "reading_1_chest": "12,5"}, "under-18"),
    # the practice readings of this copy are 9.5 and 9.5 mm
    ({"data_source": "practice"}, "practice"),
    ({"data_source": "practice", "reading_1_chest": 9.5, "reading_2_chest": 9.5}, ""),
    ({"data_source": "practice", "reading_1_chest": "12,5"}, "text-1"),
    # A second caliper from this reading on: steps of 1 mm, zero at 3 mm.
    ({"caliper_id_2": "7", "zero_2_mm": 3, "changed_from": "2_chest"}, "third"),
    ({"caliper_id_2": "7", "zero_2_mm": 3, "changed_from": "2_chest", "reading_2_chest": 15.5}, "scale-2"),
)


def test_note_of_a_site_for_each_slip(office: Office, tmp_path: Path) -> None:
    found = [
        _shown(office, tmp_path, SHEET, {**START, **ROUND_1, **ROUND_2, **typed}, ["note_chest"])[0]
        for typed, _ in TYPED
    ]
    assert found == [note for _, note in TYPED]


# caliper issued, what is typed, warnings of caliper, zero, second caliper and age
WARNINGS: tuple[tuple[str, Entries, list[str]], ...] = (
    ("C1", {}, ["", "", "", ""]),
    ("C2", {"zero_mm": -0.4}, ["", "", "", ""]),
    ("C2", {"zero_mm": 0.4}, ["", "Check: plus or minus? The zero in the register is -0.4", "", ""]),
    ("C2", {"zero_mm": -0.6}, ["", "Check: the zero in the register is -0.4", "", ""]),
    ("C2", {"caliper_id": "C1"}, ["Check: the caliper issued is C2", "", "", ""]),
    ("7", {"caliper_id": 7, "zero_mm": 3}, ["", "", "", ""]),
    ("C1", {"caliper_id_2": "7"}, ["", "", "Check: second caliper incomplete on Start", ""]),
    ("C1", {"zero_2_mm": 3}, ["", "", "Check: second caliper incomplete on Start", ""]),
    ("C1", {"caliper_id_2": "7", "zero_2_mm": 3, "changed_from": "2_thigh"}, ["", "", "", ""]),
    ("C1", {"age_years": 17}, ["", "", "", "Check: under 18: no trunk sites, no estimate"]),
)


PRACTICE: Entries = {
    f"reading_1_{site}": reading
    for site, reading in zip(SITES, (9.5, 15.5, 8.5, 9.5, 25, 9, 12), strict=True)
}
# what is typed, the warning beside where the readings come from
SOURCES: tuple[tuple[Entries, str], ...] = (
    ({}, ""),
    (PRACTICE, "Check: these are the practice readings"),
    ({**PRACTICE, "data_source": "practice"}, ""),
    ({**PRACTICE, "reading_1_thigh": 12.5}, ""),
    (dict(list(PRACTICE.items())[:3]), ""),
)


@pytest.mark.parametrize(("typed", "said"), SOURCES)
def test_practice_readings_that_nobody_calls_so(
    office: Office, tmp_path: Path, typed: Entries, said: str
) -> None:
    """Four or more readings, all of them those of the practice set, are no chance."""
    assert _shown(office, tmp_path, SHEET, {**START, **typed}, ["source_warning"]) == [said]


@pytest.mark.parametrize(("caliper_id", "typed", "said"), WARNINGS)
def test_warning_beside_an_entry(
    office: Office, tmp_path: Path, caliper_id: str, typed: Entries, said: list[str]
) -> None:
    names = ["caliper_warning", "zero_warning", "second_warning", "age_warning"]
    sheet = sheet_of(caliper_id=caliper_id)
    assert _shown(office, tmp_path, sheet, {**START, **typed}, names) == said


# readings of the second round, covered, difference and note of the chest, site value on Results
COVER: tuple[tuple[Entries, str, list[Value]], ...] = (
    ({}, "yes", ["", "", ""]),
    ({"reading_2_chest": 21.5}, "yes", ["", "", ""]),
    ({**ROUND_2, "reading_2_chest": 21.5}, "no", [9.0, "third-far", 17.0]),
)


@pytest.mark.parametrize(("second", "covered", "shown"), COVER)
def test_nothing_tells_how_close_round_2_comes_while_round_1_is_covered(
    office: Office, tmp_path: Path, second: Entries, covered: str, shown: list[Value]
) -> None:
    sheet = sheet_of(settings_with(cover_round_1=True))
    entries = {**START, **ROUND_1, **second}
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    with office.workbook(path) as handle:
        office.set(handle, [[*sheet.place(name), value] for name, value in entries.items()])
        asked: list[Sequence[object]] = [
            sheet.place("covered"), ["Readings", 7, 3], sheet.place("note_chest"), ["Results", 7, 1],
        ]  # fmt: skip
        assert office.get(handle, asked) == [covered, *shown]
