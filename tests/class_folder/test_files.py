"""A workbook drawn anew: swapped in with the last three kept, never over one that is open or newer."""

import errno
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sheetgen.class_folder.files import (
    keep_last_three,
    keep_rows,
    kept_rows,
    lock_file,
    make_folder,
    read_if_there,
    redrawn,
    sha256_of,
    sync_folder,
    write_beside,
)
from sheetgen.errors import FolderError


def test_sha256_of_nothing() -> None:
    """The digest of the empty message, as published in the standard's examples."""
    assert sha256_of(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


@pytest.mark.parametrize("sync", [True, False])
def test_write_beside_swaps_the_new_file_in(tmp_path: Path, sync: bool) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b"old")
    write_beside(path, b"new", sync=sync)
    sync_folder(tmp_path)
    assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["a.txt"]


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "the disk is read-only"),
        (errno.EACCES, "no right to write here"),
        (errno.EBUSY, "another program holds it open"),
        (errno.EIO, os.strerror(errno.EIO)),
    ],
)
@pytest.mark.parametrize("call", ["fsync", "replace", "open"])
def test_write_beside_that_fails_keeps_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int, reason: str
) -> None:
    path = tmp_path / "a.txt"
    path.write_bytes(b"old")

    def fail(*arguments: object) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patched:
        patched.setattr(os, call, fail)
        with pytest.raises(FolderError, match=f"a.txt: it cannot be written: {reason}"):
            write_beside(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_write_beside_where_a_folder_stands(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(FolderError, match="cannot be written"):
        write_beside(tmp_path / "a.txt", b"new")
    assert os.listdir(tmp_path) == ["a.txt"]


def test_write_beside_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match="its folder is not there"):
        write_beside(tmp_path / "gone" / "a.txt", b"new")


@pytest.mark.parametrize(("mode", "expected"), [(0o666, 0o640), (0o600, 0o600)])
def test_write_beside_gives_rights_by_the_mask(tmp_path: Path, mode: int, expected: int) -> None:
    before = os.umask(0o027)
    try:
        write_beside(tmp_path / "a.txt", b"new", mode=mode)
    finally:
        os.umask(before)
    rights = stat.S_IMODE((tmp_path / "a.txt").stat().st_mode)
    # Windows knows a read-only flag alone.
    assert rights == (expected if sys.platform != "win32" else 0o666)


def test_new_files_and_folders_are_their_owners_and_rights_that_stand_stay(tmp_path: Path) -> None:
    def rights(path: Path) -> int:
        return stat.S_IMODE(path.stat().st_mode)

    # Windows knows a read-only flag alone.
    expected = [0o750, 0o700, 0o700, 0o600, 0o664] if sys.platform != "win32" else [0o777] * 3 + [0o666] * 2
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o750)
    make_folder(shared / "review" / "old")
    found = [rights(path) for path in (shared, shared / "review", shared / "review" / "old")]
    path = shared / "review" / "session-1.xlsx"
    write_beside(path, b"first")
    found.append(rights(path))
    path.chmod(0o664)
    write_beside(path, b"second")
    assert [*found, rights(path)] == expected
    assert path.read_bytes() == b"second"


def test_make_folder_below_a_file(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(b"")
    with pytest.raises(FolderError, match="cannot be written"):
        make_folder(tmp_path / "a.txt" / "b")


def test_make_folder_twice(tmp_path: Path) -> None:
    make_folder(tmp_path / "a" / "b")
    make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()


def test_read_if_there_of_a_file_a_gap_and_a_folder(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(b"old")
    assert read_if_there(tmp_path / "a.txt") == b"old"
    assert read_if_there(tmp_path / "b.txt") is None
    with pytest.raises(FolderError, match="cannot be read"):
        read_if_there(tmp_path)


def test_write_beside_has_the_times_of_what_it_copies_before_it_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever ends the program between two steps finds either no file or one with its time."""
    source, path = tmp_path / "source", tmp_path / "copy"
    source.write_bytes(b"data")
    os.utime(source, (1_000, 2_000))
    seen = []
    replace = os.replace

    def looked_at(beside: Path, target: Path) -> None:
        seen.append((beside.stat().st_mtime, target.exists()))
        replace(beside, target)

    monkeypatch.setattr(os, "replace", looked_at)
    write_beside(path, b"data", copy_of=source)
    assert seen == [(2_000.0, False)]
    assert path.stat().st_mtime == 2_000.0


def test_write_beside_on_a_disk_that_takes_no_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EPERM, "not permitted")

    source = tmp_path / "source"
    source.write_bytes(b"data")
    monkeypatch.setattr(os, "utime", refuse)
    write_beside(tmp_path / "copy", b"data", copy_of=source)
    assert (tmp_path / "copy").read_bytes() == b"data"
    assert sorted(one.name for one in tmp_path.iterdir()) == ["copy", "source"]


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
    assert redrawn(path, "", lambda: b"1") is None
    assert redrawn(path, sha256_of(b"1"), lambda: b"1") is None
    assert [file.name for file in path.parent.iterdir()] == [path.name]
    assert redrawn(path, sha256_of(b"1"), lambda: b"2") is None
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
    assert str(redrawn(path, digest, draw)) == reason
    assert path.read_bytes() == b"1"
    assert list(tmp_path.glob("*.kept-*")) == []


def test_rows_of_a_table_are_kept_and_read_back_without_their_heading(tmp_path: Path) -> None:
    path = tmp_path / "keep" / "table.csv"
    assert kept_rows(path, ("word", "number"), tuple) == ()
    keep_rows(path, ("word", "number"), [("a, b", 1), ("ö", 2.5)])
    assert path.read_text(encoding="utf-8") == 'word,number\n"a, b",1\nö,2.5\n'
    assert kept_rows(path, ("word", "number"), tuple) == (("a, b", "1"), ("ö", "2.5"))


def test_a_table_that_has_not_changed_is_not_written_again(tmp_path: Path) -> None:
    path = tmp_path / "keep" / "table.csv"
    keep_rows(path, ("word",), [("a",)])
    before = path.stat().st_ino
    keep_rows(path, ("word",), [("a",)])
    assert path.stat().st_ino == before


def test_a_line_of_a_table_that_cannot_be_understood_is_named(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("number\n1\n\nmany\n", encoding="utf-8")
    said = r"table.csv:4: .*many.*; expected number. Correct the line, or put"
    with pytest.raises(FolderError, match=said):
        kept_rows(path, ("number",), lambda cells: int(cells[0]))
