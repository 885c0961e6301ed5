"""Rewrite one part of a package and copy the others as they are, with fixed dates."""

import io
import zipfile
from collections.abc import Callable, Mapping
from xml.sax.saxutils import escape

from sheetgen.workbook.raw_zip import as_packed, deflated, packed

__all__ = [
    "PROPERTIES",
    "language_written",
    "packer",
    "with_language",
    "with_part_changed",
    "with_parts_changed",
]

PROPERTIES = "docProps/core.xml"
"""The part that holds title and language of a document."""

_FIXED_DATE = (1980, 1, 1, 0, 0, 0)


def with_part_changed(data: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return a package in which one part went through `change`."""
    return with_parts_changed(data, {name: change})


def with_parts_changed(data: bytes, changes: Mapping[str, Callable[[bytes], bytes]]) -> bytes:
    """Return a package in which some parts went through their change.

    Raises
    ------
    KeyError : a part to change is not in the package.
    """
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as out,
    ):
        missing = set(changes) - set(source.namelist())
        if missing:
            raise KeyError(sorted(missing)[0])
        for entry in source.infolist():
            part = source.read(entry)
            if entry.filename in changes:
                part = changes[entry.filename](part)
            fixed = zipfile.ZipInfo(entry.filename, _FIXED_DATE)
            fixed.compress_type = zipfile.ZIP_DEFLATED
            fixed.external_attr = entry.external_attr
            fixed.create_system = 3
            out.writestr(fixed, part)
    return target.getvalue()


def language_written(part: bytes, language: str) -> bytes:
    """Return the part PROPERTIES with the language of the document, a tag such as `en`, in it."""
    named = f"<dc:language>{escape(language)}</dc:language></cp:coreProperties>"
    return part.replace(b"</cp:coreProperties>", named.encode(), 1)


def with_language(data: bytes, language: str) -> bytes:
    """Return a workbook that says its language; the writing library has no call for it.

    The other parts keep their compressed bytes: there is a workbook for every student.

    Raises
    ------
    KeyError : there is no part PROPERTIES.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        properties = language_written(package.read(PROPERTIES), language)
    return packer(data)({PROPERTIES: properties})


def packer(data: bytes) -> Callable[[Mapping[str, bytes]], bytes]:
    """Return what packs a package anew with other parts in place of its own, as often as there are some.

    The parts that stay keep their compressed bytes.

    Raises
    ------
    KeyError : by what is returned: a part is not in the package.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        entries = {
            info.filename: as_packed(data, info) or deflated(package.read(info))
            for info in package.infolist()
        }

    def pack(parts: Mapping[str, bytes]) -> bytes:
        if missing := set(parts) - set(entries):
            raise KeyError(sorted(missing)[0])
        return packed(
            [(name, deflated(parts[name]) if name in parts else entry) for name, entry in entries.items()]
        )

    return pack
