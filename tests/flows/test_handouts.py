"""The files for the printer beside the sheets of a session: written with every build, and as they print."""

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from sheetgen.errors import FolderError
from sheetgen.flows import handouts
from sheetgen.flows.build import build_sheets
from sheetgen.flows.handouts import write_handouts
from sheetgen.flows.sources import load_book
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from tests.classes import PEOPLE, built_class, changed_setting, record_of, run
from tests.office.client import Office
from tests.office.pictures import printed


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def values_on(path: Path, tab: str) -> list[str]:
    sheet = openpyxl.load_workbook(path)[tab]
    return [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value is not None]


def codes_on_forms(folder: ClassFolder) -> list[str]:
    shown = values_on(folder.paper_forms(1), "Forms")
    return [text.removeprefix("Sheet ") for text in shown if re.fullmatch(r"Sheet \S{4}-\S{4}", text)]


def test_a_form_a_sheet_by_measurer_and_the_spare_ones_last(folder: ClassFolder) -> None:
    students = (*PEOPLE, "spare-1", "spare-2", "spare-3")
    assert codes_on_forms(folder) == [record_of(folder, student).copy_code for student in students]


def test_forms_hold_no_names_and_slips_no_readings(folder: ClassFolder) -> None:
    forms = " ".join(values_on(folder.paper_forms(1), "Forms"))
    assert [name for name in ("Ada", "Fen", "Heath", "Moor", "Wold") if name in forms] == []
    slips = values_on(folder.handouts(1), "Pair slips")
    assert "Ada (S01)" in slips
    assert not [text for text in slips if re.fullmatch(r"-?\d+(\.\d+)?", text)]


def test_practice_readings_on_a_form_are_those_of_its_sheet(folder: ClassFolder) -> None:
    record = record_of(folder, "S01")
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    rows = [row for row in sheet.iter_rows(values_only=True) if row[0] == "Thigh"]
    wanted = [record.identity[f"practice_reading_{number}_thigh"] for number in (1, 2, 3)]
    assert list(rows[1][1:4]) == wanted


def test_one_student_built_alone_leaves_the_forms_of_all(folder: ClassFolder) -> None:
    before = codes_on_forms(folder)
    folder.paper_forms(1).unlink()
    assert run("build", folder.root, "--student", "S04").exit_code == 0
    assert codes_on_forms(folder) == before


def test_written_again_only_where_something_changed(folder: ClassFolder) -> None:
    paths = (folder.paper_forms(1), folder.handouts(1))
    before = [(path.read_bytes(), path.stat().st_mtime_ns) for path in paths]
    build_sheets(folder, 1)
    assert [(path.read_bytes(), path.stat().st_mtime_ns) for path in paths] == before
    changed_setting(folder, "Tolerance", 1)
    build_sheets(folder, 1)
    assert any("differ by more than 1 mm" in text for text in values_on(paths[0], "Forms"))


def test_a_session_has_files_of_its_own(folder: ClassFolder) -> None:
    build_sheets(folder, 2)
    assert any("session 2" in text for text in values_on(folder.paper_forms(2), "Forms"))
    assert values_on(folder.handouts(2), "Run sheet")[0].endswith("session 2")


def test_who_left_and_a_pair_no_longer_there_get_no_form(folder: ClassFolder) -> None:
    book = load_book(folder)
    changed = replace(book, pairings=tuple(pair for pair in book.pairings if pair.measurer != "S02"))
    assert write_handouts(folder, changed, 1) == ()
    assert record_of(folder, "S02").copy_code not in codes_on_forms(folder)
    assert "Bo (S02)" not in values_on(folder.handouts(1), "Pair slips")


def test_a_claimed_spare_sheet_is_printed_for_who_has_it(folder: ClassFolder) -> None:
    book, spare = load_book(folder), record_of(folder, "spare-1")
    first, *others = book.pairings
    claimed = replace(book, pairings=(replace(first, spare=spare.copy_code), *others))
    assert write_handouts(folder, claimed, 1) == ()
    codes = codes_on_forms(folder)
    assert spare.copy_code == codes[0]
    assert record_of(folder, "S01").copy_code not in codes


def test_a_file_that_cannot_be_written_is_named_and_the_build_goes_on(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder.paper_forms(1).unlink()

    def refuse(path: Path, data: bytes, **options: object) -> None:
        raise FolderError(path, "it cannot be written: in use", "a place to write to", "Close it there.")

    monkeypatch.setattr(handouts, "write_beside", refuse)
    summary = build_sheets(folder, 1)
    assert summary.notes == (
        f"{folder.paper_forms(1)}: it cannot be written: in use; expected a place to write to."
        " Close it there. The sheets are built; only this file is as it was.",
    )


def test_a_sheet_whose_layout_is_gone_is_named(folder: ClassFolder) -> None:
    digest = record_of(folder, "S01").layout_digest
    (folder.layouts / f"{digest}.json").unlink()
    notes = write_handouts(folder, load_book(folder), 1)
    assert record_of(folder, "S01").copy_code in notes[0]
    assert "It gets no paper form" in notes[0]


def test_pages_of_the_forms_have_a_scale_and_breaks_of_their_own(folder: ClassFolder) -> None:
    """Fitted to the width of a page, a program may leave the breaks out."""
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    assert not sheet.sheet_properties.pageSetUpPr.fitToPage
    assert 88 <= sheet.page_setup.scale <= 94
    # A break stands below the row of its number, counted from 1.
    starts = [row[0].row for row in sheet.iter_rows() if re.match(r"Sheet \S{4}-", str(row[0].value))]
    assert [one.id for one in sheet.row_breaks.brk] == [row - 1 for row in starts[1:]]
    assert sheet.merged_cells.ranges == set()


def test_texts_of_what_is_printed_follow_the_language_of_the_class(folder: ClassFolder) -> None:
    book = load_book(folder)
    spanish = replace(book, settings=replace(book.settings, language="es"))
    assert write_handouts(folder, spanish, 1) == ()
    assert openpyxl.load_workbook(folder.handouts(1)).properties.language == "es"


def pages_of(pdf: Path) -> list[str]:
    """The text of each page; spaces as they fall."""
    done = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return done.stdout.split("\f")[:-1]


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.office
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_forms_print_one_page_each_and_no_word_is_cut(
    folder: ClassFolder, office: Office, tmp_path: Path, paper: str
) -> None:
    pages = pages_of(printed(folder.paper_forms(1), tmp_path / "forms.pdf", office, paper))
    records = [builds[-1] for builds in keep.load_records(folder).values()]
    assert len(pages) == len(records) == 7
    for number, (page, code) in enumerate(zip(pages, codes_on_forms(folder), strict=True), start=1):
        assert f"Sheet {code}" in page
        assert f"Page {number} of 7" in page
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    on_paper = squeezed("".join(pages))
    lines = {str(cell.value) for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)}
    # A heading of two lines stands beside those of other columns.
    whole = [line for line in lines if not line.startswith(("They differ", "Third needed", "Not taken: l"))]
    whole = [line for line in whole if not line.startswith(("If replaced", "From round"))]
    assert [line for line in whole if squeezed(line) not in on_paper] == []


@pytest.mark.office
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_slips_run_sheet_and_stations_print_one_page_each(
    folder: ClassFolder, office: Office, tmp_path: Path, paper: str
) -> None:
    pages = pages_of(printed(folder.handouts(1), tmp_path / "handouts.pdf", office, paper))
    assert len(pages) == 3
    for words, page in zip(("Pair slips", "Run sheet", "Stations"), pages, strict=True):
        assert words in page
    assert "13. Local law, school policy and licensed practice" in " ".join(pages[1].split())
