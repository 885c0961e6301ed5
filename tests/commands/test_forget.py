"""Removing body values and returned files from before a date."""

import os
from datetime import date, datetime
from pathlib import Path

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import load_scores
from sheetgen.commands.forget import Forgotten, forget_before
from sheetgen.commands.read import read_returned
from tests.classes import built_class, filled_sheet, returned

OLD, RECENT = datetime(2026, 9, 14, 10).timestamp(), datetime(2026, 11, 2, 10).timestamp()


def _class(root: Path) -> ClassFolder:
    files = {
        "class.xlsx": OLD,
        "sheets/session-1/S01_A.xlsx": OLD,
        "returned/session-1/S01_A.xlsx": OLD,
        "returned/session-1/late/S02_B.xlsx": RECENT,
        "results/session-1/attempts.csv": OLD,
        "results/session-1/feedback/S01.xlsx": OLD,
        "results/session-1/marks.csv": OLD,
        "results/session-1/precision.csv": OLD,
        "returned/session-2/S01_C.xlsx": RECENT,
        "results/session-2/attempts.csv": RECENT,
        "keep/secret.txt": OLD,
    }
    for name, stamp in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x", encoding="utf-8")
        os.utime(path, (stamp, stamp))
    return ClassFolder(root)


def _left(root: Path) -> list[str]:
    return sorted(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())


GONE = Forgotten(
    returned=("returned/session-1/S01_A.xlsx",),
    derived=("results/session-1/attempts.csv", "results/session-1/feedback/S01.xlsx"),
    kept=("results/session-1/marks.csv", "results/session-1/precision.csv"),
)


def test_forget_before_previews(tmp_path: Path) -> None:
    folder = _class(tmp_path)
    before = _left(tmp_path)
    assert forget_before(folder, date(2026, 10, 1)) == GONE
    assert _left(tmp_path) == before


def test_forget_before_removes_old_files_and_keeps_marks_and_class(tmp_path: Path) -> None:
    folder = _class(tmp_path)
    assert forget_before(folder, date(2026, 10, 1), write=True) == GONE
    assert _left(tmp_path) == [
        "class.xlsx",
        "keep/secret.txt",
        "results/session-1/marks.csv",
        "results/session-1/precision.csv",
        "results/session-2/attempts.csv",
        "returned/session-1/late/S02_B.xlsx",
        "returned/session-2/S01_C.xlsx",
        "sheets/session-1/S01_A.xlsx",
    ]


def test_forget_before_day_of_the_file_keeps_it(tmp_path: Path) -> None:
    assert forget_before(_class(tmp_path), date(2026, 9, 14)) == Forgotten((), (), ())


def test_what_earlier_versions_remembered_goes_from_every_session(tmp_path: Path) -> None:
    folder = _class(tmp_path)
    old = [tmp_path / f"results/session-{number}/known-files.bin" for number in (1, 2)]
    for path in old:
        path.write_bytes(b"body values")
    forget_before(folder, date(2026, 1, 1))
    assert [path.exists() for path in old] == [True, True]
    forget_before(folder, date(2026, 1, 1), write=True)
    assert [path.exists() for path in old] == [False, False]


def test_the_last_three_marks_are_kept(tmp_path: Path) -> None:
    """With a byte-order mark, since they hold names; a reading that changes nothing keeps nothing more."""
    folder = built_class(tmp_path / "class")
    seen = []
    for student in ("S01", "S02", "S03", "S04"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
        for _ in range(2):
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
        assert (summary.kept, [record.student_id for record in summary.missing]) == (2, ["S03", "S04"])
    days = {score.scored_on for score in load_scores(folder)}
    assert days == {"2027-03-31"}
