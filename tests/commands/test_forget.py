"""What `forget` removes, by the day a file was first read, and what it leaves."""

import os
from datetime import date
from pathlib import Path

import pytest

from sheetgen.class_folder.decisions import read_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import Score, load_scores, save_scores
from sheetgen.commands.build import build_sheets
from sheetgen.commands.forget import forget_before
from sheetgen.commands.read import read_returned
from tests.classes import attempts_in, built_class, copied, filled_sheet, record_of, returned
from tests.reviews import typed
from tests.zips import zip_of

OLD, RECENT = "2026-09-14", "2026-11-02"
BEFORE = date(2026, 10, 1)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """S01 first read before the day, S02 after it, whatever their clocks say."""
    folder = built_class(tmp_path_factory.mktemp("made") / "class")
    old = returned(folder, "Ada/one.xlsx", filled_sheet(folder, "S01"))
    read_returned(folder, 1, today=OLD)
    os.utime(old, (2_000_000_000, 2_000_000_000))
    os.utime(returned(folder, "two.xlsx", filled_sheet(folder, "S02")), (0, 0))
    read_returned(folder, 1, today=RECENT)
    return folder


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / "class")


def _left(folder: ClassFolder, below: str) -> list[str]:
    paths = (folder.root / below).rglob("*")
    return sorted(path.relative_to(folder.root).as_posix() for path in paths)


def test_a_file_goes_by_the_day_it_was_first_read(folder: ClassFolder) -> None:
    gone = forget_before(folder, BEFORE, write=True)
    assert gone.returned == ("returned/session-1/Ada/one.xlsx",)
    # The folder that a platform named after somebody goes with what was in it.
    assert _left(folder, "returned/session-1") == ["returned/session-1/two.xlsx"]
    kept = ("marks-by-item", "marks", "slips")
    assert _left(folder, "results/session-1") == [f"results/session-1/{name}.csv" for name in kept]
    assert _left(folder, "review") == []
    read_returned(folder, 1, today=RECENT)
    assert [attempt.status for attempt in read_returned(folder, 1, today=RECENT).attempts] == ["accepted"]


def test_the_day_itself_keeps_a_file(folder: ClassFolder) -> None:
    assert forget_before(folder, date(2026, 9, 14)).returned == ()


def test_decisions_about_a_file_that_stays_stay(folder: ClassFolder) -> None:
    codes = [record_of(folder, student).copy_code for student in ("S01", "S02")]
    typed(folder, "Review", {(code, "Comment"): "well held" for code in codes})
    attempts_in(folder, today=RECENT)
    assert forget_before(folder, BEFORE, write=True).lines == 1
    assert [one.value for one in read_decisions(folder).decisions] == ["", "well held"]


def test_a_bundle_goes_when_all_that_is_in_it_is_old(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    sheets = {student: filled_sheet(folder, student) for student in ("S01", "S02")}
    returned(folder, "first.zip", zip_of({"S01.xlsx": sheets["S01"], "note.txt": b"words"}))
    attempts_in(folder, today=OLD)
    returned(folder, "second.zip", zip_of({f"{student}.xlsx": data for student, data in sheets.items()}))
    assert forget_before(folder, BEFORE).returned == ("returned/session-1/first.zip",)
    attempts_in(folder, today=RECENT)
    assert forget_before(folder, date(2026, 12, 1)).returned == (
        "returned/session-1/first.zip", "returned/session-1/second.zip",
    )  # fmt: skip


def test_a_session_whose_files_are_gone_goes_by_the_day_of_its_scores(folder: ClassFolder) -> None:
    """Somebody deleted what came back, and left the results."""
    for path in (folder.returned(1) / "Ada" / "one.xlsx", folder.returned(1) / "two.xlsx"):
        path.unlink()
    assert forget_before(folder, BEFORE).derived == ()
    assert "results/session-1/attempts.csv" in forget_before(folder, date(2026, 12, 1)).derived
    save_scores(folder, 1, [Score(1, "S01", "sum", 1.0, 1.0, "final", "2027-01-01", "K")])
    assert forget_before(folder, date(2026, 12, 1)).derived == ()


def test_a_damaged_line_of_the_journal_is_left_and_named(folder: ClassFolder) -> None:
    folder.decisions.write_bytes(b"sequence,session,subject\nwhat is this\n")
    left = dict(forget_before(folder, BEFORE, write=True).left)
    assert left["review/decisions.csv:2"] == "a line that cannot be understood; look at it yourself"


def test_what_earlier_versions_remembered_goes_from_every_session(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    old = [folder.root / f"results/session-{number}/known-files.bin" for number in (1, 2)]
    for path in old:
        path.parent.mkdir(parents=True)
        path.write_bytes(b"body values")
    forget_before(folder, BEFORE)
    assert [path.exists() for path in old] == [True, True]
    forget_before(folder, BEFORE, write=True)
    assert [path.exists() for path in old] == [False, False]


def test_the_last_three_marks_are_kept(tmp_path: Path) -> None:
    """With a byte-order mark, since they hold names; a reading that changes nothing keeps nothing more."""
    folder = built_class(tmp_path / "class")
    seen = []
    for student in ("S01", "S02", "S03", "S04"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
        for _ in range(2 if student in ("S02", "S04") else 1):
            read_returned(folder, 1, today="2027-03-31")
        seen.append(folder.marks(1).read_bytes())
    kept = sorted(folder.kept_marks(1).parent.iterdir())
    assert [path.name for path in kept] == [f"session-1.kept-{number}.csv" for number in (1, 2, 3)]
    assert [path.read_bytes() for path in kept] == seen[:0:-1]
    assert seen[0].startswith(b"\xef\xbb\xbfstudent_id,")


def test_scores_are_as_before_after_files_were_forgotten(tmp_path: Path) -> None:
    """Read, forget, delete the results, and read twice more: every score stands, nobody is asked again."""
    folder = built_class(tmp_path / "class")
    for student in ("S01", "S02"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    read_returned(folder, 1, today="2027-03-31")
    marks = folder.marks(1).read_bytes()
    assert b"S01,Ada" in marks
    forget_before(folder, date(2099, 1, 1), write=True)
    for path in folder.results(1).rglob("*"):
        if path.is_file():
            path.unlink()
    for day in ("2027-09-01", "2027-09-02"):
        summary = read_returned(folder, 1, today=day)
        assert folder.marks(1).read_bytes() == marks
        assert (summary.kept, [one.record.student_id for one in summary.missing]) == (2, ["S03", "S04"])
    days = {score.scored_on for score in load_scores(folder)}
    assert days == {"2027-03-31"}


def test_a_sheet_in_the_folder_of_another_session_is_forgotten_in_its_own(tmp_path: Path) -> None:
    """And one that is not old keeps what was decided about it."""
    folder = built_class(tmp_path / "class")
    build_sheets(folder, 2)
    returned(folder, "S02.xlsx", filled_sheet(folder, "S02"))
    place = folder.returned(2)
    (place / "old.xlsx").write_bytes(filled_sheet(folder, "S01"))
    attempts_in(folder, today=OLD)
    (place / "recent.xlsx").write_bytes(filled_sheet(folder, "S03"))
    attempts_in(folder, today=RECENT)
    codes = [record_of(folder, student).copy_code for student in ("S01", "S02", "S03")]
    typed(folder, "Review", {(code, "Comment"): "well held" for code in codes})
    read_returned(folder, 1, today=RECENT)
    gone = forget_before(folder, BEFORE, write=True)
    assert gone.returned == ("returned/session-1/S02.xlsx", "returned/session-2/old.xlsx")
    assert {"results/session-1/attempts.csv", "review/session-1.xlsx"} <= set(gone.derived)
    assert [one.value for one in read_decisions(folder).decisions] == ["", "", "well held"]
