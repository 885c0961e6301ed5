"""A workbook drawn anew: swapped in with the last three kept, never over one that is open or newer."""

from collections.abc import Callable
from pathlib import Path

import pytest

from sheetgen.errors import FolderError
from sheetgen.store.files import sha256_of
from sheetgen.store.redraw import keep_last_three, lock_file, redrawn


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


def test_the_new_one_takes_its_place_and_the_one_before_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "review" / "session-1.xlsx"
    assert redrawn(path, "", lambda: b"1") == ""
    assert redrawn(path, sha256_of(b"1"), lambda: b"1") == ""
    assert [file.name for file in path.parent.iterdir()] == [path.name]
    assert redrawn(path, sha256_of(b"1"), lambda: b"2") == ""
    assert (path.read_bytes(), path.with_name("session-1.kept-1.xlsx").read_bytes()) == (b"2", b"1")


def refused() -> bytes:
    raise FolderError("class.xlsx", "it does not read back", "the same", "Look.")


def lossy() -> bytes:
    raise ValueError("a decision is lost")


# lock file, digest of what was read, how it is drawn, the reason why it was left
LEFT = [
    ("~$class.xlsx", sha256_of(b"1"), lambda: b"2", "another program has it open (~$class.xlsx)"),
    ("", sha256_of(b"0"), lambda: b"2", "it was saved meanwhile"),
    ("", "", lambda: b"2", "it was saved meanwhile"),
    ("", sha256_of(b"1"), refused, "it does not read back"),
    ("", sha256_of(b"1"), lossy, "a decision is lost"),
]


@pytest.mark.parametrize(("lock", "digest", "draw", "reason"), LEFT)
def test_what_keeps_a_workbook_as_it_is(
    tmp_path: Path, lock: str, digest: str, draw: Callable[[], bytes], reason: str
) -> None:
    path = tmp_path / "class.xlsx"
    path.write_bytes(b"1")
    if lock:
        (tmp_path / lock).touch()
    assert redrawn(path, digest, draw) == reason
    assert path.read_bytes() == b"1"
    assert list(tmp_path.glob("*.kept-*")) == []
