"""Zips as platforms make them: opened in memory and within bounds, never unpacked to disk."""

import io
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import IO

from sheetgen.model.finding import Finding, Values, amount

__all__ = [
    "BROKEN_ZIP", "HEAD_OF_ZIP", "MOST_DEEP", "entry_bytes", "entry_head", "entry_name", "is_link",
    "is_locked", "is_zip", "looks_like_document", "open_bundle", "too_deep",
]  # fmt: skip

MOST_DEEP = 4
"""Zips in zips: a course, a class, a person, and what that person packed."""
HEAD_OF_ZIP = b"PK\x03\x04"

_MEGABYTE = 1024 * 1024
_MOST_ENTRIES = 5_000
"""A bundle of a thousand people has two or three entries for each."""
_LARGEST_DIRECTORY = 4 * _MEGABYTE
_LARGEST_SUM = 2_000 * _MEGABYTE
_LARGEST_RATIO = 200
"""Sheets pack about 10 to 30 to 1."""
_SMALL = _MEGABYTE
_PLAIN_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""The others unpack a piece at once however large it becomes."""

_END = struct.Struct("<4s4xHHL")
_LONGEST_END = 22 + 65_535
_END_64 = struct.Struct("<4s20x8xQQ")
_LOCAL = struct.Struct("<4s22xH")
_UNICODE_NAME = 0x800

BROKEN_ZIP = (
    zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, OSError, EOFError,
    ValueError, OverflowError, LookupError, struct.error, zlib.error,
)  # fmt: skip
"""What the library raises for a zip that is damaged, locked, or packed in a way that it does not know."""

_PART = re.compile(
    r"(\[content_types\]\.xml|mimetype|_rels/\.rels|docprops/(app|core|custom)\.xml|word/document\.xml"
    r"|ppt/presentation\.xml|xl/(workbook\.(xml|bin)|styles\.xml|sharedstrings\.xml|(_rels|worksheets|theme)/.*)"
    r"|index\.zip|index/.*\.iwa|metadata/.*\.plist|meta-inf/manifest\..*)"
)
"""Parts of a document that is itself a zip: a workbook, a text, slides, another program's sheet."""


def is_zip(head: bytes) -> bool:
    """Tell whether bytes begin as a zip with something in it does."""
    return head.startswith(HEAD_OF_ZIP)


def looks_like_document(head: bytes) -> bool:
    """Tell from the first bytes of a zip whether its first part is one of a document, not a returned file.

    Examples
    --------
    >>> stream = io.BytesIO()
    >>> with zipfile.ZipFile(stream, "w") as archive:
    ...     archive.writestr("[Content_Types].xml", "")
    >>> looks_like_document(stream.getvalue())
    True
    """
    if len(head) < _LOCAL.size or not is_zip(head):
        return False
    _, length = _LOCAL.unpack_from(head)
    return _is_part(head[30 : 30 + length].decode("utf-8", "replace"))


def open_bundle(source: Path | bytes) -> zipfile.ZipFile | Finding | None:
    """Open a zip of returned files.

    Returns
    -------
    The zip, to be closed by the caller; or why it is not opened; or None where it is a document of its own,
    such as a sheet that was named `.zip`.
    """
    try:
        with _stream(source) as stream:
            size, directory = _directory_size(stream)
    except OSError as fault:
        return Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="closed")
    if directory > _LARGEST_DIRECTORY:
        return _too_large("directory", {"most": amount(_MOST_ENTRIES)})
    try:
        archive = zipfile.ZipFile(source if isinstance(source, Path) else io.BytesIO(source))
    except BROKEN_ZIP as fault:
        return _damaged(fault)
    entries = archive.infolist()
    document = any(_is_part(entry_name(entry)) for entry in entries)
    refusal = None if document else _beyond_bounds(entries, size)
    if document or refusal is not None:
        archive.close()
        return refusal
    return archive


def entry_name(entry: zipfile.ZipInfo) -> str:
    """Return the name of an entry; many programs write UTF-8 and do not say so."""
    if entry.flag_bits & _UNICODE_NAME:
        return entry.orig_filename
    try:
        return entry.orig_filename.encode("cp437").decode("utf-8")
    except UnicodeError:
        return entry.orig_filename


def entry_head(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, length: int) -> bytes | Finding:
    """Return the first bytes of an entry, or why they cannot be read."""
    return _read(archive, entry, length)


def entry_bytes(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int) -> bytes | Finding:
    """Return the bytes of an entry, or why they are not read.

    Parameters
    ----------
    most : bytes; an entry that declares more is not unpacked, and none gives more than it declares.
    """
    if entry.file_size > most:
        sizes = {"count": amount(entry.file_size), "most": amount(most)}
        return Finding("file-too-large", sizes, case="unpacked")
    if entry.file_size > _SMALL and entry.file_size > _LARGEST_RATIO * entry.compress_size:
        return Finding("file-too-large", {"ratio": _LARGEST_RATIO}, case="ratio")
    data = _read(archive, entry, -1)
    if isinstance(data, bytes) and len(data) != entry.file_size:
        sizes = {"count": amount(len(data)), "declared": amount(entry.file_size)}
        return Finding("file-bundle-damaged", sizes, case="short")
    return data


def is_locked(entry: zipfile.ZipInfo) -> bool:
    """Tell whether an entry asks for a password."""
    return bool(entry.flag_bits & 0x1)


def is_link(entry: zipfile.ZipInfo) -> bool:
    """Tell whether an entry is no file but points at one."""
    return stat.S_ISLNK(entry.external_attr >> 16)


def too_deep() -> Finding:
    """Return the finding of a zip that is not opened because it stands in too many others."""
    return _too_large("deep", {"others": MOST_DEEP - 1, "most": MOST_DEEP})


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, length: int) -> bytes | Finding:
    if is_locked(entry):
        return Finding("file-bundle-locked")
    if entry.compress_type not in _PLAIN_METHODS:
        return Finding("file-bundle-damaged", {"method": entry.compress_type}, case="method")
    try:
        with archive.open(entry) as stream:
            return stream.read(length)
    except BROKEN_ZIP as fault:
        return _damaged(fault)


def _beyond_bounds(entries: Sequence[zipfile.ZipInfo], size: int) -> Finding | None:
    if len(entries) > _MOST_ENTRIES:
        return _too_large("files", {"count": amount(len(entries)), "most": amount(_MOST_ENTRIES)})
    total = sum(entry.file_size for entry in entries)
    if total > _LARGEST_SUM:
        return _too_large("bytes", {"count": amount(total), "most": amount(_LARGEST_SUM)})
    if sum(entry.compress_size for entry in entries) > size:
        # The same packed bytes stand for many files.
        return _too_large("overlap", {})
    return None


def _stream(source: Path | bytes) -> IO[bytes]:
    return source.open("rb") if isinstance(source, Path) else io.BytesIO(source)


def _directory_size(stream: IO[bytes]) -> tuple[int, int]:
    """Bytes of the whole zip, and of its directory as its end declares it; 0 where there is no end."""
    size = stream.seek(0, io.SEEK_END)
    stream.seek(max(0, size - _LONGEST_END))
    tail = stream.read()
    stream.seek(0)
    place = tail.rfind(b"PK\x05\x06")
    if place < 0 or len(tail) - place < _END.size:
        return size, 0
    directory = int(_END.unpack_from(tail, place)[3])
    large = tail.rfind(b"PK\x06\x06")
    if directory == 0xFFFFFFFF and 0 <= large <= len(tail) - _END_64.size:
        directory = int(_END_64.unpack_from(tail, large)[2])
    return size, directory


def _is_part(name: str) -> bool:
    return _PART.fullmatch(name.replace("\\", "/").lstrip("/").lower()) is not None


def _damaged(fault: Exception) -> Finding:
    why = str(fault)[:120] or type(fault).__name__
    case = "no-zip" if why == "File is not a zip file" else ""
    return Finding("file-bundle-damaged", {"why": why}, case=case)


def _too_large(case: str, values: Values) -> Finding:
    return Finding("file-bundle-too-large", values, case=case)
