"""Scores and slips are kept as they were given, beside the files and after them; a damaged line is named."""

from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import (
    NONE_FITS,
    WHOLE,
    LineSlip,
    Score,
    load_scores,
    load_slips,
    save_scores,
    save_slips,
)
from sheetgen.errors import FolderError

SCORES = (
    Score(1, "S01", WHOLE, 72.5, 100.0, "final", "2027-03-31"),
    Score(1, "S01", "sum", 10.0, 10.0, "final", "2027-03-31", "2345-6789"),
    Score(1, "S02", "sum", None, 0.0, "exempt", "2027-04-01", "2345-AAAA"),
)
LATER = Score(2, "S01", WHOLE, 0.0, 100.0, "to be marked", "2027-05-02")
HEADINGS = "session,student_id,item,points,out_of,status,scored_on,sheet"
THIGH = LineSlip(1, "S01", "site_thigh", "truncated", 0.43, "K1")
SUM = LineSlip(1, "S01", "sum_mm", NONE_FITS, 10.0, "K1")
OTHER = LineSlip(1, "S02", "sum_mm", "site-twice", 10.0, "K2")
LATER_SLIP = LineSlip(2, "S01", "sum_mm", "decimal-slip", 10.0, "K3")


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


def test_slips_that_were_kept_are_read_again(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    assert load_slips(folder) == ()
    assert save_slips(folder, 1, [THIGH, SUM], {"K1"}) == (THIGH, SUM)
    assert load_slips(folder) == (THIGH, SUM)
    assert (tmp_path / "keep/slips.csv").read_text(encoding="utf-8").splitlines()[:2] == [
        "session,student_id,line,slip,points_lost,copy_code",
        "1,S01,site_thigh,truncated,0.43,K1",
    ]


def test_a_sheet_marked_anew_takes_the_place_of_its_slips_and_of_no_others(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    save_slips(folder, 2, [LATER_SLIP], {"K3"})
    save_slips(folder, 1, [THIGH, SUM, OTHER], {"K1", "K2"})
    # the file of K2 is gone
    assert save_slips(folder, 1, [THIGH], {"K1"}) == (OTHER, THIGH)
    # corrected: no slip any more
    assert save_slips(folder, 1, [], {"K1"}) == (OTHER,)
    assert load_slips(folder) == (OTHER, LATER_SLIP)


def test_a_class_without_slips_keeps_no_file(tmp_path: Path) -> None:
    assert save_slips(ClassFolder(tmp_path), 1, [], {"K1"}) == ()
    assert not (tmp_path / "keep").exists()


@pytest.mark.parametrize(
    "line", ["1,S01,sum_mm", "x,S01,sum_mm,truncated,1,K1", "1,S01,sum_mm,truncated,inf,K1"]
)
def test_a_damaged_line_of_slips_is_named(tmp_path: Path, line: str) -> None:
    folder = ClassFolder(tmp_path)
    save_slips(folder, 1, [THIGH], {"K1"})
    path = tmp_path / "keep/slips.csv"
    path.write_text(f"{path.read_text(encoding='utf-8')}{line}\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"slips\.csv:3"):
        load_slips(folder)
