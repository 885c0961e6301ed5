"""`sheetgen look`: findings for single files, with and without their class."""

import json
import os
from pathlib import Path

import openpyxl
import pytest
from openpyxl.cell.cell import MergedCell

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.look import explained
from sheetgen.errors import UsageError
from sheetgen.texts.findings import load_catalogue
from tests.classes import built_class, filled_sheet, only_line, returned, run
from tests.zips import zip_of


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def test_a_file_in_its_class_folder_is_proven(folder: ClassFolder) -> None:
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    result = run("look", path)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == f"{path}: accepted, 0 findings\n"


def test_a_file_without_a_class_folder_is_read_and_not_proven(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "s.xlsx"
    path.write_bytes(filled_sheet(folder, "S01"))
    result = run("look", path)
    assert result.exit_code == 0
    assert result.stderr == (
        f"{path}: note identity-not-proven: found no record of this sheet; expected the folder keep/ of the"
        " class. Put the folder keep of the class back; for a single file name the class: --class FOLDER.\n"
    )
    assert run("look", path, "--class", folder.root).stderr == ""


def test_a_warning_is_shown_and_is_no_failure(folder: ClassFolder) -> None:
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": 12.3}))
    result = run("look", path)
    assert result.exit_code == 0
    assert f"{path}:Readings!C5: warning entry-off-scale" in result.stderr
    assert "warning entry-off-scale: found ... mm; expected steps of 0.5 mm." in result.stderr


SECRET = 731.25
"""A number no sheet holds otherwise; so is the text around it."""


@pytest.mark.parametrize("content", [SECRET, f"qqfree {SECRET} kg"])
def test_nothing_that_somebody_typed_anywhere_is_on_the_terminal(
    folder: ClassFolder, tmp_path: Path, content: str | float
) -> None:
    path = tmp_path / "s.xlsx"
    path.write_bytes(filled_sheet(folder, "S01"))
    book = openpyxl.load_workbook(path)
    for tab in book.worksheets:
        for number, row in enumerate(tab.iter_rows(min_row=2, max_row=200)):
            for cell in row:
                # Of the locked cells enough stay for the tab to be known, and for the sheet to be ours.
                if isinstance(cell, MergedCell):
                    continue
                if not cell.protection.locked or (number % 3 == 0 and cell.value != "settings"):
                    cell.value = content
        tab["AB3"] = content
    book["Calculator"]["B3"] = content
    book.create_sheet(f"qqfree {SECRET}")
    book.defined_names["sum_mm"].attr_text = f'"{content}"'
    book.save(path)
    for more in ((), ("--json",)):
        result = run("look", path, "--class", folder.root, *more)
        assert result.exit_code == 1
        assert "sheet-label-changed" in result.stderr
        assert "entry-" in result.stderr
        assert "731" not in result.output + result.stderr
        assert "qqfree" not in result.output + result.stderr


def test_any_error_is_exit_code_1(folder: ClassFolder) -> None:
    """Not only a refused file: `look` asks whether all is well."""
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": "twelve"}))
    result = run("look", path)
    assert result.exit_code == 1
    assert "error entry-not-a-number" in result.stderr
    assert "s.xlsx: review, 1 finding" in result.stdout


def test_json_lists_files_and_findings(folder: ClassFolder) -> None:
    good = returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    bad = returned(folder, "t.xlsx", b"")
    result = run("look", good, bad, "--json")
    assert result.exit_code == 1
    shown = json.loads(result.stdout)
    assert [(one["file"], one["status"], one["student_id"]) for one in shown] == [
        (str(good), "accepted", "S01"),
        (str(bad), "refused", None),
    ]
    assert [(finding["code"], finding["severity"]) for finding in shown[1]["findings"]] == [
        ("file-empty", "error")
    ]


def test_no_body_value_is_printed(folder: ClassFolder) -> None:
    path = returned(
        folder,
        "s.xlsx",
        filled_sheet(
            folder, "S01", {"mass_kg": "61,7"}, stored={"density_g_ml": 1.07654, "fat_percent": 98.7}
        ),
    )
    for arguments in ((), ("--json",)):
        result = run("look", path, *arguments)
        assert "sheet-result-differs" in result.stdout + result.stderr
        assert [word for word in ("61,7", "1.07", "98.7") if word in result.stdout + result.stderr] == []


# what is named, words of the message
NOT_A_FILE = (("none.xlsx", "no such file; expected a returned sheet. Check the name."), (".", "a folder"))


@pytest.mark.parametrize(("name", "words"), NOT_A_FILE)
def test_what_is_no_file_gives_one_line(tmp_path: Path, name: str, words: str) -> None:
    result = run("look", tmp_path / name)
    assert result.exit_code == 2
    assert only_line(result).startswith(f"sheetgen: {tmp_path / name}: {words}")


def test_a_class_that_is_none_gives_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    path = returned(folder, "s.xlsx", b"x")
    result = run("look", path, "--class", tmp_path / "other")
    assert result.exit_code == 2
    assert "no such folder; expected a class folder" in only_line(result)


def test_a_pipe_is_not_waited_for(folder: ClassFolder, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.xlsx")
    result = run("look", tmp_path / "pipe.xlsx", "--class", folder.root)
    assert result.exit_code == 1
    assert "error file-unreadable: found a folder or device;" in result.stderr


def test_a_zip_is_looked_into(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "download.zip"
    path.write_bytes(zip_of({"Ada/s.xlsx": filled_sheet(folder, "S01"), "photo.pdf": b"%PDF-1.7"}))
    result = run("look", path, "--class", folder.root)
    assert result.exit_code == 1
    assert result.stdout.splitlines() == [
        f"{path}/Ada/s.xlsx: accepted, 0 findings",
        f"{path}/photo.pdf: refused, 1 finding",
    ]


def test_a_zip_that_is_damaged_is_one_finding(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "download.zip"
    path.write_bytes(zip_of({"s.xlsx": b"1" * 99})[:-30])
    result = run("look", path, "--class", folder.root)
    assert result.exit_code == 1
    assert result.stderr.startswith(f"{path}: error file-bundle-damaged: found a damaged zip")


def test_every_code_has_a_page_with_meaning_and_remedy() -> None:
    for code, kind in load_catalogue().items():
        result = run("explain", code)
        assert (result.exit_code, result.stderr) == (0, "")
        assert result.stdout == f"{code} ({kind.severity})\n{kind.means}\nWhat to do: {kind.remedy}\n"


def test_without_a_code_all_are_listed() -> None:
    lines = run("explain").stdout.splitlines()
    assert [line.split() for line in lines] == [
        [kind.severity, code] for code, kind in load_catalogue().items()
    ]


def test_an_unknown_code_names_the_near_one() -> None:
    result = run("explain", "sheet-damaged-by-cat")
    assert result.exit_code == 2
    assert only_line(result) == (
        "sheetgen: sheet-damaged-by-cat: no finding of that code; expected a code of the catalogue."
        " Did you mean 'sheet-damaged-by-cut'?"
    )


def test_a_code_like_no_other_names_the_list() -> None:
    with pytest.raises(UsageError) as caught:
        explained("zzz")
    assert caught.value.remedy == "`sheetgen explain` without a code lists them all."
