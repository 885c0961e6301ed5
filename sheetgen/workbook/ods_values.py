"""What a cell of an OpenDocument spreadsheet holds."""

import re
from datetime import date, datetime

from lxml import etree

from sheetgen.workbook.ods_names import OFFICE, TABLE, TEXT, repeat_of
from sheetgen.workbook.xml_parts import number_or_text

__all__ = ["CellContent", "content_of"]

CellContent = tuple[str | float | bool | None, str, bool, bool]
"""Value, formula, whether it is an error, whether it is a date or a time."""

_EMPTY: CellContent = (None, "", False, False)
_DAY_ZERO = date(1899, 12, 30)
_DURATION = re.compile(
    r"(-)?P(?:(\d{1,6})D)?(?:T(?:(\d{1,9})H)?(?:(\d{1,9})M)?(?:(\d{1,9}(?:\.\d{1,20})?)S)?)?"
)
_FORMULA_PREFIX = re.compile(r"^[a-z]{1,10}:(?==)")
_MOST_SPACES = 64

_TYPE = f"{OFFICE}value-type"
# Written beside the standard's type by programs that know error values; the standard has no type for them.
_EXTENDED_TYPE = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}value-type"
_PARAGRAPH = f"{TEXT}p"


def content_of(cell: etree._Element) -> CellContent:
    """Return what a cell holds; for a formula its stored result.

    Notes
    -----
    Dates are serial numbers counted from 30 December 1899, times parts of a day. A formula keeps its own
    syntax, such as `=SUM([.B9:.B15])`. What is no number where one should be is kept as its text.
    """
    if not cell.attrib and not len(cell):
        return _EMPTY
    formula = _FORMULA_PREFIX.sub("", cell.get(f"{TABLE}formula", ""))
    if formula and not formula.startswith("="):
        formula = f"={formula}"
    kind = cell.get(_TYPE)
    if cell.get(_EXTENDED_TYPE) == "error":
        return _paragraphs(cell), formula, True, False
    if kind is None:
        return None, formula, False, False
    if kind in ("float", "percentage", "currency"):
        return number_or_text(cell.get(f"{OFFICE}value", "")), formula, False, False
    if kind == "boolean":
        return cell.get(f"{OFFICE}boolean-value", "").strip().lower() == "true", formula, False, False
    if kind in ("date", "time"):
        text = cell.get(f"{OFFICE}{kind}-value", "")
        serial = _serial(text) if kind == "date" else _part_of_day(text)
        return (text or None if serial is None else serial), formula, False, serial is not None
    text = cell.get(f"{OFFICE}string-value")
    if text is None:
        text = _paragraphs(cell)
    # A formula may give an empty text; a cell that somebody emptied holds nothing.
    return (text if text or formula else None), formula, False, False


def _serial(text: str) -> float | None:
    try:
        both = datetime.fromisoformat(text)
    except ValueError:
        return None
    seconds = both.hour * 3600 + both.minute * 60 + both.second
    return float((both.date() - _DAY_ZERO).days) + seconds / 86_400


def _part_of_day(text: str) -> float | None:
    match = _DURATION.fullmatch(text)
    if match is None or not any(match.group(2, 3, 4, 5)):
        return None
    days, hours, minutes, seconds = (float(part or 0) for part in match.group(2, 3, 4, 5))
    value = days + (hours * 3600 + minutes * 60 + seconds) / 86_400
    return -value if match[1] else value


def _paragraphs(cell: etree._Element) -> str:
    """The text of a cell; notes hung on it hold paragraphs too, but not as children of the cell."""
    texts = []
    for paragraph in cell.iterchildren(_PARAGRAPH):
        pieces: list[str] = []
        _add_pieces(paragraph, pieces)
        texts.append("".join(pieces).strip(" "))
    return "\n".join(texts)


def _add_pieces(element: etree._Element, pieces: list[str]) -> None:
    if element.text:
        pieces.append(_spaced(element.text))
    for child in element:
        if child.tag == f"{TEXT}s":
            pieces.append(" " * min(repeat_of(child.get(f"{TEXT}c")), _MOST_SPACES))
        elif child.tag == f"{TEXT}tab":
            pieces.append("\t")
        elif child.tag == f"{TEXT}line-break":
            pieces.append("\n")
        elif child.tag != f"{OFFICE}annotation":
            _add_pieces(child, pieces)
        if child.tail:
            pieces.append(_spaced(child.tail))


def _spaced(text: str) -> str:
    """White space counts once; more of it is written as elements."""
    return re.sub(r"[ \t\r\n]+", " ", text)
