import io
import zipfile

import pytest
from openpyxl import load_workbook

from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled, packed, with_language, with_parts_changed
from tests.sheets import settings_with, sheet_of

PROPERTIES = "docProps/core.xml"


def _package() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as package:
        package.writestr(zipfile.ZipInfo("b.xml", (2024, 5, 6, 7, 8, 10)), b"<b/>")
        package.writestr("a.xml", b"<a/>")
    return stream.getvalue()


def _parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def test_one_part_changed_and_the_others_kept_in_order() -> None:
    changed = _parts(with_parts_changed(_package(), {"b.xml": lambda part: part.replace(b"b", b"c")}))
    assert list(changed.items()) == [("b.xml", b"<c/>"), ("a.xml", b"<a/>")]


def test_several_parts_changed() -> None:
    changed = _parts(with_parts_changed(_package(), {"a.xml": bytes.upper, "b.xml": bytes.upper}))
    assert changed == {"b.xml": b"<B/>", "a.xml": b"<A/>"}


def test_dates_are_fixed_and_parts_packed() -> None:
    data = with_parts_changed(_package(), {})
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {entry.compress_type for entry in package.infolist()} == {zipfile.ZIP_DEFLATED}
        assert {entry.create_system for entry in package.infolist()} == {3}


def test_same_package_gives_the_same_bytes() -> None:
    assert with_parts_changed(_package(), {}) == with_parts_changed(_package(), {})


def test_part_that_is_not_in_the_package() -> None:
    with pytest.raises(KeyError, match=r"c\.xml"):
        with_parts_changed(_package(), {"c.xml": bytes.upper})


def test_parts_behind_those_of_another_package() -> None:
    """What all copies share is packed once, and every copy is the same package as one packed anew."""
    shared = packed({"a.xml": b"<a/>", "b.xml": b"<b/>"})
    behind = packed({"c.xml": b"<c/>"}, first=shared)
    assert list(_parts(behind).items()) == [("a.xml", b"<a/>"), ("b.xml", b"<b/>"), ("c.xml", b"<c/>")]
    assert behind == packed({"a.xml": b"<a/>", "b.xml": b"<b/>", "c.xml": b"<c/>"})


def test_language_stands_among_the_properties_of_the_document() -> None:
    properties = b"<cp:coreProperties><dc:title>A</dc:title></cp:coreProperties>"
    assert with_language({PROPERTIES: properties}, "es")[PROPERTIES] == (
        b"<cp:coreProperties><dc:title>A</dc:title><dc:language>es</dc:language></cp:coreProperties>"
    )


def test_charts_say_the_language_too() -> None:
    chart = "xl/charts/chart1.xml"
    parts = {PROPERTIES: b"", chart: b'<c:chartSpace><c:lang val="en-US"/></c:chartSpace>'}
    assert with_language(parts, "es")[chart] == b'<c:chartSpace><c:lang val="es"/></c:chartSpace>'


def test_chart_of_a_spanish_sheet_is_in_spanish() -> None:
    sheet = sheet_of(settings_with(language="es"))
    charts = [part for name, part in _parts(sheet.data).items() if name.startswith("xl/charts/chart")]
    assert len(charts) == 1
    assert b'<c:lang val="es"/>' in charts[0]


def test_language_of_a_package_without_properties() -> None:
    with pytest.raises(KeyError, match=r"docProps/core\.xml"):
        with_language({"a.xml": b"<a/>"}, "es")


SHEET = sheet_of()
PLACES = SHEET.layout.places()


def _value(data: bytes, name: str, values: bool = True) -> object:
    key, row, column = PLACES[name]
    book = load_workbook(io.BytesIO(data), data_only=values)
    return book[SHEET.layout.tab(key).title][absolute(row, column).replace("$", "")].value


# entry, what is typed
ENTRIES: tuple[tuple[str, Value], ...] = (
    ("reading_1_chest", 12.5),
    ("reading_1_chest", 12),
    ("reading_1_chest", 2.675),
    ("reading_1_chest", "12,5"),
    ("reading_1_chest", " 12 "),
    ("sex_equation", "female"),
    ("answer_zero", 'Less than <3 & "more"'),
    ("caliper_id", None),
)


@pytest.mark.parametrize(("name", "value"), ENTRIES)
def test_entry_typed(name: str, value: Value) -> None:
    assert _value(filled(SHEET.data, SHEET.layout, {name: value}), name) == value


def test_other_entries_stay() -> None:
    data = filled(SHEET.data, SHEET.layout, {"reading_1_chest": 12.5})
    assert (_value(data, "side"), _value(data, "caliper_id"), _value(data, "reading_2_chest")) == (
        "right",
        "C1",
        None,
    )


def test_results_that_were_worked_out_are_stored_and_the_others_go() -> None:
    data = filled(SHEET.data, SHEET.layout, {}, {"sum_mm": 118.5, "ready": "no", "third_chest": ""})
    assert (_value(data, "sum_mm"), _value(data, "ready"), _value(data, "third_chest")) == (118.5, "no", None)
    assert _value(data, "again_chest") is None


def test_without_results_nothing_is_stored() -> None:
    data = filled(SHEET.data, SHEET.layout, {"reading_1_chest": 12.5})
    book = load_workbook(io.BytesIO(data), data_only=True)
    stored = [
        (tab.key, cell.name)
        for tab in SHEET.layout.tabs
        for cell in tab.cells
        if cell.role == "formula" and book[tab.title].cell(cell.row + 1, cell.column + 1).value is not None
    ]
    assert stored == []


def test_formulas_rules_and_protection_stay() -> None:
    data = filled(SHEET.data, SHEET.layout, {"reading_1_chest": 12.5}, {"sum_mm": 118.5})
    before, after = load_workbook(io.BytesIO(SHEET.data)), load_workbook(io.BytesIO(data))
    assert _value(data, "sum_mm", values=False) == _value(SHEET.data, "sum_mm", values=False)
    for one, two in zip(before.worksheets, after.worksheets, strict=True):
        assert len(one.data_validations.dataValidation) == len(two.data_validations.dataValidation)
        assert two.protection.sheet is True
    assert after.security.lockStructure is True


def test_same_entries_give_the_same_bytes() -> None:
    entries: dict[str, Value] = {"reading_1_chest": 12.5, "sex_equation": "male"}
    assert filled(SHEET.data, SHEET.layout, entries) == filled(SHEET.data, SHEET.layout, entries)


def test_name_without_a_place() -> None:
    with pytest.raises(KeyError, match="shoe_size"):
        filled(SHEET.data, SHEET.layout, {"shoe_size": 42})
