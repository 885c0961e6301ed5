"""`sheetgen gradebook`: what it says, and that nothing is written without --write."""

from pathlib import Path

import pytest

from sheetgen.model.mark_row import MarkRow
from sheetgen.report.marks_table import marks_table
from sheetgen.store.class_folder import ClassFolder
from tests.classes import built_class, only_line, run

MARKS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final"),
    MarkRow("S02", "Bo", "Heath", 12.0, 20.0, "final"),
    MarkRow("S03", "Cy", "Moor", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", 6.0, 20.0, "to be marked"),
)
BOOK = b"ID,Skinfold\nPoints,100\nS01,\nS02,7\nS03,2\nX\x1b9,1\n"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    made = built_class(tmp_path / "class")
    made.results(1).mkdir(parents=True)
    made.marks(1).write_text(marks_table(MARKS), encoding="utf-8")
    (tmp_path / "book.csv").write_bytes(BOOK)
    return made


def test_preview_lists_every_row_and_writes_nothing(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    result = run("gradebook", folder.root, book)
    assert result.stdout.splitlines() == [
        "key column: ID (student_id); score column: Skinfold",
        "matched: 3",
        "line 3: S01: would fill in: 17.5",
        "line 4: S02: would overwrite: 7 -> 12",
        "line 5: S03: left as it is (missing)",
        "in the file, not in the marks: line 2: Points",
        "in the file, not in the marks: line 6: X?9",
        "in the marks, not in the file: S04",
        f"{book}: 1 filled in, 1 overwritten, 0 as they were, 1 left, 2 rows without a mark, "
        "1 marks without a row",
        "Nothing was written. Add --write to do it.",
    ]
    assert result.stderr == f"{book}: line 2 gives 100 for this column, and the marks are out of 20\n"
    assert (result.exit_code, book.read_bytes(), (tmp_path / "book.csv.bak-1").exists()) == (0, BOOK, False)


def test_write(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    result = run("gradebook", folder.root, book, "--write")
    assert (result.exit_code, "line 4: S02: overwritten: 7 -> 12" in result.stdout.splitlines()) == (0, True)
    assert book.read_bytes() == b"ID,Skinfold\nPoints,100\nS01,17.5\nS02,12\nS03,2\nX\x1b9,1\n"
    assert (tmp_path / "book.csv.bak-1").read_bytes() == BOOK


def test_partial_and_key_and_column(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "own.csv"
    book.write_bytes(b"a,b,c\nS04,,S01\n")
    result = run("gradebook", folder.root, book, "--key", "a", "--column", "b", "--partial", "--write")
    assert (result.exit_code, book.read_bytes()) == (0, b"a,b,c\nS04,6,S01\n")


def test_no_column_fits(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "own.csv"
    book.write_bytes(b"id,quiz\nS01,\n")
    result = run("gradebook", folder.root, book, "--write")
    assert (result.exit_code, only_line(result)) == (
        2,
        f"sheetgen: {book}: no column whose heading names the class or the word skinfold; expected one of "
        "#1 'id', #2 'quiz'. Name it with --column, or make the assignment in the gradebook and export "
        "again.",
    )
    assert book.read_bytes() == b"id,quiz\nS01,\n"


def test_before_anything_was_read(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("gradebook", folder.root, tmp_path / "book.csv", "--session", "2")
    assert result.exit_code == 2
    assert only_line(result).endswith(f"Run `sheetgen read {folder.root} --session 2` first.")


def test_neither_file_nor_zip(folder: ClassFolder) -> None:
    result = run("gradebook", folder.root)
    assert (result.exit_code, result.stderr.splitlines()[-1]) == (
        2,
        "Error: Name the gradebook export, or --oneroster with the zip to write.",
    )


def test_oneroster_alone(folder: ClassFolder, tmp_path: Path) -> None:
    target = tmp_path / "out.zip"
    options = ("--oneroster", target, "--date", "2026-11-20", "--oneroster-ids", "c", "k", "p")
    result = run("gradebook", folder.root, *options)
    assert (result.exit_code, result.stderr, target.exists()) == (0, "", False)
    assert result.stdout.splitlines() == [
        f"{target}: would be written, OneRoster 1.1: "
        "2 fully graded, 1 partially graded, 1 not submitted, 0 exempt",
        "Nothing was written. Add --write to do it.",
    ]
    assert run("gradebook", folder.root, *options, "--write").exit_code == 0
    assert target.read_bytes()[:2] == b"PK"


def test_oneroster_without_a_category_says_so(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("gradebook", folder.root, "--oneroster", tmp_path / "out.zip")
    assert "found no category or grading period" in result.stderr
