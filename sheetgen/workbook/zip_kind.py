"""What a zip package is, by the names of its parts and, for open documents, its declared type."""

import re
from collections.abc import Collection

__all__ = ["OPEN_DOCUMENT", "OPEN_XML", "FileKind", "kind_of_open_xml", "zip_kind"]

FileKind = tuple[str, str, str]
"""Code and case of the finding about a file, and what kind of it where the case has several."""

OPEN_XML = "xlsx"
OPEN_DOCUMENT = "ods"

_OPEN_DOCUMENT_TYPES = (
    ("application/vnd.oasis.opendocument.text", "file-document", "", ".odt"),
    ("application/vnd.oasis.opendocument.presentation", "file-slides", "", ".odp"),
    ("application/epub", "file-document", "book", ""),
)
_SPREADSHEET_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
# Three programs pack their documents alike, so the parts and then the file's name have to tell.
_PACKED = re.compile(r"(^|/)index(/[^/]+\.iwa|\.zip)$")
_PACKED_SLIDES = re.compile(r"(^|/)index/(master)?slide[^/]*\.iwa$")
_FOLDERS = (
    ("word/", "file-document", "", ".docx"),
    ("ppt/", "file-slides", "", ".pptx"),
)
_CONTENT_TYPES = (
    (b"template.macroenabled.main+xml", "xltm"),
    (b"template.main+xml", "xltx"),
    (b"sheet.macroenabled.main+xml", "xlsm"),
)


def zip_kind(names: Collection[str], declared: str, suffix: str = "") -> str | FileKind:
    """Return the kind of a package that can be read, or what one is that cannot.

    Parameters
    ----------
    names : of the parts, in lower case.
    declared : the text of the part `mimetype`, empty where there is none.
    suffix : the end of the file's name.

    Examples
    --------
    >>> zip_kind(["xl/workbook.xml"], "")
    'xlsx'
    >>> zip_kind(["xl/workbook.bin"], "")
    ('file-binary-workbook', '', '')
    """
    if declared.startswith(_SPREADSHEET_TYPE):
        return OPEN_DOCUMENT
    for start, code, case, what in _OPEN_DOCUMENT_TYPES:
        if declared.startswith(start):
            return code, case, what
    if declared.startswith("application/"):
        return "file-not-a-workbook", "type", declared[:80]
    if "xl/workbook.bin" in names:
        return "file-binary-workbook", "", ""
    for folder, code, case, what in _FOLDERS:
        if any(name.startswith(folder) for name in names):
            return code, case, what
    if any(_PACKED.search(name) for name in names):
        return _packed_kind(names, suffix)
    if "_rels/.rels" not in names and "xl/workbook.xml" not in names:
        return "file-archive", "no-workbook", ""
    return OPEN_XML


def kind_of_open_xml(content_types: bytes) -> str:
    """Return `xlsx`, `xlsm`, `xltx` or `xltm`, by the part that lists the types of a package's parts."""
    plain = content_types.replace(b"\x00", b"").lower()
    return next((kind for words, kind in _CONTENT_TYPES if words in plain), OPEN_XML)


def _packed_kind(names: Collection[str], suffix: str) -> FileKind:
    if suffix == ".key" or any(_PACKED_SLIDES.search(name) for name in names):
        return "file-slides", "own", ""
    if suffix == ".pages":
        return "file-document", "own", ""
    return "file-own-format", "", ""
