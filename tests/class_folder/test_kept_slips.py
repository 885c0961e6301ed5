"""keep/slips.csv: which slip was made in which line, beside the files and after them."""

from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.kept_slips import NONE_FITS, LineSlip, load_slips, save_slips
from sheetgen.errors import FolderError

THIGH = LineSlip(1, "S01", "site_thigh", "truncated", 0.43, "K1")
SUM = LineSlip(1, "S01", "sum_mm", NONE_FITS, 10.0, "K1")
OTHER = LineSlip(1, "S02", "sum_mm", "site-twice", 10.0, "K2")
LATER = LineSlip(2, "S01", "sum_mm", "decimal-slip", 10.0, "K3")


def test_what_was_kept_is_read_again(tmp_path: Path) -> None:
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
    save_slips(folder, 2, [LATER], {"K3"})
    save_slips(folder, 1, [THIGH, SUM, OTHER], {"K1", "K2"})
    # the file of K2 is gone
    assert save_slips(folder, 1, [THIGH], {"K1"}) == (OTHER, THIGH)
    # corrected: no slip any more
    assert save_slips(folder, 1, [], {"K1"}) == (OTHER,)
    assert load_slips(folder) == (OTHER, LATER)


def test_a_class_without_slips_keeps_no_file(tmp_path: Path) -> None:
    assert save_slips(ClassFolder(tmp_path), 1, [], {"K1"}) == ()
    assert not (tmp_path / "keep").exists()


@pytest.mark.parametrize(
    "line", ["1,S01,sum_mm", "x,S01,sum_mm,truncated,1,K1", "1,S01,sum_mm,truncated,inf,K1"]
)
def test_a_damaged_line_is_named(tmp_path: Path, line: str) -> None:
    folder = ClassFolder(tmp_path)
    save_slips(folder, 1, [THIGH], {"K1"})
    path = tmp_path / "keep/slips.csv"
    path.write_text(f"{path.read_text(encoding='utf-8')}{line}\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"slips\.csv:3"):
        load_slips(folder)
