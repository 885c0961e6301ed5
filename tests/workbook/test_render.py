"""What openpyxl, another program's reader, finds in a rendered sheet."""

import io
import re
import zipfile
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.datavalidation import DataValidation

from sheetgen.layout.address import absolute
from sheetgen.model.layout import Cell, Identity, Image, Layout, Rule, Tab, Value
from sheetgen.store.figures import shipped_figures
from sheetgen.store.templates import read_template
from sheetgen.workbook.render import rendered
from tests.checking.given import state_of
from tests.office.client import Office
from tests.sheets import Sheet, settings_with, sheet_of

SHEET = sheet_of()
LAYOUT = SHEET.layout
STYLE = read_template("style.toml")


@lru_cache(maxsize=4)
def _book(data: bytes = SHEET.data, values: bool = False) -> Workbook:
    return load_workbook(io.BytesIO(data), data_only=values)


def _address(cell: Cell) -> str:
    return absolute(cell.row, cell.column).replace("$", "")


def _first(sheet: Sheet, cell: Cell) -> Value:
    value = sheet.identity.values.get(cell.name, cell.value) if cell.name else cell.value
    return None if value == "" else value


def _part(name: str) -> str:
    with zipfile.ZipFile(io.BytesIO(SHEET.data)) as package:
        return package.read(name).decode("utf-8")


def _small(cell: Cell) -> bytes:
    layout = Layout("Title", "Subject", "en", (Tab("one", "One", (cell,)),))
    return rendered(layout, Identity(), STYLE)


def test_same_layout_and_identity_give_the_same_bytes() -> None:
    one, two = (rendered(LAYOUT, SHEET.identity, STYLE, shipped_figures()) for _ in range(2))
    assert one == two == SHEET.data


def test_another_copy_gives_other_bytes() -> None:
    assert sheet_of(copy_code="AAAA-2222").data != SHEET.data


def test_tabs_are_shown_in_order_and_the_calculator_is_very_hidden() -> None:
    tabs = [(sheet.title, sheet.sheet_state) for sheet in _book().worksheets]
    assert tabs == [
        ("Start", "visible"),
        ("Readings", "visible"),
        ("Results", "visible"),
        ("Working", "visible"),
        ("Sites", "visible"),
        ("About", "visible"),
        ("Calculator", "veryHidden"),
    ]
    assert _book().active.title == "Start"


def test_structure_of_the_workbook_is_protected() -> None:
    assert _book().security.lockStructure is True


def test_every_tab_is_protected_and_entries_alone_are_open() -> None:
    for tab in LAYOUT.tabs:
        sheet = _book()[tab.title]
        assert sheet.protection.sheet is True
        entries = {_address(cell) for cell in tab.cells if cell.role == "entry"}
        unlocked = {
            cell.coordinate for row in sheet.iter_rows() for cell in row if not cell.protection.locked
        }
        assert unlocked == entries


def test_only_open_cells_can_be_selected_on_tabs_with_entries() -> None:
    """The attributes say what is forbidden."""
    forbidden = {sheet.title: sheet.protection.selectLockedCells for sheet in _book().worksheets}
    assert forbidden == {
        "Start": True,
        "Readings": True,
        "Results": False,
        "Working": True,
        "Sites": False,
        "About": False,
        "Calculator": False,
    }


def test_cells_hold_what_the_layout_says() -> None:
    for tab in LAYOUT.tabs:
        sheet = _book()[tab.title]
        for cell in tab.cells:
            expected = cell.formula if cell.role == "formula" else _first(SHEET, cell)
            assert sheet[_address(cell)].value == expected, (tab.key, _address(cell))


def test_first_stored_results_are_those_of_the_layout() -> None:
    """Previews and protected view show what is stored."""
    for tab in LAYOUT.tabs:
        sheet = _book(values=True)[tab.title]
        for cell in tab.cells:
            if cell.role == "formula":
                assert sheet[_address(cell)].value == _first(SHEET, cell), (tab.key, _address(cell))


@pytest.mark.parametrize("show_results", ["always", "after-working", "never"])
@pytest.mark.parametrize("caliper_id", ["C1", "C2", "7"])
def test_first_stored_results_are_what_a_spreadsheet_program_works_out(
    office: Office, tmp_path: Path, show_results: str, caliper_id: str
) -> None:
    sheet = sheet_of(settings_with(show_results=show_results, site_rule="closest-pair"), caliper_id)
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    cells = [(tab.title, cell) for tab in sheet.layout.tabs for cell in tab.cells if cell.role == "formula"]
    with office.workbook(path) as handle:
        answers = office.get(handle, [[title, cell.row, cell.column] for title, cell in cells])
    differences = [
        (title, _address(cell), answer)
        for (title, cell), answer in zip(cells, answers, strict=True)
        if answer != ("" if _first(sheet, cell) is None else _first(sheet, cell))
    ]
    assert differences == []


def test_defined_names_are_those_of_the_layout() -> None:
    wanted = {
        cell.name: f"{tab.title}!{absolute(cell.row, cell.column)}"
        for tab in LAYOUT.tabs
        for cell in tab.cells
        if cell.named
    }
    assert {name: defined.attr_text for name, defined in _book().defined_names.items()} == wanted
    assert len(wanted) == 8 + 59 + 29


def _validations(tab: Tab) -> dict[str, DataValidation]:
    found = _book()[tab.title].data_validations.dataValidation
    return {place: rule for rule in found for place in str(rule.sqref).split()}


def test_every_entry_has_its_rule_with_both_messages() -> None:
    kinds = {
        "list": "list",
        "whole": "whole",
        "decimal": "decimal",
        "length": "textLength",
        "custom": "custom",
    }
    for tab in LAYOUT.tabs:
        found = _validations(tab)
        assert set(found) == {_address(cell) for cell in tab.cells if cell.role == "entry"}
        for cell in tab.cells:
            if cell.rule is None:
                continue
            rule = found[_address(cell)]
            assert rule.type == kinds[cell.rule.kind]
            assert (rule.promptTitle, rule.prompt) == (cell.rule.title, cell.rule.prompt)
            assert (rule.errorTitle, rule.error) == (cell.rule.title, cell.rule.error)
            assert (rule.showInputMessage, rule.showErrorMessage) == (True, True)
            assert rule.errorStyle in (None, "stop")


def test_rules_that_look_at_other_cells_do_not_ignore_blanks() -> None:
    """With blanks ignored, a rule that looks at a blank cell accepts anything."""
    for tab in LAYOUT.tabs:
        found = _validations(tab)
        for cell in tab.cells:
            if cell.rule is not None and cell.rule.kind == "custom":
                assert found[_address(cell)].allowBlank is False
                assert "=" + found[_address(cell)].formula1 == cell.rule.formula


def test_lists_stand_in_the_rule_itself() -> None:
    place = next(cell for cell in LAYOUT.tab("start").cells if cell.name == "caliper_id")
    assert _validations(LAYOUT.tab("start"))[_address(place)].formula1 == '"C1,C2,7"'


def test_every_tab_prints_one_page_wide_with_its_first_row_repeated() -> None:
    for sheet in _book().worksheets:
        assert sheet.sheet_properties.pageSetUpPr.fitToPage is True
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) in ((1, 0), (None, 0))
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_tabs_print_the_way_the_layout_says() -> None:
    turned = {sheet.title for sheet in _book().worksheets if sheet.page_setup.orientation == "landscape"}
    assert turned == {tab.title for tab in LAYOUT.tabs if tab.landscape}


def test_rows_and_columns_stay_in_view() -> None:
    panes = {sheet.title: sheet.freeze_panes for sheet in _book().worksheets}
    assert (panes["Start"], panes["Readings"], panes["Calculator"]) == ("A8", "B8", None)


def test_cursor_waits_at_the_first_entry() -> None:
    assert _book()["Readings"].sheet_view.selection[-1].activeCell == "B8"


def test_conditional_formats_are_those_of_the_layout() -> None:
    for tab in LAYOUT.tabs:
        formats = _book()[tab.title].conditional_formatting
        found = [rule.formula[0] for block in formats for rule in block.rules]
        assert sorted(found) == sorted(emphasis.formula.removeprefix("=") for emphasis in tab.emphases)


def test_document_properties() -> None:
    properties = _book().properties
    assert (properties.title, properties.subject) == (
        "Skinfold measurement sheet",
        "Entries of one measurer about one participant",
    )
    assert properties.created.year == 2000
    assert _book().custom_doc_props["language"].value == "en"


def test_window_has_the_size_of_a_small_screen() -> None:
    """In twentieths of a point, at 96 dots an inch: 1366 x 768 dots."""
    assert 'windowWidth="20490" windowHeight="11520"' in _part("xl/workbook.xml")


def test_numbers_of_a_copy_stand_on_the_hidden_tab_only() -> None:
    """What differs between two copies: the shared texts, and the hidden tab with its numbers."""
    other = sheet_of(copy_code="AAAA-2222").data
    with zipfile.ZipFile(io.BytesIO(SHEET.data)) as one, zipfile.ZipFile(io.BytesIO(other)) as two:
        assert one.namelist() == two.namelist()
        different = [name for name in one.namelist() if one.read(name) != two.read(name)]
    assert different == ["xl/worksheets/sheet7.xml", "xl/sharedStrings.xml"]


def test_cell_with_an_unknown_format_word() -> None:
    with pytest.raises(KeyError, match="glittering"):
        _small(Cell(0, 0, "label", "text", format="glittering"))


def test_text_longer_than_a_cell_holds() -> None:
    """The writing library would cut it off and say nothing."""
    with pytest.raises(ValueError, match=r"One!\$B\$3: a text or rule longer than the file format allows"):
        _small(Cell(2, 1, "label", "x" * 32_768))


@pytest.mark.filterwarnings("ignore:Length of list items")
def test_rule_longer_than_the_file_format_allows() -> None:
    """The writing library would leave the rule out."""
    rule = Rule("list", "Word", "A word.", "No such word.", words=("x" * 200, "y" * 200))
    with pytest.raises(ValueError, match=r"One!\$A\$1: a text or rule longer than the file format allows"):
        _small(Cell(0, 0, "entry", name="word", rule=rule, format="entry_text"))


def test_empty_cells_keep_their_format() -> None:
    book = load_workbook(io.BytesIO(_small(Cell(0, 0, "label", "", format="heading"))))
    assert book["One"]["A1"].value is None
    assert book["One"]["A1"].font.bold is True


def test_text_that_looks_like_a_formula_or_a_link_stays_a_text() -> None:
    for text in ("=1+1", "https://example.org", "0012"):
        data = _small(Cell(0, 0, "label", text))
        state = state_of(data).tabs[0].cells[0, 0]
        assert (state.value, state.formula) == (text, "")
        assert load_workbook(io.BytesIO(data))["One"]["A1"].hyperlink is None


def test_identity_goes_before_the_value_of_the_layout() -> None:
    layout = replace(LAYOUT, tabs=(Tab("one", "One", (Cell(0, 0, "identity", None, name="copy_code"),)),))
    data = rendered(layout, Identity({"copy_code": "7K3F-9QXM"}), STYLE)
    assert load_workbook(io.BytesIO(data))["One"]["A1"].value == "7K3F-9QXM"


def _with_image(figures: dict[str, bytes] | None) -> bytes:
    image = Image(2, 1, "arm", 40, 30, "An arm.", 3, 4)
    layout = Layout("Title", "Subject", "en", (Tab("one", "One", (), images=(image,)),))
    return rendered(layout, Identity(), STYLE, figures)


def test_images_stand_where_the_layout_says_and_keep_their_shape() -> None:
    drawings = load_workbook(io.BytesIO(_with_image({"arm": shipped_figures()["triceps"]})))["One"]._images
    assert [(one.anchor._from.row, one.anchor._from.col) for one in drawings] == [(2, 1)]
    # In English metric units: 9,525 a dot.
    extent = drawings[0].anchor.pic.spPr.xfrm.ext
    assert (extent.cx / 9525, extent.cy / 9525) == pytest.approx((30 * 420 / 340, 30), abs=0.5)
    assert drawings[0].anchor._from.colOff == 3 * 9525


def test_every_image_of_a_sheet_is_in_it_with_its_alternative_text() -> None:
    tab = LAYOUT.tab("sites")
    drawings = _book()["Sites"]._images
    assert [(one.anchor._from.row, one._data()) for one in drawings] == [
        (image.row, shipped_figures()[image.name]) for image in tab.images
    ]
    found = re.findall(r'descr="([^"]*)"', _part("xl/drawings/drawing1.xml"))
    assert found == [image.alternative_text for image in tab.images]


def test_sheet_with_images_stays_light() -> None:
    assert len(SHEET.data) < 120_000


def test_image_that_nobody_gave() -> None:
    for figures in (None, {"leg": b""}):
        with pytest.raises(KeyError, match="arm"):
            _with_image(figures)


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", b"\x89PNG\r\n\x1a\n" + bytes(16)])
def test_image_that_is_no_png_file(data: bytes) -> None:
    with pytest.raises(ValueError, match="figure arm: not a PNG file"):
        _with_image({"arm": data})


def test_language_of_the_document_is_said_where_programs_look_for_it() -> None:
    assert _book().properties.language == "en"
    assert "<dc:language>en</dc:language>" in _part("docProps/core.xml")


def test_covered_readings_have_the_ink_of_the_paper_and_a_format_that_shows_nothing() -> None:
    book = _book(sheet_of(settings_with(cover_round_1=True)).data)
    blocks = book["Readings"].conditional_formatting
    (rule,) = [rule for block in blocks if str(block.sqref) == "B8:B14" for rule in block.rules]
    assert (rule.dxf.numFmt.formatCode, rule.dxf.font.color.rgb) == (";;;", "FFFFFFFF")
