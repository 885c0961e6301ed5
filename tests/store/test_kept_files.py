"""Keeping the last three of a workbook, and seeing that another program has it open."""

from pathlib import Path

import pytest

from sheetgen.store.kept_files import keep_last_three, lock_file


def test_the_last_three_are_kept_and_the_newest_is_number_1(tmp_path: Path) -> None:
    path = tmp_path / "class.xlsx"
    for number in range(5):
        keep_last_three(path, str(number).encode())
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {
        "class.kept-1.xlsx": b"4",
        "class.kept-2.xlsx": b"3",
        "class.kept-3.xlsx": b"2",
    }


# file beside the workbook
@pytest.mark.parametrize("name", ("~$class.xlsx", "~$ass.xlsx", ".~lock.class.xlsx#"))
def test_a_lock_file_of_any_program_is_seen(tmp_path: Path, name: str) -> None:
    assert lock_file(tmp_path / "class.xlsx") == ""
    (tmp_path / name).touch()
    assert lock_file(tmp_path / "class.xlsx") == name
