"""`sheetgen read`: what comes back is read whatever it is, is never changed, and gives the same results."""

import csv
import os
import re
import shutil
from pathlib import Path

import pytest

from sheetgen.flows.build import build_sheets
from sheetgen.flows.read import read_returned, taken_in
from sheetgen.model.layout import Value
from sheetgen.store.class_folder import ClassFolder
from tests.classes import (
    built_class,
    changed_setting,
    filled_sheet,
    only_line,
    record_of,
    returned,
    run,
    with_text_replaced,
)

# A compound file that names the stream of an encrypted package; made by hand.
ENCRYPTED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504 + "EncryptedPackage".encode("utf-16-le")

FILES = {
    "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "datapackage.json", "report.xlsx",
    "marks.csv", "feedback", "feedback.zip",
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
    ("notes.xlsx", b"%PDF-1.7", "file-not-a-workbook", "a PDF"),
    ("photo.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 64, "file-not-a-workbook", "a picture (JPEG)"),
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
    assert "; expected a workbook saved as .xlsx. Ask the student " in line
    assert "1 accepted, 0 for review, 1 refused" in result.stdout
    assert codes_of(folder, name) == {code}


def test_a_sheet_of_another_class_is_refused_in_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    other = built_class(tmp_path / "other", secret="0b" * 32)
    returned(folder, "s.xlsx", filled_sheet(other, "S01"))
    result = run("read", folder.root)
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert re.fullmatch(
        r"s\.xlsx: error file-other-class: found class code \w{6}; expected \w{6}\. "
        "Read it in the folder of that class.",
        line,
    )


def test_two_different_files_of_one_copy_are_both_refused(folder: ClassFolder) -> None:
    returned(folder, "mine.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "friend.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    result = run("read", folder.root)
    assert result.exit_code == 1
    code = record_of(folder, "S01").copy_code
    remedy = "Ask whose work it is, and move the file that does not count out of the folder returned."
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


def test_paths_are_copied_and_never_overwrite(folder: ClassFolder, tmp_path: Path) -> None:
    downloads = tmp_path / "downloads"
    (downloads / "sub").mkdir(parents=True)
    (downloads / "s.xlsx").write_bytes(filled_sheet(folder, "S01"))
    (downloads / "sub" / "s.xlsx").write_bytes(filled_sheet(folder, "S02"))
    returned(folder, "s.xlsx", b"came earlier")
    before = state(downloads)
    run("read", folder.root, downloads)
    run("read", folder.root, downloads)
    assert state(downloads) == before
    there = {name: data for name, (data, _) in state(folder.returned(1)).items()}
    assert there == {
        "s.xlsx": b"came earlier",
        "s-2.xlsx": before["s.xlsx"][0],
        "sub/s.xlsx": before["sub/s.xlsx"][0],
    }
    assert (folder.returned(1) / "s-2.xlsx").stat().st_mtime_ns == before["s.xlsx"][1]


def test_a_path_that_is_not_there_gives_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("read", folder.root, tmp_path / "none")
    assert result.exit_code == 2
    assert "none: no such file or folder; expected what came back. Check the name." in only_line(result)


def test_a_path_that_holds_the_class_folder_is_not_copied_into_it(folder: ClassFolder) -> None:
    before = state(folder.root)
    for path in (folder.root, folder.root.parent):
        result = run("read", folder.root, path)
        assert result.exit_code == 2
        assert "the class folder is inside" in only_line(result)
    assert state(folder.root) == before


def test_a_pipe_is_not_waited_for(folder: ClassFolder, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    result = run("read", folder.root, tmp_path / "pipe")
    assert result.exit_code == 2
    assert "a device or pipe; expected a file or folder" in only_line(result)


def test_a_name_as_long_as_the_system_allows_is_taken_in(folder: ClassFolder, tmp_path: Path) -> None:
    name = "x" * 250 + ".xlsx"
    for number in (1, 2):
        path = tmp_path / f"downloads {number}" / name
        path.parent.mkdir()
        path.write_bytes(b"text %d" % number)
        assert run("read", folder.root, path.parent).exit_code == 1
    assert sorted(path.name for path in folder.returned(1).iterdir()) == ["x" * 50 + "-2.xlsx", name]


def test_a_folder_of_the_same_name_is_no_obstacle(folder: ClassFolder, tmp_path: Path) -> None:
    (folder.returned(1) / "sheet.xlsx").mkdir(parents=True)
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(filled_sheet(folder, "S01"))
    assert run("read", folder.root, path).exit_code == 0
    assert (folder.returned(1) / "sheet-2.xlsx").read_bytes() == path.read_bytes()


def test_a_file_that_cannot_be_read_keeps_no_other_from_being_read(
    folder: ClassFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    for name in ("a.xlsx", "closed.xlsx", "z.xlsx"):
        (downloads / name).write_bytes(filled_sheet(folder, "S01" if name == "a.xlsx" else "S02"))
    read_bytes = Path.read_bytes

    def closed(path: Path) -> bytes:
        if path.name == "closed.xlsx":
            raise PermissionError(13, "Permission denied")
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", closed)
    result = run("read", folder.root, downloads)
    assert result.exit_code == 1
    assert result.stderr.startswith("closed.xlsx: error file-unreadable: found Permission denied;")
    assert result.stdout.startswith("3 files: 2 accepted, 0 for review, 1 refused")


def test_a_film_among_the_downloads_is_not_taken_in(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with path.open("wb") as stream:
        stream.truncate(500_000_001)
    result = run("read", folder.root, path)
    assert result.exit_code == 1
    assert "film.mp4: error file-too-large: found a file of 500,000,001 bytes;" in result.stderr
    assert not (folder.returned(1) / "film.mp4").exists()


def test_files_already_in_returned_are_not_copied_again(folder: ClassFolder) -> None:
    path = returned(folder, "one.xlsx", b"x")
    taken_in(folder, 1, [folder.returned(1), path])
    assert [one.name for one in folder.returned(1).iterdir()] == ["one.xlsx"]


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
