"""Marks of a class folder into a gradebook export and a OneRoster zip."""

import os
import zipfile
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.gradebook import export_oneroster, load_marks, put_marks
from sheetgen.errors import FolderError, UsageError
from sheetgen.gradebook.filling import Wanted
from sheetgen.gradebook.oneroster_results import ResultsFrame
from sheetgen.marking.marks import MarkRow
from sheetgen.report.tables import marks_table
from tests.classes import built_class

FRAME = ResultsFrame("", 1, "", date(2026, 11, 20), "c", "k", "p")
MARKS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final"),
    MarkRow("S02", "Bo", "Heath", 12.0, 20.0, "final"),
    MarkRow("S03", "Cy", "Moor", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", None, 20.0, "exempt"),
)
BOOK = b"ID,Skinfold\nS01,\nS02,7\n"
AFTER = b"ID,Skinfold\nS01,17.5\nS02,12\n"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    made = built_class(tmp_path / "class")
    written(made, MARKS)
    return made


def written(folder: ClassFolder, marks: tuple[MarkRow, ...]) -> None:
    path = folder.marks(1)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(marks_table(marks), encoding="utf-8")


def export(folder: ClassFolder, data: bytes = BOOK) -> Path:
    path = folder.root.parent / "book.csv"
    path.write_bytes(data)
    return path


def beside(path: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in path.parent.iterdir() if one.is_file()}


def test_preview_writes_nothing(folder: ClassFolder) -> None:
    path = export(folder)
    assert put_marks(folder, 1, path).data == AFTER
    assert beside(path) == {"book.csv": BOOK}


def test_write_swaps_in_and_keeps_the_old_file(folder: ClassFolder) -> None:
    path = export(folder)
    path.chmod(0o640)
    put_marks(folder, 1, path, write=True)
    assert beside(path) == {"book.csv": AFTER, "book.csv.bak-1": BOOK}
    assert path.stat().st_mode & 0o777 == 0o640


def test_write_where_nothing_changes_keeps_no_copy(folder: ClassFolder) -> None:
    path = export(folder, AFTER)
    put_marks(folder, 1, path, write=True)
    assert beside(path) == {"book.csv": AFTER}


def test_write_keeps_the_last_three(folder: ClassFolder) -> None:
    path = export(folder)
    for score in (1.0, 2.0, 3.0, 4.0, 5.0):
        written(folder, (MarkRow("S01", "Ada", "Fen", score, 20.0, "final"),))
        put_marks(folder, 1, path, write=True)
    files = beside(path)
    assert {name: data.splitlines()[1] for name, data in files.items()} == {
        "book.csv": b"S01,5", "book.csv.bak-1": b"S01,4", "book.csv.bak-2": b"S01,3",
        "book.csv.bak-3": b"S01,2",
    }  # fmt: skip


def test_write_through_a_link_changes_the_file_it_points_at(folder: ClassFolder) -> None:
    path = export(folder)
    link = folder.root / "link.csv"
    os.symlink(path, link)
    put_marks(folder, 1, link, write=True)
    assert (link.is_symlink(), path.read_bytes()) == (True, AFTER)


def test_score_column_is_the_one_with_the_title_of_the_class(folder: ClassFolder) -> None:
    """The title of a new class is the name of its folder."""
    marked = put_marks(folder, 1, export(folder, b"ID,Skinfold,Class\nS01,,\n"))
    assert marked.score_column == "Class"


def test_column_is_passed_on(folder: ClassFolder) -> None:
    marked = put_marks(folder, 1, export(folder, b"ID,Quiz,Lab\nS01,,\n"), Wanted(column="lab"))
    assert marked.data == b"ID,Quiz,Lab\nS01,,17.5\n"


def test_no_marks_yet(folder: ClassFolder) -> None:
    with pytest.raises(FolderError) as caught:
        load_marks(folder, 2)
    assert str(caught.value) == (
        f"{folder.marks(2)}: no such file; expected the marks of session 2. "
        f"Run `sheetgen read {folder.root} --session 2` first."
    )


def test_marks_are_those_of_the_table(folder: ClassFolder) -> None:
    assert load_marks(folder, 1) == MARKS


def test_export_that_is_not_there(folder: ClassFolder) -> None:
    with pytest.raises(UsageError, match=r"nothing\.csv: it cannot be read \(No such file or directory\)"):
        put_marks(folder, 1, folder.root / "nothing.csv")


def test_oneroster_zip_is_written_only_where_asked(folder: ClassFolder) -> None:
    target = folder.root.parent / "out.zip"
    out = export_oneroster(folder, target, FRAME)
    assert out.counts == {
        "fully graded": 2, "partially graded": 0, "submitted": 0, "not submitted": 1, "exempt": 1,
    }  # fmt: skip
    assert not target.exists()
    export_oneroster(folder, target, FRAME, write=True)
    with zipfile.ZipFile(target) as package:
        assert package.namelist() == ["manifest.csv", "lineItems.csv", "results.csv"]


def test_oneroster_zip_that_is_there_is_kept(folder: ClassFolder) -> None:
    target = folder.root.parent / "out.zip"
    target.write_bytes(b"old")
    for _ in range(2):
        export_oneroster(folder, target, replace(FRAME, version="1.2"), write=True)
    assert sorted(beside(target)) == ["out.zip", "out.zip.bak-1"]
    assert beside(target)["out.zip.bak-1"] == b"old"
