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


def test_a_run_that_was_broken_off_pushes_no_older_one_out(tmp_path: Path) -> None:
    """Kept, but not yet drawn anew; and moved, but not yet kept."""
    path = tmp_path / "class.xlsx"
    for text in (b"1", b"2", b"3", b"3", b"3"):
        keep_last_three(path, text)
    kept = {f"class.kept-{number}.xlsx": text for number, text in ((1, b"3"), (2, b"2"), (3, b"1"))}
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == kept
    (tmp_path / "class.kept-1.xlsx").unlink()
    keep_last_three(path, b"3")
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == kept


# file beside the workbook
@pytest.mark.parametrize("name", ("~$class.xlsx", "~$ass.xlsx", ".~lock.class.xlsx#"))
def test_a_lock_file_of_any_program_is_seen(tmp_path: Path, name: str) -> None:
    assert lock_file(tmp_path / "class.xlsx") == ""
    (tmp_path / name).touch()
    assert lock_file(tmp_path / "class.xlsx") == name
