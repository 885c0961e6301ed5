import pytest

from sheetgen.checking.entries import entries_of, is_number_entry
from sheetgen.checking.tab_match import matched_tabs
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Value
from sheetgen.model.snapshot import CellState
from tests.checking.given import untouched, with_cell
from tests.sheets import sheet_of

LAYOUT = sheet_of().layout
PLACES = LAYOUT.places()
TABS = matched_tabs(LAYOUT, untouched())


def _read(name: str, **changes: object) -> tuple[dict[str, Value], dict[str, Value], tuple[Finding, ...]]:
    """(seen, meant, findings) of a sheet in which one entry cell is not as it was handed out."""
    key, row, column = PLACES[name]
    read = entries_of(LAYOUT, {**TABS, key: with_cell(TABS[key], row, column, **changes)})
    return dict(read.seen), dict(read.meant), read.findings


def test_entries_of_an_untouched_sheet_are_those_handed_out() -> None:
    read = entries_of(LAYOUT, TABS)
    assert read.seen == read.meant == {"caliper_id": "C1", "data_source": "measured", "side": "right"}
    assert read.findings == ()


# what stands in the cell of a reading, as seen, as meant, code of the finding
NUMBERS: tuple[tuple[CellState, Value, Value, str], ...] = (
    (CellState(12.5), 12.5, 12.5, ""),
    (CellState("12.5"), None, 12.5, "entry-number-as-text"),
    (CellState("12,5"), None, 12.5, "entry-number-as-text"),
    (CellState(" 12.5 mm"), None, 12.5, "entry-number-as-text"),
    (CellState("12.5\u00a0mm"), None, 12.5, "entry-number-as-text"),
    (CellState("+12"), None, 12.0, "entry-number-as-text"),
    (CellState("-0.5"), None, -0.5, "entry-number-as-text"),
    (CellState("\u22120,5"), None, -0.5, "entry-number-as-text"),
    (CellState("abc"), None, None, "entry-not-a-number"),
    (CellState("12.5.1"), None, None, "entry-not-a-number"),
    (CellState("1 2"), None, None, "entry-not-a-number"),
    (CellState("1234567"), None, None, "entry-not-a-number"),
    (CellState("12 inches"), None, None, "entry-not-a-number"),
    (CellState(True), None, None, "entry-not-a-number"),
    (CellState("#REF!", is_error=True), None, None, "entry-not-a-number"),
    (CellState(45_000.0, is_date=True), 45_000.0, None, "entry-date"),
    (CellState(12.5, formula="=5+7.5"), 12.5, 12.5, "entry-formula"),
)


@pytest.mark.parametrize(("state", "seen", "meant", "code"), NUMBERS)
def test_number_entry(state: CellState, seen: Value, meant: Value, code: str) -> None:
    got_seen, got_meant, findings = _read(
        "reading_1_chest",
        value=state.value,
        formula=state.formula,
        is_error=state.is_error,
        is_date=state.is_date,
    )
    assert (got_seen["reading_1_chest"], got_meant["reading_1_chest"]) == (seen, meant)
    assert [(finding.code, finding.tab, finding.cell) for finding in findings] == (
        [(code, "Readings", "B8")] if code else []
    )


# what stands in the cell of a word, as seen, as meant, code of the finding
TEXTS: tuple[tuple[CellState, Value, Value, str], ...] = (
    (CellState("male"), "male", "male", ""),
    (CellState(" male\u00a0"), " male\u00a0", "male", ""),
    (CellState(7.0), 7.0, 7.0, ""),
    (CellState(False), None, None, "entry-not-a-text"),
    (CellState("#N/A", is_error=True), None, None, "entry-not-a-text"),
    (CellState("male", formula='="male"'), "male", "male", "entry-formula"),
)


@pytest.mark.parametrize(("state", "seen", "meant", "code"), TEXTS)
def test_text_entry(state: CellState, seen: Value, meant: Value, code: str) -> None:
    got_seen, got_meant, findings = _read(
        "sex_equation", value=state.value, formula=state.formula, is_error=state.is_error
    )
    assert (got_seen["sex_equation"], got_meant["sex_equation"]) == (seen, meant)
    assert [finding.code for finding in findings] == ([code] if code else [])


@pytest.mark.parametrize("blank", [None, "", "  "])
def test_entry_with_nothing_in_it_is_absent(blank: Value) -> None:
    seen, meant, findings = _read("reading_1_chest", value=blank)
    assert "reading_1_chest" not in seen
    assert "reading_1_chest" not in meant
    assert findings == ()


def test_formula_without_a_stored_result_gives_no_value() -> None:
    seen, meant, findings = _read("reading_1_chest", value=None, formula="=5+7.5")
    assert (seen["reading_1_chest"], meant["reading_1_chest"]) == (None, None)
    assert [(finding.code, finding.found) for finding in findings] == [("entry-formula", "'=5+7.5'")]


def test_formula_that_gives_a_text_has_both_findings() -> None:
    _, meant, findings = _read("reading_1_chest", value="12,5", formula='="12,5"')
    assert meant["reading_1_chest"] == 12.5
    assert [finding.code for finding in findings] == ["entry-formula", "entry-number-as-text"]


def test_entries_of_a_tab_that_is_missing_are_empty() -> None:
    read = entries_of(LAYOUT, {"readings": TABS["readings"]})
    assert read.seen == {}


def test_finding_says_what_was_found_and_expected() -> None:
    (finding,) = _read("zero_mm", value="none")[2]
    assert finding == Finding("entry-not-a-number", "", "'none'", "a number for zero_mm", "", "Start", "B15")


def test_number_entries_are_told_by_their_format() -> None:
    kinds = {
        cell.name: is_number_entry(cell) for tab in LAYOUT.tabs for cell in tab.cells if cell.role == "entry"
    }
    assert (kinds["age_years"], kinds["reading_3_thigh"], kinds["own_sum_mm"]) == (True, True, True)
    assert (kinds["caliper_id"], kinds["not_taken_thigh"], kinds["answer_zero"]) == (False, False, False)
