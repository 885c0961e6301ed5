"""`sheetgen look`: findings for single files, with and without their class."""

import json
import os
import re
from pathlib import Path

import openpyxl
import pytest
from openpyxl.cell.cell import MergedCell

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.look import explained, said_of
from sheetgen.errors import UsageError
from sheetgen.finding import Finding
from sheetgen.returned.attempt import Attempt
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
    assert result.stdout == f"{path}: counts\n"


def test_a_file_without_a_class_folder_is_read_and_not_proven(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "s.xlsx"
    path.write_bytes(filled_sheet(folder, "S01"))
    result = run("look", path)
    assert result.exit_code == 0
    assert result.stderr == (
        "  We cannot be sure whose sheet this is: nothing is on record of what was handed out."
        " Put the folder keep of the class back; for a single file name the class: --class FOLDER.\n"
    )
    assert run("look", path, "--class", folder.root).stderr == ""


def test_a_warning_is_shown_and_is_no_failure(folder: ClassFolder) -> None:
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": 12.3}))
    result = run("look", path)
    assert result.exit_code == 0
    assert result.stdout == f"{path}: counts\n"
    assert result.stderr == (
        "  Chest: a reading lies between two marks of the scale."
        " Check the reading and the caliper with the student.\n"
    )


def test_code_and_cell_are_said_on_demand_only(folder: ClassFolder) -> None:
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": 12.3}))
    result = run("look", path, "--verbose")
    assert result.stdout == f"{path}: counts\n"
    (line,) = result.stderr.splitlines()
    assert line.startswith(
        f"{path}:Readings!C5: warning entry-off-scale: found ... mm; expected steps of 0.5 mm. "
    )
    assert run("look", path, "--json").stderr == ""
    assert run("look", path, "--json", "--verbose").stderr == result.stderr


def test_what_was_found_more_than_once_says_once_what_to_do(folder: ClassFolder) -> None:
    path = returned(
        folder,
        "s.xlsx",
        filled_sheet(folder, "S01", {"reading_1_chest": 12.3, "reading_1_thigh": 20.3, "age_years": None}),
    )
    assert run("look", path).stderr.splitlines() == [
        "  Age of the person measured (tab Start): nothing is typed. "
        "Ask the student, and type it as a correction in the review workbook.",
        "  Chest: a reading lies between two marks of the scale. "
        "Check the reading and the caliper with the student.",
        "  Thigh: a reading lies between two marks of the scale.",
    ]


# findings, what is said of the file
SAID = (
    ((), ("waits for you",)),
    (
        (Finding("file-template", severity="note"), Finding("file-empty", severity="error")),
        (
            "waits for you",
            "The file has no content at all. Answer the student: ",
            "The sheet was saved as a template",
        ),
    ),
    (
        tuple(Finding("identity-changed", {}, tab, "B1", severity="error") for tab in ("Start", "Results")),
        ("waits for you", "A printed code, session or practice number is not the one"),
    ),
    ((Finding("sheet-structure-open", severity="note"),), ("waits for you",)),
)


@pytest.mark.parametrize(("findings", "beginnings"), SAID)
def test_a_file_is_told_in_plain_words_the_gravest_first(
    findings: tuple[Finding, ...], beginnings: tuple[str, ...]
) -> None:
    said = said_of(Attempt("s.xlsx", "ab", "review", None, "seven-sites", {}, None, findings), "en")
    assert len(said) == len(beginnings)
    assert [line[: len(beginning)] for line, beginning in zip(said, beginnings, strict=True)] == [*beginnings]


def test_a_file_is_told_in_the_language_of_the_class() -> None:
    missing = Finding("entry-missing", {"name": "age_years"}, "Inicio", "B7", "", "warning", 1, "age_years")
    attempt = Attempt("s.xlsx", "ab", "refused", None, "seven-sites", {}, None, (missing,))
    assert said_of(attempt, "es")[:1] == ("no se puede usar",)
    assert said_of(attempt, "es")[1].startswith("Edad de la persona medida (pestaña Inicio): ")


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
    for more in ((), ("--verbose",), ("--json",)):
        result = run("look", path, "--class", folder.root, *more)
        assert result.exit_code == 1
        # A digest may hold any three figures.
        shown = re.sub("[0-9a-f]{64}", "", result.stdout + result.stderr)
        for wanted in ("sheet-label-changed", "entry-") if more else ("printed", "age of the person"):
            assert wanted in shown.casefold()
        assert "731" not in shown
        assert "qqfree" not in shown


def test_any_error_is_exit_code_1(folder: ClassFolder) -> None:
    """Not only a refused file: `look` asks whether all is well."""
    path = returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": "twelve"}))
    result = run("look", path)
    assert result.exit_code == 1
    assert result.stderr.startswith("  Chest: ")
    assert "s.xlsx: waits for you" in result.stdout


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
    for arguments in ((), ("--verbose",), ("--json",)):
        result = run("look", path, *arguments)
        differs = "sheet-result-differs" if arguments else "result stored"
        assert differs in result.stdout + result.stderr
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
    assert result.stderr.startswith("  The file ")
    verbose = run("look", tmp_path / "pipe.xlsx", "--class", folder.root, "--verbose")
    assert "error file-unreadable: found a folder or device;" in verbose.stderr


def test_a_zip_is_looked_into(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "download.zip"
    path.write_bytes(zip_of({"Ada/s.xlsx": filled_sheet(folder, "S01"), "photo.pdf": b"%PDF-1.7"}))
    result = run("look", path, "--class", folder.root)
    assert result.exit_code == 1
    assert result.stdout.splitlines() == [
        f"{path}/Ada/s.xlsx: counts",
        f"{path}/photo.pdf: cannot be used",
    ]


def test_a_zip_that_is_damaged_is_one_finding(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "download.zip"
    path.write_bytes(zip_of({"s.xlsx": b"1" * 99})[:-30])
    result = run("look", path, "--class", folder.root, "--verbose")
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
