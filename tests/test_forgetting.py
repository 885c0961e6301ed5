"""Distinctive values typed everywhere a person can: after `forget` no byte of the folder holds one."""

import csv
import io
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.read import read_returned
from tests.classes import built_class, filled_sheet, record_of, run
from tests.reviews import typed
from tests.zips import zip_of

FIRST, NEXT, LATER = "2027-03-31", "2027-04-01", "2027-04-09"
ENTRIES = {
    "mass_kg": 83.217,
    "age_years": 37.0,
    "length_upper_arm_cm": 33.917,
    "length_thigh_cm": 46.93,
    "reading_1_chest": 13.37,
    "reading_2_chest": 13.43,
    "own_site_chest": 13.4019,
    "own_fat_percent": 19.8391,
    "own_density_g_ml": 1.05317,
    "answer_zero": "wombat answer",
    "answer_repeat": "83,5 quokka",
}
TYPED = (
    "83.217", "33.917", "46.93", "13.37", "13.43", "13.4019", "19.8391", "1.05317", "wombat answer", "quokka",
    # Corrections: value, reason, one that is not complete, a cell name and a copy code that are none.
    "91.733", "misread numbat", "27.119", "unfinished bilby", "sentence of a name", "dunnart code",
    # Comments, points in words, a note in a free cell of the review workbook.
    "well held, dibbler", "two for the potoroo", "beside the rows, bandicoot",
    # A tab of one's own, the text beside a file, a sheet filled in where it lay, a print typed into.
    "own tab quoll", "platform comment bettong", "28.641", "printed pademelon",
    "listed bandicoot",
)  # fmt: skip
"""Nothing else in a class folder looks like one of these."""


def contents(root: Path) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of every file, and of everything in a zip or workbook, however deep."""

    def inside(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
        yield name, data
        if data.startswith(b"PK\x03\x04"):
            with zipfile.ZipFile(io.BytesIO(data)) as package:
                for entry in package.namelist():
                    yield from inside(f"{name}/{entry}", package.read(entry))

    for path in sorted(root.rglob("*")):
        yield path.relative_to(root).as_posix(), b""
        if path.is_file():
            yield from inside(path.relative_to(root).as_posix(), path.read_bytes())


def found(root: Path, values: tuple[str, ...] = TYPED) -> dict[str, list[str]]:
    """Each value to the places where it stands."""
    everything = [(name, name.encode() + b"\n" + data) for name, data in contents(root)]
    places = {value: [name for name, data in everything if value.encode() in data] for value in values}
    return {value: names for value, names in places.items() if names}


def with_own_tab(data: bytes, text: str) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(data))
    book.create_sheet("My notes")["A1"] = text
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def scores(folder: ClassFolder) -> list[dict[str, str]]:
    with folder.marks(1).open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def typed_in_review(folder: ClassFolder) -> None:
    """Comments, corrections, points, and what stands beside the rows."""
    code = record_of(folder, "S01").copy_code
    typed(folder, "Review", {(code, "Comment"): "well held, dibbler", (code, "Adjusted mark"): 77.5})
    lines = (
        {"Copy code": code, "Entry": "mass_kg", "Value": "91.733", "Reason": "misread numbat"},
        {"Copy code": code, "Entry": "sentence of a name", "Value": "1"},
        {"Copy code": "dunnart code", "Entry": "mass_kg", "Value": "27.119"},
        {"Copy code": code, "Value": "2", "Reason": "unfinished bilby"},
    )
    book = openpyxl.load_workbook(folder.review(1))
    sheet = book["Corrections"]
    headings = {cell.value: cell.column for cell in sheet[4]}
    for number, line in enumerate(lines, start=5):
        for heading, value in line.items():
            sheet.cell(number, headings[heading]).value = value
    book["Answers"]["M2"] = "beside the rows, bandicoot"
    book.save(folder.review(1))
    typed(
        folder,
        "Answers",
        {("answer_zero", "Points given"): 5, ("answer_repeat", "Points given"): "two for the potoroo"},
    )


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return ClassFolder(shutil.copytree(made.root, tmp_path / "class"))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """A class of four whose values were typed everywhere, read in two sessions."""
    folder = built_class(tmp_path_factory.mktemp("made") / "class")
    sheets = {student: filled_sheet(folder, student) for student in ("S02", "S03")}
    sheets["S01"] = with_own_tab(filled_sheet(folder, "S01", ENTRIES), "own tab quoll")
    bundle = {f"Fen Ada_1/{student}.xlsx": data for student, data in sheets.items()}
    folder.returned(1).mkdir(parents=True, exist_ok=True)
    (folder.returned(1) / "download.zip").write_bytes(
        zip_of({**bundle, "Fen Ada_1/comments.txt": b"platform comment bettong"})
    )
    (folder.returned(1) / "Fen Ada").mkdir()
    (folder.returned(1) / "Fen Ada" / "online text.txt").write_bytes(b"platform comment bettong")
    record = record_of(folder, "S04")
    in_place = folder.sheets(1) / record.file_name
    in_place.write_bytes(filled_sheet(folder, "S04", {"reading_1_chest": 28.641}))
    book = openpyxl.load_workbook(folder.paper_forms(1))
    book.worksheets[0]["Z99"] = "printed pademelon"
    book.save(folder.paper_forms(1))
    with folder.hand_out(1).open("a", encoding="utf-8") as stream:
        stream.write("S01,listed bandicoot,\n")
    read_returned(folder, 1, today=FIRST)
    typed_in_review(folder)
    for day in (FIRST, NEXT):
        read_returned(folder, 1, today=day)
    build_sheets(folder, 2)
    (folder.returned(2) / "again.xlsx").write_bytes(filled_sheet(folder, "S01", session=2))
    read_returned(folder, 2, today=LATER)
    (folder.review(1).parent / ".~lock.session-1.xlsx#").write_text(",Ada Fen", encoding="utf-8")
    (folder.results(1) / ".0123456789abcdef.part").write_bytes(b"83.217")
    (folder.results(1) / "known-files.bin").write_bytes(b"83.217")
    return folder


def forgotten(folder: ClassFolder, *options: str) -> str:
    result = run("forget", folder.root, "--before", "2027-04-05", *options)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def test_every_value_typed_is_gone_from_every_byte(folder: ClassFolder) -> None:
    with folder.attempts(1).open(encoding="utf-8", newline="") as stream:
        (row,) = (row for row in csv.DictReader(stream) if row["student_id"] == "S01")
    worked_out = tuple(row[name] for name in ("sum_mm", "density_g_ml", "fat_percent", "fat_mass_kg"))
    values = (*TYPED, *worked_out)
    assert sorted(found(folder.root, values)) == sorted(values)
    forgotten(folder, "--write")
    assert found(folder.root, (*values, ",Ada Fen")) == {}
    read_returned(folder, 1, today=LATER)
    read_returned(folder, 2, today=LATER)
    assert found(folder.root, values) == {}


def test_every_score_is_as_before_and_again(folder: ClassFolder) -> None:
    before = scores(folder)
    assert [row["status"] for row in before] == ["final", "to be marked", "to be marked", "missing"]
    forgotten(folder, "--write")
    for path in folder.results(1).rglob("*"):
        if path.is_file():
            path.unlink()
    for _ in range(2):
        result = run("read", folder.root)
        assert (result.exit_code, scores(folder)) == (0, before)
        assert "3 scores kept of files that are gone or cannot be used" in result.stdout


def test_without_write_nothing_changes(folder: ClassFolder) -> None:
    before = dict(contents(folder.root))
    said = forgotten(folder)
    assert dict(contents(folder.root)) == before
    assert "would remove: returned/session-1/download.zip" in said
    assert forgotten(folder, "--write").count("removed: ") == said.count("would remove: ")


def test_comments_stay_where_that_is_asked_for(folder: ClassFolder) -> None:
    said = forgotten(folder, "--write", "--keep-comments")
    assert "and comments, which may hold anything" in said
    assert found(folder.root) == {"well held, dibbler": ["review/decisions.csv"]}


def test_what_is_kept_is_listed_with_the_reason_and_what_is_left_is_named(folder: ClassFolder) -> None:
    (folder.root / "notes.docx").write_bytes(b"mine")
    (folder.returned(1) / "new.xlsx").write_bytes(filled_sheet(folder, "S02", {"mass_kg": 70.0}))
    said = forgotten(folder)
    assert [line for line in said.splitlines() if line.startswith(("kept", "left"))] == [
        "kept: class.xlsx: people and settings; no body values",
        "kept: keep/arrivals.csv: the day each file was first read",
        "kept: keep/: codes, roster, what was handed out, your scheme and protocols, sign-offs, "
        "the measurers' record",
        "kept: keep/marks/: the last three marks.csv of a session, with names",
        "kept: keep/scores.csv: scores and their items, for method and arithmetic",
        "kept: keep/slips.csv: slips by line, for method and arithmetic",
        "kept: launchers/: they start a command",
        "kept: read-me-first.txt: one page to begin with",
        "kept: results/: points and slips, for method and arithmetic",
        "kept: review/decisions.csv: points, marks, and which file counts",
        "kept: sheets/: as handed out: codes and invented practice readings",
        "left: notes.docx: not made here; look at it yourself",
        "left: returned/session-1: of files first read on 2027-04-05 or later, or not come back yet",
        "left: returned/session-1/new.xlsx: never read: run `sheetgen read` first",
        "left: returned/session-2: of files first read on 2027-04-05 or later, or not come back yet",
        "left: review/session-2.xlsx: of files first read on 2027-04-05 or later, or not come back yet",
        "left: sheets/session-1: of files first read on 2027-04-05 or later, or not come back yet",
        "left: sheets/session-2: of files first read on 2027-04-05 or later, or not come back yet",
    ]
    assert "Cloud copies, backups and sent mails keep earlier versions" in said


def test_what_was_typed_and_not_read_yet_is_not_thrown_away(folder: ClassFolder) -> None:
    typed(folder, "Answers", {("answer_error", "Points given"): 3})
    result = run("forget", folder.root, "--before", "2027-04-05", "--write")
    assert result.exit_code == 2
    assert "review/session-1.xlsx: entries typed since it was read: 1" in result.stderr
    assert (folder.returned(1) / "download.zip").exists()


def test_a_day_before_the_first_reading_forgets_nothing(folder: ClassFolder) -> None:
    before = dict(contents(folder.root))
    result = run("forget", folder.root, "--before", FIRST, "--write")
    after = dict(contents(folder.root))
    gone = {name for name in before if name not in after}
    assert (result.exit_code, {name.rpartition("/")[2] for name in gone}) == (
        0, {".0123456789abcdef.part", "known-files.bin"},
    )  # fmt: skip
