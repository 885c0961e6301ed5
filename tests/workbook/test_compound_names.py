import struct

import pytest

from sheetgen.workbook.compound_names import COMPOUND_MAGIC, compound_names
from sheetgen.workbook.file_kind import refusal_by_magic

_END, _FREE = 0xFFFFFFFE, 0xFFFFFFFF


def _entry(name: str) -> bytes:
    raw = name.encode("utf-16-le") + b"\0\0"
    return (raw.ljust(64, b"\0") + struct.pack("<HB", len(raw), 2)).ljust(128, b"\0")


def _compound(*names: str, after: int = _END, body: bytes = b"") -> bytes:
    """A file of four sectors: sector table, two of the directory, one of contents."""
    header = bytearray(COMPOUND_MAGIC.ljust(512, b"\0"))
    struct.pack_into("<H", header, 30, 9)
    struct.pack_into("<L", header, 48, 1)
    struct.pack_into("<109L", header, 76, 0, *[_FREE] * 108)
    table = struct.pack("<4L", 0xFFFFFFFD, 2, after, _END).ljust(512, b"\xff")
    entries = b"".join(map(_entry, names)).ljust(1024, b"\0")
    return bytes(header) + table + entries + body.ljust(512, b"\0")


def test_compound_names_follow_the_chain_of_the_directory() -> None:
    names = ("Root Entry", "Workbook", "\x05SummaryInformation", "one", "two", "three")
    assert compound_names(_compound(*names)) == frozenset(names)


def test_compound_names_of_a_chain_that_loops_end() -> None:
    assert compound_names(_compound("Root Entry", "Workbook", after=1)) == {"Root Entry", "Workbook"}


@pytest.mark.parametrize("data", [b"", COMPOUND_MAGIC, COMPOUND_MAGIC + bytes(504), b"x" * 600])
def test_compound_names_of_a_directory_that_is_not_there(data: bytes) -> None:
    assert compound_names(data) == frozenset()


def test_a_document_that_speaks_of_a_workbook_is_a_document() -> None:
    """A word in the text of a document is no stream of that name."""
    body = "Workbook and EncryptedPackage".encode("utf-16-le")
    refusal = refusal_by_magic(_compound("Root Entry", "WordDocument", body=body))
    assert refusal is not None
    assert refusal.code == "file-document"
