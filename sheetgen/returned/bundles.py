"""Zips of returned files as platforms make them: never unpacked to disk; what in them is nobody's work."""

import re
import stat
import struct
import zipfile
from collections.abc import Sequence
from pathlib import Path

from sheetgen.finding import Finding
from sheetgen.workbook.read.bounded_zip import BUNDLE, HEAD_OF_ZIP, BoundedZip, ZipFault, open_zip

MOST_DEEP = 4
"""Zips in zips: a course, a class, a person, and what that person packed."""
HEAD = 1024
"""Bytes of a file that are enough to tell."""

_FOLDERS = ("__macosx", "$recycle.bin", "system volume information")
_NAMES = ("thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r")
_STARTS = ("~$", "._", ".~lock.")
_TEXTS = (".txt", ".html", ".htm", ".json", ".xml", ".md")
"""What platforms put beside a submission: its text, its comments, a list of what is in the bundle."""
_OF_SHEETS = (".xlsx", ".xlsm", ".ods", ".xls", ".numbers", ".zip")
_NO_TEXT = (HEAD_OF_ZIP, b"\xd0\xcf\x11\xe0")
_SHEET_IN_XML = (b"office:spreadsheet", b"excel.sheet", b"opendocument")
"""A spreadsheet in one piece of XML: somebody's work in a wrong format, whatever it is called."""

_TOO_LARGE = {"directory": "directory", "entries": "files", "bytes": "bytes", "overlap": "overlap"}
"""Faults of a zip to the case of the finding."""

_LOCAL = struct.Struct("<4s22xH")
_UNICODE_NAME = 0x800

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
    >>> from io import BytesIO
    >>> stream = BytesIO()
    >>> with zipfile.ZipFile(stream, "w") as archive:
    ...     archive.writestr("[Content_Types].xml", "")
    >>> looks_like_document(stream.getvalue())
    True
    """
    if len(head) < _LOCAL.size or not is_zip(head):
        return False
    _, length = _LOCAL.unpack_from(head)
    return _is_part(head[30 : 30 + length].decode("utf-8", "replace"))


def open_bundle(source: Path | bytes) -> BoundedZip | Finding | None:
    """Open a zip of returned files.

    Returns
    -------
    The zip, to be closed by the caller; or why it is not opened; or None where it is a document of its own,
    such as a sheet that was named `.zip`.
    """
    try:
        archive = open_zip(source, BUNDLE)
    except OSError as fault:
        return Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="closed")
    except ZipFault as fault:
        return _of_bundle(fault)
    if any(_is_part(entry_name(entry)) for entry in archive.entries):
        archive.close()
        return None
    try:
        archive.check()
    except ZipFault as fault:
        archive.close()
        return _of_bundle(fault)
    return archive


def entry_name(entry: zipfile.ZipInfo) -> str:
    """Return the name of an entry; many programs write UTF-8 and do not say so."""
    if entry.flag_bits & _UNICODE_NAME:
        return entry.orig_filename
    try:
        return entry.orig_filename.encode("cp437").decode("utf-8")
    except UnicodeError:
        return entry.orig_filename


def entry_head(archive: BoundedZip, entry: zipfile.ZipInfo, length: int) -> bytes | Finding:
    """Return the first bytes of an entry, or why they cannot be read."""
    try:
        return archive.head(entry, length)
    except (ZipFault, OSError) as fault:
        return _of_entry(fault)


def entry_bytes(archive: BoundedZip, entry: zipfile.ZipInfo, most: int) -> bytes | Finding:
    """Return the bytes of an entry, or why they are not read.

    Parameters
    ----------
    most : bytes; an entry that declares more is not unpacked, and none gives more than it declares.
    """
    try:
        return archive.read(entry, most)
    except (ZipFault, OSError) as fault:
        return _of_entry(fault)


def is_link(entry: zipfile.ZipInfo) -> bool:
    """Tell whether an entry is no file but points at one."""
    return stat.S_ISLNK(entry.external_attr >> 16)


def too_deep() -> Finding:
    """Return the finding of a zip that is not opened because it stands in too many others."""
    return Finding("file-bundle-too-large", {"others": MOST_DEEP - 1, "most": MOST_DEEP}, case="deep")


def is_side_file(steps: Sequence[str], head: bytes) -> bool:
    """Tell whether a file is passed over.

    Parameters
    ----------
    steps : of its name, folders first. head : its first HEAD bytes, fewer only where there are no more.

    Notes
    -----
    An empty file is passed over unless it is named like a sheet or a bundle: then it is an upload that broke
    off, and somebody would be missing without a word.

    Examples
    --------
    >>> [is_side_file([name], b"") for name in ("empty", "sheet.xlsx")]
    [True, False]
    >>> [is_side_file(steps, b"PK\\x03\\x04") for steps in (["__MACOSX", "s.xlsx"], ["~$s.xlsx"], ["s.txt"])]
    [True, True, False]
    """
    folders, name = [step.casefold() for step in steps[:-1]], steps[-1].casefold() if steps else ""
    if any(step in _FOLDERS or (step.startswith(".") and step != "..") for step in folders):
        return True
    if name in _NAMES or name.startswith(_STARTS):
        return True
    of_sheet = name.endswith(_OF_SHEETS)
    if name.startswith(".") or not head:
        return not of_sheet
    return name.endswith(_TEXTS) and not _holds_a_sheet(head)


def _holds_a_sheet(head: bytes) -> bool:
    plain = head.replace(b"\x00", b"").lower()
    return head.startswith(_NO_TEXT) or any(word in plain for word in _SHEET_IN_XML)


def _is_part(name: str) -> bool:
    return _PART.fullmatch(name.replace("\\", "/").lstrip("/").lower()) is not None


def _of_bundle(fault: ZipFault) -> Finding:
    if fault.case in _TOO_LARGE:
        return Finding("file-bundle-too-large", fault.values, case=_TOO_LARGE[fault.case])
    return _damaged(fault)


def _of_entry(fault: ZipFault | OSError) -> Finding:
    if isinstance(fault, ZipFault) and fault.case in ("unpacked", "ratio"):
        return Finding("file-too-large", fault.values, case=fault.case)
    if isinstance(fault, ZipFault) and fault.case == "locked":
        return Finding("file-bundle-locked")
    return _damaged(fault)


def _damaged(fault: ZipFault | OSError) -> Finding:
    if isinstance(fault, OSError):
        return Finding("file-bundle-damaged", {"why": str(fault)[:120]})
    if fault.case == "method":
        return Finding("file-bundle-damaged", fault.values, case="method")
    why = fault.values.get("why", f"an entry: {fault.case}")
    case = "no-zip" if why == "File is not a zip file" else ""
    return Finding("file-bundle-damaged", {"why": why}, case=case)
