"""What came back, file by file: folders, zips, zips in zips; what cannot be read keeps nothing else back."""

import io
import os
import struct
import zipfile
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.read import taken_in
from sheetgen.errors import UsageError
from sheetgen.finding import Finding, amount
from sheetgen.returned import incoming
from sheetgen.returned.incoming import (
    LINK,
    begins_as_bundle,
    entry_name,
    file_bytes,
    file_finding,
    files_below,
    is_bundle,
    is_side_file,
    open_bundle,
    open_returned,
    unpacked,
)
from sheetgen.workbook.read.bounded_zip import BoundedZip, is_locked
from tests.classes import built_class, filled_sheet, only_line, returned, run
from tests.wording import in_english
from tests.zips import locked, nested, zip_of

Read = list[tuple[str, bytes | str]]


def read(path: Path, label: str = "") -> Read:
    """Label and bytes of every file, or the code of what is said instead."""
    with open_returned(path, label) as came:
        data = [(one.label, one.read()) for one in came.files]
    return [(name, one.code if isinstance(one, Finding) else one) for name, one in data]


def test_folders_and_zips_in_zips_are_walked_in_order_of_name(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "s.xlsx").write_bytes(b"1")
    (tmp_path / "a.zip").write_bytes(zip_of({"y/in.zip": zip_of({"s.xlsx": b"2"}), "x.xlsx": b"3"}))
    assert read(tmp_path) == [
        ("a.zip/x.xlsx", b"3"),
        ("a.zip/y/in.zip/s.xlsx", b"2"),
        ("b/s.xlsx", b"1"),
    ]


def test_a_folder_that_is_not_there_holds_nothing(tmp_path: Path) -> None:
    assert read(tmp_path / "none") == []


def test_contents_not_names_tell_a_sheet_from_a_bundle(tmp_path: Path) -> None:
    sheet = zip_of({"[Content_Types].xml": b"x", "xl/workbook.xml": b"x"})
    (tmp_path / "sheet.zip").write_bytes(sheet)
    (tmp_path / "bundle.xlsx").write_bytes(zip_of({"s.xlsx": sheet}))
    (tmp_path / "broken.xlsx").write_bytes(zip_of({"odd first part": b"x" * 99})[:-30])
    assert [name for name, _ in read(tmp_path)] == ["broken.xlsx", "bundle.xlsx/s.xlsx", "sheet.zip"]


def test_a_file_of_its_own_is_walked_under_its_label(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    path.write_bytes(zip_of({"s.xlsx": b"1"}))
    assert read(path, "mine/a.zip") == [("mine/a.zip/s.xlsx", b"1")]
    assert is_bundle(path)
    assert not is_bundle(tmp_path)


def test_names_that_climb_are_noted_and_read_and_two_of_one_name_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(zip_of({"../s.xlsx": b"1", "x\\s.xlsx": b"2", "x/s.xlsx": b"3"}))
    with open_returned(tmp_path) as came:
        assert [(one.label, [note.code for note in one.notes]) for one in came.files] == [
            ("a.zip/../s.xlsx", ["file-name-climbs"]),
            ("a.zip/x/s.xlsx", []),
            ("a.zip/x/s [2].xlsx", []),
        ]


def test_side_files_are_counted_and_a_zip_without_files_is_told_of(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(zip_of({"__MACOSX/._s.xlsx": b"1", "note.txt": b"2"}))
    (tmp_path / "b.zip").write_bytes(zip_of({"folder/": b""}))
    (tmp_path / "c.zip").write_bytes(zip_of({}))
    (tmp_path / "Thumbs.db").write_bytes(b"x")
    with open_returned(tmp_path) as came:
        assert came.passed_over == 3
    assert [(name, data if isinstance(data, str) else len(data)) for name, data in read(tmp_path)] == [
        ("b.zip", "file-archive"),
        ("c.zip", 22),
    ]


def test_a_document_that_is_a_folder_is_one_file(tmp_path: Path) -> None:
    (tmp_path / "s.numbers").mkdir()
    for name in ("Index.zip", "preview.jpg"):
        (tmp_path / "s.numbers" / name).write_bytes(b"x")
    (tmp_path / "a.zip").write_bytes(zip_of({"t.numbers/Index.zip": b"x", "t.numbers/p.jpg": b"x"}))
    assert read(tmp_path) == [("a.zip/t.numbers", "file-own-format"), ("s.numbers", "file-own-format")]


# name in the folder, its bytes, what is said of what
FAULTS = (
    ("a.zip", locked(zip_of({"s.xlsx": b"1", "t.xlsx": b"2"})), [("a.zip", "file-bundle-locked")]),
    ("a.zip", zip_of({"s.xlsx": b"1" * 99})[:-30], [("a.zip", "file-bundle-damaged")]),
    ("a.zip", zip_of({"s.xlsx": b"\0" * 3_000_000}), [("a.zip/s.xlsx", "file-too-large")]),
    (
        "a.zip",
        nested(b"x", 5),
        [("a.zip/in.zip/in.zip/in.zip/in.zip", "file-bundle-too-large")],
    ),
    ("a.zip", nested(b"sheet", 4), [("a.zip/in.zip/in.zip/in.zip/in.zip", b"sheet")]),
    ("a.zip", zip_of({"s.xlsx": b"t"}, attributes=0o120777 << 16), [("a.zip/s.xlsx", "file-shortcut")]),
)


@pytest.mark.parametrize(("name", "data", "said"), FAULTS)
def test_what_is_not_read_is_one_finding(tmp_path: Path, name: str, data: bytes, said: Read) -> None:
    (tmp_path / name).write_bytes(data)
    assert read(tmp_path) == said


def test_one_locked_file_keeps_no_other_from_being_read(tmp_path: Path) -> None:
    one, other = locked(zip_of({"a.xlsx": b"1"})), zip_of({"b.xlsx": b"2"})
    (tmp_path / "all.zip").write_bytes(zip_of({"one.zip": one, "other.zip": other}))
    assert read(tmp_path) == [("all.zip/one.zip", "file-bundle-locked"), ("all.zip/other.zip/b.xlsx", b"2")]


def test_bounds_on_files_and_memory_hold_over_zips_in_zips(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inner = zip_of({"a.xlsx": b"1", "b.xlsx": b"2"})
    (tmp_path / "all.zip").write_bytes(zip_of({"one.zip": inner, "two.zip": inner}))
    monkeypatch.setattr("sheetgen.returned.incoming._MOST_FILES", 4)
    assert [name for name, _ in read(tmp_path)][2:] == ["all.zip/two.zip"]
    monkeypatch.setattr("sheetgen.returned.incoming._MOST_FILES", 40)
    monkeypatch.setattr("sheetgen.returned.incoming._MOST_HELD", len(inner))
    assert read(tmp_path)[2:] == [("all.zip/two.zip", "file-bundle-too-large")]


def test_a_film_is_not_read_into_memory(tmp_path: Path) -> None:
    with (tmp_path / "film.mp4").open("wb") as stream:
        stream.write(b"film")
        stream.truncate(20_000_001)
    assert read(tmp_path) == [("film.mp4", "file-too-large")]


def test_links_and_pipes_are_not_followed(tmp_path: Path) -> None:
    folder = tmp_path / "returned"
    folder.mkdir()
    (tmp_path / "secret.xlsx").write_bytes(b"mine")
    (folder / "link.xlsx").symlink_to(tmp_path / "secret.xlsx")
    (folder / "up").symlink_to(tmp_path, target_is_directory=True)
    os.mkfifo(folder / "pipe")
    assert read(folder) == [
        ("link.xlsx", "file-shortcut"),
        ("pipe", "file-unreadable"),
        ("up", "file-shortcut"),
    ]


def test_a_folder_without_permission_keeps_no_other_from_being_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "closed").mkdir()
    (tmp_path / "s.xlsx").write_bytes(b"1")
    scandir = os.scandir

    def guarded(path: Any) -> Any:
        if Path(path).name == "closed":
            raise PermissionError(13, "Permission denied")
        return scandir(path)

    monkeypatch.setattr(os, "scandir", guarded)
    assert read(tmp_path) == [("closed/", "file-unreadable"), ("s.xlsx", b"1")]


def test_a_file_without_permission_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "s.xlsx").write_bytes(b"1")

    def closed(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", closed)
    assert read(tmp_path) == [("s.xlsx", "file-unreadable")]
    assert not is_bundle(tmp_path / "s.xlsx")


def test_times_are_those_of_the_disk_and_of_the_zip(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(zip_of({"s.xlsx": b"1"}, day=(2027, 1, 15, 10, 0, 0)))
    (tmp_path / "b.zip").write_bytes(zip_of({"s.xlsx": b"1"}, day=(1980, 1, 1, 0, 0, 0)))
    (tmp_path / "c.xlsx").write_bytes(b"1")
    os.utime(tmp_path / "c.xlsx", (5, 5))
    with open_returned(tmp_path) as came:
        assert [(one.time, one.in_bundle) for one in came.files] == [
            (1_800_007_200.0, True),
            (None, True),
            (5.0, False),
        ]


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
    assert list(files_below(tmp_path)) == [(("link",), LINK)]


def test_a_folder_that_cannot_be_listed_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(*_: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "scandir", closed)
    ((steps, one),) = files_below(tmp_path)
    assert steps == (".",)
    assert one == Finding("file-unreadable", {"why": "Permission denied"}, case="unlisted")


def test_a_file_that_the_system_keeps_back_says_why() -> None:
    found = file_finding(PermissionError(13, "Permission denied"))
    assert found == Finding("file-unreadable", {"why": "Permission denied"}, case="closed")


def test_a_file_is_read_up_to_a_number_of_bytes(tmp_path: Path) -> None:
    """One byte more, or a file that is gone, is said instead."""
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(b"1234")
    assert file_bytes(path, 4) == b"1234"
    assert file_bytes(path, 3) == Finding("file-too-large", {"count": amount(4), "most": amount(3)})
    gone = file_bytes(tmp_path / "gone.xlsx", 4)
    assert isinstance(gone, Finding)
    assert (gone.code, gone.case) == ("file-unreadable", "closed")


def opened(data: bytes) -> BoundedZip:
    archive = open_bundle(data)
    assert isinstance(archive, BoundedZip)
    return archive


def fault(source: bytes | Path) -> tuple[str, str]:
    found = open_bundle(source)
    assert isinstance(found, Finding)
    return found.code, in_english([found])[0].found


def test_a_zip_of_files_is_opened_from_disk_and_from_bytes(tmp_path: Path) -> None:
    data = zip_of({"a.xlsx": b"one"})
    (tmp_path / "b.zip").write_bytes(data)
    for source in (data, tmp_path / "b.zip"):
        archive = open_bundle(source)
        assert isinstance(archive, BoundedZip)
        (entry,) = archive.entries
        assert unpacked(archive.read, entry, 10) == b"one"
        assert unpacked(archive.head, entry, 2) == b"on"
        archive.close()


# names in a zip that is a document of its own
DOCUMENTS = (
    ["[Content_Types].xml", "xl/workbook.xml"],
    ["other.txt", "_rels/.rels"],
    ["mimetype", "content.xml"],
    ["Index/Document.iwa", "preview.jpg"],
    ["word\\document.xml"],
)


@pytest.mark.parametrize("names", DOCUMENTS)
def test_a_document_is_no_bundle(names: list[str]) -> None:
    assert open_bundle(zip_of(dict.fromkeys(names, b"x"))) is None


def test_a_document_is_told_by_its_first_part_alone() -> None:
    assert not begins_as_bundle(zip_of({"[Content_Types].xml": b""})[:60])
    assert begins_as_bundle(zip_of({"word/essay.xlsx": b""}))
    assert begins_as_bundle(b"PK\x03\x04")
    assert not begins_as_bundle(b"%PDF")


def test_a_zip_that_broke_off_is_damaged() -> None:
    assert fault(zip_of({"a.xlsx": b"x" * 999})[:-40])[0] == "file-bundle-damaged"


def test_a_zip_that_is_not_there_is_unreadable(tmp_path: Path) -> None:
    assert fault(tmp_path / "none.zip") == ("file-unreadable", "No such file or directory")


def test_too_many_files_are_not_opened() -> None:
    data = zip_of({f"{number}": b"" for number in range(5_001)})
    assert fault(data) == ("file-bundle-too-large", "5,001 files")


def test_a_directory_without_end_is_not_read() -> None:
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 1, 1, 50_000_000, 0, 0)
    assert fault(b"PK\x03\x04" + b"\0" * 100 + end) == (
        "file-bundle-too-large",
        "a zip directory without end",
    )


def test_files_that_lie_over_one_another_are_not_opened() -> None:
    """Many entries of the directory that point at the same packed bytes."""
    stream = io.BytesIO(zip_of({"a": bytes(range(256)) * 40}))
    with zipfile.ZipFile(stream, "a") as archive:
        (entry,) = archive.infolist()
        archive.filelist += [entry] * 50
        archive._didModify = True  # type: ignore[attr-defined]
    assert fault(stream.getvalue()) == ("file-bundle-too-large", "files that lie over one another")


def test_what_unpacks_to_too_much_is_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(incoming.zips, "BUNDLE", replace(incoming.zips.BUNDLE, largest_sum=100))
    assert fault(zip_of({"a": b"x" * 101})) == ("file-bundle-too-large", "101 bytes when unpacked")


# data of the only entry, most, what is said
ENTRIES = (
    (b"x" * 11, 10, "11 bytes when unpacked"),
    (b"\0" * 2_000_000, 9_000_000, "a file packed more tightly than 200 to 1"),
)


@pytest.mark.parametrize(("data", "most", "found"), ENTRIES)
def test_an_entry_beyond_bounds_is_not_unpacked(data: bytes, most: int, found: str) -> None:
    archive = opened(zip_of({"a": data}))
    result = unpacked(archive.read, archive.entries[0], most)
    assert isinstance(result, Finding)
    assert (result.code, in_english([result])[0].found) == ("file-too-large", found)


def test_an_entry_that_holds_more_than_it_declares_is_damaged() -> None:
    """The directory says 3 bytes; what is packed would be 2,000."""
    data = bytearray(zip_of({"a": b"x" * 2_000}))
    for magic, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<L", data, data.find(magic) + place, 3)
    archive = opened(bytes(data))
    result = unpacked(archive.read, archive.entries[0], 10)
    assert isinstance(result, Finding)
    assert result.code == "file-bundle-damaged"


def test_an_unusual_packing_is_not_unpacked() -> None:
    archive = opened(zip_of({"a": b"x"}, method=zipfile.ZIP_BZIP2))
    result = unpacked(archive.read, archive.entries[0], 10)
    assert isinstance(result, Finding)
    assert in_english([result])[0].found == "a damaged zip (packed in an unusual way (method 12))"


def test_a_locked_entry_is_told_and_not_asked_for_a_password() -> None:
    archive = opened(locked(zip_of({"a": b"x"})))
    (entry,) = archive.entries
    assert is_locked(entry)
    result = unpacked(archive.read, entry, 10)
    assert isinstance(result, Finding)
    assert result.code == "file-bundle-locked"


def test_a_name_in_utf_8_that_does_not_say_so_is_read_right() -> None:
    entry = zipfile.ZipInfo("Zoë.xlsx".encode().decode("cp437"))
    assert entry_name(entry) == "Zoë.xlsx"
    assert entry_name(zipfile.ZipInfo("Zo\u2592.xlsx")) == "Zo\u2592.xlsx"


ZIP = b"PK\x03\x04"

# steps, head, passed over
CASES = (
    (["__MACOSX", "Ada", "._s.xlsx"], b"x", True),
    ([".git", "s.xlsx"], ZIP, True),
    (["..", "s.xlsx"], ZIP, False),
    ([".DS_Store"], b"x", True),
    (["._s.xlsx"], ZIP, True),
    ([".s.xlsx"], ZIP, False),
    (["~$s.xlsx"], b"x", True),
    ([".~lock.s.xlsx#"], b"x", True),
    (["Thumbs.db"], b"x", True),
    (["Desktop.ini"], b"x", True),
    (["onlinetext.HTML"], b"<html>", True),
    (["comment.txt"], b"thanks", True),
    (["comment.txt"], ZIP, False),
    (["sheet.xml"], b'<?mso-application progid="Excel.Sheet"?>', False),
    (["manifest.xml"], b"<manifest/>", True),
    (["sheet.csv"], b"a;b", False),
    (["grades.csv"], b"x", True),
    (["Ada", "grades_attempt.csv"], b"x", True),
    (["list.csv"], b"\xef\xbb\xbfIdentifier,Full name,Email address,Status,Grade\n1,Ada Fen,a@b.c,,\n", True),
    (["export.csv"], b'"Student";"ID";"Section"\n', True),
    (["L02.csv"], b"Sheet 7K3F-9QXM   Measurer S01,,,\n", False),
    (["L02.csv"], b"Site,Round 1,Round 2\nchest,12.4,12.6\n", False),
    (["grades.xlsx"], ZIP, False),
    (["sheet.url"], b"[InternetShortcut]", False),
    (["empty"], b"", True),
    (["empty.pdf"], b"", True),
    (["empty.xlsx"], b"", False),
    (["empty.ods"], b"", False),
    (["empty.zip"], b"", False),
)


@pytest.mark.parametrize(("steps", "head", "passed_over"), CASES)
def test_is_side_file(steps: list[str], head: bytes, passed_over: bool) -> None:
    assert is_side_file(steps, head) is passed_over


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
    result = run("read", folder.root, downloads, "--verbose")
    assert result.exit_code == 1
    found = "unknown-1 (closed.xlsx): error file-unreadable: found Permission denied;"
    assert result.stderr.startswith(found)
    assert result.stdout.startswith("3 files came back: 2 count, 1 cannot be used")


def test_a_film_among_the_downloads_is_not_taken_in(folder: ClassFolder, tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with path.open("wb") as stream:
        stream.truncate(500_000_001)
    result = run("read", folder.root, path, "--verbose")
    assert result.exit_code == 1
    assert "unknown-1 (film.mp4): error file-too-large: found a file of 500,000,001 bytes;" in result.stderr
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
