"""keep/precision.csv: what outlives the files of a session."""

from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError
from sheetgen.statistics.kept_precision import load_precision, save_precision, with_kept
from sheetgen.statistics.precision import SitePrecision
from sheetgen.statistics.repeatability import TechnicalError, Undefined

CHEST = SitePrecision("chest", 23, TechnicalError(0.61, 12.4, 24, 24), sheets=24, left_out=2)
THIGH = SitePrecision("thigh", 4, TechnicalError(0.5, 20.0, 10, 10), sheets=10)
FEW = Undefined("few-pairs", (("pairs", 3), ("needed", 10)))
BICEPS = SitePrecision("biceps", 30, FEW, sheets=3)
FIRST, NEXT = "2027-03-31", "2027-04-09"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return ClassFolder(tmp_path)


def test_precision_of_five_people_or_more_is_kept_with_its_day(folder: ClassFolder) -> None:
    """A later reading that finds the same leaves the day; another session stays as it is."""
    for session, day in ((1, FIRST), (2, FIRST), (1, NEXT)):
        save_precision(folder, session, (CHEST, THIGH, BICEPS), day)
    assert load_precision(folder) == tuple((session, replace(CHEST, kept_from=FIRST)) for session in (1, 2))
    assert folder.kept_precision.read_text(encoding="utf-8").splitlines() == [
        "session,site,sheets,people,tem_mm,mean_mm,degrees_of_freedom,left_out,worked_out_on",
        "1,chest,24,23,0.61,12.4,24,2,2027-03-31",
        "2,chest,24,23,0.61,12.4,24,2,2027-03-31",
    ]


def test_nothing_to_keep_makes_no_file(folder: ClassFolder) -> None:
    save_precision(folder, 1, (THIGH, BICEPS), FIRST)
    assert list(folder.root.iterdir()) == []


def test_kept_precision_stands_in_only_for_files_that_are_gone() -> None:
    kept = (replace(CHEST, kept_from=FIRST),)
    left = SitePrecision("chest", 11, TechnicalError(0.7, 12.0, 12, 12), sheets=12)
    more = SitePrecision("chest", 25, TechnicalError(0.6, 12.5, 26, 26), sheets=26)
    assert with_kept((), kept, True) == kept
    assert with_kept((left, THIGH), kept, True) == (*kept, THIGH)
    assert with_kept((more,), kept, True) == (more,)
    assert with_kept((left,), kept, False) == (left,)


@pytest.mark.parametrize("line", ("1,chest", "1,chest,24,23,a,12.4,24,2,", "1,chest,24,23,nan,12.4,24,2,"))
def test_a_damaged_line_is_named(folder: ClassFolder, line: str) -> None:
    folder.keep.mkdir()
    folder.kept_precision.write_text(f"headings\n{line}\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"precision\.csv:2"):
        load_precision(folder)
