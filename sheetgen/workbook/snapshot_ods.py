"""An OpenDocument spreadsheet as a Snapshot; repeated rows and cells are spread out within bounds."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from lxml import etree

from sheetgen.model.finding import amount, quoted
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from sheetgen.workbook.ods_names import META, OFFICE, TABLE, plain_address, repeat_of
from sheetgen.workbook.ods_styles import OdsStyles, read_ods_styles
from sheetgen.workbook.ods_values import content_of
from sheetgen.workbook.package import Package
from sheetgen.workbook.refusal import Refusal, RefusedError, too_large, unreadable
from sheetgen.workbook.sheet_rules import COLUMN_LIMIT, ROW_LIMIT
from sheetgen.workbook.xml_parts import local_name, parse_part

__all__ = ["snapshot"]

_MOST_CELLS = 200_000
# Here all tabs are one part; a filled sheet has about 6,000 marks, and each costs memory and time.
_MOST_MARKS = 200_000
# Open cells that hold nothing are told as far as sheets reach, and no further: whole columns may be open.
_OPEN_ROWS = 500
_OPEN_COLUMNS = 64
_SECONDS = len("2000-01-01T00:00:00")

_ROW = f"{TABLE}table-row"
_ROW_GROUPS = (f"{TABLE}table-header-rows", f"{TABLE}table-row-group", f"{TABLE}table-rows")
_COLUMN = f"{TABLE}table-column"
_COLUMN_GROUPS = (
    f"{TABLE}table-header-columns", f"{TABLE}table-column-group", f"{TABLE}table-columns",
)  # fmt: skip
_CELLS = (f"{TABLE}table-cell", f"{TABLE}covered-table-cell")
_REPEATED_ROWS = f"{TABLE}number-rows-repeated"
_REPEATED_COLUMNS = f"{TABLE}number-columns-repeated"
_STYLE_NAME = f"{TABLE}style-name"
_DEFAULT_STYLE = f"{TABLE}default-cell-style-name"
_RULE_NAME = f"{TABLE}content-validation-name"

_state = lru_cache(maxsize=16_384, typed=True)(CellState)


@dataclass(slots=True)
class _Book:
    """What the cells of every tab refer to, and how many more may be kept."""

    styles: OdsStyles
    rules: frozenset[str]
    room: int = _MOST_CELLS
    open_room: int = _MOST_CELLS


def snapshot(package: Package) -> Snapshot | Refusal:
    """Return what a workbook holds; nothing about its contents raises.

    Numbers are floats; a date is its serial number counted from 1900. Formulas are kept in their own
    syntax, and the Snapshot says that they cannot be compared. Cells beyond row 5,000 or column 256 are left
    out; more than 200,000 others are refused.
    """
    try:
        return _read_workbook(package)
    except RefusedError as refused:
        return refused.refusal


def _read_workbook(package: Package) -> Snapshot:
    if package.parts.get("content.xml", b"").count(b"<") > _MOST_MARKS:
        raise RefusedError(too_large("elements", part=quoted("content.xml"), most=amount(_MOST_MARKS // 2)))
    root = parse_part(package, "content.xml")
    body = None if root is None else root.find(f"{OFFICE}body/{OFFICE}spreadsheet")
    if root is None or body is None:
        raise RefusedError(unreadable("no-tables"))
    common = parse_part(package, "styles.xml")
    styles = read_ods_styles((root,) if common is None else (root, common))
    book = _Book(styles, _rules(body))
    tabs = tuple(
        _read_tab(table, book)
        for table in body.iterchildren(f"{TABLE}table")
        # A table with a source is what the program remembers of another file.
        if table.find(f"{TABLE}table-source") is None
    )
    if not tabs:
        raise RefusedError(unreadable("no-tabs"))
    protected = body.get(f"{TABLE}structure-protected") == "true"
    return Snapshot(tabs, _names(body), _properties(package), protected, formulas_comparable=False)


def _rules(body: etree._Element) -> frozenset[str]:
    """The names of rules that refuse something; one without a condition only shows a message."""
    return frozenset(
        rule.get(f"{TABLE}name", "")
        for rule in body.iterfind(f"{TABLE}content-validations/{TABLE}content-validation")
        if rule.get(f"{TABLE}condition")
    )


def _names(body: etree._Element) -> dict[str, str]:
    names = {}
    for element in body.iterfind(f"{TABLE}named-expressions/*"):
        target = element.get(f"{TABLE}cell-range-address") or element.get(f"{TABLE}expression", "")
        names[element.get(f"{TABLE}name", "")] = plain_address(target)
    return names


def _properties(package: Package) -> dict[str, str]:
    root = parse_part(package, "meta.xml")
    properties = {}
    for element in () if root is None else root.iterfind(f"{OFFICE}meta/*"):
        if not len(element):
            properties[element.get(f"{META}name") or local_name(element)] = element.text or ""
    if "date" in properties:
        # When it was last saved, under the word of the Open XML kind and to the second.
        properties["modified"] = properties["date"][:_SECONDS]
    return properties


def _inside(parent: etree._Element, wanted: str, groups: tuple[str, ...]) -> Iterator[etree._Element]:
    """Rows or columns in their order, those in groups too; not those of tables inside cells."""
    # No recursion: each of a million rows would be handed up through every group around it.
    waiting = [iter(parent)]
    while waiting:
        child = next(waiting[-1], None)
        if child is None:
            waiting.pop()
        elif child.tag == wanted:
            yield child
        elif child.tag in groups:
            waiting.append(iter(child))


def _read_tab(table: etree._Element, book: _Book) -> TabState:
    columns = _column_styles(table)
    cells: dict[tuple[int, int], CellState] = {}
    row_index = 0
    for row in _inside(table, _ROW, _ROW_GROUPS):
        repeat = repeat_of(row.get(_REPEATED_ROWS))
        if row_index < ROW_LIMIT:
            _read_row(row, row_index, min(repeat, ROW_LIMIT - row_index), columns, book, cells)
        row_index += repeat
    hidden = table.get(_STYLE_NAME, "") in book.styles.hidden
    return TabState(
        table.get(f"{TABLE}name", ""),
        cells,
        table.get(f"{TABLE}protected") == "true",
        "hidden" if hidden else "visible",
    )


def _column_styles(table: etree._Element) -> list[str]:
    """The style of cells that name none themselves, by column."""
    styles: list[str] = []
    for column in _inside(table, _COLUMN, _COLUMN_GROUPS):
        repeat = min(repeat_of(column.get(_REPEATED_COLUMNS)), COLUMN_LIMIT - len(styles))
        styles += [column.get(_DEFAULT_STYLE, "")] * repeat
    return styles


def _read_row(
    row: etree._Element,
    row_index: int,
    repeat: int,
    columns: list[str],
    book: _Book,
    cells: dict[tuple[int, int], CellState],
) -> None:
    """Put the cells of a row, and of its repetitions, into `cells`."""
    row_style = row.get(_DEFAULT_STYLE)
    column = 0
    for cell in row.iterchildren(*_CELLS):
        width = repeat_of(cell.get(_REPEATED_COLUMNS))
        if column >= COLUMN_LIMIT:
            break
        value, formula, is_error, is_date = content_of(cell)
        has_rule = cell.get(_RULE_NAME) in book.rules
        style = cell.get(_STYLE_NAME) or row_style
        holds = value is not None or bool(formula)
        last_row = row_index + repeat if holds else min(row_index + repeat, _OPEN_ROWS)
        for place in range(column, min(column + width, COLUMN_LIMIT if holds else _OPEN_COLUMNS)):
            locked = book.styles.locked(style or (columns[place] if place < len(columns) else ""))
            if not holds and locked and not has_rule:
                continue
            _take_room(book, max(0, last_row - row_index), holds)
            if not holds and book.open_room < 0:
                continue
            state = _state(value, formula, locked, has_rule, is_error, is_date)
            cells.update(((line, place), state) for line in range(row_index, last_row))
        column += width


def _take_room(book: _Book, count: int, holds: bool) -> None:
    if not holds:
        book.open_room -= count
        return
    book.room -= count
    if book.room < 0:
        raise RefusedError(too_large("cells", most=amount(_MOST_CELLS)))
