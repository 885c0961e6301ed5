"""Invented entries of the sample class: without a fault where none is meant, the same every time."""

import math

import pytest

from sheetgen.checking.examine import examined
from sheetgen.flows.sample_entries import FAULTS, sample_entries, stored_results
from sheetgen.model.settings import Caliper
from sheetgen.workbook.fill import filled
from sheetgen.workbook.package import read_package_bytes
from sheetgen.workbook.refusal import Refusal
from sheetgen.workbook.snapshot_xlsx import snapshot
from tests.sheets import CALIPERS, SETTINGS, sheet_of


def test_the_same_seed_gives_the_same_entries() -> None:
    protocol = sheet_of().source.protocol
    first, again, other = (sample_entries(protocol, SETTINGS, CALIPERS[0], seed) for seed in ("a", "a", "b"))
    assert first == again
    assert first != other


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
def test_readings_lie_on_the_scale_and_inside_the_opening(caliper: Caliper) -> None:
    entries = sample_entries(sheet_of().source.protocol, SETTINGS, caliper, "a")
    readings = [value for name, value in entries.items() if name.startswith("reading_")]
    assert len(readings) >= 14
    for reading in readings:
        assert isinstance(reading, float)
        steps = reading / caliper.division
        assert math.isclose(steps, round(steps), abs_tol=1e-9)
        assert caliper.zero < reading <= caliper.opening


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("seed", ("a", "b", "c", "d"))
def test_a_sheet_filled_with_them_has_no_finding(caliper: Caliper, seed: str) -> None:
    sheet = sheet_of(caliper_id=caliper.identifier)
    protocol, settings = sheet.source.protocol, sheet.source.settings
    entries = {
        "caliper_id": caliper.identifier,
        "data_source": "measured",
        "side": "right",
        **sample_entries(protocol, settings, caliper, seed),
    }
    data = filled(sheet.data, sheet.layout, entries, stored_results(protocol, settings, entries))
    package = read_package_bytes(data)
    assert not isinstance(package, Refusal)
    state = snapshot(package)
    assert not isinstance(state, Refusal)
    examination = examined(sheet.issued, state)
    assert [finding for finding in examination.findings if finding.code != "procedure-measure-again"] == []
    assert examination.results.sum_mm is not None
    assert examination.results.fat_free_mass_kg is not None


def test_each_fault_changes_the_entries() -> None:
    protocol = sheet_of().source.protocol
    caliper = Caliper("C2", "spring", 0.5, 60.0, 0.5)
    for student, fault in FAULTS.items():
        entries = sample_entries(protocol, SETTINGS, caliper, student)
        before = dict(entries)
        fault(entries)
        assert entries != before, student


def test_results_stored_are_those_of_the_entries_as_a_sheet_sees_them() -> None:
    """A number typed as text is none to a formula, so a program stores no sum."""
    sheet = sheet_of()
    protocol = sheet.source.protocol
    entries = sample_entries(protocol, SETTINGS, CALIPERS[0], "a")
    assert stored_results(protocol, SETTINGS, {**entries, "caliper_id": "C1"})["ready"] == "yes"
    text = stored_results(protocol, SETTINGS, {**entries, "caliper_id": "C1", "reading_1_chest": "12,5"})
    assert (text["site_chest"], text["sum_mm"], text["density_g_ml"], text["ready"]) == ("", "", "", "no")
