"""`sheetgen read`: what comes back is read whatever it is, is never changed, and gives the same results."""

import csv
import os
import re
import shutil
import zipfile
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.read import read_returned
from sheetgen.returned.attempt import file_id
from sheetgen.workbook.layout import Value
from tests.classes import (
    built_class,
    changed_setting,
    filled_sheet,
    record_of,
    returned,
    run,
    with_text_replaced,
)
from tests.reviews import typed
from tests.zips import zip_of

# A compound file that names the stream of an encrypted package; made by hand.
ENCRYPTED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504 + "EncryptedPackage".encode("utf-16-le")

FILES = {
    "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "datapackage.json", "report.xlsx",
    "marks.csv", "marks-by-item.csv", "slips.csv", "precision.csv", "feedback", "feedback.zip",
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def codes_of(folder: ClassFolder, file: str) -> set[str]:
    return {row["code"] for row in rows(folder.findings(1)) if row["file"] == file}


def state(root: Path) -> dict[str, tuple[bytes, int]]:
    return {
        path.relative_to(root).as_posix(): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in root.rglob("*")
        if path.is_file()
    }


def test_good_sheets_are_accepted_and_every_result_is_written(folder: ClassFolder) -> None:
    for student in ("S01", "S02", "S03", "S04"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    result = run("read", folder.root)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines() == [
        "4 files: 4 accepted, 0 for review, 0 refused, 0 superseded",
        f"{folder.results(1)}: report.xlsx, marks, feedback and the tables",
    ]
    assert {path.name for path in folder.results(1).iterdir()} == FILES
    assert [row["status"] for row in rows(folder.attempts(1))] == ["accepted"] * 4
    assert rows(folder.findings(1)) == []


def test_slips_and_items_outlive_their_file(folder: ClassFolder) -> None:
    """A thigh of 44 cm that was not halved costs 2 of the 4 points for midpoints."""
    not_halved = {"length_thigh_cm": 44, "own_midpoint_thigh_cm": 44}
    path = returned(folder, "S01.xlsx", filled_sheet(folder, "S01", not_halved))
    returned(folder, "S02.xlsx", filled_sheet(folder, "S02"))
    assert run("read", folder.root).exit_code == 0
    slips, items = rows(folder.slips(1)), rows(folder.marks_by_item(1))
    assert [(row["student_id"], row["line"], row["slip"], row["points_lost"]) for row in slips] == [
        ("S01", "midpoint_thigh_cm", "length-not-halved", "2.0"),
    ]  # fmt: skip
    assert {row["student_id"] for row in items} == {"S01", "S02"}
    path.unlink()
    assert run("read", folder.root).exit_code == 0
    assert (rows(folder.slips(1)), rows(folder.marks_by_item(1))) == (slips, items)


def test_nothing_back_names_every_missing_sheet(folder: ClassFolder) -> None:
    result = run("read", folder.root)
    assert result.exit_code == 0
    assert [line for line in result.stdout.splitlines() if line.startswith("missing: ")] == [
        f"missing: {student} ({record_of(folder, student).file_name})"
        for student in ("S01", "S02", "S03", "S04")
    ]


def test_reading_twice_gives_the_same_bytes_and_leaves_what_came_back_alone(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "two.xlsx", filled_sheet(folder, "S02", {"mass_kg": None}))
    returned(folder, "photo.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 64)
    os.utime(folder.returned(1) / "one.xlsx", ns=(1_000_000_000, 1_000_000_000))
    before = state(folder.returned(1))
    run("read", folder.root)
    first = {name: data for name, (data, _) in state(folder.results(1)).items()}
    shutil.rmtree(folder.results(1))
    run("read", folder.root)
    assert {name: data for name, (data, _) in state(folder.results(1)).items()} == first
    assert state(folder.returned(1)) == before


# name of the file, its bytes, code, what is found
BAD_FILES = (
    ("notes.xlsx", b"%PDF-1.7", "file-pdf", "a PDF"),
    ("photo.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 64, "file-picture", "a picture (JPEG)"),
    ("locked.xlsx", ENCRYPTED, "file-encrypted", "a file locked with a password"),
    ("nothing.xlsx", b"", "file-empty", "a file of 0 bytes"),
)


@pytest.mark.parametrize(("name", "data", "code", "found"), BAD_FILES)
def test_a_bad_file_gives_one_line_and_never_stops_the_run(
    folder: ClassFolder, name: str, data: bytes, code: str, found: str
) -> None:
    returned(folder, name, data)
    returned(folder, "z.xlsx", filled_sheet(folder, "S01"))
    result = run("read", folder.root)
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"{name}: error {code}: found {found}")
    assert '; expected a workbook saved as .xlsx. Answer the student: "Your file ' in line
    assert "1 accepted, 0 for review, 1 refused" in result.stdout
    assert codes_of(folder, name) == {code}


def test_a_sheet_of_another_class_is_refused_in_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    other = built_class(tmp_path / "other", secret="0b" * 32)
    returned(folder, "s.xlsx", filled_sheet(other, "S01"))
    result = run("read", folder.root)
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert re.fullmatch(
        r"s\.xlsx: error file-other-class: found class code \w{6} \(the class in the folder other\); "
        r"expected \w{6}\. Read it in the folder of that class, or answer the student: .+",
        line,
    )


def test_different_files_of_one_copy_are_refused_where_nothing_tells_which_is_newer(
    folder: ClassFolder,
) -> None:
    returned(folder, "mine.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "friend.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    result = run("read", folder.root)
    assert result.exit_code == 1
    code = record_of(folder, "S01").copy_code
    remedy = "Ask whose work it is, and say on the tab Files of the review workbook which one counts."
    assert sorted(result.stderr.splitlines()) == [
        f"{name}: error identity-copy-twice: found copy code {code} also in {other};"
        f" expected one file a copy. {remedy}"
        for name, other in (("friend.xlsx", "mine.xlsx"), ("mine.xlsx", "friend.xlsx"))
    ]


def test_a_copy_with_the_student_id_retyped_is_refused_in_one_line(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", with_text_replaced(filled_sheet(folder, "S01"), "S01", "S02"))
    result = run("read", folder.root)
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert line.startswith("s.xlsx:Start!B1: error identity-changed: found ")
    assert "Measurer S02" in line and "Measurer S01" in line
    assert codes_of(folder, "s.xlsx") == {"identity-changed"}


def test_the_same_bytes_twice_count_once_and_are_named(folder: ClassFolder) -> None:
    data = filled_sheet(folder, "S01")
    returned(folder, "a.xlsx", data)
    returned(folder, "b.xlsx", data)
    result = run("read", folder.root)
    assert result.exit_code == 0
    (line,) = result.stderr.splitlines()
    assert line.startswith("b.xlsx: found the same bytes as in a.xlsx; expected one file a sheet.")
    assert sorted(row["status"] for row in rows(folder.attempts(1))) == ["accepted", "superseded"]


def test_a_sheet_of_another_session_is_refused(folder: ClassFolder) -> None:
    name = record_of(folder, "S01").file_name
    build_sheets(folder, 2)
    shutil.copy(folder.sheets(1) / name, folder.root / "mine.xlsx")
    result = run("read", folder.root, folder.root / "mine.xlsx", "--session", "2")
    assert result.exit_code == 1
    assert "file-other-session: found session 1; expected session 2" in result.stderr


# change of the class book; readings of the chest; value and rounds by the settings of then, and of now
EARLIER = (
    ("Site value", "closest-pair", (10, 14, 11), ("11.0", "3"), ("10.5", "1+3")),
    ("Tolerance", 1, (10, 11.5, 11), ("10.75", "1+2"), ("11.0", "3")),
)


@pytest.mark.parametrize(("label", "value", "readings", "then", "now"), EARLIER)
def test_sheets_handed_out_earlier_are_read_by_their_own_settings(
    folder: ClassFolder,
    label: str,
    value: Value,
    readings: tuple[float, ...],
    then: tuple[str, str],
    now: tuple[str, str],
) -> None:
    entries = {f"reading_{number}_chest": reading for number, reading in enumerate(readings, start=1)}
    handed_out = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    changed_setting(folder, label, value)
    build_sheets(folder, 1)
    returned(folder, "early.xlsx", filled_sheet(folder, "S01", entries, build=0, data=handed_out))
    returned(folder, "late.xlsx", filled_sheet(folder, "S02", entries))
    assert "2 accepted" in run("read", folder.root).stdout
    chest = {
        row["student_id"]: (row["site_mm"], row["kept_rounds"])
        for row in rows(folder.sites(1))
        if row["site"] == "chest"
    }
    assert chest == {"S01": then, "S02": now}
    assert "sheet-" not in "".join(codes_of(folder, "early.xlsx"))


def test_without_keep_identity_is_not_proven_and_the_rest_works(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    run("read", folder.root)
    (with_keep,) = rows(folder.attempts(1))
    shutil.rmtree(folder.keep)
    result = run("read", folder.root)
    assert result.exit_code == 0
    assert codes_of(folder, "one.xlsx") == {"identity-not-proven"}
    (row,) = rows(folder.attempts(1))
    assert row == with_keep


def test_without_the_stored_layout_the_sheet_is_read_by_its_own_word(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    shutil.rmtree(folder.layouts)
    assert run("read", folder.root).exit_code == 0
    assert codes_of(folder, "one.xlsx") == {"identity-not-proven"}


def test_a_resubmission_counts_and_the_reason_is_said(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "s (1).xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    result = run("read", folder.root)
    assert result.exit_code == 0
    (line,) = result.stderr.splitlines()
    assert line == ("s.xlsx: superseded: s (1).xlsx counts: its name says number 1, and that of this one 0.")
    (row,) = (row for row in rows(folder.attempts(1)) if row["status"] == "accepted")
    assert (row["file"], row["mass_kg"]) == ("s (1).xlsx", "71.5")


def test_a_resubmission_on_a_later_day_changes_nothing_of_the_others(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "two.xlsx", filled_sheet(folder, "S02"))
    before = read_returned(folder, 1, today="2027-03-01").attempts
    returned(folder, "again.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    after = {one.file: one for one in read_returned(folder, 1, today="2027-03-02").attempts}
    assert {name: one.status for name, one in after.items()} == {
        "again.xlsx": "accepted",
        "one.xlsx": "superseded",
        "two.xlsx": "accepted",
    }
    assert after["two.xlsx"] == before[1]
    assert [one.code for one in after["one.xlsx"].findings] == ["identity-newer-counts"]


def test_the_teacher_may_say_that_the_older_file_counts(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "s (1).xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    first = {one.file: one for one in read_returned(folder, 1).attempts}
    typed(folder, "Files", {(file_id(first["s.xlsx"]), "Accept"): "yes"})
    for _ in range(2):
        again = read_returned(folder, 1)
        assert {one.file: one.status for one in again.attempts} == {
            "s.xlsx": "accepted",
            "s (1).xlsx": "superseded",
        }
        assert again.notes == ()


def test_a_bundle_is_read_where_it_is_and_stays_whole(folder: ClassFolder, tmp_path: Path) -> None:
    inner = zip_of({"Bo/sheet.xlsx": filled_sheet(folder, "S02")})
    data = zip_of({"Ada/sheet.xlsx": filled_sheet(folder, "S01"), "more.zip": inner, "Ada/text.html": b"<p>"})
    (tmp_path / "download.zip").write_bytes(data)
    result = run("read", folder.root, tmp_path / "download.zip")
    assert (result.exit_code, result.stderr) == (0, "")
    assert [row["file"] for row in rows(folder.attempts(1)) if row["student_id"] == "S02"] == [
        "download.zip/more.zip/Bo/sheet.xlsx"
    ]
    assert "1 side-file passed over" in result.stdout
    assert state(folder.returned(1)).keys() == {"download.zip"}
    assert (folder.returned(1) / "download.zip").read_bytes() == data


def test_two_bundles_with_the_same_names_inside_keep_them_apart(folder: ClassFolder) -> None:
    for student in ("S01", "S02"):
        returned(folder, f"{student}.zip", zip_of({"sheet.xlsx": filled_sheet(folder, student)}))
    assert run("read", folder.root).exit_code == 0
    with zipfile.ZipFile(folder.feedback_zip(1)) as archive:
        assert archive.namelist() == ["S01.zip/sheet.xlsx", "S02.zip/sheet.xlsx"]


def test_a_message_to_those_missing_is_named(folder: ClassFolder) -> None:
    result = run("read", folder.root)
    assert f"{folder.missing(1)}: a message to those missing, ready to paste" in result.stdout.splitlines()
    assert "- Ada Fen (S01): " in folder.missing(1).read_text(encoding="utf-8")


def test_side_files_are_passed_over_and_counted(folder: ClassFolder) -> None:
    for name in ("~$one.xlsx", ".DS_Store", "__MACOSX/one.xlsx", "Thumbs.db", "desktop.ini"):
        returned(folder, name, b"x")
    summary = read_returned(folder, 1)
    assert (summary.attempts, summary.passed_over) == ((), 5)


def test_progress_is_told_file_by_file(folder: ClassFolder) -> None:
    for name in ("a.xlsx", "b.xlsx"):
        returned(folder, name, b"x")
    told: list[tuple[int, int]] = []
    read_returned(folder, 1, (), lambda done, total: told.append((done, total)))
    assert told == [(1, 2), (2, 2)]


def test_no_body_value_is_printed(folder: ClassFolder) -> None:
    """What is worked out of a body, its mass and its age stay in the tables; a screen is read by others."""
    entries: dict[str, Value] = {"mass_kg": "61,7 kg", "age_years": 41.25, "sex_equation": "female"}
    returned(folder, "s.xlsx", filled_sheet(folder, "S01", entries, stored={"sum_mm": 987.5}))
    for arguments in ((), ("--json",)):
        result = run("read", folder.root, *arguments)
        assert "sheet-result-differs" in result.stderr
        (row,) = rows(folder.attempts(1))
        said = result.stdout + result.stderr
        body = (
            "sum_mm",
            "density_g_ml",
            "fat_percent",
            "fat_mass_kg",
            "fat_free_mass_kg",
            "mass_kg",
            "age_years",
        )
        assert [name for name in body if row[name] and row[name] in said] == []
        assert [name for name in ("sum_mm", "density_g_ml", "fat_mass_kg") if not row[name]] == []
        assert not any(text in said for text in ("61,7", "987.5", "41.25"))
    assert "987.5" in folder.findings(1).read_text(encoding="utf-8")


def test_what_earlier_versions_remembered_is_removed(folder: ClassFolder) -> None:
    old = folder.results(2) / "known-files.bin"
    old.parent.mkdir(parents=True)
    old.write_bytes(b"body values")
    read_returned(folder, 1)
    assert not old.exists()
