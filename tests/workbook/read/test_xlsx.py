import io
import zipfile
from datetime import date
from functools import lru_cache

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from sheetgen.commands.demo import sample_entries
from sheetgen.finding import Refusal, RefusedError
from sheetgen.protocols.recalculation import stored_results
from sheetgen.workbook.packages import filled
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.parts import RuledPlaces
from sheetgen.workbook.read.xlsx import BookContext, read_cells, snapshot
from sheetgen.workbook.snapshot import CellState, Snapshot
from tests.referee import comparable, referee_snapshot
from tests.sheets import CALIPERS, sheet_of
from tests.wording import refused

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"

_STRINGS = {"0": "chest", "1": ""}
# formats: 0 locked, 1 unlocked, 2 date, 3 unlocked date
_STYLES = {
    None: (True, False),
    "0": (True, False),
    "1": (False, False),
    "2": (True, True),
    "3": (False, True),
}
_NO_RULES = RuledPlaces({}, ())


def _parts(
    sheet: str = "<sheetData/>", workbook: str = "", main: str = _MAIN, office: str = _OFFICE
) -> dict[str, str]:
    """Return the parts of a workbook of one tab; every main element carries a prefix."""

    def relations(*triples: tuple[str, str, str]) -> str:
        inner = "".join(
            f'<Relationship Id="{key}" Type="{kind}" Target="{to}"/>' for key, kind, to in triples
        )
        return f"<Relationships>{inner}</Relationships>"

    tabs = '<sheets><sheet name="Tab" sheetId="1" r:id="r1"/></sheets>'
    return {
        "_rels/.rels": relations(("r1", f"{office}/officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{office}">{workbook or tabs}</workbook>',
        "xl/_rels/workbook.xml.rels": relations(
            ("r1", f"{office}/worksheet", "worksheets/sheet1.xml"),
            ("r2", f"{office}/chartsheet", "chartsheets/sheet1.xml"),
            ("r3", f"{office}/sharedStrings", "/xl/sharedStrings.xml"),
            ("r4", f"{office}/worksheet", "missing.xml"),
        ),
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{main}">{sheet}</worksheet>',
        "xl/sharedStrings.xml": f'<sst xmlns="{main}"><si><t>chest</t></si></sst>',
    }


def _snapshot(parts: dict[str, str]) -> Snapshot | Refusal:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return _snapshot_of(stream.getvalue())


def _snapshot_of(data: bytes) -> Snapshot | Refusal:
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    return snapshot(package)


def _read(parts: dict[str, str]) -> Snapshot:
    outcome = _snapshot(parts)
    assert isinstance(outcome, Snapshot)
    return outcome


def _protected_workbook() -> bytes:
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    workbook.set_properties({"title": "Sheet", "subject": "Folds", "created": date(2024, 1, 2)})
    workbook.set_custom_property("copy_code", "AB-12")
    entry = workbook.add_format({"locked": False, "num_format": "0.0"})
    day = workbook.add_format({"locked": False, "num_format": "yyyy-mm-dd"})
    readings = workbook.add_worksheet("Readings")
    readings.protect()
    readings.write(0, 0, "Chest  <&> \u00e9")
    readings.write(1, 0, 12.4, entry)
    readings.write_blank(2, 0, None, entry)
    readings.write(3, 0, 45000, day)
    readings.write_boolean(4, 0, True)
    readings.write_formula(5, 0, '=IF(A2="","",A2*2)', None, 24.8)
    readings.write_formula(6, 0, '=IF(A3="","",A3)', None, "")
    readings.write_formula(7, 0, "=1/0", None, "#DIV/0!")
    readings.write_array_formula(8, 0, 8, 0, "{=SUM(A2:A3*2)}", None, 24.8)
    readings.write_rich_string(9, 0, "one ", workbook.add_format({"bold": True}), "two", " three")
    readings.data_validation(
        1, 0, 2, 0, {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 60}
    )
    readings.data_validation(0, 3, 1048575, 3, {"validate": "list", "source": ["yes", "no"]})
    readings.write(7, 3, "yes", entry)
    about = workbook.add_worksheet("About & more")
    about.hide()
    about.write(0, 0, "text")
    workbook.add_worksheet("calculator").very_hidden()
    workbook.define_name("reading_1_chest", "=Readings!$A$2")
    workbook.define_name("Readings!local", "=Readings!$A$3")
    workbook.close()
    return stream.getvalue()


def test_snapshot_protected_workbook_all_fields() -> None:
    outcome = _snapshot_of(_protected_workbook())
    assert isinstance(outcome, Snapshot)
    readings, about, calculator = outcome.tabs
    assert readings.cells == {
        (0, 0): CellState("Chest  <&> \u00e9"),
        (1, 0): CellState(12.4, locked=False, has_rule=True),
        (2, 0): CellState(None, locked=False, has_rule=True),
        (3, 0): CellState(45000.0, locked=False, is_date=True),
        (4, 0): CellState(True),
        (5, 0): CellState(24.8, '=IF(A2="","",A2*2)'),
        # Stored without a type: a result still to be calculated.
        (6, 0): CellState(None, '=IF(A3="","",A3)'),
        (7, 0): CellState("#DIV/0!", "=1/0", is_error=True),
        (7, 3): CellState("yes", locked=False, has_rule=True),
        (8, 0): CellState(24.8, "=SUM(A2:A3*2)"),
        (9, 0): CellState("one two three"),
    }
    assert [(tab.title, tab.visibility, tab.protected) for tab in outcome.tabs] == [
        ("Readings", "visible", True),
        ("About & more", "hidden", False),
        ("calculator", "veryHidden", False),
    ]
    assert about.cells == {(0, 0): CellState("text")}
    assert calculator.cells == {}
    assert outcome.names == {"reading_1_chest": "Readings!$A$2"}
    assert outcome.properties["copy_code"] == "AB-12"
    assert outcome.properties["title"] == "Sheet"
    assert not outcome.structure_protected


def _by_openpyxl(data: bytes) -> dict[str, dict[tuple[int, int], tuple[object, str, bool]]]:
    """Return value, formula and lock of every cell that holds something or is unlocked."""
    formulas = openpyxl.load_workbook(io.BytesIO(data))
    values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    tabs: dict[str, dict[tuple[int, int], tuple[object, str, bool]]] = {}
    for sheet in formulas.worksheets:
        cells = tabs.setdefault(sheet.title, {})
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            text = getattr(cell.value, "text", cell.value)
            formula = text if isinstance(text, str) and cell.data_type == "f" else ""
            value = values[sheet.title][cell.coordinate].value
            if cell.is_date and value is not None:
                value = openpyxl.utils.datetime.to_excel(value)
            if value is not None or formula or not cell.protection.locked:
                cells[cell.row - 1, cell.column - 1] = value, formula, cell.protection.locked
    return tabs


def _by_us(data: bytes) -> dict[str, dict[tuple[int, int], tuple[object, str, bool]]]:
    outcome = _snapshot_of(data)
    assert isinstance(outcome, Snapshot)
    return {
        tab.title: {
            place: (state.value, state.formula, state.locked)
            for place, state in tab.cells.items()
            if state.value is not None or state.formula or not state.locked
        }
        for tab in outcome.tabs
    }


def test_snapshot_agrees_with_openpyxl_on_an_xlsxwriter_file() -> None:
    data = _protected_workbook()
    assert _by_us(data) == _by_openpyxl(data)


def test_snapshot_agrees_with_openpyxl_on_its_own_file() -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.append(["site", 1, 2.5, True, "=B1*2", date(2024, 5, 6)])
    sheet["B9"] = 'line\nbreak "quoted"'
    sheet["C9"].protection = openpyxl.styles.Protection(locked=False)
    sheet.protection.enable()
    workbook.security = openpyxl.workbook.protection.WorkbookProtection(lockStructure=True)
    rule = openpyxl.worksheet.datavalidation.DataValidation(type="whole", sqref="C9:C10")
    sheet.add_data_validation(rule)
    stream = io.BytesIO()
    workbook.save(stream)
    outcome = _snapshot_of(stream.getvalue())
    assert isinstance(outcome, Snapshot)
    assert _by_us(stream.getvalue()) == _by_openpyxl(stream.getvalue())
    assert outcome.structure_protected
    assert outcome.tabs[0].protected
    assert outcome.tabs[0].cells[8, 2] == CellState(locked=False, has_rule=True)
    assert outcome.tabs[0].cells[9, 2] == CellState(has_rule=True)
    assert outcome.tabs[0].cells[0, 5] == CellState(45418.0, is_date=True)


@pytest.mark.parametrize(("main", "office"), [(_MAIN, _OFFICE), (_STRICT, _STRICT_OFFICE)])
def test_snapshot_both_namespaces(main: str, office: str) -> None:
    sheet = (
        '<sheetProtection sheet="1"/><sheetData><row><c t="s"><v>0</v></c></row></sheetData>'
        '<dataValidations><dataValidation type="list" sqref="A1"/></dataValidations>'
    )
    tab = _read(_parts(sheet, main=main, office=office)).tabs[0]
    assert tab.cells == {(0, 0): CellState("chest", has_rule=True)}
    assert tab.protected


def test_snapshot_prefixed_elements() -> None:
    parts = _parts()
    parts["xl/worksheets/sheet1.xml"] = (
        f'<q:worksheet xmlns:q="{_MAIN}"><q:sheetData><q:row><q:c><q:f>1+1</q:f><q:v>2</q:v></q:c></q:row>'
        "</q:sheetData></q:worksheet>"
    )
    assert _read(parts).tabs[0].cells == {(0, 0): CellState(2.0, "=1+1")}


def test_snapshot_utf_16_parts() -> None:
    parts = _parts()
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, text in parts.items():
            archive.writestr(name, ('<?xml version="1.0" encoding="UTF-16"?>' + text).encode("utf-16"))
    assert isinstance(_snapshot_of(stream.getvalue()), Snapshot)


def test_snapshot_part_names_in_other_letters() -> None:
    parts = {"/" + name.upper().replace("/", "\\"): text for name, text in _parts().items()}
    assert [tab.title for tab in _read(parts).tabs] == ["Tab"]


def test_snapshot_without_package_relations_takes_the_usual_place() -> None:
    parts = _parts()
    del parts["_rels/.rels"]
    assert [tab.title for tab in _read(parts).tabs] == ["Tab"]


def test_snapshot_dates_of_1904() -> None:
    tabs = '<workbookPr date1904="true"/><sheets><sheet name="Tab" r:id="r1"/></sheets>'
    parts = _parts("<sheetData><row><c s='0'><v>43538</v></c></row></sheetData>", tabs)
    parts["xl/styles.xml"] = (
        f'<styleSheet xmlns="{_MAIN}"><cellXfs><xf numFmtId="14"/></cellXfs></styleSheet>'
    )
    assert _read(parts).tabs[0].cells == {(0, 0): CellState(45000.0, is_date=True)}


def test_snapshot_chart_tab_holds_no_cells() -> None:
    tabs = '<sheets><sheet name="Tab" r:id="r1"/><sheet name="Chart" state="hidden" r:id="r2"/></sheets>'
    chart = _read(_parts(workbook=tabs)).tabs[1]
    assert (chart.title, chart.cells, chart.visibility) == ("Chart", {}, "hidden")


def test_snapshot_cells_beyond_the_bounds_are_left_out() -> None:
    sheet = "<sheetData><row r='9000'><c r='A9000'><v>1</v></c></row></sheetData>"
    assert _read(_parts(sheet)).tabs[0].cells == {}


# what is changed in the parts, code
_REFUSED: list[tuple[dict[str, str], str]] = [
    ({"xl/workbook.xml": "<workbook"}, "file-unreadable"),
    ({"xl/workbook.xml": "<other/>"}, "file-unreadable"),
    ({"xl/workbook.xml": f'<workbook xmlns="{_MAIN}"/>'}, "file-unreadable"),
    ({"xl/_rels/workbook.xml.rels": "<Relationships/>"}, "file-unreadable"),
    ({"xl/worksheets/sheet1.xml": "<worksheet/>"}, "file-unreadable"),
    ({"xl/worksheets/sheet1.xml": f'<worksheet xmlns="{_MAIN}"><sheetData></worksheet>'}, "file-unreadable"),
    ({"xl/sharedStrings.xml": ""}, "file-unreadable"),
    (_parts("<sheetData><row><c t='s'><v>1</v></c></row></sheetData>"), "file-unreadable"),
    (_parts(workbook='<sheets><sheet name="A" r:id="r4"/></sheets>'), "file-unreadable"),
    (
        _parts(workbook='<sheets><sheet name="A" r:id="r1"/><sheet name="B" r:id="r1"/></sheets>'),
        "file-unreadable",
    ),
    (_parts("<sheetData>" + ("<row>" + "<c/>" * 400 + "</row>") * 501 + "</sheetData>"), "file-too-large"),
]


@pytest.mark.parametrize(("changes", "code"), _REFUSED)
def test_snapshot_refused(changes: dict[str, str], code: str) -> None:
    outcome = _snapshot(_parts() | changes)
    assert isinstance(outcome, Refusal)
    assert outcome.code == code


_TAB = "xl/worksheets/sheet1.xml"


def _with_rows(many: int, row: str = "<row/>", encoding: str = "utf-8") -> Snapshot | Refusal:
    """One tab of so many rows; not by way of a zip, where so much of the same is refused before."""
    prefix = ":" + row[1:].partition(":")[0] if ":" in row else ""
    name = f"{prefix[1:]}:" if prefix else ""
    inner = f"<{name}sheetData>{row * many}</{name}sheetData>"
    sheet = f'<{name}worksheet xmlns{prefix}="{_MAIN}">{inner}</{name}worksheet>'
    if encoding != "utf-8":
        sheet = f'<?xml version="1.0" encoding="{encoding}"?>{sheet}'
    parts = {part: content.encode() for part, content in _parts().items()}
    return snapshot(Package({**parts, _TAB: sheet.encode(encoding)}, ""))


# one row, text encoding
ROWS = (
    ("<row/>", "utf-8"),
    ("<row r='9'></row>", "utf-8"),
    ("<row\n/>", "utf-8"),
    ("<other:row/>", "utf-8"),
    ("<row/>", "utf-16"),
)


@pytest.mark.parametrize(("row", "encoding"), ROWS)
def test_snapshot_of_far_too_many_rows_refused(row: str, encoding: str) -> None:
    """Rows without a cell: 400,000 of them would take 280 MB."""
    outcome = _with_rows(60_001, row, encoding)
    assert isinstance(outcome, Refusal)
    assert (outcome.code, refused(outcome).found) == ("file-too-large", "too many rows")


@pytest.mark.parametrize(("row", "encoding"), ROWS)
def test_snapshot_of_many_empty_rows_is_read(row: str, encoding: str) -> None:
    """Some programs write a row for each that was ever formatted."""
    outcome = _with_rows(50_000, row, encoding)
    assert isinstance(outcome, Snapshot)
    assert outcome.tabs[0].cells == {}


def test_snapshot_without_workbook_part_refused() -> None:
    outcome = snapshot(Package({}, ""))
    assert isinstance(outcome, Refusal)
    assert refused(outcome).found == "a package without its workbook part"


@settings(max_examples=60)
@given(st.data())
def test_snapshot_never_raises_on_changed_parts(data: st.DataObject) -> None:
    package = read_package_bytes(_protected_workbook())
    assert isinstance(package, Package)
    name = data.draw(st.sampled_from(sorted(package.parts)))
    changed = bytearray(package.parts[name])
    for _ in range(data.draw(st.integers(1, 6))):
        changed[data.draw(st.integers(0, len(changed) - 1))] = data.draw(st.sampled_from(b'"0919<>/ AZaz=:!'))
    outcome = snapshot(Package({**package.parts, name: bytes(changed)}, ""))
    assert isinstance(outcome, (Snapshot, Refusal))


def _cells(
    rows: str, rules: RuledPlaces = _NO_RULES, starts_1904: bool = False
) -> dict[tuple[int, int], CellState]:
    root = etree.fromstring(f'<sheetData xmlns="{_MAIN}">{rows}</sheetData>')
    return read_cells(root, f"{{{_MAIN}}}", BookContext(_STRINGS, _STYLES, starts_1904), rules)


def _cells_refused(rows: str) -> Refusal:
    with pytest.raises(RefusedError) as caught:
        _cells(rows)
    return caught.value.refusal


# the cell's XML, what is read
_ONE_CELL = [
    ("<c r='A1'><v>12.4</v></c>", CellState(12.4)),
    ("<c r='A1' t='n'><v> 5 </v></c>", CellState(5.0)),
    ("<c r='A1'><v>1e999</v></c>", CellState("1e999")),
    ("<c r='A1'><v>nan</v></c>", CellState("nan")),
    ("<c r='A1'><v>1_0</v></c>", CellState("1_0")),
    ("<c r='A1'><v>12,4</v></c>", CellState("12,4")),
    ("<c r='A1' t='s'><v>0</v></c>", CellState("chest")),
    ("<c r='A1' t='s'><v> 01 </v></c>", CellState("")),
    ("<c r='A1' t='s'><v/></c>", CellState(None)),
    ("<c r='A1' t='str'><v>a_x0009_b</v></c>", CellState("a\tb")),
    ("<c r='A1' t='str'><f>A2</f><v></v></c>", CellState("", "=A2")),
    ("<c r='A1'><f>A2&amp;\"&lt;\"</f></c>", CellState(None, '=A2&"<"')),
    ("<c r='A1'><f/><v>1</v></c>", CellState(1.0)),
    ("<c r='A1'><f>A2</f><v></v></c>", CellState(None, "=A2")),
    ("<c r='A1' s='1'><v></v></c>", CellState(None, locked=False)),
    ("<c r='A1' t='inlineStr'><is><t>in</t></is></c>", CellState("in")),
    ("<c r='A1' t='inlineStr'><is><r><t>in</t></r><r><t>line</t></r></is></c>", CellState("inline")),
    ("<c r='A1' t='b'><v>1</v></c>", CellState(True)),
    ("<c r='A1' t='b'><v>0</v></c>", CellState(False)),
    ("<c r='A1' t='e'><f>#REF!+1</f><v>#REF!</v></c>", CellState("#REF!", "=#REF!+1", is_error=True)),
    ("<c r='A1' s='2'><v>45000</v></c>", CellState(45000.0, is_date=True)),
    ("<c r='A1' s='2' t='s'><v>0</v></c>", CellState("chest")),
    ("<c r='A1' s='2'><v>12,4</v></c>", CellState("12,4")),
    ("<c r='A1' s='3'/>", CellState(None, locked=False)),
    ("<c r='A1' s='99'><v>1</v></c>", CellState(1.0)),
    ("<c r='A1' t='d'><v>2023-03-15</v></c>", CellState(45000.0, is_date=True)),
    ("<c r='A1' t='d'><v>2023-03-15T12:00:00Z</v></c>", CellState(45000.5, is_date=True)),
    ("<c r='A1' t='d'><v>T06:00:00</v></c>", CellState(0.25, is_date=True)),
    ("<c r='A1' t='d'><v>12 April</v></c>", CellState("12 April")),
    (
        "<c r='A1'><f t='array' ref='A1:A2'>SUM(B1:B2*C1:C2)</f><v>3</v></c>",
        CellState(3.0, "=SUM(B1:B2*C1:C2)"),
    ),
    ("<c r='A1'><f t='dataTable' ref='A1:A2' r1='B1'/><v>3</v></c>", CellState(3.0, "=TABLE(B1,)")),
]


@pytest.mark.parametrize(("cell", "expected"), _ONE_CELL)
def test_read_cells_one_cell_of_each_kind(cell: str, expected: CellState) -> None:
    cells = _cells(f"<row r='1'>{cell}</row>")
    assert cells == {(0, 0): expected}
    assert type(cells[0, 0].value) is type(expected.value)


def test_read_cells_kinds_of_equal_value_stay_apart() -> None:
    """1 and TRUE are equal to Python but not to a person who typed them."""
    cells = _cells("<row><c><v>1</v></c><c t='b'><v>1</v></c><c><v>0</v></c><c t='b'><v>0</v></c></row>")
    assert [type(state.value) for state in cells.values()] == [float, bool, float, bool]


def test_read_cells_empty_locked_cells_left_out() -> None:
    assert _cells("<row r='1'><c r='A1'/><c r='B1' s='2'/></row>") == {}


def test_read_cells_without_references() -> None:
    rows = (
        "<row><c><v>1</v></c><c><v>2</v></c></row><row r='5'><c><v>3</v></c></row>"
        "<row><c r='D6'><v>4</v></c><c><v>5</v></c><extLst/></row>"
    )
    values = {place: state.value for place, state in _cells(rows).items()}
    assert values == {(0, 0): 1.0, (0, 1): 2.0, (4, 0): 3.0, (5, 3): 4.0, (5, 4): 5.0}


def test_read_cells_addresses_beyond_the_bounds_left_out() -> None:
    rows = (
        "<row r='1'><c r='IV1'><v>1</v></c><c r='IW1'><v>2</v></c><c r='XFD1'><v>3</v></c></row>"
        "<row r='5000'><c r='A5000'><v>4</v></c></row><row r='5001'><c r='A5001'><v>5</v></c></row>"
        "<row r='4294967295'><c r='A4294967295'><v>6</v></c></row>"
    )
    assert sorted(_cells(rows)) == [(0, 255), (4999, 0)]


def test_read_cells_with_rules() -> None:
    rules = RuledPlaces(dict.fromkeys(((0, 0), (0, 1), (9, 9))), (((0, 2, 4999, 2), None),))
    cells = _cells("<row><c><v>1</v></c><c/><c/><c s='1'/><c/></row>", rules)
    assert cells == {
        (0, 0): CellState(1.0, has_rule=True),
        (0, 1): CellState(has_rule=True),
        (0, 2): CellState(has_rule=True),
        (0, 3): CellState(locked=False),
        (9, 9): CellState(has_rule=True),
    }


def test_read_cells_shared_formula_translated_for_each_dependant() -> None:
    rows = (
        "<row r='1'><c r='C1'><f t='shared' ref='C1:D2' si='0'>A1+$B$1&amp;\"A1\"</f><v>1</v></c>"
        "<c r='D1'><f t='shared' si='0'/><v>2</v></c></row>"
        "<row r='2'><c r='C2'><f t='shared' si='0'>ignored</f></c><c r='D2'><f t='shared' si='0'/></c></row>"
        "<row r='3'><c r='C3'><f t='shared' ref='C3' si='0'>B9</f></c></row>"
        "<row r='4'><c r='C4'><f t='shared' si='0'/></c></row>"
    )
    formulas = {place: state.formula for place, state in _cells(rows).items()}
    assert formulas == {
        (0, 2): '=A1+$B$1&"A1"',
        (0, 3): '=B1+$B$1&"A1"',
        (1, 2): '=A2+$B$1&"A1"',
        (1, 3): '=B2+$B$1&"A1"',
        (2, 2): "=B9",
        (3, 2): "=B10",
    }


def test_read_cells_shared_formula_whose_master_is_left_out() -> None:
    master = "<c r='A6000'><f t='shared' ref='A1' si='0'>B6000</f></c>"
    rows = f"<row>{master}<c r='A1'><f t='shared' si='0'/></c></row>"
    assert _cells(rows)[0, 0].formula == "=B1"


def test_read_cells_dates_of_1904_counted_from_1900() -> None:
    rows = "<row><c s='2'><v>43538</v></c><c s='2'><v>0.5</v></c><c><v>43538</v></c></row>"
    cells = _cells(rows, starts_1904=True)
    assert [state.value for state in cells.values()] == [45000.0, 0.5, 43538.0]


# rows, code
_REFUSED_OF_SNAPSHOT_XLSX_CELLS = [
    ("<row><c t='s'><v>2</v></c></row>", "file-unreadable"),
    ("<row><c t='s'><v>-1</v></c></row>", "file-unreadable"),
    ("<row><c t='s'><v>x</v></c></row>", "file-unreadable"),
    ("<row r='0'/>", "file-unreadable"),
    ("<row r='x'/>", "file-unreadable"),
    (f"<row r='{'9' * 5000}'/>", "file-unreadable"),
    ("<row><c r='A0'/></row>", "file-unreadable"),
    ("<row><c r='AAAA1'/></row>", "file-unreadable"),
    ("<row><c r=''/></row>", "file-unreadable"),
    ("<row><c><f t='shared' si='3'/></c></row>", "file-unreadable"),
    (
        f"<row><c><f t='shared' ref='A1' si='0'>{'A1+' * 3000}A1</f></c><c><f t='shared' si='0'/></c></row>",
        "file-too-large",
    ),
    (
        f"<row><c><f t='shared' ref='A1' si='0'>{'1+' * 4000}1</f></c>"
        + "<c><f t='shared' si='0'/></c>" * 130
        + "</row>",
        "file-too-large",
    ),
]


@pytest.mark.parametrize(("rows", "code"), _REFUSED_OF_SNAPSHOT_XLSX_CELLS)
def test_read_cells_refused(rows: str, code: str) -> None:
    assert _cells_refused(rows).code == code


@lru_cache(maxsize=4)
def _filled(seed: str) -> bytes:
    sheet = sheet_of()
    protocol, rules = sheet.source.protocol, sheet.source.settings
    entries = {**sample_entries(protocol, rules, CALIPERS[0], seed), "caliper_id": "C1", "side": "right"}
    return filled(sheet.data, sheet.layout, entries, stored_results(protocol, rules, entries))


def _saved_by_openpyxl(seed: str) -> bytes:
    stream = io.BytesIO()
    openpyxl.load_workbook(io.BytesIO(_filled(seed))).save(stream)
    return stream.getvalue()


_FILES = {
    "handed out": lambda: sheet_of().data,
    "filled": lambda: _filled("A"),
    "filled by another": lambda: _filled("B"),
    "saved by openpyxl": lambda: _saved_by_openpyxl("A"),
}


@pytest.mark.parametrize("name", sorted(_FILES))
def test_every_kind_of_file_is_read_as_by_the_referee(name: str) -> None:
    data = _FILES[name]()
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    read = snapshot(package)
    assert isinstance(read, Snapshot)
    assert comparable(read) == comparable(referee_snapshot(data))
