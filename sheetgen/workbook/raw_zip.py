"""A zip package from parts that are compressed already; the standard library can only compress them anew."""

import struct
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Entry", "packed"]

# 1980-01-01, the first day the format knows: a real date would make each run's bytes differ.
_DATE = 0x0021
_VERSION = 20
_DEFLATED = 8


@dataclass(frozen=True, slots=True)
class Entry:
    """One part. data : raw deflate stream. crc, size : of the part before it was compressed."""

    data: bytes
    crc: int
    size: int


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
