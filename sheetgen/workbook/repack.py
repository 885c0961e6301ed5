"""Packages whose bytes are the same in every run: parts put together, or some of them changed."""

import io
import zipfile
from collections.abc import Callable, Mapping
from xml.sax.saxutils import escape

__all__ = [
    "language_said", "packed", "packer", "parts_of", "with_language", "with_part_changed",
    "with_parts_changed",
]  # fmt: skip

_PROPERTIES = "docProps/core.xml"
"""The part that holds title and language of a document."""

_FIXED_DATE = (1980, 1, 1, 0, 0, 0)
_UNIX = 3
_OWNER_ONLY = 0o600 << 16


def parts_of(data: bytes) -> dict[str, bytes]:
    """Return the parts of a package by name, in their order."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {info.filename: package.read(info) for info in package.infolist()}


def packed(parts: Mapping[str, bytes], permissions: int = 0) -> bytes:
    """Return a package of named parts, without anything of the day or of the machine it is made on.

    Parameters
    ----------
    permissions : what each part carries as its Unix permissions; 0: none, as sheets that are handed out.
    """
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as package:
        for name, part in parts.items():
            entry = zipfile.ZipInfo(name, _FIXED_DATE)
            entry.create_system = _UNIX if permissions else 0
            package.writestr(entry, part, zipfile.ZIP_DEFLATED)
            # The library fills in permissions of its own, and writes the directory only at the end.
            entry.external_attr = permissions
    return stream.getvalue()


def with_parts_changed(data: bytes, changes: Mapping[str, Callable[[bytes], bytes]]) -> bytes:
    """Return a package in which some parts went through their change.

    Raises
    ------
    KeyError : a part to change is not in the package.
    """
    parts = parts_of(data)
    return packed({**parts, **{name: change(parts[name]) for name, change in changes.items()}}, _OWNER_ONLY)


def with_part_changed(data: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return a package in which one part went through `change`."""
    return with_parts_changed(data, {name: change})


def language_said(language: str) -> dict[str, Callable[[bytes], bytes]]:
    """Return the change by which a workbook says its language, a tag such as `en`; the writing library has no
    call for it."""
    end = b"</cp:coreProperties>"
    named = f"<dc:language>{escape(language)}</dc:language>".encode()
    return {_PROPERTIES: lambda part: part.replace(end, named + end, 1)}


def with_language(data: bytes, language: str) -> bytes:
    """Return a workbook that says its language.

    Raises
    ------
    KeyError : it has no part for the properties of a document.
    """
    return with_parts_changed(data, language_said(language))


def packer(data: bytes) -> Callable[[Mapping[str, bytes]], bytes]:
    """Return what packs a package anew with other parts in place of its own, as often as there are some.

    Raises
    ------
    KeyError : by what is returned: a part is not in the package.
    """
    own = parts_of(data)

    def pack(parts: Mapping[str, bytes]) -> bytes:
        if missing := set(parts) - set(own):
            raise KeyError(min(missing))
        return packed({**own, **parts})

    return pack
