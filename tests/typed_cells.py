"""Typing into a workbook without a spreadsheet program: cells of one tab are set, all else stays.

To load and save one by another library takes half a second; that such a one is read is for other tests.
"""

import io
from collections.abc import Callable, Mapping
from posixpath import join
from zipfile import ZipFile

from lxml import etree

from sheetgen.workbook.addresses import column_letters, place_of
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import with_parts_changed

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_ID = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"

Place = tuple[int, int]
"""Row and column, from 0."""


def with_typed(data: bytes, tab: str, typed: Callable[[Mapping[Place, str]], Mapping[Place, Value]]) -> bytes:
    """Return a workbook with cells of a tab set, None to empty one.

    typed : what is typed where, for the texts and digits that the tab shows.
    """
    with ZipFile(io.BytesIO(data)) as package:
        sheets = etree.fromstring(package.read("xl/workbook.xml")).iter(f"{_MAIN}sheet")
        number = next(sheet.get(_ID) for sheet in sheets if sheet.get("name") == tab)
        relations = etree.fromstring(package.read("xl/_rels/workbook.xml.rels"))
        target = next(one.get("Target") for one in relations if one.get("Id") == number)
        part = target[1:] if target.startswith("/") else join("xl", target)
        root = etree.fromstring(package.read(part))
        names = [name for name in package.namelist() if name.casefold() == "xl/sharedstrings.xml"]
        items = [item for name in names for item in etree.fromstring(package.read(name))]
    texts = ["".join(text.text or "" for text in item.iter(f"{_MAIN}t")) for item in items]
    cells = {place_of(cell.get("r")): cell for cell in root.iter(f"{_MAIN}c")}
    shown = {place: _text(cell, texts) for place, cell in cells.items()}
    for place, value in typed({place: text for place, text in shown.items() if text}).items():
        _set(cells[place] if place in cells else _new_cell(root, *place), value)
    return with_parts_changed(data, {part: lambda _: etree.tostring(root, xml_declaration=True)})


def _text(cell: etree._Element, texts: list[str]) -> str:
    value = cell.findtext(f"{_MAIN}v") or "".join(text.text or "" for text in cell.iter(f"{_MAIN}t"))
    return texts[int(value)] if cell.get("t") == "s" else value


def _new_cell(root: etree._Element, row: int, column: int) -> etree._Element:
    lines = root.find(f"{_MAIN}sheetData")
    line = next((one for one in lines if one.get("r") == str(row + 1)), None)
    if line is None:
        line = etree.Element(f"{_MAIN}row", r=str(row + 1))
        lines.insert(sum(int(one.get("r")) <= row for one in lines), line)
    cell = etree.Element(f"{_MAIN}c", r=f"{column_letters(column)}{row + 1}")
    line.insert(sum(place_of(one.get("r"))[1] < column for one in line), cell)
    return cell


def _set(cell: etree._Element, value: Value) -> None:
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", None)
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        text = etree.SubElement(etree.SubElement(cell, f"{_MAIN}is"), f"{_MAIN}t")
        text.text = value
    elif value is not None:
        etree.SubElement(cell, f"{_MAIN}v").text = repr(float(value))
