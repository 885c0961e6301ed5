"""Who only measures, and who uses practice readings, is in no print, on no screen and no page of the class.

A class of ten in which two only measure and a third hands in practice, beside the same class in which nobody
does: whoever holds the one against the other cannot say who they are.
"""

import re
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.new import new_class
from tests.classes import filled_sheet, record_of, returned, run

NAMES = ("Ada", "Bo", "Cy", "Di", "Ed", "Flo", "Gus", "Hal", "Ida", "Jo")
STUDENTS = tuple(f"S{number:02}" for number in range(1, 11))
MEASURES_ONLY = ("S02", "S05")
HANDS_IN_PRACTICE = "S07"

Said = dict[str, object]


def cells_of(path: Path, tab: str) -> list[tuple[str, object]]:
    sheet = openpyxl.load_workbook(path, read_only=True)[tab]
    return [(cell.coordinate, cell.value) for row in sheet.iter_rows() for cell in row if cell.value]


def made(root: Path, quiet: bool) -> tuple[ClassFolder, Said, Said]:
    """A class built and read; what is printed of it, and what is told when it is read."""
    lines = ["student_id,given_name,family_name,under_18,takes_part"]
    for student, name in zip(STUDENTS, NAMES, strict=True):
        lines.append(
            f"{student},{name},Fen,no,{'measures-only' if quiet and student in MEASURES_ONLY else ''}"
        )
    roster = root.with_suffix(".csv")
    roster.write_text("\n".join(lines), encoding="utf-8")
    folder = new_class(root, roster, secret="0a" * 32)
    built = run("build", root)
    printed: Said = {
        "forms": folder.paper_forms(1).read_bytes(),
        "for the teacher": folder.handouts(1).read_bytes(),
        "pairs": cells_of(folder.book, "Pairs"),
        "stations": cells_of(folder.book, "Stations"),
        "names of the sheets": sorted(path.name for path in folder.sheets(1).rglob("*")),
        "screen": (built.stdout, built.stderr),
    }
    for student in STUDENTS:
        record = record_of(folder, student)
        in_practice = record.participant_id in MEASURES_ONLY or student == HANDS_IN_PRACTICE
        source = {"data_source": "practice" if quiet and in_practice else "measured"}
        returned(folder, record.file_name, filled_sheet(folder, student, source))
    read = run("read", root)
    told: Said = {
        "screen": (read.stdout, read.stderr),
        "missing": folder.missing(1).read_text(encoding="utf-8") if folder.missing(1).is_file() else "",
        "for the class": [value for _, value in cells_of(folder.report(1), "For the class")],
    }
    return folder, printed, told


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[ClassFolder, Said, Said]]:
    # One path, since the class is called by the name of its folder.
    return [made(tmp_path_factory.mktemp("class") / "evening", quiet) for quiet in (True, False)]


def without_folder(folder: ClassFolder, said: object) -> object:
    return repr(said).replace(str(folder.root), "FOLDER")


def test_every_print_is_the_same_whoever_only_measures(both: list[tuple[ClassFolder, Said, Said]]) -> None:
    (quiet, prints, _), (usual, usual_prints, _) = both
    for what, printed in prints.items():
        assert without_folder(quiet, printed) == without_folder(usual, usual_prints[what]), what


def test_the_screen_is_the_same_and_the_class_page_names_nobody(
    both: list[tuple[ClassFolder, Said, Said]],
) -> None:
    """Practice is in no statistic, so the figures of the class differ."""
    (quiet, _, tells), (usual, _, usual_tells) = both
    for what in ("screen", "missing"):
        assert without_folder(quiet, tells[what]) == without_folder(usual, usual_tells[what]), what
    page = str(tells["for the class"])
    assert re.findall(rf"S[01]\d|P-\w{{4}}|\w{{4}}-\w{{4}}|practice|{'|'.join(NAMES)}", page) == []
    assert "7 sheets are in this picture." in page


def test_the_sheet_of_their_turn_has_practice_filled_in_and_nothing_else(
    both: list[tuple[ClassFolder, Said, Said]],
) -> None:
    (quiet, _, _), (usual, _, _) = both
    for builds in keep.load_records(quiet).values():
        record = builds[-1]
        names = [folder.sheets(1) / record.file_name for folder in (quiet, usual)]
        if not record.participant_id:
            names = [folder.spare(1) / record.file_name for folder in (quiet, usual)]
        wanted = {("practice", "measured")} if record.participant_id in MEASURES_ONLY else set()
        same = names[0].read_bytes() == names[1].read_bytes()
        assert same is (not wanted)
        if same:
            continue
        ours, theirs = (openpyxl.load_workbook(name, data_only=True) for name in names)
        differences = {
            (mine.value, other.value)
            for tab in ours.sheetnames
            for row, beside in zip(ours[tab].iter_rows(), theirs[tab].iter_rows(), strict=True)
            for mine, other in zip(row, beside, strict=True)
            if mine.value != other.value
        }
        assert differences == wanted


def test_practice_has_no_body_values_in_the_tables(both: list[tuple[ClassFolder, Said, Said]]) -> None:
    import pandas

    folder = both[0][0]
    attempts = pandas.read_csv(folder.attempts(1))
    practice = attempts[attempts["data_source"] == "practice"]
    # S01 measures S02, S04 measures S05.
    assert sorted(practice["student_id"]) == ["S01", "S04", HANDS_IN_PRACTICE]
    bodies = ["age_years", "mass_kg", "sum_mm", "density_g_ml", "fat_percent", "fat_mass_kg"]
    assert practice[bodies].isna().all(axis=None)
    assert attempts.drop(practice.index)[bodies].notna().all(axis=None)
    sites = pandas.read_csv(folder.sites(1))
    of_practice = sites["copy_code"].isin(practice["copy_code"])
    assert sites.loc[of_practice, "site_mm"].isna().all()
    assert sites.loc[~of_practice, "site_mm"].notna().all()
    readings = pandas.read_csv(folder.readings(1))
    theirs = readings[readings["copy_code"].isin(practice["copy_code"])]
    assert set(zip(theirs["counts"], theirs["left_out_because"], strict=True)) == {("no", "practice")}
