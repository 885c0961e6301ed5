"""The names in the directory of a compound file, the container of the formats from before Open XML."""

import struct

__all__ = ["COMPOUND_MAGIC", "compound_names"]

COMPOUND_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"

_HEADER = struct.Struct("<30xH16xL24x109L")
"""Sector size as a power of two, first sector of the directory, first 109 sectors of the sector table."""
_HEADER_SIZE = 512
_ENTRY_SIZE = 128
_MOST_ENTRIES = 2_000
_SECTOR_POWERS = (9, 12)


def compound_names(data: bytes) -> frozenset[str]:
    """Return the names of streams and storages; none where the directory cannot be followed.

    Notes
    -----
    At most 2,000 entries are looked at, and a chain of sectors ends where it comes back to itself.
    """
    if len(data) < _HEADER_SIZE or not data.startswith(COMPOUND_MAGIC):
        return frozenset()
    power, sector, *table_sectors = _HEADER.unpack_from(data)
    if power not in _SECTOR_POWERS:
        return frozenset()
    size = 1 << power
    names: set[str] = set()
    seen: set[int] = set()
    while sector not in seen and len(seen) * size < _MOST_ENTRIES * _ENTRY_SIZE:
        seen.add(sector)
        content = _sector(data, sector, size)
        for start in range(0, len(content) - _ENTRY_SIZE + 1, _ENTRY_SIZE):
            names.add(_entry_name(content[start : start + _ENTRY_SIZE]))
        sector = _next_sector(data, sector, size, table_sectors)
    return frozenset(names - {""})


def _sector(data: bytes, number: int, size: int) -> bytes:
    start = (number + 1) * size
    return data[start : start + size]


def _next_sector(data: bytes, number: int, size: int, table_sectors: list[int]) -> int:
    """The sector that follows in its chain; one beyond the file where the chain ends or is broken."""
    block, place = divmod(number, size // 4)
    table = _sector(data, table_sectors[block], size) if block < len(table_sectors) else b""
    following = table[place * 4 : place * 4 + 4]
    return int.from_bytes(following, "little") if len(following) == 4 else len(data)


def _entry_name(entry: bytes) -> str:
    length = int.from_bytes(entry[64:66], "little")
    if not entry[66] or not 2 <= length <= 64:
        return ""
    return entry[: length - 2].decode("utf-16-le", "replace")
