"""What is taken in is copied as it is, overwrites nothing, and one bad file keeps no other back."""

import os
from pathlib import Path
from typing import Any

import pytest

from sheetgen.errors import UsageError
from sheetgen.flows.taking_in import taken_in
from sheetgen.store.class_folder import ClassFolder
from tests.classes import built_class, filled_sheet, only_line, returned, run
from tests.wording import in_english
from tests.zips import zip_of


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def state(root: Path) -> dict[str, tuple[bytes, int]]:
    return {
        path.relative_to(root).as_posix(): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in root.rglob("*")
        if path.is_file()
    }


def test_paths_are_copied_and_never_overwrite(folder: ClassFolder, tmp_path: Path) -> None:
    downloads = tmp_path / "downloads"
    (downloads / "sub").mkdir(parents=True)
    (downloads / "s.xlsx").write_bytes(filled_sheet(folder, "S01"))
    (downloads / "sub" / "s.xlsx").write_bytes(filled_sheet(folder, "S02"))
    returned(folder, "s.xlsx", b"came earlier")
    before = state(downloads)
    run("read", folder.root, downloads)
    run("read", folder.root, downloads)
    assert state(downloads) == before
    there = {name: data for name, (data, _) in state(folder.returned(1)).items()}
    assert there == {
        "s.xlsx": b"came earlier",
        "s-2.xlsx": before["s.xlsx"][0],
        "sub/s.xlsx": before["sub/s.xlsx"][0],
    }
    assert (folder.returned(1) / "s-2.xlsx").stat().st_mtime_ns == before["s.xlsx"][1]


def test_a_path_that_is_not_there_gives_one_line(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("read", folder.root, tmp_path / "none")
    assert result.exit_code == 2
    assert "none: no such file or folder; expected what came back. Check the name." in only_line(result)


def test_a_path_that_holds_the_class_folder_is_not_copied_into_it(folder: ClassFolder) -> None:
    before = state(folder.root)
    for path in (folder.root, folder.root.parent):
        result = run("read", folder.root, path)
        assert result.exit_code == 2
        assert "the class folder is inside" in only_line(result)
    assert state(folder.root) == before


def test_a_pipe_is_not_waited_for(folder: ClassFolder, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    result = run("read", folder.root, tmp_path / "pipe")
    assert result.exit_code == 2
    assert "a device or pipe; expected a file or folder" in only_line(result)


def test_a_name_as_long_as_the_system_allows_is_taken_in(folder: ClassFolder, tmp_path: Path) -> None:
    name = "x" * 250 + ".xlsx"
    for number in (1, 2):
        path = tmp_path / f"downloads {number}" / name
        path.parent.mkdir()
        path.write_bytes(b"text %d" % number)
        assert run("read", folder.root, path.parent).exit_code == 1
    assert sorted(path.name for path in folder.returned(1).iterdir()) == ["x" * 50 + "-2.xlsx", name]


def test_a_folder_of_the_same_name_is_no_obstacle(folder: ClassFolder, tmp_path: Path) -> None:
    (folder.returned(1) / "sheet.xlsx").mkdir(parents=True)
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(filled_sheet(folder, "S01"))
    assert run("read", folder.root, path).exit_code == 0
    assert (folder.returned(1) / "sheet-2.xlsx").read_bytes() == path.read_bytes()


def test_a_file_that_cannot_be_read_keeps_no_other_from_being_read(
    folder: ClassFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    for name in ("a.xlsx", "closed.xlsx", "z.xlsx"):
        (downloads / name).write_bytes(filled_sheet(folder, "S01" if name == "a.xlsx" else "S02"))
    read_bytes = Path.read_bytes

    def closed(path: Path) -> bytes:
        if path.name == "closed.xlsx":
            raise PermissionError(13, "Permission denied")
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", closed)
    result = run("read", folder.root, downloads)
    assert result.exit_code == 1
    assert result.stderr.startswith("closed.xlsx: error file-unreadable: found Permission denied;")
    assert result.stdout.startswith("3 files: 2 accepted, 0 for review, 1 refused")


def test_a_film_among_the_downloads_is_not_taken_in(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with path.open("wb") as stream:
        stream.truncate(500_000_001)
    result = run("read", folder.root, path)
    assert result.exit_code == 1
    assert "film.mp4: error file-too-large: found a file of 500,000,001 bytes;" in result.stderr
    assert not (folder.returned(1) / "film.mp4").exists()


def test_files_already_in_returned_are_not_copied_again(folder: ClassFolder) -> None:
    path = returned(folder, "one.xlsx", b"x")
    taken_in(folder, 1, [folder.returned(1), path])
    assert [one.name for one in folder.returned(1).iterdir()] == ["one.xlsx"]


def test_a_zip_is_copied_whole_with_its_time(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "download.zip"
    path.write_bytes(zip_of({"a.xlsx": b"1"}))
    os.utime(path, ns=(1_000_000_000, 1_000_000_000))
    assert taken_in(folder, 1, [path]) == []
    assert state(folder.returned(1)) == {"download.zip": (path.read_bytes(), 1_000_000_000)}


def test_links_out_of_the_downloads_are_not_followed(folder: ClassFolder, tmp_path: Path) -> None:
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    (tmp_path / "mine.xlsx").write_bytes(b"mine")
    (downloads / "link.xlsx").symlink_to(tmp_path / "mine.xlsx")
    (downloads / "up").symlink_to(tmp_path, target_is_directory=True)
    (downloads / "s.xlsx").write_bytes(b"1")
    refused = taken_in(folder, 1, [downloads])
    assert [(one.file, one.findings[0].code) for one in refused] == [
        ("link.xlsx", "file-shortcut"),
        ("up", "file-shortcut"),
    ]
    assert [path.name for path in folder.returned(1).iterdir()] == ["s.xlsx"]


def test_a_folder_without_permission_keeps_no_other_from_being_taken_in(
    folder: ClassFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    downloads = tmp_path / "downloads"
    (downloads / "closed").mkdir(parents=True)
    (downloads / "s.xlsx").write_bytes(b"1")
    scandir = os.scandir

    def guarded(path: Any) -> Any:
        if Path(path).name == "closed":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(os, "scandir", guarded)
    (refused,) = taken_in(folder, 1, [downloads])
    assert (refused.file, in_english(refused.findings)[0].found) == ("closed/", "Permission denied")
    assert (folder.returned(1) / "s.xlsx").exists()


def test_a_path_that_cannot_be_looked_at_gives_one_line(
    folder: ClassFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "closed").mkdir()
    is_dir = Path.is_dir

    def guarded(path: Path) -> bool:
        if path.name == "closed":
            raise PermissionError(13, "Permission denied")
        return is_dir(path)

    monkeypatch.setattr(Path, "is_dir", guarded)
    with pytest.raises(UsageError, match="cannot be looked at \\(Permission denied\\)"):
        taken_in(folder, 1, [tmp_path / "closed"])


def test_a_file_has_its_time_though_the_program_ended_right_behind_it(
    folder: ClassFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second run finds equal bytes and leaves them alone, so the time must have come with them."""
    source = tmp_path / "s.xlsx"
    source.write_bytes(b"a sheet")
    os.utime(source, (1_000, 2_000))
    replace = os.replace

    def ended(beside: Path, target: Path) -> None:
        replace(beside, target)
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", ended)
        with pytest.raises(KeyboardInterrupt):
            taken_in(folder, 1, [source])
    assert taken_in(folder, 1, [source]) == []
    assert [one.name for one in folder.returned(1).iterdir()] == ["s.xlsx"]
    assert (folder.returned(1) / "s.xlsx").stat().st_mtime == 2_000.0
