from dataclasses import replace

import pytest

from sheetgen.finding import Worded
from sheetgen.protocols.names import live_names
from sheetgen.protocols.recalculation import live_values, next_step, recalculate
from sheetgen.returned.examination import Examination, examined, minor_today_findings
from sheetgen.workbook.layout import Value
from sheetgen.workbook.snapshot import Snapshot
from tests.returned.given import WOMAN, returned, untouched, with_cell, with_tab
from tests.sheets import Sheet, settings_with, sheet_of
from tests.wording import said

SHEET = sheet_of()

SHEET_OF_MINOR_TODAY = sheet_of()
MINORS = ("p-9q22",)

# entries, cells of the findings
CASES: tuple[tuple[dict[str, str | float | None], list[str]], ...] = (
    ({"participant_today": "P-9Q22", "reading_1_chest": 12.0}, ["B8"]),
    ({"participant_today": "p-9q22 ", "reading_2_abdominal": 12.0, "reading_1_thigh": 20.0}, ["B12"]),
    ({"participant_today": "P-9Q22", "reading_1_triceps": 12.0}, []),
    ({"participant_today": "P-7777", "reading_1_chest": 12.0}, []),
    ({"reading_1_chest": 12.0}, []),
)


def _stored(entries: dict[str, Value], sheet: Sheet = SHEET) -> dict[str, Value]:
    """What a spreadsheet program works out from the entries as they stand."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    results = recalculate(protocol, settings, entries)
    ready = "yes" if next_step(protocol, settings, entries, results) == "done" else "no"
    live = {**live_values(results), "ready": ready}
    return {name: live[name] for name in live_names(protocol)}


def _examined(state: Snapshot) -> tuple[Examination, list[tuple[str, str, str]]]:
    examination = examined(SHEET.issued, state)
    return examination, [(finding.code, finding.tab, finding.cell) for finding in examination.findings]


def test_sheet_filled_and_recalculated() -> None:
    examination, findings = _examined(returned(WOMAN, _stored(WOMAN)))
    assert examination.entries == WOMAN
    assert examination.results.sum_mm == 118.5
    assert findings == [
        ("procedure-zero-differs", "Start", "B15"),
        ("procedure-measure-again", "Readings", "F12"),
        ("procedure-third-not-needed", "Readings", "F13"),
    ]


def test_number_typed_as_text_counts_as_meant_and_is_compared_as_seen() -> None:
    """The sheet could not use it, so it stored no sum; the result returned has one."""
    entries = {**WOMAN, "reading_1_chest": "10,0"}
    examination, findings = _examined(returned(entries, _stored(entries)))
    assert examination.results.sum_mm == 118.5
    assert ("entry-number-as-text", "Readings", "B8") in findings
    assert "sheet-result-differs" not in {code for code, _, _ in findings}


def test_cut_of_one_entry_onto_another_is_reported_and_nothing_is_invented() -> None:
    """B8 was cut onto B9: the names went along, the cell it came from is empty and locked."""
    state = returned(WOMAN)
    readings = with_cell(state.tabs[1], 8, 1, value=10.0)
    readings = with_cell(readings, 7, 1, value=None, locked=True, has_rule=False)
    names = {**state.names, "reading_1_chest": "Readings!$B$9", "reading_1_midaxillary": "Readings!#REF!"}
    state = replace(with_tab(state, "Readings", cells=readings.cells), names=names)
    examination, findings = _examined(state)
    assert "reading_1_chest" not in examination.entries
    assert examination.entries["reading_1_midaxillary"] == 10.0
    assert examination.results.sum_mm is None
    assert [(code, cell) for code, _, cell in findings if code.startswith("sheet-")] == [
        ("sheet-damaged-by-cut", "B8"),
        ("sheet-damaged-by-cut", "B9"),
        ("sheet-entry-locked", "B8"),
        ("sheet-rules-lost", "B8"),
        ("sheet-not-recalculated", ""),
    ]
    assert ("entry-missing", "Readings", "B8") in findings


# participant typed, whether it is somebody else
PARTICIPANTS: tuple[tuple[Value, bool], ...] = (
    (None, False),
    ("P-2A3B", False),
    (" p-2a3b ", False),
    ("P-9Z9Z", True),
    (7, True),
)


@pytest.mark.parametrize(("typed", "other"), PARTICIPANTS)
def test_participant_of_the_day(typed: Value, other: bool) -> None:
    entries = {**WOMAN, "participant_today": typed}
    _, findings = _examined(returned(entries, _stored(entries)))
    assert (("identity-other-participant", "Start", "B10") in findings) == other


def test_sheet_for_adults_with_an_age_of_17_takes_no_trunk_value() -> None:
    entries = {**WOMAN, "age_years": 17}
    examination, findings = _examined(returned(entries, _stored(entries)))
    assert (examination.results.sum_mm, examination.results.estimate_state) == (None, "under-18")
    assert [cell for code, _, cell in findings if code == "procedure-trunk-under-18"] == [
        "B8",
        "B9",
        "B11",
        "B12",
        "B13",
    ]
    assert {code for code, _, _ in findings} == {"procedure-zero-differs", "procedure-trunk-under-18"}


def test_sheet_of_a_sixteen_year_old_filled_and_recalculated() -> None:
    sheet = sheet_of(settings_with(under_18=True))
    names = ("cautions_confirmed", "data_source", "caliper_id", "side", "length_upper_arm_cm")
    entries: dict[str, Value] = {
        **{name: WOMAN[name] for name in names},
        "zero_mm": 0,
        "length_thigh_cm": 45.5,
        **{f"reading_{number}_{site}": 14.5 for number in (1, 2) for site in ("triceps", "thigh")},
    }
    examination = examined(sheet.issued, returned(entries, _stored(entries, sheet), sheet))
    assert examination.findings == ()
    assert examination.entries == entries
    results = examination.results
    assert (results.sum_mm, results.fat_percent, results.estimate_state) == (29.0, None, "under-18")


def test_sheet_without_its_hidden_tab_is_still_worked_out() -> None:
    state = returned(WOMAN)
    examination, findings = _examined(replace(state, tabs=state.tabs[:-1]))
    assert examination.results.sum_mm == 118.5
    assert ("sheet-tab-missing", "Calculator", "") in findings


def test_sheet_handed_in_as_it_was_handed_out() -> None:
    examination, findings = _examined(untouched())
    assert examination.results.estimate_state == "sum-missing"
    assert {code for code, _, _ in findings} == {"entry-missing"}
    assert len(findings) == 6 + 14


@pytest.mark.parametrize(("entries", "cells"), CASES)
def test_minor_today(entries: dict[str, str | float | None], cells: list[str]) -> None:
    findings = minor_today_findings(
        SHEET_OF_MINOR_TODAY.layout, SHEET_OF_MINOR_TODAY.source.protocol, entries, MINORS
    )
    shown = {
        "B8": "Chest of P-9Q22, who counts as under 18",
        "B12": "Abdominal of P-9Q22, who counts as under 18",
    }
    assert list(said(findings)) == [
        Worded("procedure-minor-today", "", shown[cell], "limb sites only", "", "Readings", cell)
        for cell in cells
    ]
