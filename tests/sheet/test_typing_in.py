"""The workbook into which paper forms are typed: a row a form and round, and what is read out of it."""

import io
import tomllib

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.finding import Refusal
from sheetgen.sheet.typing_in import TypedForm, class_code_typed_in, typed_forms, typing_in_layout
from sheetgen.texts.languages import texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Emphasis, Identity, Layout, Tab, Value
from sheetgen.workbook.packages import filled
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import Snapshot
from tests.sheet.test_paper import form_of
from tests.sheets import SETTINGS, settings_with

TEXTS = texts_in("en", "sheet", "paper")
FIRST, SECOND = "7K3F-9QXM", "8K3F-9QXM"
LIMBS = replace(SETTINGS, under_18=True)


def layout_of() -> Layout:
    """Two forms of all sites and one of somebody under 18."""
    forms = [
        (form_of(code=FIRST), "a1"),
        (form_of(caliper_id="C2", code=SECOND), "b2"),
        (form_of(LIMBS, code="9K3F-9QXM"), "c3"),
    ]
    return typing_in_layout(forms, "CLASS2", "en", TEXTS)


def file_of(layout: Layout) -> bytes:
    return rendered(layout, Identity({}), read_template("style.toml"))


def snapshot_of(data: bytes) -> Snapshot:
    package = read_package_bytes(data)
    assert not isinstance(package, Refusal)
    state = snapshot(package)
    assert not isinstance(state, Refusal)
    return state


def entries_of(tab: Tab) -> list[str]:
    return [cell.name for cell in tab.cells if cell.role == "entry"]


def test_sheets_of_other_sites_have_a_tab_of_their_own() -> None:
    first, second, register = layout_of().tabs
    assert (first.title, second.title, register.hidden) == ("Forms 1", "Forms 2", True)
    assert f"{FIRST} reading_1_chest" in entries_of(first)
    assert "9K3F-9QXM reading_1_chest" not in entries_of(second)
    assert "9K3F-9QXM reading_3_thigh" in entries_of(second)


def test_each_row_begins_with_the_codes_and_the_round() -> None:
    tab = layout_of().tabs[0]
    rows: dict[int, dict[int, Value]] = {}
    for cell in tab.cells:
        rows.setdefault(cell.row, {})[cell.column] = cell.value
    assert [[rows[row][column] for column in range(4)] for row in (5, 6, 7, 8)] == [
        [FIRST, "P-2A3B", "C1", 1],
        [FIRST, "P-2A3B", "C1", 2],
        [FIRST, "P-2A3B", "C1", 3],
        [SECOND, "P-2A3B", "C2", 1],
    ]
    assert tab.freeze == (5, 4)


def test_what_is_asked_for_once_is_open_in_the_first_row_alone_and_empty() -> None:
    tab = layout_of().tabs[0]
    ages = [cell for cell in tab.cells if cell.name.endswith("age_years")]
    assert [(cell.name, cell.value) for cell in ages] == [
        (f"{FIRST} age_years", None), (f"{SECOND} age_years", None)
    ]  # fmt: skip
    sources = [cell for cell in tab.cells if cell.name == f"{FIRST} data_source"]
    assert [(cell.row, cell.value, cell.rule and cell.rule.words) for cell in sources] == [
        (5, None, ("measured", "practice"))
    ]
    # In the rows of the other rounds, from the first column of these to the last, grey without a cell.
    assert tab.emphases == (Emphasis(5, 11, 10, 34, "=$D6>1", "not_open"),)
    assert {cell.column for cell in tab.cells if cell.row == 6} == {*range(11), *range(36, 41)}
    assert f"{FIRST} own_midpoint_thigh_cm" in entries_of(tab)
    assert f"{FIRST} not_taken_thigh" in entries_of(tab)


def test_a_reading_is_refused_by_the_scale_of_its_caliper_and_its_zero() -> None:
    tab = layout_of().tabs[0]
    rules = {cell.rule for cell in tab.cells if " reading_" in cell.name and cell.column == 4}
    (rule,) = (rule for rule in rules if rule is not None)
    assert rule.formula == (
        "=AND(ISNUMBER(E6),E6>$AO6,OR(AND(E6<=$AL6,ABS(E6/$AK6-ROUND(E6/$AK6,0))<0.001),"
        "AND(E6<=$AN6,ABS(E6/$AM6-ROUND(E6/$AM6,0))<0.001)))"
    )
    assert rule.title == "Chest"
    shown = {(cell.row, cell.column): cell.formula for cell in tab.cells if cell.role == "formula"}
    assert shown[5, 36] == ('=INDEX(Register!$B$1:$B$3,MATCH(IF($Q$6="","C1",$Q$6&""),Register!$A$1:$A$3,0))')
    assert shown[6, 36] == "=$AK$6"


def test_what_was_typed_comes_out_by_form_as_it_was_typed() -> None:
    layout = layout_of()
    typed: dict[str, Value] = {
        f"{FIRST} reading_1_chest": 12.5,
        f"{FIRST} reading_2_chest": "12,5 mm",
        f"{FIRST} age_years": 31,
        "9K3F-9QXM not_taken_thigh": "left-out",
    }
    state = snapshot_of(filled(file_of(layout), layout, typed))
    assert class_code_typed_in(state) == "CLASS2"
    assert typed_forms(state) == (
        TypedForm(FIRST, "a1", {"reading_1_chest": 12.5, "reading_2_chest": "12,5 mm", "age_years": 31.0}),
        TypedForm("9K3F-9QXM", "c3", {"not_taken_thigh": "left-out"}),
    )


def test_rows_that_were_moved_are_read_by_their_codes() -> None:
    layout = layout_of()
    data = filled(file_of(layout), layout, {f"{SECOND} reading_3_chest": 9.4, f"{SECOND} zero_mm": -0.2})
    book = openpyxl.load_workbook(io.BytesIO(data))
    book.worksheets[0].delete_rows(6, 3)
    stream = io.BytesIO()
    book.save(stream)
    (form,) = typed_forms(snapshot_of(stream.getvalue()))
    assert (form.copy_code, form.build) == (SECOND, "b2")
    assert form.entries == {"zero_mm": -0.2, "reading_3_chest": 9.4}


def test_a_workbook_as_it_was_made_holds_no_form_and_another_is_none() -> None:
    state = snapshot_of(file_of(layout_of()))
    assert (class_code_typed_in(state), typed_forms(state)) == ("CLASS2", ())
    other = Layout("t", "s", "en", (Tab("a", "A", ()),))
    assert class_code_typed_in(snapshot_of(file_of(other))) is None


def test_without_a_form_there_is_no_workbook() -> None:
    with pytest.raises(ValueError, match="no form to type in"):
        typing_in_layout([], "CLASS2", "en", TEXTS)


def test_a_register_too_long_for_a_list_leaves_the_caliper_to_be_typed() -> None:
    calipers = tuple(replace(SETTINGS.calipers[0], identifier=f"caliper number {at}") for at in range(30))
    form = form_of(settings_with(calipers=calipers), caliper_id="caliper number 3")
    tab = typing_in_layout([(form, "a1")], "CLASS2", "en", TEXTS).tabs[0]
    (cell,) = (cell for cell in tab.cells if cell.name.endswith(" caliper_id"))
    assert cell.rule is not None
    assert cell.rule.kind == "length"


def test_format_words_are_those_of_the_style() -> None:
    words = {cell.format for tab in layout_of().tabs for cell in tab.cells}
    assert words <= set(tomllib.loads(read_template("style.toml")))
