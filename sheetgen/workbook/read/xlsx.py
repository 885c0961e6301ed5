"""A package of the Open XML kind as a Snapshot, each part read once."""

import re
from collections.abc import Iterator, Mapping, Sequence

from lxml import etree
from msgspec import Struct, field

from sheetgen.finding import Refusal, RefusedError, amount, quoted, too_large, typed, unreadable
from sheetgen.workbook.addresses import place_of, shift_formula
from sheetgen.workbook.read import parts
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.kinds import OPEN_DOCUMENT
from sheetgen.workbook.read.ods import read_document
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

_MOST_CELLS = 200_000
# A row takes memory without a cell, and only the first 5,000 are read.
_MOST_ROWS = 60_000
_ROW = re.compile(rb"[<:]row[\s/>]")
_LONGEST_SHARED_FORMULA = 8_192
_MOST_SHIFTED_TEXT = 1_000_000
_DAYS_1904 = 1_462
_CLOCK = re.compile(r"T?(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?Z?")

_Place = tuple[int, int]
_Value = str | float | bool | None


class BookContext(Struct, frozen=True):
    """What the cells of every tab refer to.
    starts_1904 : whether serial dates count from 1904; they are turned into those that count from 1900."""

    strings: Mapping[str, str]
    styles: parts.Styles
    starts_1904: bool


def snapshot(package: Package) -> Snapshot | Refusal:
    """Return what a workbook of either kind holds; nothing about its contents raises. Numbers are floats; a
    date is its serial number counted from 1900, whatever the workbook counts from. Cells beyond row 5,000 or
    column 256 are left out, but count towards the bound of 200,000; a tab may have 60,000 rows."""
    try:
        return read_document(package) if package.kind == OPEN_DOCUMENT else _read_workbook(package)
    except RefusedError as refused:
        return refused.refusal


def _read_workbook(package: Package) -> Snapshot:
    own = parts.read_relations(package, "")
    part = _target(own, "officedocument", "xl/workbook.xml")
    root = parts.parse_part(package, part)
    if root is None:
        raise RefusedError(unreadable("no-workbook"))
    namespace = parts.namespace_of(root, part)
    relations = parts.read_relations(package, part)
    folder = part.rpartition("/")[0]
    tables = "sharedstrings", "styles"
    strings, styles = (_target(relations, kind, f"{folder}/{kind}.xml") for kind in tables)
    book = BookContext(
        parts.read_shared_strings(package, strings),
        parts.read_styles(package, styles),
        parts.attribute_true(root.find(f"{namespace}workbookPr"), "date1904"),
    )
    # Custom properties last: they are the ones that a sheet handed out relies on.
    kinds = {"extended": "app", "core": "core", "custom": "custom"}
    properties = [_target(own, f"{kind}properties", f"docprops/{name}.xml") for kind, name in kinds.items()]
    listed = root.findall(f"{namespace}sheets/{namespace}sheet")
    return Snapshot(
        _read_tabs(package, listed, relations, book),
        parts.defined_names(root, namespace),
        parts.read_properties(package, properties),
        parts.attribute_true(root.find(f"{namespace}workbookProtection"), "lockStructure"),
    )


def _target(relations: Sequence[parts.Relation], kind: str, default: str) -> str:
    return next((relation.target for relation in relations if relation.kind == kind), default)


def _read_tabs(
    package: Package, listed: Sequence[etree._Element], relations: Sequence[parts.Relation], book: BookContext
) -> tuple[TabState, ...]:
    by_key = {relation.key: relation for relation in relations}
    tabs: list[TabState] = []
    parts_read: set[str] = set()
    room = _MOST_CELLS
    for sheet in listed:
        title, visibility = parts.unescape(sheet.get("name", "")), sheet.get("state", "visible")
        key = next((text for name, text in sheet.items() if name.endswith("relationships}id")), "")
        relation = by_key.get(key)
        if relation is not None and relation.kind != "worksheet":
            # Chart tabs and the like hold no cells.
            tabs.append(TabState(title, {}, False, visibility))
            continue
        data = None if relation is None else parts.part_bytes(package, relation.target)
        if relation is None or relation.target in parts_read or data is None:
            case = "empty-tab" if relation is None else "lost-tab" if data is None else "shared-tab"
            raise RefusedError(unreadable(case, title=typed(title, 80)))
        parts_read.add(relation.target)
        # Far too many rows are refused before a tree is made of them, under any prefix; of an encoding of two
        # or four bytes a sign the bytes between are zeros.
        plain = data.replace(b"\0", b"")
        if plain.count(b"row") > _MOST_ROWS and sum(1 for _ in _ROW.finditer(plain)) > _MOST_ROWS:
            raise RefusedError(too_large("rows", most=amount(_MOST_ROWS)))
        root = parts.parse_bytes(data, relation.target)
        room -= sum(len(row) for sheet_data in root.iterfind("{*}sheetData") for row in sheet_data)
        if room < 0:
            raise RefusedError(too_large("cells", most=amount(_MOST_CELLS)))
        tabs.append(_read_tab(root, parts.namespace_of(root, relation.target), title, visibility, book))
    if not tabs:
        raise RefusedError(unreadable("no-tabs"))
    return tuple(tabs)


def _read_tab(
    root: etree._Element, namespace: str, title: str, visibility: str, book: BookContext
) -> TabState:
    protected = parts.attribute_true(root.find(f"{namespace}sheetProtection"), "sheet")
    sheet_data = root.find(f"{namespace}sheetData")
    if sheet_data is None:
        return TabState(title, {}, protected, visibility)
    rules = parts.read_rules(root, namespace)
    cells = read_cells(sheet_data, namespace, book, rules)
    return TabState(title, cells, protected, visibility, rules.rules, rules.wide)


def read_cells(
    sheet_data: etree._Element, namespace: str, book: BookContext, rules: parts.RuledPlaces
) -> dict[_Place, CellState]:
    """Return the cells that hold something, are unlocked or have a rule."""
    value_tag, formula_tag, inline_tag = f"{namespace}v", f"{namespace}f", f"{namespace}is"
    shared = _SharedFormulas()
    cells: dict[_Place, CellState] = {}
    for place, cell in _placed(sheet_data, namespace):
        inside = {child.tag: child for child in cell}
        formula = shared.text_of(inside[formula_tag], place) if formula_tag in inside else ""
        if place[0] >= parts.ROW_LIMIT or place[1] >= parts.COLUMN_LIMIT:
            continue
        locked, is_date = book.styles.get(cell.get("s"), parts.UNKNOWN_STYLE)
        has_rule = place in rules.rules or (bool(rules.wide) and rules.covers(place))
        kind = cell.get("t", "n")
        if value_tag in inside:
            value, is_date = _value(inside[value_tag].text or "", kind, is_date, book)
            cells[place] = CellState(value, formula, locked, has_rule, kind == "e", is_date)
        elif kind == "inlineStr" and inline_tag in inside:
            text = parts.rich_text(inside[inline_tag], namespace)
            cells[place] = CellState(text, formula, locked, has_rule)
        elif formula or has_rule or not locked:
            cells[place] = CellState(None, formula, locked, has_rule)
    for place in sorted(rules.rules.keys() - cells.keys()):
        cells[place] = CellState(None, "", True, True)
    return cells


def _placed(sheet_data: etree._Element, namespace: str) -> Iterator[tuple[_Place, etree._Element]]:
    """The cells with their places: those they carry, or those after the row or cell before them."""
    row_index = -1
    for row in sheet_data.iterchildren(f"{namespace}row"):
        number = row.get("r")
        if number is None:
            row_index += 1
        elif number.isascii() and number.isdigit() and len(number) <= 10 and number.strip("0"):
            row_index = int(number) - 1
        else:
            raise RefusedError(unreadable("row", number=quoted(number[:40])))
        place = (row_index, -1)
        for cell in row:
            reference = cell.get("r")
            if reference is not None:
                found = place_of(reference)
                if found is None:
                    raise RefusedError(unreadable("cell", place=quoted(reference[:40])))
                place = found
            elif cell.tag == f"{namespace}c":
                place = (place[0], place[1] + 1)
            else:
                continue
            yield place, cell


def _value(text: str, kind: str, shows_date: bool, book: BookContext) -> tuple[_Value, bool]:
    """Return the value of a cell, dates counted from 1900, and whether it is a date."""
    if kind == "s":
        return _shared_text(text, book.strings), False
    if kind == "b":
        return text.strip().lower() in ("1", "true"), False
    if kind == "d":
        serial = _serial(text.strip())
        return (text, False) if serial is None else (serial, True)
    if kind != "n":
        return parts.unescape(text), False
    number = parts.number_or_text(text)
    if not shows_date or not isinstance(number, float):
        return number, False
    # Below one day it is a time of day, which no start of counting moves.
    return (number + _DAYS_1904 if book.starts_1904 and number >= 1 else number), True


def _shared_text(number: str, strings: Mapping[str, str]) -> str | None:
    """Return a shared text, also by a number that is oddly written; one that does not exist is refused."""
    if not number:
        return None
    text = strings.get(number, strings.get(number.strip().lstrip("+0") or "0"))
    if text is None:
        raise RefusedError(unreadable("shared-text", number=quoted(number[:40]), count=len(strings)))
    return text


def _serial(text: str) -> float | None:
    """Return the serial number of an ISO date, date with time, or time of day."""
    clock = _CLOCK.fullmatch(text)
    if clock is None:
        return parts.date_serial(text)
    hours, minutes, seconds = (int(part or 0) for part in clock.groups())
    return parts.date_serial(f"1899-12-30T{hours:02}:{minutes:02}:{seconds:02}")


class _SharedFormulas(Struct):
    """The shared formulas of one tab: masters by their number, and how much text may still be made."""

    masters: dict[str, tuple[str, _Place]] = field(default_factory=dict)
    room: int = _MOST_SHIFTED_TEXT

    def text_of(self, element: etree._Element, place: _Place) -> str:
        """Return a cell's formula with its leading `=`; empty where it has none."""
        text, kind = element.text or "", element.get("t")
        if kind == "dataTable":
            return f"=TABLE({element.get('r1', '')},{element.get('r2', '')})"
        if kind == "shared":
            number = element.get("si", "")
            if text and (element.get("ref") is not None or number not in self.masters):
                self.masters[number] = (text, place)
            elif number not in self.masters:
                raise RefusedError(unreadable("shared-formula", number=quoted(number[:40])))
            else:
                text, (row, column) = self.masters[number]
                self.room -= len(text)
                if len(text) > _LONGEST_SHARED_FORMULA or self.room < 0:
                    raise RefusedError(too_large("shared", most=amount(_LONGEST_SHARED_FORMULA)))
                text = shift_formula(text, place[0] - row, place[1] - column)
        return f"={parts.unescape(text)}" if text else ""
