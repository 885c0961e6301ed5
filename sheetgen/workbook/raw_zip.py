"""A zip package from parts that are compressed already; the standard library can only compress them anew."""

import struct
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Entry", "as_packed", "deflated", "packed"]

# 1980-01-01, the first day the format knows: a real date would make each run's bytes differ.
_DATE = 0x0021
_VERSION = 20
_DEFLATED = 8
_LEVEL = 6
_LOCAL_HEADER = 30
"""Bytes of a local header before the name and the extra field, whose lengths are its last two numbers."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One part. data : raw deflate stream. crc, size : of the part before it was compressed."""

    data: bytes
    crc: int
    size: int


def deflated(part: bytes) -> Entry:
    """Return a part, compressed."""
    compressor = zlib.compressobj(_LEVEL, zlib.DEFLATED, -15)
    return Entry(compressor.compress(part) + compressor.flush(), zlib.crc32(part), len(part))


def as_packed(data: bytes, info: zipfile.ZipInfo) -> Entry | None:
    """Return a part of a package with its compressed bytes, or None where it is packed otherwise."""
    if info.compress_type != zipfile.ZIP_DEFLATED:
        return None
    name, extra = struct.unpack_from("<2H", data, info.header_offset + _LOCAL_HEADER - 4)
    start = info.header_offset + _LOCAL_HEADER + name + extra
    return Entry(data[start : start + info.compress_size], info.CRC, info.file_size)


def packed(entries: Sequence[tuple[str, Entry]]) -> bytes:
    """Return a zip package of named parts, in their order.

    Notes
    -----
    After APPNOTE.TXT of the zip format, sections 4.3.7 (local header), 4.3.12 (central directory) and
    4.3.16 (end of it). Names are ASCII; no part reaches 4 GB.
    """
    package = bytearray()
    directory = bytearray()
    for name, entry in entries:
        encoded = name.encode("ascii")
        shared = struct.pack(
            "<5H3L2H",
            _VERSION,
            0,
            _DEFLATED,
            0,
            _DATE,
            entry.crc,
            len(entry.data),
            entry.size,
            len(encoded),
            0,
        )
        directory += struct.pack("<4sH", b"PK\x01\x02", _VERSION) + shared
        directory += struct.pack("<3H2L", 0, 0, 0, 0, len(package)) + encoded
        package += b"PK\x03\x04" + shared + encoded + entry.data
    end = struct.pack(
        "<4s4H2LH", b"PK\x05\x06", 0, 0, len(entries), len(entries), len(directory), len(package), 0
    )
    return bytes(package + directory + end)
