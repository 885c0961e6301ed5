import csv
import io
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder.decisions import Decision, append_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import WHOLE, Score, save_scores
from sheetgen.commands.summary import Summary, summary_of, write_summary
from sheetgen.errors import UsageError
from sheetgen.statistics.precision import SitePrecision, save_precision
from sheetgen.statistics.repeatability import TechnicalError
from tests.classes import built_class, run

DAY = "2027-03-31"


def section(root: Path, people: int, points: float) -> ClassFolder:
    """So many people with so many points of 10 for the sum; the last one's sheet was taken away, and points
    for an answer still wait. Chest 0.6 mm of 12 mm is 5 %."""
    folder = built_class(root)
    scores = []
    for number in range(people + 1):
        student, sheet = f"S{number:02}", f"K{number}"
        scores += [
            Score(1, student, "sum", points, 10.0, "final", DAY, sheet),
            Score(1, student, "answers", 0.0, 5.0, "to be marked", DAY, sheet),
            Score(1, student, WHOLE, points, 15.0, "to be marked", DAY, sheet),
            Score(1, student, WHOLE, points, 15.0, "to be marked", DAY),
        ]
    save_scores(folder, 1, scores)
    append_decisions(folder, [Decision(1, 1, f"K{people}", "withdrawn", "", "yes")])
    chest = SitePrecision("chest", people, TechnicalError(0.6, 12.0, people, people), sheets=people)
    save_precision(folder, 1, [chest], DAY)
    return folder


def test_sections_stand_side_by_side_by_what_is_kept_of_them(tmp_path: Path) -> None:
    """Of a section of four people neither a site nor an item."""
    found = summary_of({"a": section(tmp_path / "a", 12, 7.5), "b": section(tmp_path / "b", 4, 10.0)})
    assert found.headings == ("session", "what", "of", "a", "b")
    assert found.rows == (
        (1, "people", "", 12, 4),
        (1, "sheets", "", 12, 4),
        (1, "repeat error, %", "Chest", 5.0, None),
        (1, "marks, %", "Sum", 75.0, "fewer than 5 people"),
    )


def test_a_class_without_marks_has_no_rows(tmp_path: Path) -> None:
    assert summary_of({"a": built_class(tmp_path / "a")}).rows == ()


SUMMARY = Summary(("session", "what", "of", "=a"), ((1, "marks, %", "Sum", 75.0), (1, "people", "", None)))


def test_it_is_written_as_a_table_or_a_workbook_and_never_over_a_file(tmp_path: Path) -> None:
    write_summary(SUMMARY, tmp_path / "s.csv")
    text = (tmp_path / "s.csv").read_text(encoding="utf-8-sig")
    assert list(csv.reader(io.StringIO(text))) == [
        ["session", "what", "of", "'=a"], ["1", "marks, %", "Sum", "75.0"], ["1", "people", "", ""],
    ]  # fmt: skip
    write_summary(SUMMARY, tmp_path / "s.xlsx")
    rows = list(openpyxl.load_workbook(tmp_path / "s.xlsx").worksheets[0].values)
    assert rows == [("session", "what", "of", "=a"), (1, "marks, %", "Sum", 75), (1, "people", None, None)]
    for name in ("s.csv", "s.txt"):
        with pytest.raises(UsageError):
            write_summary(SUMMARY, tmp_path / name)


def test_the_command_prints_a_table_without_names_and_works_after_forget(tmp_path: Path) -> None:
    folder = section(tmp_path / "evening", 12, 7.5)
    before = run("summary", folder.root)
    lines = before.stdout.splitlines()
    assert lines[0].split()[:3] == ["session", "what", "of"]
    assert lines[-1].split() == ["1", "marks,", "%", "Sum", "75.0"]
    assert not any(name in before.stdout for name in ("Ada", "Fen", "S01"))
    run("forget", folder.root, "--before", "2028-01-01", "--write")
    out = tmp_path / "department.csv"
    after = run("summary", folder.root, "--out", out)
    assert after.stdout == before.stdout + f"{out}: written\n"
