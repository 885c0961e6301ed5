"""Packages from parts that are compressed already."""

import io
import zipfile
import zlib

from sheetgen.workbook.raw_zip import Entry, as_packed, deflated, packed


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


def test_part_taken_out_with_its_compressed_bytes() -> None:
    data = packed([("a.xml", deflated(b"<a/>" * 500)), ("b.xml", deflated(b""))])
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        taken = [(info.filename, as_packed(data, info)) for info in package.infolist()]
    assert taken == [("a.xml", deflated(b"<a/>" * 500)), ("b.xml", deflated(b""))]


def test_part_that_is_stored_and_not_compressed() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as package:
        package.writestr("a.xml", b"<a/>")
        (info,) = package.infolist()
    assert as_packed(stream.getvalue(), info) is None
