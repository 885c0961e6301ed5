"""What lies below a folder: files in order of name, and what is no file said in words."""

import os
from pathlib import Path
from typing import Any

import pytest

from sheetgen.model.finding import Finding, Worded
from sheetgen.store.folder_walk import file_bytes, file_finding, files_below, link_finding
from tests.wording import said


def test_files_are_given_in_order_of_name_with_the_steps_to_them(tmp_path: Path) -> None:
    for name in ("b.xlsx", "a/z.xlsx", "a/b/c.xlsx"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"1")
    assert list(files_below(tmp_path)) == [
        (("a", "b", "c.xlsx"), tmp_path / "a" / "b" / "c.xlsx"),
        (("a", "z.xlsx"), tmp_path / "a" / "z.xlsx"),
        (("b.xlsx",), tmp_path / "b.xlsx"),
    ]
    assert list(files_below(tmp_path / "nowhere")) == []


def test_a_link_is_said_and_not_followed(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path)
    assert list(files_below(tmp_path)) == [(("link",), link_finding())]
    assert link_finding().code == "file-shortcut"


def test_a_folder_that_cannot_be_listed_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(*_: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "scandir", closed)
    ((steps, one),) = files_below(tmp_path)
    assert steps == (".",)
    assert isinstance(one, Finding)
    assert said([one])[0] == Worded(
        "file-unreadable", "", "Permission denied", "a folder that can be listed", ""
    )


def test_a_file_that_the_system_keeps_back_says_why() -> None:
    found = file_finding(PermissionError(13, "Permission denied"))
    assert (found.code, said([found])[0].found) == ("file-unreadable", "Permission denied")


def test_a_file_is_read_up_to_a_number_of_bytes(tmp_path: Path) -> None:
    """One byte more, or a file that is gone, is said instead."""
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(b"1234")
    assert file_bytes(path, 4) == b"1234"
    large = file_bytes(path, 3)
    assert isinstance(large, Finding)
    assert said([large])[0] == Worded("file-too-large", "", "a file of 4 bytes", "at most 3 bytes", "")
    gone = file_bytes(tmp_path / "gone.xlsx", 4)
    assert isinstance(gone, Finding)
    assert (gone.code, said([gone])[0].expected) == ("file-unreadable", "a file that can be read")
