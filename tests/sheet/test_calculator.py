"""The hidden tab: entries as they count, the tables, and what a sheet holds before anything is typed."""

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.protocols.names import entry_names
from sheetgen.protocols.settings import BuiltWith, SheetSettings
from sheetgen.sheet.calculator import practice_names, shown_words
from sheetgen.sheet.next_steps import NOTES
from sheetgen.sheet.student import LAYOUT_VERSION, layout_of
from sheetgen.workbook.addresses import in_tab
from sheetgen.workbook.layout import Cell, Layout, Value
from tests.office.client import Office
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import SETTINGS, Sheet, settings_with, sheet_of


def _by_name(layout: Layout) -> dict[str, Cell]:
    return {cell.name: cell for cell in layout.tab("calculator").cells if cell.name}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_entry_is_mirrored_by_its_place_in_one_column_from_its_heading(language: str) -> None:
    """A cut or a drag inside a column does not move the ends of a block of whole entries."""
    sheet = sheet_in(language)
    lines = _by_name(sheet.layout)
    places = sheet.layout.places()
    for name in entry_names(sheet.source.protocol):
        key, row, column = places[name]
        tab = sheet.layout.tab(key)
        rows = [cell.row for cell in tab.cells if cell.role == "entry" and cell.column == column]
        letter = "ABCDEFGHI"[column]
        # Rows count from 1 in a formula: the heading stands right above the first entry.
        block = in_tab(tab.title, f"${letter}${min(rows)}:${letter}${max(rows) + 1}")
        assert set(re.findall(r"INDEX\(([^,]*),(\d+)\)", lines[f"in_{name}"].formula)) == {
            (block, str(row - min(rows) + 2))
        }


def test_column_of_entries_holds_nothing_that_depends_on_it() -> None:
    """Else a program that works blocks out as a whole would find a circle."""
    for tab in sheet_of().layout.tabs:
        columns = {cell.column for cell in tab.cells if cell.role == "entry"}
        for column in columns:
            rows = [cell.row for cell in tab.cells if cell.column == column and cell.role == "entry"]
            between = [
                cell
                for cell in tab.cells
                if cell.column == column and min(rows) - 1 <= cell.row <= max(rows) and cell.role == "formula"
            ]
            assert between == []


def test_mirror_of_a_number_a_text_and_own_working() -> None:
    lines = _by_name(sheet_of().layout)
    cell = "INDEX(Start!$B$4:$B$21,3)"
    assert lines["in_age_years"].formula == f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,INT({cell}),""),"")'
    cell = "INDEX(Readings!$C$4:$C$11,2)"
    assert lines["in_reading_1_chest"].formula == (
        f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,ROUND({cell},2),""),"")'
    )
    cell = "INDEX(Start!$B$4:$B$21,4)"
    assert lines["in_sex_equation"].formula == (
        f'=IF(OR(ISTEXT({cell}),ISNUMBER({cell})),TRIM({cell}&""),"")'
    )
    cell = "INDEX(Working!$C$4:$C$16,9)"
    assert lines["in_own_sum_mm"].formula == f'=IF(ISNUMBER({cell}),{cell},"")'


def test_mirror_gives_the_code_word_of_what_a_list_shows() -> None:
    spanish = _by_name(sheet_in("es").layout)
    assert '="sí","yes",' in spanish["in_cautions_confirmed"].formula
    assert '="si","yes",' in spanish["in_cautions_confirmed"].formula
    assert spanish["in_side"].value == "right"
    assert '="Chest","chest",' in _by_name(sheet_of().layout)["in_changed_from_site"].formula


def test_words_that_a_list_shows() -> None:
    source = sheet_in("es").source
    assert shown_words("cautions_confirmed", source.protocol, source.texts) == {"yes": "sí"}
    assert shown_words("side", source.protocol, source.texts) == {"right": "derecho", "left": "izquierdo"}
    assert shown_words("changed_from_site", source.protocol, source.texts)["thigh"] == "Muslo anterior"
    assert list(shown_words("not_taken_chest", source.protocol, source.texts)) == ["left-out"]
    assert shown_words("age_years", source.protocol, source.texts) == {}


def test_practice_set_has_details_and_every_reading() -> None:
    names = practice_names(sheet_of().source.protocol)
    assert names[:3] == ("practice_age_years", "practice_sex_equation", "practice_mass_kg")
    assert names[-1] == "practice_reading_3_thigh"
    assert len(names) == 6 + 21


def test_table_of_sites_leads_from_a_word_to_its_place() -> None:
    cells = {(cell.row, cell.column): cell.value for cell in sheet_of().layout.tab("calculator").cells}
    assert [cells[row, 9] for row in range(1, 9)] == [
        "change", "chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh",
    ]  # fmt: skip


def test_table_of_notes_holds_every_note_in_words() -> None:
    cells = {(cell.row, cell.column): cell.value for cell in sheet_of().layout.tab("calculator").cells}
    rows = range(2, 2 + len(NOTES))
    assert tuple(cells[row, 11] for row in rows) == NOTES
    assert cells[2, 12] == "not taken under 18"


def test_table_of_equations_holds_them_written_out() -> None:
    """Coefficients: Jackson & Pollock 1978, Br J Nutr 40:497-504."""
    lines = _by_name(sheet_of().layout)
    assert lines["equation_text_first"].value == "D = 1.112 - 0.00043499 S + 0.00000055 S^2 - 0.00028826 A"


def test_register_holds_every_caliper() -> None:
    cells = {(cell.row, cell.column): cell.value for cell in sheet_of().layout.tab("calculator").cells}
    rows = [[cells[row, column] for column in range(4, 8)] for row in range(1, 5)]
    assert rows == [
        ["register_identifier", "register_division", "register_opening", "register_zero"],
        ["C1", 0.5, 60.0, 0.0],
        ["C2", 0.2, 80.0, -0.4],
        ["7", 1.0, 60.0, 3.0],
    ]


def test_register_of_one_caliper_still_spans_a_range() -> None:
    layout = sheet_of(settings_with(calipers=SETTINGS.calipers[:1])).layout
    assert ",$E$3:$E$4,0)" in _by_name(layout)["caliper_row"].formula


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


START = {"cautions_confirmed": "yes", "age_years": 34, "sex_equation": "female", "zero_mm": 0}
SITES = [site.word for site in sheet_of().source.protocol.sites]
ROUND_1: dict[str, Value] = {f"reading_1_{site}": 12.5 for site in SITES}
ROUND_2: dict[str, Value] = {f"reading_2_{site}": 13.0 for site in SITES}
OWN: dict[str, Value] = {f"own_site_{site}": 12.75 for site in SITES}
# readings of the second round; covered, difference, site value, note and what to do of the chest
COVER: tuple[tuple[dict[str, Value], list[Value]], ...] = (
    ({}, ["yes", "", "", "", ""]),
    ({"reading_2_chest": 21.5}, ["yes", "", "", "", ""]),
    ({**ROUND_2, "reading_2_chest": 21.5}, ["no", 9.0, 17.0, "third-far", None]),
)


def test_nothing_tells_how_close_round_2_comes_while_round_1_is_covered(
    office: Office, tmp_path: Path
) -> None:
    sheet = sheet_of(settings_with(cover_round_1=True))
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    asked: list[list[str | int]] = [
        sheet.place("covered"), ["Readings", 4, 5], sheet.place("shown_site_chest"),
        sheet.place("note_chest"), sheet.place("shown_to_do_chest"),
    ]  # fmt: skip
    batch = [
        [[*sheet.place(name), value] for name, value in {**START, **ROUND_1, **OWN, **second}.items()]
        for second, _ in COVER
    ]
    with office.workbook(path) as handle:
        found = office.cases(handle, asked, batch)
    for values, (_, expected) in zip(found, COVER, strict=True):
        assert values[:4] == expected[:4]
    assert [values[4] for values in found[:2]] == ["", ""]


def _handed_out(sheet: Sheet) -> dict[tuple[str, int, int], Value]:
    """Place of every formula to its first value in a copy."""
    values = sheet.identity.values
    return {
        (tab.title, cell.row, cell.column): values.get(cell.name, cell.value) if cell.name else cell.value
        for tab in sheet.layout.tabs
        for cell in tab.cells
        if cell.role == "formula"
    }


HANDED_OUT = (
    SETTINGS,
    settings_with(narrow=True, cover_round_1=True, site_rule="closest-pair", show_results="always"),
    settings_with(under_18=True, show_results="never"),
    settings_with(protocol_id="folds-only"),
    settings_with(protocol_id="youth-two-sites", under_18=True, youth_estimate="on"),
)


@pytest.mark.parametrize("settings", HANDED_OUT)
def test_first_values_are_those_that_a_program_works_out(
    office: Office, tmp_path: Path, settings: SheetSettings
) -> None:
    """A viewer that works nothing out shows them; and a reader compares with them."""
    sheet = sheet_of(settings, "C2")
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    expected = _handed_out(sheet)
    with office.workbook(path) as handle:
        found = office.get(handle, [list(place) for place in expected])
    differing = {
        place: (first, value)
        for (place, first), value in zip(expected.items(), found, strict=True)
        if first != value
    }
    assert differing == {}
