"""Scores are kept as they were given, and a damaged line is named."""

from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import WHOLE, Score, load_scores, save_scores
from sheetgen.errors import FolderError

SCORES = (
    Score(1, "S01", WHOLE, 72.5, 100.0, "final", "2027-03-31"),
    Score(1, "S01", "sum", 10.0, 10.0, "final", "2027-03-31", "2345-6789"),
    Score(1, "S02", "sum", None, 0.0, "exempt", "2027-04-01", "2345-AAAA"),
)
LATER = Score(2, "S01", WHOLE, 0.0, 100.0, "to be marked", "2027-05-02")
HEADINGS = "session,student_id,item,points,out_of,status,scored_on,sheet"


def test_scores_come_back_as_they_were_kept(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    assert load_scores(folder) == ()
    save_scores(folder, 1, SCORES)
    assert load_scores(folder) == SCORES


def test_save_scores_replaces_those_of_one_session(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    save_scores(folder, 2, [LATER])
    save_scores(folder, 1, SCORES)
    save_scores(folder, 1, SCORES[:1])
    assert load_scores(folder) == (SCORES[0], LATER)


def test_nothing_to_keep_makes_no_file(tmp_path: Path) -> None:
    save_scores(ClassFolder(tmp_path), 1, [])
    assert not (tmp_path / "keep").exists()


@pytest.mark.parametrize(
    "line", ("1,S01,sum", "x,S01,sum,1,2,final,2027-03-31,", "1,S01,sum,a,2,final,2027-03-31,",
             "1,S01,sum,nan,2,final,2027-03-31,", "1,S01,sum,1,2,final,2027-03-31,K,more")
)  # fmt: skip
def test_a_damaged_line_is_named(tmp_path: Path, line: str) -> None:
    folder = ClassFolder(tmp_path)
    folder.keep.mkdir()
    folder.scores.write_text(f"{HEADINGS}\n{line}\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"scores\.csv:2"):
        load_scores(folder)
