"""The harness itself: what it says about a workbook must come from the spreadsheet program."""

import contextlib
import os
import signal
import statistics
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from tests.office.client import ODS, XLSX, Office, OfficeError, OfficeGone
from tests.office.pictures import render

pytestmark = pytest.mark.office

POISON = 777
RESULTS = [["Results", row, 0] for row in range(4)]


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """Three unlocked entries in A1:A3 of a protected tab, results on another, wrong cached values."""
    path = tmp_path / "sheet.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        entries, results = workbook.add_worksheet("Entries"), workbook.add_worksheet("Results")
        unlocked = workbook.add_format({"locked": False, "num_format": "0.0"})
        for row in range(3):
            entries.write_blank(row, 0, None, unlocked)
            workbook.define_name(f"entry.{row + 1}", f"=Entries!$A${row + 1}")
        entries.write(0, 1, "locked")
        for row, formula in enumerate(
            (
                '=IF(COUNT(Entries!A1:A3)=0,"",MEDIAN(Entries!A1:A3))',
                "=entry.1*2",
                "=1/Entries!A3",
                "=INDEX(Entries!$A$1:$A$3,2)",
            )
        ):
            results.write_formula(row, 0, formula, None, POISON)
        entries.protect("secret")
        results.protect("secret")
    return path


def entries(*values: float | str | None) -> list[list[object]]:
    return [["Entries", row, 0, value] for row, value in enumerate(values)]


def test_get_recalculates_poisoned_cached_values(office: Office, sheet: Path) -> None:
    stored = openpyxl.load_workbook(sheet, data_only=True)["Results"]
    assert [stored.cell(row, 1).value for row in range(1, 5)] == [POISON] * 4
    with office.workbook(sheet) as handle:
        assert office.get(handle, RESULTS) == ["", 0.0, {"error": 532}, 0.0]


def test_get_recalculates_a_poisoned_open_document_file(office: Office, sheet: Path, tmp_path: Path) -> None:
    honest, poisoned = tmp_path / "honest.ods", tmp_path / "poisoned.ods"
    with office.workbook(sheet) as handle:
        office.set(handle, entries(1, 2, 4))
        office.save_as(handle, honest, ODS)
    with zipfile.ZipFile(honest) as source, zipfile.ZipFile(poisoned, "w") as target:
        for item in source.infolist():
            data = source.read(item)
            if item.filename == "content.xml":
                assert data.count(b'office:value="0.25"') == 1
                data = data.replace(b'office:value="0.25"', b'office:value="777"')
            target.writestr(item, data)
    with office.workbook(poisoned) as handle:
        assert office.get(handle, RESULTS) == [2.0, 2.0, 0.25, 2.0]


def test_set_numbers_texts_and_nothing(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        office.set(handle, entries(10, 12.5, 4))
        assert office.get(handle, RESULTS) == [10.0, 20.0, 0.25, 12.5]
        office.set(handle, entries(None, "12.5", 4))
        assert office.get(handle, RESULTS) == [4.0, 0.0, 0.25, "12.5"]
        assert office.get(handle, [row[:3] for row in entries("", "", "")]) == ["", "12.5", 4.0]


def test_set_on_a_locked_cell_is_refused(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        for value in (1, "text", None):
            with pytest.raises(OfficeError, match="locked"):
                office.set(handle, [["Entries", 0, 1, value]])
        with pytest.raises(OfficeError, match="locked"):
            office.set_formula(handle, "Results", 0, 0, "=1")
        assert office.get(handle, [["Entries", 0, 1]]) == ["locked"]


def test_set_formula_after_the_protection_is_taken_off(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        with pytest.raises(OfficeError, match="password"):
            office.unprotect(handle, "Results", "wrong")
        office.unprotect(handle, "Results", "secret")
        office.set_formula(handle, "Results", 0, 0, "=SUM(1;2)")
        office.protect(handle, "Results", "secret")
        assert office.get(handle, RESULTS[:1]) == [3.0]
        assert office.formulas(handle, [*RESULTS[:2], ["Entries", 0, 0]]) == ["=SUM(1;2)", "=entry.1*2", ""]


def test_cases_equal_a_median_worked_here(office: Office, sheet: Path) -> None:
    values = [
        [None if (turn + row) % 4 == 0 else (turn * 37 + row * 11) % 100 / 2 for row in range(3)]
        for turn in range(300)
    ]
    expected = [statistics.median(value for value in case if value is not None) for case in values]
    with office.workbook(sheet) as handle:
        found = office.cases(handle, RESULTS[:1], [entries(*case) for case in values])
    assert [case[0] for case in found] == expected


def test_cases_stand_alone(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        office.set(handle, [["Entries", 2, 0, 8]])
        one = [["Entries", 0, 0, 5]]
        assert office.cases(handle, RESULTS, [one, [], [["Entries", 1, 0, "5"]]]) == [
            [6.5, 10.0, 0.125, 0.0],
            [8.0, 0.0, 0.125, 0.0],
            [8.0, 0.0, 0.125, "5"],
        ]
        assert office.cases(handle, RESULTS, [[]]) == [[8.0, 0.0, 0.125, 0.0]]
        assert office.cases(handle, RESULTS, []) == []


@pytest.mark.parametrize("how", ["move", "cut_paste"])
def test_a_cut_on_a_protected_sheet_takes_the_name_along(office: Office, sheet: Path, how: str) -> None:
    with office.workbook(sheet) as handle:
        office.set(handle, entries(1, 2, 4))
        getattr(office, how)(handle, "Entries", [0, 0], [1, 0])
        assert office.get(handle, [["Entries", row, 0] for row in range(3)]) == ["", 1.0, 4.0]
        assert office.names(handle) == {
            "entry.1": "$Entries.$A$2",
            "entry.2": "$Entries.$A$2",
            "entry.3": "$Entries.$A$3",
        }
        assert office.get(handle, RESULTS[1:]) == [2.0, 0.25, 1.0]


@pytest.mark.parametrize("how", ["move", "cut_paste"])
@pytest.mark.parametrize("places", [([0, 0], [0, 1]), ([0, 1], [0, 0])])
def test_a_cut_that_touches_a_locked_cell_is_refused(
    office: Office, sheet: Path, how: str, places: tuple[list[int], list[int]]
) -> None:
    with office.workbook(sheet) as handle:
        office.set(handle, entries(1, 2, 4))
        with pytest.raises(OfficeError, match="locked"):
            getattr(office, how)(handle, "Entries", *places)
        assert office.get(handle, [["Entries", 0, 0], ["Entries", 0, 1]]) == [1.0, "locked"]


@pytest.mark.parametrize(("filter_name", "ending"), [(XLSX, "xlsx"), (ODS, "ods")])
def test_save_as_keeps_entries_results_and_protection(
    office: Office, sheet: Path, tmp_path: Path, filter_name: str, ending: str
) -> None:
    copy = tmp_path / f"copy.{ending}"
    with office.workbook(sheet) as handle:
        office.set(handle, entries(3, 5, 8))
        office.save_as(handle, copy, filter_name)
    with office.workbook(copy) as handle:
        assert office.get(handle, RESULTS) == [5.0, 6.0, 0.125, 5.0]
        with pytest.raises(OfficeError, match="locked"):
            office.set(handle, [["Entries", 0, 1, 1]])


def test_save_as_stores_the_results_it_worked_out(office: Office, sheet: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.xlsx"
    with office.workbook(sheet) as handle:
        office.set(handle, entries(3, 5, 8))
        office.save_as(handle, copy)
    stored = openpyxl.load_workbook(copy, data_only=True)["Results"]
    assert [stored.cell(row, 1).value for row in range(1, 5)] == [5, 6, 0.125, 5]


def test_save_as_with_a_password_encrypts(office: Office, sheet: Path, tmp_path: Path) -> None:
    with office.workbook(sheet) as handle:
        office.save_as(handle, tmp_path / "secret.xlsx", XLSX, "word")
    assert (tmp_path / "secret.xlsx").read_bytes()[:4] == b"\xd0\xcf\x11\xe0"
    handle = office.open(tmp_path / "secret.xlsx", "word")
    assert office.tabs(handle) == ["Entries", "Results"]
    office.close(handle)


def test_tabs_are_renamed_and_inserted_unless_the_structure_is_protected(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        office.rename_tab(handle, "Results", "Outcome")
        office.insert_tab(handle, "New", 1)
        assert office.tabs(handle) == ["Entries", "New", "Outcome"]
        office.protect(handle, None, "secret")
        with pytest.raises(OfficeError, match="structure"):
            office.rename_tab(handle, "New", "Newer")
        with pytest.raises(OfficeError, match="structure"):
            office.insert_tab(handle, "Other")
        assert office.tabs(handle) == ["Entries", "New", "Outcome"]


def test_render_makes_a_picture_a_page(office: Office, sheet: Path, tmp_path: Path) -> None:
    pages = render(sheet, tmp_path / "pictures", office)
    assert [page.name for page in pages] == ["sheet-1.png", "sheet-2.png"]
    assert pages[0].read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_open_of_a_missing_file(office: Office, tmp_path: Path) -> None:
    with pytest.raises(OfficeError, match="no file"):
        office.open(tmp_path / "missing.xlsx")


def test_get_on_an_unknown_tab_names_the_tabs(office: Office, sheet: Path) -> None:
    with (
        office.workbook(sheet) as handle,
        pytest.raises(OfficeError, match="'Nowhere'; the tabs are Entries, Results"),
    ):
        office.get(handle, [["Nowhere", 0, 0]])


def test_no_lock_file_is_left_beside_the_workbook(office: Office, sheet: Path) -> None:
    with office.workbook(sheet) as handle:
        office.get(handle, RESULTS)
        assert [path.name for path in sheet.parent.iterdir()] == ["sheet.xlsx"]


def test_a_program_that_ended_is_told_at_once(sheet: Path) -> None:
    with Office.start() as office:
        handle = office.open(sheet)
        os.killpg(office.process, signal.SIGKILL)
        with pytest.raises(OfficeGone, match="it ended during get"):
            office.get(handle, RESULTS)
        with pytest.raises(OfficeGone, match="it ended during get"):
            office.tabs(handle)


def living(group: int) -> bool:
    """Whether a process of a group still runs; one that only waits to be reaped does not."""
    if not Path("/proc/self/stat").exists():
        return subprocess.run(["pgrep", "-g", str(group)], capture_output=True, check=False).returncode == 0
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, _, found = path.read_text(errors="replace").rpartition(")")[2].split()[:3]
            if int(found) == group and state not in "ZX":
                return True
    return False


def test_stop_ends_the_program() -> None:
    with Office.start() as office:
        process = office.process
        assert living(process)
    assert not living(process)
    with pytest.raises(OfficeGone, match="it was stopped"):
        office.tabs(1)


def test_a_missing_program_is_one_clear_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.office.client.find_system_python", lambda: None)
    with pytest.raises(OfficeGone, match="install LibreOffice Calc with its Python bridge"):
        Office.start()


def test_the_driver_ends_when_nobody_talks_to_it() -> None:
    from tests.office.client import DRIVER, clean_environment, find_system_python

    python = find_system_python()
    assert python is not None
    done = subprocess.run(
        [python, str(DRIVER)],
        input='["nonsense"]\n',
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env=clean_environment(),
    )
    ready, reply = done.stdout.splitlines()
    assert '"process"' in ready
    assert reply == '{"error": "no command \'nonsense\'", "gone": false}'
    assert done.returncode == 0
