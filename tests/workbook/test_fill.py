import io

import pytest
from openpyxl import load_workbook

from sheetgen.layout.address import absolute
from sheetgen.model.layout import Value
from sheetgen.workbook.fill import filled
from tests.sheets import sheet_of

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
