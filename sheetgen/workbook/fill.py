"""Fill a handed-out sheet, as a person at a spreadsheet program does: entries typed, results worked out."""

from collections.abc import Mapping
from functools import partial

from lxml import etree

from sheetgen.layout.address import absolute
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
    places = layout.places()
    numbers = {tab.key: number for number, tab in enumerate(layout.tabs, start=1)}
    shown: dict[str, dict[Value, str]] = {
        cell.name: dict(zip(cell.rule.codes, cell.rule.words, strict=True))
        for tab in layout.tabs
        for cell in tab.cells
        if cell.rule is not None and cell.rule.codes
    }
    typed: dict[str, dict[str, Value]] = {tab.key: {} for tab in layout.tabs}
    stored: dict[str, dict[str, Value]] = {tab.key: {} for tab in layout.tabs}
    for target, values in ((typed, entries), (stored, results or {})):
        for name, value in values.items():
            key, row, column = places[name]
            if target is typed:
                value = shown.get(name, {}).get(value, value)
            target[key][absolute(row, column).replace("$", "")] = value

    def changed(key: str, part: bytes) -> bytes:
        root = etree.fromstring(part)
        for cell in root.iter(f"{_MAIN}c"):
            address = cell.get("r")
            if address in typed[key]:
                _set(cell, typed[key][address])
            elif cell.find(f"{_MAIN}f") is not None:
                _store(cell, stored[key].get(address))
        text: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
        return text

    return with_parts_changed(
        data,
        {f"xl/worksheets/sheet{number}.xml": partial(changed, key) for key, number in numbers.items()},
    )


def _set(cell: etree._Element, value: Value) -> None:
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", None)
    if value is None:
        return
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        text = etree.SubElement(etree.SubElement(cell, f"{_MAIN}is"), f"{_MAIN}t")
        # Else a spreadsheet program takes spaces at the ends away.
        text.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
        text.text = value
    else:
        etree.SubElement(cell, f"{_MAIN}v").text = repr(value)


def _store(cell: etree._Element, value: Value) -> None:
    """Put a result beside a formula, or take the old one away."""
    for old in cell.findall(f"{_MAIN}v"):
        cell.remove(old)
    cell.attrib.pop("t", None)
    if value is None:
        return
    if isinstance(value, str):
        cell.set("t", "str")
    etree.SubElement(cell, f"{_MAIN}v").text = value if isinstance(value, str) else repr(value)
