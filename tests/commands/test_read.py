"""`sheetgen read`: what comes back is read whatever it is, is never changed, and gives the same results."""

import csv
import os
import re
import shutil
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import Decision, append_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.returned.attempt import file_id
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled
from tests.classes import (
    attempts_in,
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

MARKED = ("final", "to be marked")
FILES = {
    "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "datapackage.json", "report.xlsx",
    "marks.csv", "marks-by-item.csv", "slips.csv", "precision.csv", "files.csv", "feedback",
    "feedback.zip",
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def codes_of(folder: ClassFolder, came_as: str) -> set[str]:
    (file,) = (row["file"] for row in rows(folder.files(1)) if row["incoming_name"] == came_as)
    return {row["code"] for row in rows(folder.findings(1)) if row["file"] == file}


def called(folder: ClassFolder, student: str, number: int = 1) -> str:
    """What the first or a later file of a student is called in the tables."""
    code = record_of(folder, student).copy_code
    return f"{code}-{number}.xlsx" if number > 1 else f"{code}.xlsx"


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
        "4 files came back: 4 count",
        "Waits for you: 12 answers to be marked",
        f"Report, marks and feedback: {folder.results(1)}",
        f"Next: open {folder.review(1)}, give points or decide, save, then: sheetgen read {folder.root}",
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
    assert "Missing (4): S01, S02, S03, S04" in result.stdout.splitlines()


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
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"unknown-1 ({name}): error {code}: found {found}")
    assert '; expected a workbook saved as .xlsx. Answer the student: "Your file ' in line
    assert "2 files came back: 1 count, 1 cannot be used" in result.stdout.splitlines()
    assert f"Whose may this be? {name}" in result.stdout.splitlines()
    assert codes_of(folder, name) == {code}


def test_a_document_beside_the_sheets_of_everybody_is_told_once_and_refuses_nothing(
    folder: ClassFolder,
) -> None:
    """While S01 is missing it may be theirs; then it is in nobody's place, and in no table."""
    folder.returned(1).mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(folder.returned(1) / "bundle.zip", "w") as bundle:
        bundle.writestr("notes.docx", b"{\\rtf1 What I saw}")
        for student in ("S02", "S03", "S04"):
            bundle.writestr(f"{student}.xlsx", filled_sheet(folder, student))
    assert run("read", folder.root).exit_code == 1
    returned(folder, "S01.xlsx", filled_sheet(folder, "S01"))
    result = run("read", folder.root)
    assert result.exit_code == 0
    assert "4 files came back: 4 count" in result.stdout.splitlines()
    assert "1 side-files and documents in nobody's place passed over" in result.stdout
    assert "notes.docx" not in folder.files(1).read_text(encoding="utf-8")


def test_a_sheet_of_another_class_is_refused_in_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    other = built_class(tmp_path / "other", secret="0b" * 32)
    returned(folder, "s.xlsx", filled_sheet(other, "S01"))
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert re.fullmatch(
        r"unknown-1 \(s\.xlsx\): error file-other-class: "
        r"found class code \w{6} \(the class in the folder other\); expected \w{6}\. "
        r"Read it in the folder of that class, or answer the student: .+",
        line,
    )


def test_different_files_of_one_copy_are_refused_where_nothing_tells_which_is_newer(
    folder: ClassFolder,
) -> None:
    for name, change in (("mine.xlsx", {}), ("friend.xlsx", {"mass_kg": 71.5})):
        os.utime(returned(folder, name, filled_sheet(folder, "S01", change)), (1_790_000_000,) * 2)
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 1
    code = record_of(folder, "S01").copy_code
    remedy = "Ask whose work it is, and say on the tab Files of the review workbook which one counts."
    assert sorted(result.stderr.splitlines()) == [
        f"{name}: error identity-copy-twice: found copy code {code} also in {other};"
        f" expected one file a copy. {remedy}"
        for name, other in ((f"{code}-2.xlsx", f"{code}.xlsx"), (f"{code}.xlsx", f"{code}-2.xlsx"))
    ]


def test_a_copy_with_the_student_id_retyped_is_refused_in_one_line(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", with_text_replaced(filled_sheet(folder, "S01"), "S01", "S02"))
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 1
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"{called(folder, 'S01')}:Care!C1: error identity-changed: found ...; expected ")
    assert "Measurer S01" in line
    (printed, *_) = (row["found"] for row in rows(folder.findings(1)))
    assert "Measurer S02" in printed
    assert codes_of(folder, "s.xlsx") == {"identity-changed"}


def test_the_same_bytes_twice_count_once_and_are_named(folder: ClassFolder) -> None:
    data = filled_sheet(folder, "S01")
    returned(folder, "a.xlsx", data)
    returned(folder, "b.xlsx", data)
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 0
    assert "Besides: 1 repeated with the same bytes (--verbose lists them)" in result.stdout.splitlines()
    (line,) = result.stderr.splitlines()
    second, first = called(folder, "S01", 2), called(folder, "S01")
    assert line.startswith(f"{second}: found the same bytes as in {first}; expected one file a sheet.")
    assert sorted(row["status"] for row in rows(folder.attempts(1))) == ["accepted", "superseded"]


@pytest.fixture
def two_sessions(folder: ClassFolder) -> ClassFolder:
    build_sheets(folder, 2)
    return folder


def record_in(folder: ClassFolder, student_id: str, session: int) -> CopyRecord:
    (record,) = (
        builds[-1]
        for builds in keep.load_records(folder).values()
        if (builds[-1].student_id, builds[-1].session) == (student_id, session)
    )
    return record


def filled_in(folder: ClassFolder, student_id: str, session: int) -> bytes:
    """A sheet of a session with readings."""
    record = record_in(folder, student_id, session)
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    names = [cell.name for tab in layout.tabs for cell in tab.cells if cell.role == "entry"]
    entries = {name: 12.0 for name in names if name.startswith(("reading_1_", "reading_2_"))}
    return filled((folder.sheets(session) / record.file_name).read_bytes(), layout, entries)


def test_a_mixed_download_is_sorted_by_session(two_sessions: ClassFolder) -> None:
    """Each sheet counts for its own session, wherever it lies, and nothing is moved."""
    folder = two_sessions
    sheets = {f"Ada Fen_{session}/sheet.xlsx": filled_in(folder, "S01", session) for session in (1, 2)} | {
        "Bo Heath_1/sheet.xlsx": filled_in(folder, "S02", 1)
    }
    path = returned(folder, "course.zip", zip_of(sheets))
    before = path.read_bytes()
    first, second = run("read", folder.root), run("read", folder.root, "--session", "2")
    assert (first.exit_code, second.exit_code) == (0, 0)
    assert "2 files came back: " in first.stdout
    assert "1 sheets of session 2, which count when that is read" in first.stdout
    assert [row["incoming_name"] for row in rows(folder.files(2))] == [
        "session-1/course.zip/Ada Fen_2/sheet.xlsx"
    ]
    assert {row["student_id"]: row["status"] for row in rows(folder.marks(2))}["S01"] in MARKED
    assert path.read_bytes() == before
    with zipfile.ZipFile(folder.feedback_zip(2)) as archive:
        assert archive.namelist() == ["Ada Fen_2/sheet.xlsx"]


def test_the_same_sheet_in_both_folders_counts_once_and_nothing_is_said(two_sessions: ClassFolder) -> None:
    folder, data = two_sessions, filled_in(two_sessions, "S01", 1)
    for session in (1, 2):
        folder.returned(session).mkdir(parents=True, exist_ok=True)
        (folder.returned(session) / "sheet.xlsx").write_bytes(data)
    result = run("read", folder.root)
    assert [row["file"] for row in rows(folder.attempts(1))] == [called(folder, "S01")]
    assert "same bytes" not in result.stdout


def test_a_correction_goes_with_a_sheet_into_the_folder_of_another_session(two_sessions: ClassFolder) -> None:
    folder, record = two_sessions, record_in(two_sessions, "S01", 2)
    returned(folder, "sheet.xlsx", filled_in(folder, "S01", 2))
    append_decisions(folder, [Decision(1, 2, record.copy_code, "correction", "reading_1_chest", "14")])
    read_returned(folder, 2)
    assert rows(folder.readings(2))[0]["reading_mm"] == "14.0"


def test_a_sheet_of_another_session_instead_of_this_one_is_not_nothing(two_sessions: ClassFolder) -> None:
    folder = two_sessions
    folder.returned(2).mkdir(parents=True, exist_ok=True)
    (folder.returned(2) / "mine.xlsx").write_bytes(filled_in(folder, "S01", 1))
    result = run("read", folder.root, "--session", "2")
    assert result.exit_code == 0
    assert "Missing (4): S01 (cannot be used), S02, S03, S04" in result.stdout.splitlines()
    ada = next(row for row in rows(folder.marks(2)) if row["student_id"] == "S01")
    assert (ada["status"], ada["unusable_because"]) == ("unusable", "file-other-session")
    assert "Your file is the sheet of another session." in folder.missing(2).read_text("utf-8")


def test_what_came_is_told_from_nothing(folder: ClassFolder) -> None:
    """Something that cannot be used, an untouched sheet, nothing, and work, each as what it is."""
    untouched = (folder.sheets(1) / record_of(folder, "S02").file_name).read_bytes()
    download = {
        "Ada Fen_12/my sheet.pdf": b"%PDF-1.7",
        "Bo Heath_13/sheet.xlsx": untouched,
        "Di Wold_15/sheet.xlsx": filled_sheet(folder, "S04"),
        "Di Wold_15/photo.jpg": b"\xff\xd8\xff\xe0\x00\x10JFIF",
        "nobody/notes.pdf": b"%PDF-1.7",
    }
    returned(folder, "course.zip", zip_of(download))
    result = run("read", folder.root)
    assert result.stdout.splitlines()[1:4] == [
        "Missing (3): S01 (cannot be used), S02 (nothing typed yet), S03",
        f"A message to each of them, ready to paste: {folder.missing(1)}",
        "Whose may this be? course.zip/nobody/notes.pdf",
    ]
    assert [(row["status"], row["score"], row["unusable_because"]) for row in rows(folder.marks(1))[:3]] == [
        ("unusable", "", "file-pdf"),
        ("unusable", "", "entry-nothing-typed"),
        ("missing", "", ""),
    ]
    report = openpyxl.load_workbook(folder.report(1))["Today"]
    came = [row[2] for row in report.iter_rows(values_only=True) if str(row[1]).startswith("S0")]
    pdf, untouched_one, nothing = came[:3]
    assert str(pdf).endswith(" (course.zip/Ada Fen_12/my sheet.pdf, theirs by its name)")
    assert untouched_one == "nothing is typed in it yet (course.zip/Bo Heath_13/sheet.xlsx)"
    assert nothing == "nothing"
    with zipfile.ZipFile(folder.feedback_zip(1)) as archive:
        # Whose work is here needs no answer to what came besides.
        assert archive.namelist() == [
            "Ada Fen_12/my sheet.pdf.xlsx",
            "Bo Heath_13/sheet.xlsx",
            "Di Wold_15/sheet.xlsx",
            "nobody/notes.pdf.xlsx",
        ]


def test_an_untouched_sheet_counts_when_the_teacher_says_so(folder: ClassFolder) -> None:
    data = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    returned(folder, "s.xlsx", data)
    (attempt,) = attempts_in(folder)
    typed(folder, "Files", {(file_id(attempt), "Accept"): "yes"})
    (attempt,) = read_returned(folder, 1).attempts
    assert attempt.status == "accepted"
    assert rows(folder.marks(1))[0]["status"] in MARKED


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
    assert "2 count" in run("read", folder.root).stdout
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
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"{folder.secret}: nothing; expected what the class book was made with.")
    assert codes_of(folder, "one.xlsx") == {"identity-not-proven"}
    (row,) = rows(folder.attempts(1))
    assert row == with_keep


def test_a_clock_that_was_ahead_once_is_said_and_makes_nothing_late(folder: ClassFolder) -> None:
    changed_setting(folder, "Due date", date.today().isoformat())
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    attempts_in(folder, today="2199-12-31")
    result = run("read", folder.root)
    (line,) = result.stderr.splitlines()
    assert "a clock was ahead: days of first reading still to come: 1; expected today or earlier" in line
    assert rows(folder.attempts(1))[0]["status"] == "accepted"
    assert run("read", folder.root).stderr == ""


def test_without_the_stored_layout_the_sheet_is_read_by_its_own_word(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    shutil.rmtree(folder.layouts)
    assert run("read", folder.root).exit_code == 0
    assert codes_of(folder, "one.xlsx") == {"identity-not-proven"}


def test_a_resubmission_counts_and_the_reason_is_said(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "s (1).xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    result = run("read", folder.root, "--verbose")
    assert result.exit_code == 0
    line = result.stderr.splitlines()[-1]
    newer, older = called(folder, "S01"), called(folder, "S01", 2)
    assert line == f"{older}: superseded: {newer} counts: its name says number 1, and that of this one 0."
    (row,) = (row for row in rows(folder.attempts(1)) if row["status"] == "accepted")
    assert (row["file"], row["mass_kg"]) == (newer, "71.5")


def test_a_resubmission_on_a_later_day_changes_nothing_of_the_others(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "two.xlsx", filled_sheet(folder, "S02"))
    before = attempts_in(folder, today="2027-03-01")
    returned(folder, "again.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    after = {one.came_as: one for one in attempts_in(folder, today="2027-03-02")}
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
    first = {one.came_as: one for one in attempts_in(folder)}
    typed(folder, "Files", {(file_id(first["s.xlsx"]), "Accept"): "yes"})
    for _ in range(2):
        again = read_returned(folder, 1)
        assert {one.came_as: one.status for one in again.attempts} == {
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
    assert [row["incoming_name"] for row in rows(folder.files(1)) if row["student_id"] == "S02"] == [
        "download.zip/more.zip/Bo/sheet.xlsx"
    ]
    assert "1 side-files and documents in nobody's place passed over" in result.stdout
    assert state(folder.returned(1)).keys() == {"download.zip"}
    assert (folder.returned(1) / "download.zip").read_bytes() == data


def test_names_stand_in_no_table_or_tab_with_a_body_value(folder: ClassFolder) -> None:
    """A platform names files after people; where two differ and where one is nobody's, they are named too."""
    whose = {"S01": "Ada Fen", "S02": "Bo Heath", "S03": "Cy Moor"}
    for student, name in whose.items():
        entries: dict[str, Value] = {"participant_today": "Di Wold"} if student == "S02" else {}
        returned(folder, f"{name}_9_/{name}.xlsx", filled_sheet(folder, student, entries))
    returned(folder, "Bo Heath_9_/of Ada Fen.xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))
    returned(folder, "Di Wold_9_/Di Wold.pdf", b"%PDF-1.7")
    assert run("read", folder.root).exit_code == 1
    names = re.compile("Ada|Fen|Bo Heath|Moor|Wold")
    tables = {path.name: path.read_text(encoding="utf-8-sig") for path in folder.results(1).glob("*.csv")}
    assert {name for name, text in tables.items() if names.search(text)} == {"files.csv", "marks.csv"}
    assert rows(folder.files(1))[0]["file"] == "unknown-1"
    with_names = set()
    for path in (folder.report(1), folder.review(1)):
        for tab in openpyxl.load_workbook(path).worksheets:
            cells = [str(cell) for row in tab.iter_rows(values_only=True) for cell in row if cell is not None]
            with_names |= {tab.title} if names.search("\n".join(cells)) else set()
            assert not with_names & {tab.title} or not any("71.5" in cell for cell in cells)
    assert with_names == {"Today", "Marks", "Codes and names", "Review", "Observed", "Files"}


def test_what_is_made_of_names_and_bodies_is_its_owners_alone(folder: ClassFolder, tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text("student_id,given_name,family_name\nS01,Ada,Fen\nS02,Bo,Heath\n", encoding="utf-8")
    made = new_class(tmp_path / "made", roster)
    build_sheets(made, 1)
    (tmp_path / "mine.xlsx").write_bytes((made.sheets(1) / record_of(made, "S01").file_name).read_bytes())
    (tmp_path / "mine.xlsx").chmod(0o644)
    read_returned(made, 1, [tmp_path / "mine.xlsx"])
    made.marks(1).chmod(0o640)
    read_returned(made, 1)
    rights = {path: path.stat().st_mode & 0o777 for path in made.root.rglob("*")}
    private = (made.keep, made.root / "returned", made.root / "results", made.root / "review")
    expected = {True: 0o700, False: 0o600} if os.name == "posix" else {True: 0o777, False: 0o666}
    others = {
        path.relative_to(made.root).as_posix()
        for path, mode in rights.items()
        if any(path.is_relative_to(folder) for folder in private) and mode != expected[path.is_dir()]
    }
    assert others == ({"results/session-1/marks.csv"} if os.name == "posix" else set())
    assert rights[made.book] == expected[False]
    assert rights[made.sheets(1)] != 0o700


def test_two_bundles_with_the_same_names_inside_keep_them_apart(folder: ClassFolder) -> None:
    for student in ("S01", "S02"):
        returned(folder, f"{student}.zip", zip_of({"sheet.xlsx": filled_sheet(folder, student)}))
    assert run("read", folder.root).exit_code == 0
    with zipfile.ZipFile(folder.feedback_zip(1)) as archive:
        assert archive.namelist() == ["S01.zip/sheet.xlsx", "S02.zip/sheet.xlsx"]


def test_a_message_to_those_missing_is_named(folder: ClassFolder) -> None:
    result = run("read", folder.root)
    told = f"A message to each of them, ready to paste: {folder.missing(1)}"
    assert told in result.stdout.splitlines()
    assert "Hello Ada," in folder.missing(1).read_text(encoding="utf-8")


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
    for arguments in ((), ("--verbose",), ("--json",)):
        result = run("read", folder.root, *arguments)
        assert "sheet-result-differs" in result.stderr + result.stdout or not arguments
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
