"""Fill a handed-out sheet, as a person at a spreadsheet program does: entries typed, results worked out."""

from collections.abc import Mapping
from functools import partial

from lxml import etree

from sheetgen.layout.address import column_letters
from sheetgen.model.layout import Layout, Value
from sheetgen.workbook.repack import with_parts_changed

__all__ = ["filled"]

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def filled(
    data: bytes, layout: Layout, entries: Mapping[str, Value], results: Mapping[str, Value] | None = None
) -> bytes:
    """Return a copy of a rendered sheet with entries typed in.

    Parameters
    ----------
    data : a file made by `rendered` from this layout.
    entries : entry name to number, text or None (emptied). Code words are typed as the lists show them.
    results : cell name to what a spreadsheet program would store as its result. Every other formula loses its
        stored result, as it is out of date. None: no program worked anything out, all stored results go.

    Raises
    ------
    KeyError : a name has no place.
    """
    places = {name: (key, _address(row, column)) for name, (key, row, column) in layout.places().items()}
    shown: dict[str, dict[Value, str]] = {
        cell.name: dict(zip(cell.rule.codes, cell.rule.words, strict=True))
        for tab in layout.tabs
        for cell in tab.cells
        if cell.rule is not None and cell.rule.codes
    }
    typed = {places[name]: shown.get(name, {}).get(value, value) for name, value in entries.items()}
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


def _address(row: int, column: int) -> str:
    return f"{column_letters(column)}{row + 1}"


def _put(cell: etree._Element, value: Value, typed: bool) -> None:
    """Type a value into a cell, or put it beside its formula as the result, in place of what is there."""
    for child in list(cell):
        if typed or child.tag == f"{_MAIN}v":
            cell.remove(child)
    cell.attrib.pop("t", None)
    if isinstance(value, str) and typed:
        cell.set("t", "inlineStr")
        text = etree.SubElement(etree.SubElement(cell, f"{_MAIN}is"), f"{_MAIN}t")
        # Else a spreadsheet program takes spaces at the ends away.
        text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
        text.text = value
    elif isinstance(value, str):
        cell.set("t", "str")
        etree.SubElement(cell, f"{_MAIN}v").text = value
    elif value is not None:
        etree.SubElement(cell, f"{_MAIN}v").text = repr(value)
