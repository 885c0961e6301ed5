"""Packages whose bytes are the same in every run: parts put together, or some of them changed."""

import html
import io
import zipfile
from collections.abc import Callable, Mapping
from functools import partial

from lxml import etree

from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Layout, Value

_PROPERTIES = "docProps/core.xml"
"""The part that holds title and language of a document."""

_QUICK = 1
"""Level of compression of what a copy has of its own: a sheet is 5 % larger, and packed in half the time."""
_FIXED_DATE = (1980, 1, 1, 0, 0, 0)
_UNIX = 3
OWNER_ONLY = 0o600 << 16
"""Permissions of a part, as packages carry them that are not handed out."""


def parts_of(data: bytes) -> dict[str, bytes]:
    """Return the parts of a package by name, in their order."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {info.filename: package.read(info) for info in package.infolist()}


def packed(parts: Mapping[str, bytes], permissions: int = 0, first: bytes = b"") -> bytes:
    """Return a package of named parts, without anything of the day or of the machine it is made on.
    permissions : what each part carries as its Unix permissions; 0: none, as sheets that are handed out.
    first : a package of other parts, which stand before these as they are packed there."""
    stream, level = io.BytesIO(first), _QUICK if first else None
    with zipfile.ZipFile(stream, "a") as package:
        for name, part in parts.items():
            entry = zipfile.ZipInfo(name, _FIXED_DATE)
            entry.create_system = _UNIX if permissions else 0
            package.writestr(entry, part, zipfile.ZIP_DEFLATED, level)
            # The library fills in permissions of its own, and writes the directory only at the end.
            entry.external_attr = permissions
    return stream.getvalue()


def with_parts_changed(data: bytes, changes: Mapping[str, Callable[[bytes], bytes]]) -> bytes:
    """Return a package in which some parts went through their change.
    Raises KeyError: a part to change is not in the package."""
    parts = parts_of(data)
    return packed({**parts, **{name: change(parts[name]) for name, change in changes.items()}}, OWNER_ONLY)


def with_language(parts: Mapping[str, bytes], language: str) -> dict[str, bytes]:
    """Return the parts of a workbook that says its language, a tag such as `en`, and so do its charts; the
    writing library has no call for it.
    Raises KeyError: it has no part for the properties of a document."""
    end, tag = b"</cp:coreProperties>", html.escape(language).encode()
    charts = {
        name: part.replace(b'<c:lang val="en-US"/>', b'<c:lang val="' + tag + b'"/>', 1)
        for name, part in parts.items()
        if name.startswith("xl/charts/chart")
    }
    named = parts[_PROPERTIES].replace(end, b"<dc:language>" + tag + b"</dc:language>" + end, 1)
    return {**parts, **charts, _PROPERTIES: named}


_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def filled(
    data: bytes, layout: Layout, entries: Mapping[str, Value], results: Mapping[str, Value] | None = None
) -> bytes:
    """Return a copy of a rendered sheet with entries typed in.
    data : a file made by `rendered` from this layout. entries : entry name to number, text or None (emptied).
    Code words are typed as the lists show them. results : cell name to what a spreadsheet program would store
    as its result. Every other formula loses its stored result, as it is out of date. None: no program worked
    anything out, all stored results go.
    Raises KeyError: a name has no place."""
    places = {
        name: (key, absolute(row, column).replace("$", ""))
        for name, (key, row, column) in layout.places().items()
    }
    shown: dict[tuple[str, Value], str] = {
        (cell.name, code): word
        for tab in layout.tabs
        for cell in tab.cells
        if cell.rule and cell.rule.codes
        for code, word in zip(cell.rule.codes, cell.rule.words, strict=True)
    }
    typed = {places[name]: shown.get((name, value), value) for name, value in entries.items()}
    stored = {places[name]: value for name, value in (results or {}).items()}

    def changed(key: str, part: bytes) -> bytes:
        root = etree.fromstring(part)
        for cell in root.iter(f"{_MAIN}c"):
            place = (key, cell.get("r"))
            if place in typed:
                _put(cell, typed[place], typed=True)
            elif cell.find(f"{_MAIN}f") is not None:
                _put(cell, stored.get(place), typed=False)
        text: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
        return text

    parts = {f"xl/worksheets/sheet{number}.xml": tab.key for number, tab in enumerate(layout.tabs, start=1)}
    return with_parts_changed(data, {part: partial(changed, key) for part, key in parts.items()})


def _put(cell: etree._Element, value: Value, typed: bool) -> None:
    """Type a value into a cell, or put it beside its formula as the result, in place of what is there."""
    for child in cell.findall("*" if typed else f"{_MAIN}v"):
        cell.remove(child)
    cell.attrib.pop("t", None)
    if isinstance(value, str) and typed:
        cell.set("t", "inlineStr")
        text = etree.SubElement(etree.SubElement(cell, f"{_MAIN}is"), f"{_MAIN}t")
        # Else a spreadsheet program takes spaces at the ends away.
        text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
        text.text = value
    elif value is not None:
        if isinstance(value, str):
            cell.set("t", "str")
        etree.SubElement(cell, f"{_MAIN}v").text = value if isinstance(value, str) else repr(value)
