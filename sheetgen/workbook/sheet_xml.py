"""One worksheet part as cells."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache
from typing import NoReturn

from lxml import etree

from sheetgen.model.finding import amount, quoted
from sheetgen.model.snapshot import CellState
from sheetgen.workbook.formula_shift import shift_formula
from sheetgen.workbook.refusal import RefusedError, too_large, unreadable
from sheetgen.workbook.sheet_rules import COLUMN_LIMIT, ROW_LIMIT, RuledPlaces, place_of
from sheetgen.workbook.xml_parts import UNKNOWN_STYLE, Styles, number_or_text, rich_text, unescape

__all__ = ["BookContext", "add_ruled_places", "read_cells", "row_index"]

_LONGEST_SHARED_FORMULA = 8_192
_MOST_SHIFTED_TEXT = 1_000_000
_DAYS_1904 = 1_462
_DAY_ZERO = date(1899, 12, 30)
_CLOCK = re.compile(r"T?(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?Z?")

# The files of a class hold mostly equal cells, so a worker that reads many makes each state once.
_state = lru_cache(maxsize=16_384, typed=True)(CellState)

_Place = tuple[int, int]
_Value = str | float | bool | None


@dataclass(frozen=True, slots=True)
class BookContext:
    """What the cells of every tab refer to.

    starts_1904 : whether serial dates count from 1904; they are turned into those that count from 1900.
    style_part : the bytes that the styles were read from; whoever remembers cells tells styles apart by them.
    """

    strings: Mapping[str, str]
    styles: Styles
    starts_1904: bool
    style_part: bytes = b""


def read_cells(
    sheet_data: etree._Element, namespace: str, book: BookContext, rules: RuledPlaces
) -> dict[_Place, CellState]:
    """Return the cells that hold something, are unlocked or have a rule."""
    row_tag, cell_tag = f"{namespace}row", f"{namespace}c"
    formula_tag, value_tag, inline_tag = f"{namespace}f", f"{namespace}v", f"{namespace}is"
    styles, strings, ruled, has_wide = book.styles, book.strings, rules.places, bool(rules.wide)
    cells: dict[_Place, CellState] = {}
    shared = _SharedFormulas()
    index = -1
    # This loop takes most of the time of reading a tab, so its common cases stand in line.
    for row in sheet_data.iterchildren(row_tag):
        index = row_index(row.get("r"), index)
        place = (index, -1)
        for cell in row:
            reference = cell.get("r")
            if reference is None:
                if cell.tag != cell_tag:
                    continue
                place = (place[0], place[1] + 1)
            else:
                place = place_of(reference) or _bad_reference(reference)
            formula, value, inline = "", None, None
            for child in cell if len(cell) else ():
                tag = child.tag
                if tag == value_tag:
                    value = child.text or ""
                elif tag == formula_tag:
                    formula = shared.text_of(child, place)
                elif tag == inline_tag:
                    inline = child
            if place[0] >= ROW_LIMIT or place[1] >= COLUMN_LIMIT:
                continue
            locked, is_date = styles.get(cell.get("s"), UNKNOWN_STYLE)
            has_rule = place in ruled or (has_wide and rules.covers(place))
            kind = cell.get("t")
            if value is None:
                if inline is not None and kind == "inlineStr":
                    cells[place] = _state(rich_text(inline, namespace), formula, locked, has_rule)
                elif formula or has_rule or not locked:
                    cells[place] = _state(None, formula, locked, has_rule)
            elif kind == "s":
                text = strings.get(value)
                if text is None:
                    text = _shared_string(value, strings)
                cells[place] = _state(text, formula, locked, has_rule)
            elif kind is None or kind == "n":
                number: _Value = number_or_text(value)
                if is_date:
                    number, is_date = _serial_number(number, book.starts_1904)
                cells[place] = _state(number, formula, locked, has_rule, False, is_date)
            else:
                result, is_date = _other_value(value, kind)
                cells[place] = _state(result, formula, locked, has_rule, kind == "e", is_date)
    add_ruled_places(cells, rules)
    return cells


def add_ruled_places(cells: dict[_Place, CellState], rules: RuledPlaces) -> None:
    """Add the places that only a rule tells of."""
    for place in sorted(rules.places - cells.keys()):
        cells[place] = _state(None, "", True, True)


def row_index(text: str | None, previous: int) -> int:
    """Return a row's number from 0: the one it carries, or that after the row before it.

    Raises
    ------
    RefusedError : it carries something else.
    """
    if text is None:
        return previous + 1
    if not (text.isascii() and text.isdigit() and len(text) <= 10 and text.strip("0")):
        raise RefusedError(unreadable("row", number=quoted(text[:40])))
    return int(text) - 1


def _bad_reference(reference: str) -> NoReturn:
    raise RefusedError(unreadable("cell", place=quoted(reference[:40])))


def _serial_number(number: _Value, starts_1904: bool) -> tuple[_Value, bool]:
    """Return a number shown as a date, counted from 1900; text in its place is no date."""
    if not isinstance(number, float):
        return number, False
    # Below one day it is a time of day, which no start of counting moves.
    return (number + _DAYS_1904 if starts_1904 and number >= 1 else number), True


def _other_value(text: str, kind: str) -> tuple[_Value, bool]:
    """Return the value of a cell that is neither a shared text nor a number, and whether it is a date."""
    if kind == "b":
        return text.strip().lower() in ("1", "true"), False
    if kind == "d":
        serial = _serial(text.strip())
        return (text, False) if serial is None else (serial, True)
    return unescape(text), False


def _shared_string(text: str, strings: Mapping[str, str]) -> str | None:
    """Return a shared text whose number is oddly written; one that does not exist is refused."""
    if not text:
        return None
    plain = text.strip().lstrip("+0") or "0"
    if plain not in strings:
        raise RefusedError(unreadable("shared-text", number=quoted(text[:40]), count=len(strings)))
    return strings[plain]


def _serial(text: str) -> float | None:
    """Return the serial number of an ISO date, date with time, or time of day."""
    clock = _CLOCK.fullmatch(text)
    try:
        if clock is not None:
            moment = time(int(clock[1]), int(clock[2]), int(clock[3] or 0))
            days = 0
        else:
            both = datetime.fromisoformat(text)
            moment, days = both.time(), (both.date() - _DAY_ZERO).days
    except ValueError:
        return None
    return days + (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86_400


class _SharedFormulas:
    """The shared formulas of one tab: masters by their number, and how much text was made from them."""

    def __init__(self) -> None:
        self._masters: dict[str, tuple[str, _Place]] = {}
        self._room = _MOST_SHIFTED_TEXT

    def text_of(self, element: etree._Element, place: _Place) -> str:
        """Return a cell's formula with its leading `=`; empty where it has none."""
        text = element.text or ""
        kind = element.get("t")
        if kind is None and "_x" not in text:
            return f"={text}" if text else ""
        if kind == "dataTable":
            return f"=TABLE({element.get('r1', '')},{element.get('r2', '')})"
        if kind == "shared":
            number = element.get("si", "")
            if text and (element.get("ref") is not None or number not in self._masters):
                self._masters[number] = (text, place)
            else:
                text = self._dependant(number, place)
        return f"={unescape(text)}" if text else ""

    def _dependant(self, number: str, place: _Place) -> str:
        if number not in self._masters:
            raise RefusedError(unreadable("shared-formula", number=quoted(number[:40])))
        text, (row, column) = self._masters[number]
        self._room -= len(text)
        if len(text) > _LONGEST_SHARED_FORMULA or self._room < 0:
            raise RefusedError(too_large("shared", most=amount(_LONGEST_SHARED_FORMULA)))
        return shift_formula(text, place[0] - row, place[1] - column)
