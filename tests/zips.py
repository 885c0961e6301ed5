"""Zips for tests: small ones, and such as a platform or a student makes by mistake or on purpose."""

import io
import zipfile
from collections.abc import Mapping


def zip_of(
    entries: Mapping[str, bytes],
    day: tuple[int, int, int, int, int, int] = (2027, 1, 15, 10, 0, 0),
    attributes: int = 0o100644 << 16,
    method: int = zipfile.ZIP_DEFLATED,
) -> bytes:
    """Return a zip of some files, the same bytes each time."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", method) as archive:
        for name, data in entries.items():
            entry = zipfile.ZipInfo(name, day)
            entry.compress_type = method
            entry.create_system = 3
            entry.external_attr = attributes
            archive.writestr(entry, data)
    return target.getvalue()


def locked(data: bytes) -> bytes:
    """Return a zip whose every entry says that it asks for a password."""
    marked = bytearray(data)
    for magic, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = marked.find(magic)
        while start >= 0:
            marked[start + place] |= 0x1
            start = marked.find(magic, start + 4)
    return bytes(marked)


def nested(data: bytes, deep: int) -> bytes:
    """Return a zip in a zip, `deep` of them around the data."""
    for _ in range(deep):
        data = zip_of({"in.zip": data})
    return data
