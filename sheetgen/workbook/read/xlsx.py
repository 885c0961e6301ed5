"""A package of the Open XML kind as a Snapshot, each part read once."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import NoReturn

from lxml import etree

from sheetgen.finding import Refusal, RefusedError, amount, quoted, too_large, unreadable
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.parts import (
    UNKNOWN_STYLE,
    Relation,
    Styles,
    attribute_true,
    defined_names,
    namespace_of,
    number_or_text,
    parse_bytes,
    parse_part,
    part_bytes,
    read_properties,
    read_relations,
    read_shared_strings,
    read_styles,
    rich_text,
    shift_formula,
    unescape,
)
from sheetgen.workbook.read.validation import (
    COLUMN_LIMIT,
    ROW_LIMIT,
    RuledPlaces,
    place_of,
    read_rules,
)
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

_MOST_CELLS = 200_000

# A row takes memory without a cell, and only the first 5,000 are read.
_MOST_ROWS = 60_000
_SHORTEST_ROW = len("<row/>")
_ROW = re.compile(rb"[<:]row[\s/>]")
_LONGEST_SHARED_FORMULA = 8_192
_MOST_SHIFTED_TEXT = 1_000_000
_DAYS_1904 = 1_462
_DAY_ZERO = date(1899, 12, 30)
_CLOCK = re.compile(r"T?(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?Z?")

_Place = tuple[int, int]
_Value = str | float | bool | None


@dataclass(frozen=True, slots=True)
class BookContext:
    """What the cells of every tab refer to.

    starts_1904 : whether serial dates count from 1904; they are turned into those that count from 1900.
    """

    strings: Mapping[str, str]
    styles: Styles
    starts_1904: bool


def snapshot(package: Package) -> Snapshot | Refusal:
    """Return what a workbook holds; nothing about its contents raises.

    Numbers are floats; a date is its serial number counted from 1900, whatever the workbook counts from.
    Cells beyond row 5,000 or column 256 are left out, but count towards the bound of 200,000; a tab may have
    60,000 rows.
    """
    try:
        return _read_workbook(package)
    except RefusedError as refused:
        return refused.refusal


def _read_workbook(package: Package) -> Snapshot:
    own = read_relations(package, "")
    part = _target(own, "officedocument", "xl/workbook.xml")
    root = parse_part(package, part)
    if root is None:
        raise RefusedError(unreadable("no-workbook"))
    namespace = namespace_of(root, part)
    relations = read_relations(package, part)
    folder = part.rpartition("/")[0]
    book = BookContext(
        read_shared_strings(package, _target(relations, "sharedstrings", f"{folder}/sharedstrings.xml")),
        read_styles(package, _target(relations, "styles", f"{folder}/styles.xml")),
        attribute_true(root.find(f"{namespace}workbookPr"), "date1904"),
    )
    # Custom properties last: they are the ones that a sheet handed out relies on.
    properties = (
        _target(own, "extendedproperties", "docprops/app.xml"),
        _target(own, "coreproperties", "docprops/core.xml"),
        _target(own, "customproperties", "docprops/custom.xml"),
    )
    listed = root.findall(f"{namespace}sheets/{namespace}sheet")
    return Snapshot(
        _read_tabs(package, listed, relations, book),
        defined_names(root, namespace),
        read_properties(package, properties),
        attribute_true(root.find(f"{namespace}workbookProtection"), "lockStructure"),
    )


def _target(relations: Sequence[Relation], kind: str, default: str) -> str:
    return next((relation.target for relation in relations if relation.kind == kind), default)


def _read_tabs(
    package: Package, listed: Sequence[etree._Element], relations: Sequence[Relation], book: BookContext
) -> tuple[TabState, ...]:
    by_key = {relation.key: relation for relation in relations}
    tabs: list[TabState] = []
    parts_read: set[str] = set()
    room = _MOST_CELLS
    for sheet in listed:
        title, visibility = unescape(sheet.get("name", "")), sheet.get("state", "visible")
        relation = by_key.get(_relation_key(sheet))
        if relation is None:
            raise RefusedError(unreadable("empty-tab", title=quoted(title[:80])))
        if relation.kind != "worksheet":
            # Chart tabs and the like hold no cells.
            tabs.append(TabState(title, {}, False, visibility))
            continue
        if relation.target in parts_read:
            raise RefusedError(unreadable("shared-tab", title=quoted(title[:80])))
        parts_read.add(relation.target)
        data = part_bytes(package, relation.target)
        if data is None:
            raise RefusedError(unreadable("lost-tab", title=quoted(title[:80])))
        _check_rows(data)
        root = parse_bytes(data, relation.target)
        room -= sum(len(row) for sheet_data in root.iterfind("{*}sheetData") for row in sheet_data)
        if room < 0:
            raise RefusedError(too_large("cells", most=amount(_MOST_CELLS)))
        tabs.append(_read_tab(root, namespace_of(root, relation.target), title, visibility, book))
    if not tabs:
        raise RefusedError(unreadable("no-tabs"))
    return tuple(tabs)


def _relation_key(sheet: etree._Element) -> str:
    return next((str(text) for name, text in sheet.items() if name.endswith("relationships}id")), "")


def _read_tab(
    root: etree._Element, namespace: str, title: str, visibility: str, book: BookContext
) -> TabState:
    protected = attribute_true(root.find(f"{namespace}sheetProtection"), "sheet")
    sheet_data = root.find(f"{namespace}sheetData")
    if sheet_data is None:
        return TabState(title, {}, protected, visibility)
    rules = read_rules(root, namespace)
    cells = read_cells(sheet_data, namespace, book, rules)
    return TabState(title, cells, protected, visibility, rules.rules, rules.wide_rules)


def _check_rows(data: bytes) -> None:
    """Refuse a part with far too many rows before its tree is made, under any prefix and of any width."""
    if len(data) <= _SHORTEST_ROW * _MOST_ROWS:
        return
    # Of an encoding of two or four bytes a sign the bytes between are zeros.
    rows = sum(1 for _ in _ROW.finditer(data.replace(b"\0", b"")))
    if rows > _MOST_ROWS:
        raise RefusedError(too_large("rows", most=amount(_MOST_ROWS)))


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
        index = _row_index(row.get("r"), index)
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
                    cells[place] = CellState(rich_text(inline, namespace), formula, locked, has_rule)
                elif formula or has_rule or not locked:
                    cells[place] = CellState(None, formula, locked, has_rule)
            elif kind == "s":
                text = strings.get(value)
                if text is None:
                    text = _shared_string(value, strings)
                cells[place] = CellState(text, formula, locked, has_rule)
            elif kind is None or kind == "n":
                number: _Value = number_or_text(value)
                if is_date:
                    number, is_date = _serial_number(number, book.starts_1904)
                cells[place] = CellState(number, formula, locked, has_rule, False, is_date)
            else:
                result, is_date = _other_value(value, kind)
                cells[place] = CellState(result, formula, locked, has_rule, kind == "e", is_date)
    for place in sorted(rules.places - cells.keys()):
        cells[place] = CellState(None, "", True, True)
    return cells


def _row_index(text: str | None, previous: int) -> int:
    """A row's number from 0: the one it carries, or that after the row before it."""
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
