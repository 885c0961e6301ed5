"""The parts of an OpenDocument spreadsheet: which are read, whether they are locked, what else it carries."""

import re
from collections.abc import Iterable

__all__ = ["ODS_PARTS", "foreign_in_content", "foreign_in_package", "is_locked", "media_types"]

ODS_PARTS = ("content.xml", "styles.xml", "meta.xml")

# The list of parts names each in a line of its own; 400 of them, locked ones too, stay below this.
_LONGEST_LIST = 1_000_000
_TAG = re.compile(rb"<([^<>]*)>")
_LISTS = re.compile(rb"(?:[^\s:]+:)?file-entry\s")
_PATH = re.compile(rb"\bfull-path\s*=\s*[\"']([^\"'<>]*)")
_TYPE = re.compile(rb"\bmedia-type\s*=\s*[\"']([^\"'<>]*)")

_CODE_FOLDERS = ("basic/", "scripts/", "dialogs/")
_CHART = "application/vnd.oasis.opendocument.chart"
_OBJECT = re.compile(r"^object \d+(/|$)")
_LINKS = (
    (b":dde-link", "a live link to another program"),
    (b":table-source", "a link to another workbook"),
    (b":cell-range-source", "a link to another workbook"),
    (b":event-listener", "something to run by itself"),
)


def media_types(listed: bytes) -> dict[str, str]:
    """Return the type of each part by its path in lower case, as the list META-INF/manifest.xml says."""
    types = {}
    for match in _TAG.finditer(listed[:_LONGEST_LIST]):
        path, kind = _PATH.search(match[1]), _TYPE.search(match[1])
        if path and kind and _LISTS.match(match[1]):
            types[_plain(path[1]).lower()] = _plain(kind[1])
    return types


def is_locked(listed: bytes, names: Iterable[str]) -> bool:
    """Say whether a password is needed to read the contents."""
    return b"encryption-data" in listed or "encrypted-package" in names


def foreign_in_package(names: Iterable[str], types: dict[str, str]) -> tuple[str, ...]:
    """Return the names of macros and of embedded objects that are no charts."""
    return tuple(
        name
        for name in names
        if name.lower().startswith(_CODE_FOLDERS) or _is_foreign_object(name.lower(), types)
    )


def foreign_in_content(content: bytes) -> tuple[str, ...]:
    """Return words for the links and listeners in the part content.xml."""
    return tuple(dict.fromkeys(words for mark, words in _LINKS if mark in content))


def _is_foreign_object(name: str, types: dict[str, str]) -> bool:
    if not _OBJECT.search(name):
        return False
    folder = name.partition("/")[0]
    return types.get(f"{folder}/", types.get(folder, "")) != _CHART


def _plain(text: bytes) -> str:
    return text.decode("utf-8", "replace")
