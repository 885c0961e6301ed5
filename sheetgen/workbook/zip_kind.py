"""What a zip package is, by the names of its parts and, for open documents, its declared type."""

import re
from collections.abc import Collection

__all__ = ["OPEN_DOCUMENT", "OPEN_XML", "kind_of_open_xml", "zip_kind"]

OPEN_XML = "xlsx"
OPEN_DOCUMENT = "ods"

_OPEN_DOCUMENT_TYPES = (
    ("application/vnd.oasis.opendocument.text", "file-document", "a text document (.odt)"),
    ("application/vnd.oasis.opendocument.presentation", "file-slides", "slides (.odp)"),
    ("application/epub", "file-document", "a book to read (.epub)"),
)
_SPREADSHEET_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
# Three programs pack their documents alike, so the parts and then the file's name have to tell.
_PACKED = re.compile(r"(^|/)index(/[^/]+\.iwa|\.zip)$")
_PACKED_SLIDES = re.compile(r"(^|/)index/(master)?slide[^/]*\.iwa$")
_FOLDERS = (
    ("word/", "file-document", "a text document (.docx)"),
    ("ppt/", "file-slides", "slides (.pptx)"),
)
_CONTENT_TYPES = (
    (b"template.macroenabled.main+xml", "xltm"),
    (b"template.main+xml", "xltx"),
    (b"sheet.macroenabled.main+xml", "xlsm"),
)


def zip_kind(names: Collection[str], declared: str, suffix: str = "") -> str | tuple[str, str]:
    """Return the kind of a package that can be read, or code and words for one that cannot.

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
    ('file-binary-workbook', 'a binary workbook (.xlsb)')
    """
    if declared.startswith(_SPREADSHEET_TYPE):
        return OPEN_DOCUMENT
    for start, code, found in _OPEN_DOCUMENT_TYPES:
        if declared.startswith(start):
            return code, found
    if declared.startswith("application/"):
        return "file-not-a-workbook", f"a document of type {declared[:80]}"
    if "xl/workbook.bin" in names:
        return "file-binary-workbook", "a binary workbook (.xlsb)"
    for folder, code, found in _FOLDERS:
        if any(name.startswith(folder) for name in names):
            return code, found
    if any(_PACKED.search(name) for name in names):
        return _packed_kind(names, suffix)
    if "_rels/.rels" not in names and "xl/workbook.xml" not in names:
        return "file-archive", "a zip archive that holds no workbook of its own"
    return OPEN_XML


def kind_of_open_xml(content_types: bytes) -> str:
    """Return `xlsx`, `xlsm`, `xltx` or `xltm`, by the part that lists the types of a package's parts."""
    plain = content_types.replace(b"\x00", b"").lower()
    return next((kind for words, kind in _CONTENT_TYPES if words in plain), OPEN_XML)


def _packed_kind(names: Collection[str], suffix: str) -> tuple[str, str]:
    if suffix == ".key" or any(_PACKED_SLIDES.search(name) for name in names):
        return "file-slides", "slides in one program's own format"
    if suffix == ".pages":
        return "file-document", "a text document in one program's own format"
    return "file-own-format", "a spreadsheet in one program's own format (.numbers)"
