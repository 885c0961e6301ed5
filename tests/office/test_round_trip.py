"""A sheet goes through a real spreadsheet program and comes back: honest, changed, and damaged by a cut."""

import math
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.commands.demo import sample_entries
from sheetgen.finding import Finding, Refusal
from sheetgen.protocols.names import live_names
from sheetgen.protocols.recalculation import live_values
from sheetgen.protocols.settings import SheetSettings
from sheetgen.returned.one_file import Examination, examined
from sheetgen.texts.findings import completed, load_catalogue
from sheetgen.workbook.layout import Cell, Tab
from sheetgen.workbook.read.guard import read_package
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import Snapshot
from tests.office.client import Office
from tests.sheets import CALIPERS, SETTINGS, Sheet, sheet_of

pytestmark = pytest.mark.office

CHANGED_FORMULAS = 34 if os.environ.get("SHEETGEN_NIGHTLY") else 12


def entries_of(sheet: Sheet) -> dict[str, object]:
    settings = sheet.source.settings
    (caliper,) = (one for one in CALIPERS if one.identifier == "C1")
    sample = sample_entries(sheet.source.protocol, settings, caliper, "round trip")
    return {**sample, "caliper_id": "C1", "participant_today": ""}


def typed(sheet: Sheet, entries: dict[str, object]) -> list[list[object]]:
    return [[*sheet.place(name), value] for name, value in entries.items()]


def written(sheet: Sheet, folder: Path) -> Path:
    path = folder / "sheet.xlsx"
    path.write_bytes(sheet.data)
    return path


def state_of(path: Path) -> Snapshot:
    package = read_package(path)
    assert not isinstance(package, Refusal), package
    state = snapshot(package)
    assert not isinstance(state, Refusal), state
    return state


def examination_of(sheet: Sheet, path: Path) -> Examination:
    examination = examined(sheet.issued, state_of(path))
    return replace(examination, findings=completed(examination.findings, load_catalogue()))


def serious(findings: tuple[Finding, ...]) -> list[Finding]:
    return [one for one in findings if one.code.startswith("sheet-") and one.severity != "note"]


def formula_cells(sheet: Sheet) -> Iterator[tuple[Tab, Cell]]:
    for tab in sheet.layout.tabs:
        for cell in tab.cells:
            if cell.role == "formula":
                yield tab, cell


def formula_places(sheet: Sheet) -> list[list[object]]:
    return [[tab.title, cell.row, cell.column] for tab, cell in formula_cells(sheet)]


def equal(found: object, expected: object) -> bool:
    if isinstance(found, int | float) and isinstance(expected, int | float):
        return math.isclose(found, expected, rel_tol=1e-9, abs_tol=1e-9)
    return ("" if found is None else found) == ("" if expected is None else expected)


@pytest.fixture(scope="module")
def saved(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sheet filled in and saved by the program."""
    folder = tmp_path_factory.mktemp("saved")
    with office.workbook(written(sheet_of(), folder)) as handle:
        office.set(handle, typed(sheet_of(), entries_of(sheet_of())))
        office.save_as(handle, folder / "back.xlsx")
    return folder / "back.xlsx"


def test_a_filled_sheet_saved_by_the_program_has_no_finding_above_a_note(saved: Path) -> None:
    examination = examination_of(sheet_of(), saved)
    assert serious(examination.findings) == []
    assert [one for one in examination.findings if one.severity == "error"] == []
    assert examination.results.sum_mm is not None
    assert examination.results.fat_free_mass_kg is not None


def test_results_the_program_stored_equal_the_core(saved: Path) -> None:
    sheet = sheet_of()
    state = state_of(saved)
    live = live_values(examination_of(sheet, saved).results)
    stored = {}
    for name in live:
        title, row, column = sheet.place(name)
        (tab,) = (tab for tab in state.tabs if tab.title == title)
        stored[name] = tab.value(int(row), int(column))
    assert {name: stored[name] for name in live if not equal(stored[name], live[name])} == {}
    assert sum(isinstance(value, float) for value in live.values()) == 14
    assert set(live) | {"ready"} == set(live_names(sheet.source.protocol))


@dataclass(frozen=True)
class Change:
    """A cell that gets another formula, its own value in place of its formula, or nothing."""

    tab: str
    cell: Cell
    becomes: str

    @property
    def code(self) -> str:
        """Under which it is found."""
        return "sheet-formula-changed" if self.becomes == "formula" else "sheet-formula-replaced"

    @property
    def at(self) -> tuple[str, int, int]:
        return self.tab, self.cell.row, self.cell.column


def in_files(changes: Sequence[Change]) -> list[list[Change]]:
    """Changes in as few files as tell them apart: of a code and tab a file makes one finding, and a cell is
    changed in one way."""
    files: list[list[Change]] = []
    taken: list[set[object]] = []
    for change in changes:
        of_its_own = {(change.code, change.tab), change.at}
        number = next((number for number, one in enumerate(taken) if not one & of_its_own), len(files))
        if number == len(files):
            files.append([])
            taken.append(set())
        files[number].append(change)
        taken[number] |= of_its_own
    return files


def test_any_one_changed_formula_is_found(office: Office, tmp_path: Path) -> None:
    """Another formula, its value typed over it, or the cell emptied; then put back. Each way once alone in a
    file, the others as many in a file as are findings of their own: each is found, and nothing else."""
    sheet = sheet_of()
    cells = list(formula_cells(sheet))
    step = len(cells) / CHANGED_FORMULAS
    chosen = [cells[int(number * step)] for number in range(CHANGED_FORMULAS)]
    visible = [(tab, cell) for tab, cell in cells if not tab.hidden]
    chosen += visible[:: max(1, len(visible) // 10)]
    with_formulas = {tab.title for tab, _ in cells}
    # Some tabs show one formula only.
    chosen += [next(pair for pair in visible if pair[0].title == tab.title)
               for tab in sheet.layout.tabs if tab.title in {one.title for one, _ in visible}]  # fmt: skip
    assert {tab.title for tab, _ in chosen} == with_formulas
    ways = ("formula", "value", "nothing")
    changes = [Change(tab.title, cell, ways[number % 3]) for number, (tab, cell) in enumerate(chosen)]
    files = [[change] for change in changes[:3]] + in_files(changes[3:])
    wrong = []
    with office.workbook(written(sheet, tmp_path)) as handle:
        office.set(handle, typed(sheet, entries_of(sheet)))
        for tab in sheet.layout.tabs:
            office.unprotect(handle, tab.title)
        office.save_as(handle, tmp_path / "back.xlsx")
        before = {(one.code, one.tab) for one in examination_of(sheet, tmp_path / "back.xlsx").findings}
        # The protection had to come off to change anything; nothing else may be found.
        opened = {"sheet-protection-off", "sheet-structure-open", "sheet-tab-shown"}
        assert {code for code, _ in before if code.startswith("sheet-")} <= opened
        for file in files:
            formulas = office.formulas(handle, [change.at for change in file])
            values = office.get(handle, [change.at for change in file])
            for change, formula, value in zip(file, formulas, values, strict=True):
                if change.becomes == "formula":
                    office.set_formula(handle, *change.at, f'{formula}&""')
                else:
                    stays = change.becomes == "value" and value != ""
                    office.set(handle, [[*change.at, value if stays else None]])
            office.save_as(handle, tmp_path / "back.xlsx")
            expected = {(change.code, change.tab, address(change.cell)) for change in file}
            found = {
                (one.code, one.tab, one.cell)
                for one in examination_of(sheet, tmp_path / "back.xlsx").findings
                if one.code in ("sheet-formula-changed", "sheet-formula-replaced")
            }
            if found != expected:
                wrong.append((sorted(expected), sorted(found)))
            for change, formula in zip(file, formulas, strict=True):
                office.set_formula(handle, *change.at, formula)
        office.save_as(handle, tmp_path / "back.xlsx")
        assert {
            (one.code, one.tab) for one in examination_of(sheet, tmp_path / "back.xlsx").findings
        } == before
    assert wrong == []
    assert len(changes) >= CHANGED_FORMULAS + 6


def address(cell: Cell) -> str:
    return f"{chr(ord('A') + cell.column)}{cell.row + 1}"


# how the program takes a reading of one site onto that of another
@pytest.mark.parametrize("way", ("move", "cut_paste"))
def test_an_entry_cut_onto_another_keeps_computing_and_nothing_is_invented(
    office: Office, tmp_path: Path, way: str
) -> None:
    sheet = sheet_of()
    entries = entries_of(sheet)
    title, *source = sheet.place("reading_1_chest")
    _, *target = sheet.place("reading_1_thigh")
    with office.workbook(written(sheet, tmp_path)) as handle:
        office.set(handle, typed(sheet, entries))
        getattr(office, way)(handle, title, source, target)
        live = dict(
            zip(
                live_names(sheet.source.protocol),
                office.get(handle, [sheet.place(name) for name in live_names(sheet.source.protocol)]),
                strict=True,
            )
        )
        everywhere = office.get(handle, formula_places(sheet))
        office.save_as(handle, tmp_path / "back.xlsx")
    assert [value for value in everywhere if isinstance(value, dict)] == []
    examination = examination_of(sheet, tmp_path / "back.xlsx")
    codes = {one.code for one in examination.findings}
    assert "sheet-damaged-by-cut" in codes
    assert codes & {"sheet-formula-changed", "sheet-formula-replaced", "sheet-result-differs"} == set()
    cut = [one for one in examination.findings if one.code == "sheet-damaged-by-cut"]
    assert {one.tab for one in cut} == {title}
    sites = {site.site: site for site in examination.results.sites}
    assert examination.entries.get("reading_1_chest") is None
    assert examination.entries["reading_1_thigh"] == entries["reading_1_chest"]
    assert sites["chest"].value_mm is None
    assert examination.results.sum_mm is None
    assert examination.results.density_g_ml is None
    assert (live["site_chest"], live["sum_mm"], live["density_g_ml"]) == ("", "", "")
    expected = live_values(examination.results)
    assert {name: live[name] for name in expected if not equal(live[name], expected[name])} == {}
    untouched = [word for word in sites if word not in ("chest", "thigh")]
    assert [word for word in untouched if sites[word].value_mm is None] == []


FIRST_VALUES = (
    (SETTINGS, "C1"),
    (replace(SETTINGS, site_rule="closest-pair", show_results="always", conversion="brozek"), "C2"),
    (replace(SETTINGS, tolerance_kind="percent", tolerance=7.5, show_results="never"), "7"),
)


@pytest.mark.parametrize(("settings", "caliper_id"), FIRST_VALUES)
def test_first_stored_values_are_those_the_program_works_out(
    office: Office, tmp_path: Path, settings: SheetSettings, caliper_id: str
) -> None:
    """A preview shows what is stored, so a wrong first value would be what people see."""
    sheet = sheet_of(settings, caliper_id=caliper_id)
    path = written(sheet, tmp_path)
    tabs = {tab.title: tab for tab in state_of(path).tabs}
    places = formula_places(sheet)
    with office.workbook(path) as handle:
        worked_out = office.get(handle, places)
    wrong = [
        (title, row, column, stored, found)
        for (title, row, column), found in zip(places, worked_out, strict=True)
        for stored in [tabs[str(title)].value(int(str(row)), int(str(column)))]
        if not equal(stored, found)
    ]
    assert wrong == []


# what stands in one entry while all others are filled in
@pytest.mark.parametrize("kind", ("empty", "empty text", "text", "blank"))
def test_no_entry_of_any_kind_gives_an_error_anywhere(office: Office, tmp_path: Path, kind: str) -> None:
    sheet = sheet_of(replace(SETTINGS, show_results="always"))
    entries = {
        "zero_2_mm": 0.5,
        "caliper_id_2": "C2",
        "changed_from_round": "2",
        "changed_from_site": "thigh",
        **entries_of(sheet),
    }
    names = [cell.name for tab in sheet.layout.tabs for cell in tab.cells if cell.role == "entry"]
    places = formula_places(sheet)
    with office.workbook(written(sheet, tmp_path)) as handle:
        value = {"empty": None, "empty text": {"formula": '=""'}, "text": "twelve", "blank": "  "}[kind]
        found = office.cases(handle, places, [typed(sheet, {**entries, name: value}) for name in names])
    errors = [
        (name, place, value)
        for name, values in zip(names, found, strict=True)
        for place, value in zip(places, values, strict=True)
        if isinstance(value, dict)
    ]
    assert errors == []
    assert len(names) >= 59


def test_a_sheet_with_a_password_is_refused_as_encrypted(office: Office, tmp_path: Path) -> None:
    sheet = sheet_of()
    with office.workbook(written(sheet, tmp_path)) as handle:
        office.save_as(handle, tmp_path / "back.xlsx", password="secret")
    refusal = read_package(tmp_path / "back.xlsx")
    assert isinstance(refusal, Refusal)
    assert refusal.code == "file-encrypted"


def test_no_reading_is_taken_before_the_cautions_are_agreed_to(office: Office, tmp_path: Path) -> None:
    """A reading goes into a box that is open, and none is until the cautions are agreed to."""
    sheet = sheet_of()
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    opened = sheet.place("open_round_chest")
    with office.workbook(path) as handle:
        office.set(handle, [[*sheet.place("zero_mm"), 0.5]])
        before = office.get(handle, [opened])
        office.set(handle, [[*sheet.place("cautions_confirmed"), "yes"]])
        after = office.get(handle, [opened])
    assert (before, after) == ([0], [1])
