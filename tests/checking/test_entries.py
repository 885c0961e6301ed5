import pytest

from sheetgen.checking.entries import entries_of, is_number_entry
from sheetgen.checking.identity import matched_tabs
from sheetgen.model.finding import Worded
from sheetgen.model.layout import Value
from sheetgen.model.snapshot import CellState
from tests.checking.given import untouched, with_cell
from tests.sheets import sheet_of
from tests.wording import said

LAYOUT = sheet_of().layout
PLACES = LAYOUT.places()
TABS = matched_tabs(LAYOUT, untouched())


def _read(name: str, **changes: object) -> tuple[dict[str, Value], dict[str, Value], tuple[Worded, ...]]:
    """(seen, meant, findings) of a sheet in which one entry cell is not as it was handed out."""
    key, row, column = PLACES[name]
    read = entries_of(LAYOUT, {**TABS, key: with_cell(TABS[key], row, column, **changes)})
    return dict(read.seen), dict(read.meant), said(read.findings)


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


def test_findings_of_several_entries_are_all_told() -> None:
    """Each with its place, in the order of the sheet; a formula is shown, not what it gives."""
    key, row, column = PLACES["zero_mm"]
    start = with_cell(TABS[key], row, column, value="none")
    key_2, row_2, column_2 = PLACES["reading_1_chest"]
    readings = with_cell(TABS[key_2], row_2, column_2, value="12,5", formula='="12,5"')
    read = entries_of(LAYOUT, {**TABS, key: start, key_2: readings})
    number = "a number for reading_1_chest"
    assert said(read.findings) == (
        Worded("entry-not-a-number", "", "'none'", "a number for zero_mm", "", "Start", "B15"),
        Worded("entry-formula", "", "'=\"12,5\"'", number, "", "Readings", "B8"),
        Worded("entry-number-as-text", "", "'=\"12,5\"'", number, "", "Readings", "B8"),
    )


def test_finding_of_a_long_text_shows_the_start_of_it() -> None:
    (finding,) = _read("reading_1_chest", value="x" * 61)[2]
    assert finding.found == repr("x" * 60)
    (finding,) = _read("sex_equation", value=True)[2]
    assert (finding.found, finding.expected) == ("'True'", "a word for sex_equation")


# what the formula is, whether it points at another cell
FORMULAS = (
    ("=5+7.5", False),
    ("=ROUND(5+7.5,1)", False),
    ('="A1"&"x"', False),
    ("=B7", True),
    ("=$B$7*2", True),
    ("=sum_mm", True),
    ("=SUM(B7:B8)", True),
)


@pytest.mark.parametrize(("formula", "points"), FORMULAS)
def test_formula_that_points_at_another_cell(formula: str, points: bool) -> None:
    """Only such a one takes a result from the sheet."""
    key, row, column = PLACES["own_sum_mm"]
    tab = with_cell(TABS[key], row, column, value=12.5, formula=formula)
    read = entries_of(LAYOUT, {**TABS, key: tab})
    assert read.formula_names == (("own_sum_mm",) if points else ())
    assert read.meant["own_sum_mm"] == 12.5


WORDS = {"es": {"male": "hombre"}, "en": {"male": "man"}}
# typed, as seen by the sheet, as meant, with the words of the lists
LISTED = (
    ("hombre", "hombre", "male"),
    ("Man", "male", "male"),
    ("MALE", "MALE", "MALE"),
    ("neither", "neither", "neither"),
)


@pytest.mark.parametrize(("typed", "seen", "meant"), LISTED)
def test_word_of_a_list_in_any_language(typed: str, seen: str, meant: str) -> None:
    """The formulas of an English sheet know its own words; a person means those of every language."""
    key, row, column = PLACES["sex_equation"]
    tabs = {**TABS, key: with_cell(TABS[key], row, column, value=typed)}
    read = entries_of(LAYOUT, tabs, WORDS)
    assert (read.seen["sex_equation"], read.meant["sex_equation"]) == (seen, meant)
    without_words = entries_of(LAYOUT, tabs)
    assert (without_words.seen["sex_equation"], without_words.meant["sex_equation"]) == (typed, typed)


def test_formula_that_gives_a_text_has_both_findings() -> None:
    _, meant, findings = _read("reading_1_chest", value="12,5", formula='="12,5"')
    assert meant["reading_1_chest"] == 12.5
    assert [finding.code for finding in findings] == ["entry-formula", "entry-number-as-text"]


def test_entries_of_a_tab_that_is_missing_are_empty() -> None:
    read = entries_of(LAYOUT, {"readings": TABS["readings"]})
    assert read.seen == {}


def test_finding_says_what_was_found_and_expected() -> None:
    (finding,) = _read("zero_mm", value="none")[2]
    assert finding == Worded("entry-not-a-number", "", "'none'", "a number for zero_mm", "", "Start", "B15")


def test_number_entries_are_told_by_their_format() -> None:
    kinds = {
        cell.name: is_number_entry(cell) for tab in LAYOUT.tabs for cell in tab.cells if cell.role == "entry"
    }
    assert (kinds["age_years"], kinds["reading_3_thigh"], kinds["own_sum_mm"]) == (True, True, True)
    assert (kinds["caliper_id"], kinds["not_taken_thigh"], kinds["answer_zero"]) == (False, False, False)
