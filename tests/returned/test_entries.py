from collections.abc import Mapping

import pytest
from msgspec.structs import replace

from sheetgen.finding import Worded
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import SheetSettings
from sheetgen.returned.attempt import Issued
from sheetgen.returned.entries import (
    entries_of,
    is_number_entry,
    procedure_findings,
    with_raw_differences,
)
from sheetgen.returned.whose import matched_tabs
from sheetgen.texts.findings import load_catalogue
from sheetgen.workbook.layout import Value
from sheetgen.workbook.snapshot import CellState
from tests.returned.given import MAN, SITES, WOMAN, untouched, with_cell, without
from tests.sheets import settings_with, sheet_of
from tests.wording import said

LAYOUT = sheet_of().layout
PLACES = LAYOUT.places()
TABS = matched_tabs(LAYOUT, untouched())


def _from(number: str, site: str) -> dict[str, Value]:
    """The first reading with a second caliper."""
    return {"changed_from_round": number, "changed_from_site": site}


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
    (CellState("12 apples"), None, None, "entry-not-a-number"),
    (CellState("twelve"), None, None, "entry-not-a-number"),
    (CellState("~12"), None, None, "entry-not-a-number"),
    (CellState("12²"), None, None, "entry-not-a-number"),
    (CellState("1.5 cm"), None, 15.0, "entry-number-as-text"),
    (CellState("0,5 in"), None, 12.7, "entry-number-as-text"),
    (CellState("12 kg"), None, None, "entry-other-unit"),
    (CellState("１２．５"), None, 12.5, "entry-number-as-text"),
    (CellState("١٢٫٥"), None, 12.5, "entry-number-as-text"),
    (CellState("12·5"), None, 12.5, "entry-number-as-text"),
    (CellState("12.5\u200b"), None, 12.5, "entry-number-as-text"),
    (CellState(12.499999999999998), 12.5, 12.5, ""),
    (CellState(True), None, None, "entry-not-a-number"),
    (CellState("#REF!", is_error=True), None, None, "entry-not-a-number"),
    (CellState(45_000.0, is_date=True), 45_000.0, None, "entry-date"),
    (CellState(12.5, formula="=5+7.5"), 12.5, 12.5, ""),
    (CellState(12.5, formula="=ROUND(25/2,1)"), 12.5, 12.5, ""),
    (CellState(12.5, formula="=B8"), 12.5, 12.5, "entry-reading-reference"),
    (CellState(12.5, formula="=reading_1_chest+0.5"), 12.5, 12.5, "entry-reading-reference"),
    (CellState(12.5, formula='=INDIRECT("B8")'), 12.5, 12.5, "entry-reading-reference"),
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
        [(code, "Readings", "C5")] if code else []
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


# name, typed, as meant, code, found, expected
UNITS = (
    ("mass_kg", "154 mm", None, "entry-other-unit", "'154 mm'", "a number for body mass"),
    ("length_thigh_cm", "43 kg", None, "entry-other-unit", "'43 kg'", "a number for thigh, length"),
    (
        "length_thigh_cm", "430 mm", 43.0, "entry-number-as-text",
        "'430 mm', taken as 43 cm", "a number for thigh, length, in cm",
    ),
    ("mass_kg", "154 lb", 69.85322498, "entry-number-as-text", "'154 lb', taken as 69.85322498 kg",
     "a number for body mass, in kg"),
    ("reading_1_chest", "1.5 cm", 15.0, "entry-number-as-text", "'1.5 cm', taken as 15 mm",
     "a number for reading_1_chest, in mm"),
    ("age_years", "24 años", 24.0, "entry-number-as-text", "'24 años', taken as 24 years",
     "a number for age of the person measured, in years"),
    ("own_density_g_ml", "1.05 g/cm3", 1.05, "entry-number-as-text", "'1.05 g/cm3', taken as 1.05 g/ml",
     "a number for own_density_g_ml, in g/ml"),
    ("own_sum_mm", "about 90", "about 90", "working-not-a-number", "'about 90'", "a number for own_sum_mm"),
    ("own_sum_mm", "90 kg", "90 kg", "working-not-a-number", "'90 kg'", "a number for own_sum_mm"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "typed", "meant", "code", "found", "expected"), UNITS)
def test_where_a_unit_is_typed_it_counts(
    name: str, typed: str, meant: Value, code: str, found: str, expected: str
) -> None:
    """1 lb is 0.45359237 kg by definition."""
    seen, got, (finding,) = _read(name, value=typed)
    assert (seen[name], got[name]) == (None, meant)
    assert (finding.code, finding.found, finding.expected) == (code, found, expected)


def test_an_age_of_more_than_15_digits_is_18_for_the_core_as_for_the_sheet() -> None:
    seen, meant, findings = _read("age_years", value=17.99999999999999)
    assert (seen["age_years"], meant["age_years"], findings) == (18.0, 18.0, ())
    seen, _, _ = _read("age_years", value=17.9999999999999)
    assert seen["age_years"] == 17.9999999999999


@pytest.mark.parametrize("blank", [None, "", "  ", "\u00a0", "\u200b "])
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
        Worded("entry-not-a-number", "", "'none'", "a number for zero of this caliper", "", "Start", "B10"),
        Worded("entry-formula", "", "'=\"12,5\"'", number, "", "Readings", "C5"),
        Worded("entry-number-as-text", "", "'=\"12,5\"'", number, "", "Readings", "C5"),
    )


def test_finding_of_a_long_text_shows_the_start_of_it() -> None:
    (finding,) = _read("reading_1_chest", value="x" * 61)[2]
    assert finding.found == repr("x" * 60)
    (finding,) = _read("sex_equation", value=True)[2]
    assert (finding.found, finding.expected) == ("'True'", "a word for equation")


def test_a_formula_in_an_own_line_is_working_unless_it_takes_a_result() -> None:
    key, row, column = PLACES["own_sum_mm"]
    tabs = {**TABS, key: with_cell(TABS[key], row, column, value=12.5, formula="=B7+B8")}
    assert (entries_of(LAYOUT, tabs).findings, entries_of(LAYOUT, tabs).meant["own_sum_mm"]) == ((), 12.5)
    (finding,) = entries_of(LAYOUT, tabs, {"own_sum_mm"}).findings
    assert finding.code == "working-takes-result"


# typed, as seen by the sheet, as meant, with the words of the lists
LISTED = (
    ("hombre", "hombre", "male"),
    ("hombre ", "hombre ", "male"),
    ("MALE", "MALE", "MALE"),
    ("neither", "neither", "neither"),
)


@pytest.mark.parametrize(("typed", "seen", "meant"), LISTED)
def test_word_of_a_list_in_any_language(typed: str, seen: str, meant: str) -> None:
    """The formulas of an English sheet know its own words; a person means those of every language."""
    key, row, column = PLACES["sex_equation"]
    tabs = {**TABS, key: with_cell(TABS[key], row, column, value=typed)}
    read = entries_of(LAYOUT, tabs)
    assert (read.seen["sex_equation"], read.meant["sex_equation"]) == (seen, meant)


def test_formula_that_gives_a_text_has_both_findings() -> None:
    _, meant, findings = _read("reading_1_chest", value="12,5", formula='="12,5"')
    assert meant["reading_1_chest"] == 12.5
    assert [finding.code for finding in findings] == ["entry-formula", "entry-number-as-text"]


def test_entries_of_a_tab_that_is_missing_are_empty() -> None:
    read = entries_of(LAYOUT, {"readings": TABS["readings"]})
    assert read.seen == {}


def test_finding_says_what_was_found_and_expected() -> None:
    (finding,) = _read("zero_mm", value="none")[2]
    assert finding == Worded(
        "entry-not-a-number", "", "'none'", "a number for zero of this caliper", "", "Start", "B10"
    )


def test_number_entries_are_told_by_their_format() -> None:
    kinds = {
        cell.name: is_number_entry(cell) for tab in LAYOUT.tabs for cell in tab.cells if cell.role == "entry"
    }
    assert (kinds["age_years"], kinds["reading_3_thigh"], kinds["own_sum_mm"]) == (True, True, True)
    assert (kinds["caliper_id"], kinds["not_taken_thigh"], kinds["answer_zero"]) == (False, False, False)


SHEET = sheet_of()
PROTOCOL, SETTINGS = SHEET.source.protocol, SHEET.source.settings
# Nothing to remark: WOMAN with the registered zero and without the third readings.
THIRDS = tuple(f"reading_3_{site}" for site in SITES)
PLAIN: dict[str, Value] = {
    **without(WOMAN, *THIRDS),
    "zero_mm": 0,
    "reading_2_triceps": 16,
    "reading_2_abdominal": 21,
}


def _findings(entries: Mapping[str, Value], issued: str = "C1") -> tuple[Worded, ...]:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    return said(procedure_findings(_issued(SETTINGS, issued), entries, results))


def _issued(settings: SheetSettings, caliper: str = "C1") -> Issued:
    return Issued(SHEET.layout, {"caliper_id": caliper}, PROTOCOL, settings)


def _places(entries: Mapping[str, Value]) -> list[tuple[str, str, str]]:
    return [(finding.code, finding.tab, finding.cell) for finding in _findings(entries)]


def test_sheet_without_anything_to_remark() -> None:
    assert _findings(PLAIN) == ()


# what is changed in PLAIN, code, tab, cell
ONE_FINDING: tuple[tuple[dict[str, Value], str, str, str], ...] = (
    ({"sex_equation": "man"}, "entry-unknown-word", "Start", "B7"),
    ({"side": "both"}, "entry-unknown-word", "Start", "B17"),
    ({"data_source": "made up"}, "entry-unknown-word", "Start", "B5"),
    ({"cautions_confirmed": "no"}, "entry-unknown-word", "Care", "D19"),
    ({"not_taken_thigh": "late"}, "entry-unknown-word", "Readings", "I11"),
    ({"age_years": 111}, "entry-out-of-range", "Start", "B6"),
    ({"age_years": 24.5}, "entry-out-of-range", "Start", "B6"),
    ({"mass_kg": 9.9}, "entry-out-of-range", "Start", "B8"),
    ({"mass_kg": float("inf")}, "entry-out-of-range", "Start", "B8"),
    ({"length_thigh_cm": 81}, "entry-out-of-range", "Start", "B13"),
    ({"own_sum_mm": 100_001}, "entry-out-of-range", "Working", "C12"),
    ({"reading_1_chest": 1_000_000}, "entry-out-of-range", "Readings", "C5"),
    ({"reading_1_chest": 61, "reading_2_chest": 60}, "entry-beyond-opening", "Readings", "C5"),
    ({"reading_1_chest": 10.3}, "entry-off-scale", "Readings", "C5"),
    ({"reading_1_chest": 0}, "entry-not-above-zero", "Readings", "C5"),
    ({"reading_1_chest": -1}, "entry-not-above-zero", "Readings", "C5"),
    ({"reading_2_chest": 13}, "procedure-third-missing", "Readings", "E5"),
    ({"reading_3_chest": 11}, "procedure-third-not-needed", "Readings", "E5"),
    ({"reading_2_chest": 13, "reading_3_chest": 16}, "procedure-measure-again", "Readings", "E5"),
    ({"zero_mm": 0.5}, "procedure-zero-differs", "Start", "B10"),
)


@pytest.mark.parametrize(("changes", "code", "tab", "cell"), ONE_FINDING)
def test_one_thing_to_remark(changes: dict[str, Value], code: str, tab: str, cell: str) -> None:
    entries = {**PLAIN, **changes}
    if "not_taken_thigh" in changes:
        entries = without(entries, "reading_1_thigh", "reading_2_thigh")
    assert _places(entries) == [(code, tab, cell)]


def test_practice_readings_are_not_to_be_measured_again() -> None:
    apart = {"data_source": "practice", "reading_2_chest": 13, "reading_3_chest": 16}
    assert _places({**PLAIN, **apart}) == []


# entry left empty, tab, cell
NEEDED = (
    ("cautions_confirmed", "Care", "D19"),
    ("age_years", "Start", "B6"),
    ("sex_equation", "Start", "B7"),
    ("caliper_id", "Start", "B9"),
    ("zero_mm", "Start", "B10"),
    ("length_upper_arm_cm", "Start", "B11"),
    ("length_thigh_cm", "Start", "B13"),
    ("reading_2_chest", "Readings", "D5"),
)


def test_a_zero_far_off_the_one_in_the_register_is_told_once() -> None:
    found = _places({**PLAIN, "zero_mm": 15.0})
    assert [(code, cell) for code, _, cell in found if cell == "B10"] == [("procedure-zero-differs", "B10")]


@pytest.mark.parametrize(("name", "tab", "cell"), NEEDED)
def test_entry_missing(name: str, tab: str, cell: str) -> None:
    assert _places(without(PLAIN, name)) == [("entry-missing", tab, cell)]


@pytest.mark.parametrize("name", ["participant_today", "mass_kg", "data_source", "side", "caliper_id_2"])
def test_entry_that_may_stay_empty(name: str) -> None:
    assert _findings(without(PLAIN, name)) == ()


def test_age_may_stay_empty_where_only_the_sum_is_wanted() -> None:
    assert _findings(without({**PLAIN, "sex_equation": "sum-only"}, "age_years")) == ()


def test_entry_that_could_not_be_understood_is_not_missing_as_well() -> None:
    """It has a finding of its own already, which says what stands there."""
    assert _findings({**PLAIN, "age_years": None}) == ()
    assert _findings({**PLAIN, "reading_1_chest": None}) == ()
    assert _findings({**PLAIN, "reading_2_chest": 13, "reading_3_chest": None}) == ()


def test_site_left_out_needs_no_readings() -> None:
    entries = without({**PLAIN, "not_taken_thigh": "skin"}, "reading_1_thigh", "reading_2_thigh")
    assert _findings(entries) == ()


def test_site_left_out_with_readings() -> None:
    (finding,) = _findings({**PLAIN, "not_taken_thigh": "skin"})
    assert (finding.code, finding.cell) == ("entry-not-taken-with-readings", "I11")
    assert finding.found == "a site left out, with readings: 2"


# Of the five trunk sites the first reading typed at each.
TRUNK_CELLS = ("C5", "C6", "C8", "C9", "C10")


def test_trunk_readings_under_18() -> None:
    findings = _findings({**PLAIN, "age_years": 17})
    assert [(one.code, one.tab, one.cell) for one in findings] == [
        ("procedure-trunk-under-18", "Readings", cell) for cell in TRUNK_CELLS
    ]
    assert (findings[0].found, findings[0].expected) == ("2 readings at a trunk site", "none under 18")


def test_trunk_reading_under_18_points_at_the_first_one_typed() -> None:
    entries = without({**PLAIN, "age_years": 17}, "reading_1_chest")
    assert _places(entries)[0] == ("procedure-trunk-under-18", "Readings", "D5")


def test_trunk_readings_under_18_with_a_reason_are_remarked_as_both() -> None:
    codes = [code for code, _, _ in _places({**PLAIN, "age_years": 17, "not_taken_chest": "declined"})]
    assert codes[:2] == ["entry-not-taken-with-readings", "procedure-trunk-under-18"]
    assert codes.count("procedure-trunk-under-18") == 5


def test_trunk_readings_under_18_have_no_third_to_ask_for() -> None:
    codes = {code for code, _, _ in _places({**PLAIN, "age_years": 17, "reading_2_chest": 13})}
    assert codes == {"procedure-trunk-under-18"}


def test_trunk_sites_left_empty_under_18_are_not_missing() -> None:
    trunk = [site.word for site in PROTOCOL.sites if site.trunk]
    readings = [f"reading_{number}_{site}" for number in (1, 2) for site in trunk]
    assert _findings(without({**PLAIN, "age_years": 17}, *readings)) == ()


def test_age_far_too_low_closes_the_trunk_sites_as_well() -> None:
    assert _places({**PLAIN, "age_years": 3}) == [
        *(("procedure-trunk-under-18", "Readings", cell) for cell in TRUNK_CELLS),
        ("entry-out-of-range", "Start", "B6"),
    ]


# settings, entries that are missing from a sheet as it was handed out, besides the readings
ASKED: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({"under_18": True}, ["cautions_confirmed", "zero_mm", "length_upper_arm_cm", "length_thigh_cm"]),
    (
        {"estimates": "sums-only"},
        ["cautions_confirmed", "zero_mm", "length_upper_arm_cm", "length_thigh_cm", "age_years"],
    ),
    (
        {"protocol_id": "three-sites-men"},
        ["cautions_confirmed", "sex_equation", "zero_mm", "length_thigh_cm", "age_years"],
    ),
    (
        {"protocol_id": "folds-only"},
        ["cautions_confirmed", "zero_mm", "length_upper_arm_cm", "length_thigh_cm"],
    ),
)


@pytest.mark.parametrize(("changes", "names"), ASKED)
def test_entry_that_the_sheet_does_not_ask_for_is_not_missing(
    changes: dict[str, object], names: list[str]
) -> None:
    issued = sheet_of(settings_with(**changes)).issued
    entries: dict[str, Value] = {"caliper_id": "C1"}
    results = recalculate(issued.protocol, issued.settings, entries)
    findings = procedure_findings(issued, entries, results)
    assert {finding.code for finding in findings} == {"entry-missing"}
    assert [finding.values["name"] for finding in findings][: len(names)] == names
    assert len(findings) == len(names) + 2 * len(issued.protocol.sites)


def test_round_2_without_round_1() -> None:
    assert _places(without(PLAIN, "reading_1_chest")) == [
        ("entry-missing", "Readings", "C5"),
        ("procedure-round-2-without-round-1", "Readings", "D5"),
    ]


def test_round_2_without_round_1_where_the_caliper_is_not_known() -> None:
    codes = [code for code, _, _ in _places(without({**PLAIN, "caliper_id": "C9"}, "reading_1_chest"))]
    assert codes == [
        "entry-missing",
        "entry-unknown-word",
        "procedure-other-caliper",
        "procedure-round-2-without-round-1",
    ]


def test_other_caliper_than_issued() -> None:
    (finding,) = _findings(PLAIN, issued="C2")
    assert (finding.code, finding.found, finding.expected) == (
        "procedure-other-caliper",
        "c1",
        "the caliper issued, C2",
    )


def test_caliper_issued_in_another_case_is_the_same() -> None:
    assert _findings({**PLAIN, "caliper_id": " c1"}) == ()


def test_caliper_chosen_as_a_number() -> None:
    """A list of words hands out 7 as a number in some programs."""
    entries = without({**MAN, "caliper_id": 7}, *THIRDS, "reading_1_chest", "reading_1_triceps")
    assert "entry-unknown-word" not in {finding.code for finding in _findings(entries, issued="7")}
    assert "procedure-other-caliper" not in {finding.code for finding in _findings(entries, issued="7")}


def test_reading_is_held_against_the_scale_of_the_caliper_it_was_taken_with() -> None:
    """C1 has steps of 0.5 mm and opens 60 mm, C2 steps of 0.2 and 80 mm; C2 from 2_suprailiac on."""
    second: dict[str, Value] = {"caliper_id_2": "C2", "zero_2_mm": -0.4, **_from("2", "suprailiac")}
    entries = {**PLAIN, **second, "reading_2_suprailiac": 14.2, "reading_2_thigh": 24.6}
    assert _findings(entries) == ()
    assert _places({**entries, "reading_2_thigh": 24.5}) == [("entry-off-scale", "Readings", "D11")]
    assert _places({**entries, "reading_2_chest": 11.2}) == [("entry-off-scale", "Readings", "D5")]


def test_zero_of_the_second_caliper_differs() -> None:
    entries = {**PLAIN, "caliper_id_2": "C2", "zero_2_mm": 0.4, **_from("3", "thigh")}
    (finding,) = _findings(entries)
    assert (finding.code, finding.cell, finding.found) == ("procedure-zero-differs", "B19", "0.4 mm")
    assert finding.expected == "-0.4 mm as registered"


# entries about a second caliper, cells that are missing
CHANGES: tuple[tuple[dict[str, Value], list[str]], ...] = (
    ({"caliper_id_2": "C2"}, ["B19", "B20", "B21"]),
    ({"zero_2_mm": -0.4}, ["B18", "B20", "B21"]),
    (_from("3", "thigh"), ["B18", "B19"]),
    ({"caliper_id_2": "C2", "zero_2_mm": -0.4}, ["B20", "B21"]),
    ({"caliper_id_2": "C2", "zero_2_mm": None, **_from("3", "thigh")}, []),
)


@pytest.mark.parametrize(("changes", "cells"), CHANGES)
def test_change_of_caliper_incomplete(changes: dict[str, Value], cells: list[str]) -> None:
    assert _places({**PLAIN, **changes}) == [("procedure-change-incomplete", "Start", cell) for cell in cells]


def test_scale_without_steps_is_not_held_against_a_reading() -> None:
    """Settings read from a file may hold anything; a step of 0 must not stop a run."""
    settings = settings_with(calipers=tuple(replace(caliper, division=0.0) for caliper in SETTINGS.calipers))
    results = recalculate(PROTOCOL, settings, PLAIN)
    assert procedure_findings(_issued(settings), PLAIN, results) == ()


# settings, what is typed besides; site to (third needed, measure again)
@pytest.mark.parametrize(
    ("settings", "changes", "judged"),
    [
        # 15.5 and 18 mm are more than 2 mm apart; 20, 23 and 26 agree nowhere; 12 and 14 differ by 2 mm
        ({}, {}, {"triceps": ("yes", False), "abdominal": ("yes", True), "midaxillary": ("no", False)}),
        ({}, {"not_taken_triceps": "skin"}, {"triceps": ("", False)}),
        ({}, {"reading_2_chest": None}, {"chest": ("", False)}),
        # no zero cancels between two calipers, and one of the second caliper is no third of the first
        ({}, {"changed_from": "2_triceps"}, {"triceps": ("", False), "chest": ("no", False)}),
        ({}, {"changed_from": "3_chest"}, {"abdominal": ("yes", False)}),
        ({"tolerance_kind": "percent"}, {}, {"triceps": ("", False)}),
    ],
)  # fmt: skip
def test_a_missing_zero_takes_away_no_difference(
    settings: dict[str, object], changes: dict[str, Value], judged: dict[str, tuple[str, bool]]
) -> None:
    known = settings_with(**settings)
    protocol, entries = sheet_of(known).source.protocol, {**without(WOMAN, "zero_mm"), **changes}
    results = recalculate(protocol, known, entries)
    sites = {site.site: site for site in with_raw_differences(protocol, known, entries, results).sites}
    assert {name: (sites[name].third_needed, sites[name].measure_again) for name in judged} == judged
    assert all(site.value_mm is None for site in sites.values())


def test_with_a_zero_nothing_is_judged_anew() -> None:
    protocol, settings = sheet_of().source.protocol, settings_with()
    # Not above the zero: no value, and no difference either.
    entries = {**WOMAN, "zero_mm": 10}
    results = recalculate(protocol, settings, entries)
    assert with_raw_differences(protocol, settings, entries, results) == results


def test_every_code_of_the_catalogue_is_provoked_above() -> None:
    """What other modules find (a date, a formula, a correction, ...) is provoked in their own tests."""
    catalogue = load_catalogue()
    elsewhere = {
        "entry-corrected",
        "entry-correction-unusable",
        "procedure-less-measured",
        "procedure-minor-today",
        "procedure-late",
        "procedure-after-feedback",
        "entry-number-as-text",
        "entry-date",
        "entry-formula",
        "entry-reading-reference",
        "entry-not-a-number",
        "entry-other-unit",
        "entry-nothing-typed",
        "entry-not-a-text",
    }
    wanted = {code for code in catalogue if code.startswith(("entry-", "procedure-"))} - elsewhere
    provoked = {code for _, code, _, _ in ONE_FINDING} | {
        "entry-missing",
        "entry-not-taken-with-readings",
        "procedure-round-2-without-round-1",
        "procedure-other-caliper",
        "procedure-change-incomplete",
        "procedure-trunk-under-18",
    }
    assert wanted == provoked


# what is changed in PLAIN, found, expected
SAID: tuple[tuple[dict[str, Value], str, str], ...] = (
    ({"sex_equation": "man"}, "'man'", "one of female, male, sum-only"),
    ({"side": "s" * 41}, repr("s" * 40), "one of right, left"),
    ({"data_source": "made up"}, "'made up'", "one of measured, practice"),
    ({"cautions_confirmed": "no"}, "'no'", "one of yes"),
    ({"age_years": 111}, "111", "a whole number from 5 to 110"),
    ({"age_years": 24.5}, "24.5", "a whole number from 5 to 110"),
    ({"mass_kg": 9.9}, "9.9", "a number from 10 to 350"),
    ({"mass_kg": 351}, "351", "a number from 10 to 350"),
    ({"length_thigh_cm": 81}, "81", "a number from 15 to 80"),
    ({"own_sum_mm": 100_001}, "100001", "a number from -100000 to 100000"),
    ({"reading_1_chest": 1_000_000}, "1000000", "a number below 1,000,000"),
    ({"reading_1_chest": 61, "reading_2_chest": 60}, "61 mm", "at most 60 mm"),
    ({"reading_1_chest": 10.3}, "10.3 mm", "steps of 0.5 mm"),
    ({"reading_1_chest": 0}, "0 mm", "more than the zero of 0 mm"),
    ({"reading_2_chest": 13}, "rounds 1 and 2 too far apart, and no third reading", "a third reading"),
    ({"reading_3_chest": 11}, "a third reading", "none, since rounds 1 and 2 agree"),
    (
        {"reading_2_chest": 13, "reading_3_chest": 16},
        "no two readings agree", "two readings within the tolerance",
    ),
    ({"zero_mm": 0.5}, "0.5 mm", "0 mm as registered"),
    ({"not_taken_thigh": "skin"}, "a site left out, with readings: 2", "one or the other"),
    (
        {"caliper_id_2": "C2", "zero_2_mm": -0.4, "changed_from_round": "2"},
        "nothing", "caliper, zero and first reading, all three",
    ),
)  # fmt: skip


@pytest.mark.parametrize(("changes", "found", "expected"), SAID)
def test_every_word_of_one_thing_to_remark(changes: dict[str, Value], found: str, expected: str) -> None:
    (finding,) = _findings({**PLAIN, **changes})
    assert (finding.found, finding.expected) == (found, expected)
    assert (finding.severity, finding.remedy) == ("", "")


def test_every_word_of_what_is_missing() -> None:
    """A site may be left out, another entry may not."""
    entries = without(PLAIN, "age_years", "reading_1_chest")
    assert _findings(entries) == (
        Worded("entry-missing", "", "nothing", "age of the person measured", "", "Start", "B6"),
        Worded("entry-missing", "", "nothing", "reading_1_chest, or the site left out",
                "", "Readings", "C5"),
        Worded("procedure-round-2-without-round-1", "", "11 mm in round 2", "round 1 first", "",
                "Readings", "D5"),
    )  # fmt: skip


@pytest.mark.parametrize(
    "changes",
    [
        {"age_years": 110}, {"mass_kg": 10}, {"mass_kg": 350}, {"length_thigh_cm": 80},
        {"length_thigh_cm": 15}, {"own_sum_mm": -100_000}, {"reading_1_thigh": 60, "reading_2_thigh": 60},
        {"reading_1_chest": 0.5, "reading_2_chest": 1.0},
    ],
)  # fmt: skip
def test_entry_at_the_end_of_its_range_is_nothing_to_remark(changes: dict[str, Value]) -> None:
    assert _findings({**PLAIN, **changes}) == ()
