from collections.abc import Mapping
from dataclasses import replace

import pytest

from sheetgen.checking.cached import cached_findings
from sheetgen.checking.recalculate import live_values, next_step, recalculate
from sheetgen.checking.tab_match import matched_tabs
from sheetgen.layout.vocabulary import live_names
from sheetgen.model.finding import Worded
from sheetgen.model.layout import Value
from sheetgen.model.snapshot import Snapshot
from tests.checking.given import WOMAN, returned, untouched, with_cell, without
from tests.sheets import sheet_of
from tests.wording import said

SHEET = sheet_of()
PROTOCOL, SETTINGS, LAYOUT = SHEET.source.protocol, SHEET.source.settings, SHEET.layout


def _expected(entries: Mapping[str, Value]) -> dict[str, float | str]:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    ready = "yes" if next_step(PROTOCOL, SETTINGS, entries, results) == "done" else "no"
    return {**live_values(results), "ready": ready}


EXPECTED = _expected(WOMAN)


def _findings(state: Snapshot, expected: dict[str, float | str] = EXPECTED) -> tuple[Worded, ...]:
    return said(cached_findings(LAYOUT, SHEET.identity.values, matched_tabs(LAYOUT, state), expected))


def test_all_live_results_are_compared() -> None:
    assert set(EXPECTED) == set(live_names(PROTOCOL))


def test_results_that_are_equal() -> None:
    assert _findings(returned(WOMAN, EXPECTED)) == ()


def test_results_that_are_equal_to_the_last_digit_but_one() -> None:
    density = EXPECTED["density_g_ml"]
    assert isinstance(density, float)
    assert _findings(returned(WOMAN, {**EXPECTED, "density_g_ml": density * (1 + 2e-16)})) == ()


# live result, what is stored
DIFFERENT: tuple[tuple[str, Value], ...] = (
    ("density_g_ml", 1.0461244),
    ("sum_mm", 118.0),
    ("sum_mm", "118.5"),
    ("sum_mm", None),
    ("third_triceps", "no"),
    ("ready", "yes"),
    ("fat_mass_kg", ""),
)


@pytest.mark.parametrize(("name", "stored"), DIFFERENT)
def test_result_that_differs(name: str, stored: Value) -> None:
    (finding,) = _findings(returned(WOMAN, {**EXPECTED, name: stored}))
    key, row, column = LAYOUT.places()[name]
    shown = None if stored in (None, "") else stored
    found = {f"{name} {shown!r}", f"{name} {stored!r}"}
    assert finding.found in found
    assert replace(finding, found="") == Worded(
        "sheet-result-differs", "", "", repr(EXPECTED[name]), "", "Calculator", f"B{row + 1}"
    )
    assert (key, column) == ("calculator", 1)


def test_result_that_is_a_truth_value() -> None:
    state = returned(WOMAN, EXPECTED)
    _, row, column = LAYOUT.places()["again_chest"]
    tabs = matched_tabs(LAYOUT, state)
    tabs["calculator"] = with_cell(tabs["calculator"], row, column, value=False)
    (finding,) = said(cached_findings(LAYOUT, SHEET.identity.values, tabs, EXPECTED))
    assert finding.found == "again_chest False"


def test_stale_results_are_told_one_by_one() -> None:
    """A program that worked out some results and left others is not one that does not calculate."""
    stale = _expected(without(WOMAN, "reading_2_thigh"))
    codes = {finding.code for finding in _findings(returned(WOMAN, stale))}
    assert codes == {"sheet-result-differs"}
    assert len(_findings(returned(WOMAN, stale))) == 7


def test_results_never_recalculated_with_none_stored() -> None:
    assert _findings(returned(WOMAN)) == (
        Worded(
            "sheet-not-recalculated", "", "no results stored, or those of the empty sheet",
            "results worked out from the entries", "",
        ),
    )  # fmt: skip


def test_results_never_recalculated_with_those_of_the_empty_sheet() -> None:
    """A program that writes entries and leaves the stored results as they were handed out."""
    (finding,) = _findings(untouched())
    assert finding.code == "sheet-not-recalculated"


def test_empty_sheet_with_the_results_of_the_empty_sheet() -> None:
    assert _findings(untouched(), _expected({"caliper_id": "C1", "data_source": "measured"})) == ()


def test_results_of_a_hidden_tab_that_is_missing_are_not_compared() -> None:
    tabs = {key: tab for key, tab in matched_tabs(LAYOUT, untouched()).items() if key != "calculator"}
    assert cached_findings(LAYOUT, SHEET.identity.values, tabs, EXPECTED) == ()
