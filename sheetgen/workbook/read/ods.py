"""An OpenDocument spreadsheet as a Snapshot; repeated rows and cells are spread out within bounds."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache

from lxml import etree

from sheetgen.finding import Refusal, RefusedError, amount, quoted, too_large, unreadable
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.parts import (
    COLUMN_LIMIT,
    ROW_LIMIT,
    local_name,
    number_or_text,
    parse_part,
)
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

_START = "{urn:oasis:names:tc:opendocument:xmlns:"
OFFICE = f"{_START}office:1.0}}"
TABLE = f"{_START}table:1.0}}"
TEXT = f"{_START}text:1.0}}"
STYLE = f"{_START}style:1.0}}"
META = f"{_START}meta:1.0}}"

_MOST_DIGITS = 9
_ADDRESS = re.compile(
    r"\$?(?P<tab>'(?:[^']|'')*'|[^'.!:]+)\.(?P<first>\$?[A-Z]{1,3}\$?[0-9]{1,7})"
    r"(?::(?:\$?(?P=tab))?\.?(?P<last>\$?[A-Z]{1,3}\$?[0-9]{1,7}))?"
)

_LONGEST_LINEAGE = 20
_GROUPS = (f"{OFFICE}automatic-styles", f"{OFFICE}styles")
_PROTECTED_WORDS = frozenset(("protected", "hidden-and-protected"))

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


def plain_address(text: str) -> str:
    """Return a cell or block of cells as the Open XML kind writes it; what is no such thing, as it stands.

    Examples
    --------
    >>> plain_address("$Readings.$B$9"), plain_address("$'Tab 2'.$A$1:.$B$2")
    ('Readings!$B$9', "'Tab 2'!$A$1:$B$2")
    """
    match = _ADDRESS.fullmatch(text)
    if match is None:
        return text
    last = f":{match['last']}" if match["last"] else ""
    return f"{match['tab']}!{match['first']}{last}"


def repeat_of(text: str | None) -> int:
    """Return how often a row, column or cell stands there: 1 where nothing usable is said.

    Examples
    --------
    >>> repeat_of(None), repeat_of("3"), repeat_of("-2"), repeat_of("9" * 5000)
    (1, 3, 1, 1000000000)
    """
    if text is None:
        return 1
    if not (text.isascii() and text.isdigit()):
        return 1
    return max(1, int(text)) if len(text) <= _MOST_DIGITS else 10**_MOST_DIGITS


@dataclass(frozen=True, slots=True)
class OdsStyles:
    """Cell styles and tab styles by their names.

    own : what a cell style says itself of protection, None where it leaves that to its parent.
    parents : cell style to the style it is derived from.
    hidden : tab styles that hide their tab.
    default : whether cells are locked of which no style says anything.
    """

    own: dict[str, bool | None]
    parents: dict[str, str]
    hidden: frozenset[str]
    default: bool = True
    _locked: dict[str, bool] = field(default_factory=dict)

    def locked(self, name: str | None) -> bool:
        """Say whether a cell of this style is covered by its tab's protection."""
        if not name:
            return self.default
        if name not in self._locked:
            self._locked[name] = self._find(name)
        return self._locked[name]

    def _find(self, name: str) -> bool:
        # A loop of parents must end too.
        for _ in range(_LONGEST_LINEAGE):
            said = self.own.get(name)
            if said is not None:
                return said
            if name not in self.parents:
                break
            name = self.parents[name]
        return self.default


def read_ods_styles(roots: Iterable[etree._Element]) -> OdsStyles:
    """Return the styles of several parts; where two have one name, the first part's counts."""
    own: dict[str, bool | None] = {}
    parents: dict[str, str] = {}
    hidden: set[str] = set()
    default = True
    for root in roots:
        for group in root.iterchildren(*_GROUPS):
            for style in group:
                family = style.get(f"{STYLE}family")
                name = style.get(f"{STYLE}name", "")
                if family == "table-cell" and style.tag == f"{STYLE}default-style":
                    default = _protection(style) is not False
                elif family == "table-cell" and name not in own:
                    own[name] = _protection(style)
                    parents[name] = style.get(f"{STYLE}parent-style-name", "")
                elif family == "table" and _hides(style):
                    hidden.add(name)
    return OdsStyles(own, parents, frozenset(hidden), default)


def _protection(style: etree._Element) -> bool | None:
    for properties in style.iterchildren(f"{STYLE}table-cell-properties"):
        words = properties.get(f"{STYLE}cell-protect")
        if words is not None:
            return not _PROTECTED_WORDS.isdisjoint(words.split())
    return None


def _hides(style: etree._Element) -> bool:
    return any(
        properties.get(f"{TABLE}display") == "false"
        for properties in style.iterchildren(f"{STYLE}table-properties")
    )


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
