"""What openpyxl, another program's reader, finds in a rendered sheet."""

import io
import re
import struct
import zipfile
import zlib
from functools import lru_cache
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from sheetgen.sheet.reference_tabs import shipped_figures
from sheetgen.texts.templates import read_template
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Cell, Identity, Image, Layout, Rule, Tab, Value
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import master_of, rendered, stamped
from tests.office.client import Office
from tests.returned.given import state_of
from tests.sheets import SETTINGS, Sheet, settings_with, sheet_of

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
    shown = ("Care", "Start", "Sites", "Readings", "Working", "Results", "About")
    assert tabs == [*((title, "visible") for title in shown), ("Calculator", "veryHidden")]
    assert _book().active.title == "Care"


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


def test_locked_cells_can_be_selected_so_that_arrows_and_screen_readers_reach_them() -> None:
    """The attribute says what is forbidden."""
    assert {sheet.protection.selectLockedCells for sheet in _book().worksheets} == {False}


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
        cell.defined or cell.name: f"{tab.title}!{absolute(cell.row, cell.column)}"
        for tab in LAYOUT.tabs
        for cell in tab.cells
        if cell.named
    }
    assert {name: defined.attr_text for name, defined in _book().defined_names.items()} == wanted
    assert len(wanted) == 8 + 61 + 29 + 1


def _validations(tab: Tab) -> dict[str, DataValidation]:
    found = _book()[tab.title].data_validations.dataValidation
    blocks = [(rule, block.bounds) for rule in found for block in rule.sqref.ranges]
    return {
        f"{get_column_letter(column)}{row}": rule
        for rule, (left, top, right, bottom) in blocks
        for row in range(top, bottom + 1)
        for column in range(left, right + 1)
    }


def test_cells_that_share_a_rule_are_one_rule_of_the_file() -> None:
    rule = Rule("whole", "Age", "", "A number.", minimum=1, maximum=9)
    cells = [Cell(row, column, "entry", rule=rule) for row in (0, 1, 3) for column in (0, 2)]
    data = rendered(Layout("t", "s", "en", (Tab("one", "One", tuple(cells)),)), Identity({}), STYLE)
    (found,) = openpyxl.load_workbook(io.BytesIO(data))["One"].data_validations.dataValidation
    assert sorted(str(found.sqref).split()) == ["A1:A2", "A4", "C1:C2", "C4"]


def test_every_entry_has_its_rule_with_one_message() -> None:
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
            # An input message would lie over the hint that it repeats.
            assert (cell.rule.prompt, rule.promptTitle, rule.prompt) == ("", None, None)
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
        if sheet.title in ("Sites", "About"):
            breaks = {"Sites": 20, "About": 18}
            found = (sheet.page_setup.scale, [each.id for each in sheet.row_breaks.brk])
            assert found == (84, [breaks[sheet.title]])
        else:
            assert sheet.sheet_properties.pageSetUpPr.fitToPage is True
            # What is not said is 1.
            high = 0 if sheet.title == "Calculator" else None
            assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (None, high)
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.oddFooter.center.text == "Page &P of &N"


def test_tabs_are_printed_up_to_the_last_column_and_row_that_show_something() -> None:
    """Not the column that leads on, nor hidden ones; Care, Sites and About without the lines of steps."""
    areas = {sheet.title: sheet.print_area for sheet in _book().worksheets}
    assert areas == {
        "Care": "'Care'!$A$4:$E$20",
        "Start": "'Start'!$A$1:$E$21",
        "Sites": "'Sites'!$A$4:$E$29",
        "Readings": "'Readings'!$A$1:$I$13",
        "Working": "'Working'!$A$1:$E$20",
        "Results": "'Results'!$A$1:$F$35",
        "About": "'About'!$A$4:$B$32",
        "Calculator": "",
    }


def test_cell_across_columns_is_one_cell() -> None:
    (sites,) = (sheet for sheet in _book().worksheets if sheet.title == "Sites")
    spans = {
        f"{get_column_letter(cell.column + 1)}{cell.row + 1}:"
        f"{get_column_letter(cell.column + cell.across)}{cell.row + 1}"
        for cell in LAYOUT.tab("sites").cells
        if cell.across > 1
    }
    assert {str(each) for each in sites.merged_cells.ranges} == spans
    assert "A4:E4" in spans


def test_tabs_print_the_way_the_layout_says() -> None:
    turned = {sheet.title for sheet in _book().worksheets if sheet.page_setup.orientation == "landscape"}
    assert turned == {tab.title for tab in LAYOUT.tabs if tab.landscape}


def test_rows_and_columns_stay_in_view() -> None:
    panes = {sheet.title: sheet.freeze_panes for sheet in _book().worksheets}
    assert (panes["Start"], panes["Readings"], panes["Calculator"]) == ("A4", "A5", None)


def test_cursor_waits_at_the_first_entry() -> None:
    assert _book()["Readings"].sheet_view.selection[-1].activeCell == "C5"


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
    assert different == ["xl/worksheets/sheet8.xml", "xl/sharedStrings.xml"]


def test_cell_with_an_unknown_format_word() -> None:
    with pytest.raises(KeyError, match="glittering"):
        _small(Cell(0, 0, "label", "text", format="glittering"))


def test_text_longer_than_a_cell_holds() -> None:
    """The writing library would cut it off and say nothing."""
    with pytest.raises(ValueError, match=r"One!\$B\$3: a text longer than the file format allows"):
        _small(Cell(2, 1, "label", "x" * 32_768))


@pytest.mark.filterwarnings("ignore:Length of list items")
def test_rule_longer_than_the_file_format_allows() -> None:
    """The writing library would leave the rule out."""
    rule = Rule("list", "Word", "A word.", "No such word.", words=("x" * 200, "y" * 200))
    with pytest.raises(ValueError, match=r"One!\$A\$1: a rule longer than the file format allows"):
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
    assert len(SHEET.data) < 175_000
    assert len(sheet_of(replace(SETTINGS, reading_drill=True)).data) < 200_000


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
    rules = [rule for block in blocks if str(block.sqref) == "C5:C11" for rule in block.rules]
    assert [(rule.dxf.numFmt.formatCode, rule.dxf.font.color.rgb) for rule in rules if rule.dxf.numFmt] == [
        (";;;", "FFFFFFFF")
    ]


STYLE = read_template("style.toml")

# settings, caliper issued, copy code of the copy; the master is always made of another copy
COPIES = (
    (SETTINGS, "C2", "9ABC-2DEF"),
    (SETTINGS, "7", "ZZZZ-2222"),
    (settings_with(protocol_id="four-sites", tolerance_kind="percent", tolerance=10.0), "C2", "9ABC-2DEF"),
    (settings_with(protocol_id="seven-sites", under_18=True), "C2", "9ABC-2DEF"),
)


@pytest.mark.parametrize(("settings", "caliper_id", "copy_code"), COPIES)
def test_stamped_copy_equals_a_rendered_one_in_everything_a_reader_sees(
    settings: object, caliper_id: str, copy_code: str
) -> None:
    first, copy = sheet_of(settings), sheet_of(settings, caliper_id, copy_code)  # type: ignore[arg-type]
    data = stamped(master_of(first.layout, first.identity, STYLE, shipped_figures()), copy.identity)
    assert _seen(data) == _seen(copy.data)


def test_stamped_copy_equals_a_rendered_one_cell_by_cell_in_another_library() -> None:
    first, copy = sheet_of(), sheet_of(SETTINGS, "C2", "9ABC-2DEF")
    data = stamped(master_of(first.layout, first.identity, STYLE, shipped_figures()), copy.identity)
    for values_only in (False, True):
        ours, plain = (
            openpyxl.load_workbook(io.BytesIO(one), data_only=values_only) for one in (data, copy.data)
        )
        assert ours.sheetnames == plain.sheetnames
        for tab in plain.sheetnames:
            cells = [cell for row in plain[tab].iter_rows() for cell in row]
            assert [(cell.coordinate, cell.value, cell.style_id) for cell in cells] == [
                (cell.coordinate, ours[tab][cell.coordinate].value, ours[tab][cell.coordinate].style_id)
                for cell in cells
            ]


def test_stamped_copy_carries_the_images_and_the_chart_of_a_rendered_one() -> None:
    first, copy = sheet_of(), sheet_of(SETTINGS, "C2", "9ABC-2DEF")
    data = stamped(_master(first), copy.identity)
    with zipfile.ZipFile(io.BytesIO(data)) as ours, zipfile.ZipFile(io.BytesIO(copy.data)) as plain:
        names = [name for name in plain.namelist() if "drawing" in name or "media" in name or "chart" in name]
        # Drawings of three tabs with their relations, seven large pictures, seven small ones, six of the
        # steps of a fold, one chart.
        assert len(names) == 6 + 14 + 6 + 1
        assert [ours.read(name) for name in names] == [plain.read(name) for name in names]


def test_marks_in_the_dots_of_a_picture_are_left_alone() -> None:
    image = Image(0, 0, "arm", 40, 30, "An arm.")
    layout = Layout("Title", "Subject", "en", (Tab("one", "One", (), images=(image,)),))
    # A private chunk of the PNG format with a mark in it, before the end of the file.
    picture = shipped_figures()["triceps"]
    chunk = b"teXx\x7f\x7fcopy_code\x7f\x7f"
    whole = struct.pack(">L", len(chunk) - 4) + chunk + struct.pack(">L", zlib.crc32(chunk))
    marked = picture[:-12] + whole + picture[-12:]
    master = master_of(layout, Identity({"copy_code": "7K3F-9QXM"}), STYLE, {"arm": marked})
    with zipfile.ZipFile(io.BytesIO(stamped(master, Identity({"copy_code": "AAAA-2222"})))) as package:
        assert package.read("xl/media/image1.png") == marked


def test_stamped_gives_the_same_bytes_every_time() -> None:
    sheet = sheet_of()
    masters = [master_of(sheet.layout, sheet.identity, STYLE, shipped_figures()) for _ in range(2)]
    assert stamped(masters[0], sheet.identity) == stamped(masters[1], sheet.identity)


def test_stamped_escapes_what_xml_would_take_for_a_tag() -> None:
    data = stamped(_master(sheet_of()), _changed(sheet_of(), student_id="<S&1>"))
    assert "<S&1>" in [
        cell.value for row in openpyxl.load_workbook(io.BytesIO(data))["Calculator"] for cell in row
    ]


# value, what is wrong with it
WRONG = ((None, "a text in every copy, not None"), (7.0, "a text in every copy, not 7.0"))


@pytest.mark.parametrize(("value", "message"), WRONG)
def test_stamped_refuses_a_value_of_another_kind(value: float | None, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        stamped(_master(sheet_of()), _changed(sheet_of(), student_id=value))


def _master(sheet: Sheet):  # type: ignore[no-untyped-def]
    return master_of(sheet.layout, sheet.identity, STYLE, shipped_figures())


def _changed(sheet: Sheet, **values: str | float | None) -> Identity:
    return Identity({**sheet.identity.values, **values})


def _seen(data: bytes) -> object:
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    return snapshot(package)
