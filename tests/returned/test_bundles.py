"""Zips: told from documents by their contents, opened in bounds, never more unpacked than declared."""

import io
import struct
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.finding import Finding
from sheetgen.returned import bundles
from sheetgen.returned.bundles import (
    entry_bytes,
    entry_head,
    entry_name,
    is_link,
    is_side_file,
    is_zip,
    looks_like_document,
    open_bundle,
    too_deep,
)
from sheetgen.workbook.read.bounded_zip import BoundedZip, is_locked
from tests.wording import in_english
from tests.zips import locked, zip_of


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
        assert entry_bytes(archive, entry, 10) == b"one"
        assert entry_head(archive, entry, 2) == b"on"
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
    assert looks_like_document(zip_of({"[Content_Types].xml": b""})[:60])
    assert not looks_like_document(zip_of({"word/essay.xlsx": b""}))
    assert not looks_like_document(b"PK\x03\x04")
    assert is_zip(b"PK\x03\x04")
    assert not is_zip(b"%PDF")


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
    monkeypatch.setattr(bundles, "BUNDLE", replace(bundles.BUNDLE, largest_sum=100))
    assert fault(zip_of({"a": b"x" * 101})) == ("file-bundle-too-large", "101 bytes when unpacked")


# data of the only entry, most, what is said
ENTRIES = (
    (b"x" * 11, 10, "11 bytes when unpacked"),
    (b"\0" * 2_000_000, 9_000_000, "a file packed more tightly than 200 to 1"),
)


@pytest.mark.parametrize(("data", "most", "found"), ENTRIES)
def test_an_entry_beyond_bounds_is_not_unpacked(data: bytes, most: int, found: str) -> None:
    archive = opened(zip_of({"a": data}))
    result = entry_bytes(archive, archive.entries[0], most)
    assert isinstance(result, Finding)
    assert (result.code, in_english([result])[0].found) == ("file-too-large", found)


def test_an_entry_that_holds_more_than_it_declares_is_damaged() -> None:
    """The directory says 3 bytes; what is packed would be 2,000."""
    data = bytearray(zip_of({"a": b"x" * 2_000}))
    for magic, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<L", data, data.find(magic) + place, 3)
    archive = opened(bytes(data))
    result = entry_bytes(archive, archive.entries[0], 10)
    assert isinstance(result, Finding)
    assert result.code == "file-bundle-damaged"


def test_an_unusual_packing_is_not_unpacked() -> None:
    archive = opened(zip_of({"a": b"x"}, method=zipfile.ZIP_BZIP2))
    result = entry_bytes(archive, archive.entries[0], 10)
    assert isinstance(result, Finding)
    assert in_english([result])[0].found == "a damaged zip (packed in an unusual way (method 12))"


def test_a_locked_entry_is_told_and_not_asked_for_a_password() -> None:
    archive = opened(locked(zip_of({"a": b"x"})))
    (entry,) = archive.entries
    assert is_locked(entry)
    result = entry_bytes(archive, entry, 10)
    assert isinstance(result, Finding)
    assert result.code == "file-bundle-locked"


def test_a_link_is_told_from_a_file() -> None:
    assert is_link(opened(zip_of({"a": b"b"}, attributes=0o120777 << 16)).entries[0])
    assert not is_link(opened(zip_of({"a": b"b"})).entries[0])


def test_a_name_in_utf_8_that_does_not_say_so_is_read_right() -> None:
    entry = zipfile.ZipInfo("Zoë.xlsx".encode().decode("cp437"))
    assert entry_name(entry) == "Zoë.xlsx"
    assert entry_name(zipfile.ZipInfo("Zo\u2592.xlsx")) == "Zo\u2592.xlsx"


def test_too_deep_names_the_bound() -> None:
    assert in_english([too_deep()])[0].expected == "at most 4 deep"


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
