import io
import zipfile
from datetime import date

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetgen.model.snapshot import CellState, Snapshot
from sheetgen.workbook.package import Package, Refusal, read_package_bytes
from sheetgen.workbook.snapshot_xlsx import snapshot
from tests.wording import refused

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"


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
