"""Packages from parts that are compressed already."""

import io
import zipfile
import zlib

from sheetgen.workbook.raw_zip import Entry, packed


def _entry(part: bytes) -> Entry:
    return Entry(zlib.compress(part, 9)[2:-4], zlib.crc32(part), len(part))


def test_packed_is_read_by_the_standard_library() -> None:
    parts = {"a.xml": b"<a/>" * 500, "folder/b.xml": b"", "c.bin": bytes(range(256))}
    data = packed([(name, _entry(part)) for name, part in parts.items()])
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert package.testzip() is None
        assert {name: package.read(name) for name in package.namelist()} == parts
        assert {info.date_time for info in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_packed_without_parts_is_an_empty_package() -> None:
    assert zipfile.ZipFile(io.BytesIO(packed([]))).namelist() == []
