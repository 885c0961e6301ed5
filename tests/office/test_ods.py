"""A sheet that a real spreadsheet program saved as .ods is read like the .xlsx, whatever became of it."""

import io
import zipfile
from pathlib import Path

import pytest

from sheetgen.finding import Finding, Refusal
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.whose import OnRecord
from sheetgen.workbook.layout import Cell
from sheetgen.workbook.read.guard import Package, read_package
from sheetgen.workbook.read.xlsx import snapshot
from tests.classes import attempt_of, built_class, filled_sheet, returned, run
from tests.office.client import ODS, Office
from tests.office.test_round_trip import entries_of, typed, written
from tests.sheets import Sheet, sheet_of
from tests.wording import in_english

pytestmark = pytest.mark.office

NOBODY = OnRecord(None, "", {})
# What there is to say of an honest sheet of which nothing is on record.
HONEST = {"identity-not-proven", "sheet-saved-as-ods", "sheet-structure-open"}


@pytest.fixture(scope="module")
def saved(office: Office, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A filled sheet as the program saves it in both formats, and locked with a password."""
    folder, sheet = tmp_path_factory.mktemp("ods"), sheet_of()
    paths = {name: folder / name for name in ("back.ods", "back.xlsx", "locked.ods")}
    with office.workbook(written(sheet, folder)) as handle:
        office.set(handle, typed(sheet, entries_of(sheet)))
        office.save_as(handle, paths["back.ods"], ODS)
        office.save_as(handle, paths["back.xlsx"])
        office.save_as(handle, paths["locked.ods"], ODS, password="secret")
    return paths


def changed(office: Office, sheet: Sheet, folder: Path, change: list[list[object]]) -> Attempt:
    """What is said of a filled sheet whose protection was taken off to change something locked."""
    with office.workbook(written(sheet, folder)) as handle:
        office.set(handle, typed(sheet, entries_of(sheet)))
        for tab in sheet.layout.tabs:
            office.unprotect(handle, tab.title)
        office.set(handle, change)
        office.save_as(handle, folder / "changed.ods", ODS)
    return attempt_of(folder / "changed.ods", "changed.ods", NOBODY)


def above_notes(attempt: Attempt) -> list[Finding]:
    """Findings that ask for something; protection that a test took off itself is none of them."""
    return [one for one in attempt.findings if one.severity != "note" and one.code != "sheet-protection-off"]


def cell_of(sheet: Sheet, key: str, role: str) -> Cell:
    return next(cell for cell in sheet.layout.tab(key).cells if cell.role == role and cell.value)


def test_an_honest_ods_is_accepted_with_the_entries_and_results_of_the_xlsx(saved: dict[str, Path]) -> None:
    ods, xlsx = (attempt_of(saved[name], name, NOBODY) for name in ("back.ods", "back.xlsx"))
    assert ods.entries == xlsx.entries
    assert ods.results == xlsx.results
    assert ods.results is not None
    assert ods.results.fat_free_mass_kg is not None
    assert ods.status == xlsx.status == "accepted"
    assert {one.code for one in ods.findings} == HONEST
    assert above_notes(ods) == []


def test_both_formats_give_the_same_cells_names_and_protection(saved: dict[str, Path]) -> None:
    packages = [read_package(saved[name]) for name in ("back.ods", "back.xlsx")]
    ods, xlsx = packages
    assert isinstance(ods, Package)
    assert isinstance(xlsx, Package)
    one, other = snapshot(ods), snapshot(xlsx)
    assert not isinstance(one, Refusal)
    assert not isinstance(other, Refusal)
    assert one.names == other.names
    for left, right in zip(one.tabs, other.tabs, strict=True):
        assert (left.title, left.protected, left.visibility) == (
            right.title,
            right.protected,
            right.visibility,
        )
        assert left.cells.keys() == right.cells.keys()
        different = [
            (left.title, place, cell, right.cells[place])
            for place, cell in left.cells.items()
            for found in [right.cells[place]]
            # The program stores no type, so no result, for a formula that gives an empty text.
            if (cell.value or "", bool(cell.formula), cell.locked, cell.has_rule, cell.is_error)
            != (found.value or "", bool(found.formula), found.locked, found.has_rule, found.is_error)
        ]
        assert different == []
    assert sum(len(tab.cells) for tab in one.tabs) > 900


@pytest.mark.parametrize(("source", "name"), [("back.ods", "sheet.xlsx"), ("back.xlsx", "sheet.ods")])
def test_a_wrong_ending_of_the_name_changes_nothing(
    saved: dict[str, Path], tmp_path: Path, source: str, name: str
) -> None:
    path = tmp_path / name
    path.write_bytes(saved[source].read_bytes())
    right, wrong = attempt_of(saved[source], "s", NOBODY), attempt_of(path, "s", NOBODY)
    assert wrong == right
    assert wrong.status == "accepted"


def test_a_changed_label_is_found(office: Office, tmp_path: Path) -> None:
    sheet = sheet_of()
    cell = cell_of(sheet, "sites", "label")
    title = sheet.layout.tab("sites").title
    attempt = changed(office, sheet, tmp_path, [[title, cell.row, cell.column, "Other words"]])
    assert [(one.code, one.tab, one.cell) for one in above_notes(attempt)] == [
        ("sheet-label-changed", title, f"{'ABCDEFGH'[cell.column]}{cell.row + 1}")
    ]
    assert attempt.status == "review"


def test_a_value_typed_over_a_result_is_found_and_the_result_is_that_of_the_entries(
    office: Office, tmp_path: Path
) -> None:
    sheet = sheet_of()
    attempt = changed(office, sheet, tmp_path, [[*sheet.place("sum_mm"), 12.5]])
    codes = {one.code for one in above_notes(attempt)}
    assert {"sheet-formula-replaced", "sheet-result-differs"} <= codes
    assert attempt.results is not None
    assert attempt.results.sum_mm != 12.5
    assert attempt.status == "review"


def test_an_entry_cut_onto_another_is_named_and_nothing_is_invented(office: Office, tmp_path: Path) -> None:
    sheet = sheet_of()
    title = sheet.layout.tab("readings").title
    places = sheet.layout.places()
    source, target = places["reading_1_chest"][1:], places["reading_1_thigh"][1:]
    with office.workbook(written(sheet, tmp_path)) as handle:
        office.set(handle, typed(sheet, entries_of(sheet)))
        office.move(handle, title, source, target)
        office.save_as(handle, tmp_path / "cut.ods", ODS)
    attempt = attempt_of(tmp_path / "cut.ods", "cut.ods", NOBODY)
    codes = {one.code for one in attempt.findings}
    assert "sheet-damaged-by-cut" in codes
    assert codes & {"sheet-formula-replaced", "sheet-result-differs", "sheet-label-changed"} == set()
    assert attempt.entries.get("reading_1_chest") is None
    assert attempt.entries["reading_1_thigh"] == entries_of(sheet)["reading_1_chest"]


def test_a_password_is_named(saved: dict[str, Path]) -> None:
    attempt = attempt_of(saved["locked.ods"], "locked.ods", NOBODY)
    assert (attempt.status, [one.code for one in attempt.findings]) == ("refused", ["file-encrypted"])


def test_macros_are_reported_and_the_sheet_is_read(saved: dict[str, Path], tmp_path: Path) -> None:
    stream = io.BytesIO(saved["back.ods"].read_bytes())
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("Basic/Standard/Module1.xml", b"<!DOCTYPE module>")
    path = tmp_path / "macros.ods"
    path.write_bytes(stream.getvalue())
    attempt = attempt_of(path, "macros.ods", NOBODY)
    assert attempt.status == "accepted"
    assert {one.code for one in attempt.findings} == HONEST | {"file-foreign-content"}
    (foreign,) = (one.found for one in in_english(attempt.findings) if one.code == "file-foreign-content")
    assert foreign == "Basic/Standard/Module1.xml"


def test_a_class_reads_an_ods_beside_an_xlsx(office: Office, tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    filled = returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    other = tmp_path / "other.xlsx"
    other.write_bytes(filled_sheet(folder, "S02"))
    with office.workbook(other) as handle:
        office.save_as(handle, filled.with_name("two.ods"), ODS)
    result = run("read", folder.root)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("2 files came back: 2 count")
