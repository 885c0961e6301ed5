"""An OpenDocument spreadsheet as a Snapshot; repeated rows and cells are spread out within bounds."""

import re
from collections.abc import Iterable, Iterator, Mapping

from lxml import etree
from msgspec import Struct

from sheetgen.finding import RefusedError, amount, quoted, too_large, unreadable
from sheetgen.workbook.read import parts
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

OFFICE, TABLE, TEXT, STYLE, META = (
    f"{{urn:oasis:names:tc:opendocument:xmlns:{name}:1.0}}"
    for name in ("office", "table", "text", "style", "meta")
)

_MOST_DIGITS = 9
_ADDRESS = re.compile(
    r"\$?(?P<tab>'(?:[^']|'')*'|[^'.!:]+)\.(?P<first>\$?[A-Z]{1,3}\$?[0-9]{1,7})"
    r"(?::(?:\$?(?P=tab))?\.?(?P<last>\$?[A-Z]{1,3}\$?[0-9]{1,7}))?"
)

_LONGEST_LINEAGE = 20
_PROTECTED_WORDS = frozenset(("protected", "hidden-and-protected"))

CellContent = tuple[str | float | bool | None, str, bool, bool]
"""Value, formula, whether it is an error, whether it is a date or a time."""

_DURATION = re.compile(
    r"(-)?P(?:(\d{1,6})D)?(?:T(?:(\d{1,9})H)?(?:(\d{1,9})M)?(?:(\d{1,9}(?:\.\d{1,20})?)S)?)?"
)
_FORMULA_PREFIX = re.compile(r"^[a-z]{1,10}:(?==)")
_MOST_SPACES = 64
_SIGNS = {f"{TEXT}tab": "\t", f"{TEXT}line-break": "\n"}

# Written beside the standard's type by programs that know error values; the standard has no type for them.
_EXTENDED_TYPE = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}value-type"

_MOST_CELLS = 200_000
# Here all tabs are one part; a filled sheet has about 6,000 marks, and each costs memory and time.
_MOST_MARKS = 200_000
# Open cells that hold nothing are told as far as sheets reach, and no further: whole columns may be open.
_OPEN_ROWS = 500
_OPEN_COLUMNS = 64
_SECONDS = len("2000-01-01T00:00:00")

_ROW_GROUPS, _COLUMN_GROUPS = (
    (f"{TABLE}table-header-{line}s", f"{TABLE}table-{line}-group", f"{TABLE}table-{line}s")
    for line in ("row", "column")
)
_DEFAULT_STYLE = f"{TABLE}default-cell-style-name"


def plain_address(text: str) -> str:
    """Return a cell or block of cells as the Open XML kind writes it; what is no such thing, as it stands."""
    match = _ADDRESS.fullmatch(text)
    if match is None:
        return text
    last = f":{match['last']}" if match["last"] else ""
    return f"{match['tab']}!{match['first']}{last}"


def repeat_of(text: str | None) -> int:
    """Return how often a row, column or cell stands there: 1 where nothing usable is said."""
    if text is None or not (text.isascii() and text.isdigit()):
        return 1
    return max(1, int(text)) if len(text) <= _MOST_DIGITS else 10**_MOST_DIGITS


class OdsStyles(Struct, frozen=True):
    """Whether each cell style locks its cells, which tab styles hide their tab, and whether cells are locked
    of which no style says anything."""

    locks: Mapping[str, bool]
    hidden: frozenset[str]
    default: bool

    def locked(self, name: str) -> bool:
        """Say whether a cell of this style is covered by its tab's protection."""
        return self.locks.get(name, self.default)


def read_ods_styles(roots: Iterable[etree._Element]) -> OdsStyles:
    """Return the styles of several parts; where two have one name, the first part's counts."""
    own: dict[str, tuple[bool | None, str]] = {}
    hidden: set[str] = set()
    default = True
    groups = (f"{OFFICE}automatic-styles", f"{OFFICE}styles")
    for style in (style for root in roots for group in root.iterchildren(*groups) for style in group):
        family, name = style.get(f"{STYLE}family"), style.get(f"{STYLE}name", "")
        if family == "table" and "false" in _said(style, "table-properties", f"{TABLE}display"):
            hidden.add(name)
        elif family == "table-cell":
            words = next(iter(_said(style, "table-cell-properties", f"{STYLE}cell-protect")), None)
            locked = None if words is None else not _PROTECTED_WORDS.isdisjoint(words.split())
            if style.tag == f"{STYLE}default-style":
                default = locked is not False
            elif name:
                own.setdefault(name, (locked, style.get(f"{STYLE}parent-style-name", "")))
    return OdsStyles({name: _inherited(name, own, default) for name in own}, frozenset(hidden), default)


def _said(style: etree._Element, properties: str, attribute: str) -> list[str]:
    found = (element.get(attribute) for element in style.iterchildren(f"{STYLE}{properties}"))
    return [text for text in found if text is not None]


def _inherited(name: str, own: Mapping[str, tuple[bool | None, str]], default: bool) -> bool:
    """What a style says of protection, or the nearest style that it is derived from."""
    # A loop of parents must end too.
    for _ in range(_LONGEST_LINEAGE):
        locked, name = own.get(name, (None, ""))
        if locked is not None:
            return locked
    return default


def content_of(cell: etree._Element) -> CellContent:
    """Return what a cell holds; for a formula its stored result. Dates are serial numbers counted from 30
    December 1899, times parts of a day. A formula keeps its own syntax, such as `=SUM([.B9:.B15])`. What is
    no number where one should be is kept as its text."""
    formula = _FORMULA_PREFIX.sub("", cell.get(f"{TABLE}formula", ""))
    if formula and not formula.startswith("="):
        formula = f"={formula}"
    if cell.get(_EXTENDED_TYPE) == "error":
        return _paragraphs(cell), formula, True, False
    kind = cell.get(f"{OFFICE}value-type")
    value: str | float | bool | None = None
    is_date = False
    if kind in ("float", "percentage", "currency"):
        value = parts.number_or_text(cell.get(f"{OFFICE}value", ""))
    elif kind == "boolean":
        value = cell.get(f"{OFFICE}boolean-value", "").strip().lower() == "true"
    elif kind in ("date", "time"):
        text = cell.get(f"{OFFICE}{kind}-value", "")
        serial = parts.date_serial(text) if kind == "date" else _part_of_day(text)
        value, is_date = (text or None if serial is None else serial), serial is not None
    elif kind is not None:
        text = cell.get(f"{OFFICE}string-value")
        text = _paragraphs(cell) if text is None else text
        # A formula may give an empty text; a cell that somebody emptied holds nothing.
        value = text if text or formula else None
    return value, formula, False, is_date


def _part_of_day(text: str) -> float | None:
    match = _DURATION.fullmatch(text)
    if match is None or not any(match.group(2, 3, 4, 5)):
        return None
    days, hours, minutes, seconds = (float(part or 0) for part in match.group(2, 3, 4, 5))
    value = days + (hours * 3600 + minutes * 60 + seconds) / 86_400
    return -value if match[1] else value


def _paragraphs(cell: etree._Element) -> str:
    """The text of a cell; notes hung on it hold paragraphs too, but not as children of the cell."""
    paragraphs = cell.iterchildren(f"{TEXT}p")
    return "\n".join("".join(_pieces(paragraph)).strip(" ") for paragraph in paragraphs)


def _pieces(element: etree._Element) -> Iterator[str]:
    yield _spaced(element.text)
    for child in element:
        if child.tag == f"{TEXT}s":
            yield " " * min(repeat_of(child.get(f"{TEXT}c")), _MOST_SPACES)
        elif child.tag in _SIGNS:
            yield _SIGNS[child.tag]
        elif child.tag != f"{OFFICE}annotation":
            yield from _pieces(child)
        yield _spaced(child.tail)


def _spaced(text: str | None) -> str:
    """White space counts once; more of it is written as elements."""
    return re.sub(r"[ \t\r\n]+", " ", text or "")


class _Book(Struct):
    """What the cells of every tab refer to, and how many more may be kept."""

    styles: OdsStyles
    rules: frozenset[str]
    room: int = _MOST_CELLS
    open_room: int = _MOST_CELLS


def read_document(package: Package) -> Snapshot:
    """Return what a document holds; RefusedError where it cannot be read. Formulas are kept in their own
    syntax, and the Snapshot says that they cannot be compared. Cells beyond row 5,000 or column 256 are left
    out; more than 200,000 others are refused."""
    if package.parts.get("content.xml", b"").count(b"<") > _MOST_MARKS:
        raise RefusedError(too_large("elements", part=quoted("content.xml"), most=amount(_MOST_MARKS // 2)))
    root = parts.parse_part(package, "content.xml")
    body = None if root is None else root.find(f"{OFFICE}body/{OFFICE}spreadsheet")
    if root is None or body is None:
        raise RefusedError(unreadable("no-tables"))
    common = parts.parse_part(package, "styles.xml")
    styles = read_ods_styles((root,) if common is None else (root, common))
    # A rule without a condition refuses nothing: it only shows a message.
    rules = frozenset(
        rule.get(f"{TABLE}name", "")
        for rule in body.iterfind(f"{TABLE}content-validations/{TABLE}content-validation")
        if rule.get(f"{TABLE}condition")
    )
    book = _Book(styles, rules)
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


def _names(body: etree._Element) -> dict[str, str]:
    return {
        element.get(f"{TABLE}name", ""): plain_address(
            element.get(f"{TABLE}cell-range-address") or element.get(f"{TABLE}expression", "")
        )
        for element in body.iterfind(f"{TABLE}named-expressions/*")
    }


def _properties(package: Package) -> dict[str, str]:
    root = parts.parse_part(package, "meta.xml")
    properties = {}
    for element in () if root is None else root.iterfind(f"{OFFICE}meta/*"):
        if not len(element):
            properties[element.get(f"{META}name") or parts.local_name(element)] = element.text or ""
    if "date" in properties:
        # When it was last saved, under the word of the Open XML kind and to the second.
        properties["modified"] = properties["date"][:_SECONDS]
    return properties


def _inside(parent: etree._Element, wanted: str, groups: tuple[str, ...]) -> Iterator[etree._Element]:
    """Rows or columns in their order, those in groups too; not those of tables inside cells."""
    for element in parent:
        if element.tag == wanted:
            yield element
        elif element.tag in groups:
            yield from _inside(element, wanted, groups)


def _read_tab(table: etree._Element, book: _Book) -> TabState:
    # The style of cells that name none themselves, by column.
    columns: list[str] = []
    for column in _inside(table, f"{TABLE}table-column", _COLUMN_GROUPS):
        repeat = min(_repeated(column, "columns"), parts.COLUMN_LIMIT - len(columns))
        columns += [column.get(_DEFAULT_STYLE, "")] * repeat
    columns += [""] * (parts.COLUMN_LIMIT - len(columns))
    cells: dict[tuple[int, int], CellState] = {}
    start = 0
    for row in _inside(table, f"{TABLE}table-row", _ROW_GROUPS):
        end = start + _repeated(row, "rows")
        cells.update(_cells_of(row, range(start, min(end, parts.ROW_LIMIT)), columns, book))
        start = end
    return TabState(
        table.get(f"{TABLE}name", ""),
        cells,
        table.get(f"{TABLE}protected") == "true",
        "hidden" if table.get(f"{TABLE}style-name", "") in book.styles.hidden else "visible",
    )


def _repeated(element: etree._Element, what: str) -> int:
    return repeat_of(element.get(f"{TABLE}number-{what}-repeated"))


def _cells_of(
    row: etree._Element, rows: range, columns: list[str], book: _Book
) -> Iterator[tuple[tuple[int, int], CellState]]:
    """The cells of a row and of its repetitions, with their places."""
    end = 0
    for cell in row.iterchildren(f"{TABLE}table-cell", f"{TABLE}covered-table-cell"):
        start, end = end, end + _repeated(cell, "columns")
        if start >= parts.COLUMN_LIMIT or not rows:
            break
        value, formula, is_error, is_date = content_of(cell)
        has_rule = cell.get(f"{TABLE}content-validation-name") in book.rules
        style = cell.get(f"{TABLE}style-name") or row.get(_DEFAULT_STYLE)
        holds = value is not None or bool(formula)
        kept = rows if holds else range(rows.start, min(rows.stop, _OPEN_ROWS))
        for column in range(start, min(end, parts.COLUMN_LIMIT if holds else _OPEN_COLUMNS)):
            locked = book.styles.locked(style or columns[column])
            if holds:
                book.room -= len(kept)
                if book.room < 0:
                    raise RefusedError(too_large("cells", most=amount(_MOST_CELLS)))
            elif locked and not has_rule:
                continue
            else:
                book.open_room -= len(kept)
                if book.open_room < 0:
                    continue
            state = CellState(value, formula, locked, has_rule, is_error, is_date)
            yield from (((line, column), state) for line in kept)
