"""A roster from whatever a school's system gives: CSV, a workbook, or a OneRoster export as folder or zip."""

import contextlib
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from sheetgen.errors import RosterError
from sheetgen.finding import Refusal
from sheetgen.roster.headings import (
    MENDED,
    RosterTrouble,
    RosterWording,
    Row,
    find_headings,
    known_headings,
    load_wording,
)
from sheetgen.roster.oneroster_people import holds_oneroster, oneroster_roster
from sheetgen.roster.people import Roster, roster_error, roster_from_rows
from sheetgen.texts.csv_cells import DELIMITERS, CsvFault, announced_delimiter, cut, decoded
from sheetgen.texts.findings import refusal_in_words
from sheetgen.workbook.read.guard import read_package
from sheetgen.workbook.read.kinds import COMPOUND_MAGIC
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, TabState

if TYPE_CHECKING:
    from xlrd.sheet import Sheet

_LARGEST_CSV = 5_000_000
_LARGEST_OLD = 20_000_000
_MOST_LINES = 50_000
_MOST_CELLS = 500_000
_FIRST_LINES = 30
_SAMPLE = 100_000
_LAST_ROW_READ = 4_999  # from 0: a snapshot ends there
_LOST_DIGITS = 1e15
"""A spreadsheet keeps 15 digits of a number."""
_OTHER_FILES: dict[str, bytes | tuple[bytes, ...]] = {
    "a workbook": b"\xd0\xcf\x11\xe0",
    "a PDF": b"%PDF",
    "a picture": (b"\x89PNG", b"\xff\xd8\xff"),
    "a text document": b"{\\rtf",
    "a web page or XML": (b"<", b"\xef\xbb\xbf<"),
}


def load_roster(
    path: Path, school_class: str = "", wording: Path | None = None, told: Sequence[tuple[str, str]] = ()
) -> Roster:
    """Return the people of a roster, with everything that was left out or mended. school_class : title or
    sourcedId of a class in a OneRoster export; empty: the only one with people in it. wording : a teacher's
    own table of headings and words, beside the shipped one. told : headings with their columns, which go
    before both. RosterError : it cannot be used: not readable, no ids, no people, two people with one id, a
    class that is not there or not the only one. TemplateError : the table of wordings has faults."""
    words = load_wording(wording, told)
    if path.is_dir() or holds_oneroster(path):
        return oneroster_roster(path, words, school_class)
    if school_class:
        found = f"one list of people, so no class {school_class[:80]!r} to choose"
        raise RosterError(path, found, "a OneRoster export", "Leave --school-class out.")
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_OLD + 1)
    except (OSError, ValueError) as fault:
        found = f"it cannot be read ({getattr(fault, 'strerror', None) or fault})"
        expected = "a CSV or .xlsx list of people, or a OneRoster folder or zip"
        raise RosterError(path, found, expected, "Check the name and your right to read it.") from fault
    if data.startswith(b"PK"):
        return _roster_in(path, _tabs(path), words)
    if data.startswith(COMPOUND_MAGIC) and (tabs := _old_tabs(data)) is not None:
        return _roster_in(path, tabs, words)
    return roster_from_rows(path, _csv_rows(path, data, words), words)


def _csv_rows(path: Path, data: bytes, wording: RosterWording) -> Sequence[Row]:
    """The rows of a CSV file. UTF-8, UTF-16 or Windows-1252; the delimiter is announced or found."""
    if len(data) > _LARGEST_CSV:
        raise RosterError(path, f"more than {_LARGEST_CSV:,} bytes", "a roster", "Export one class only.")
    for kind, magic in _OTHER_FILES.items():
        if data.startswith(magic):
            raise RosterError(path, kind, "a CSV file", "Save it as CSV, UTF-8, and name that file.")
    text = _decoded(path, data)
    announced = announced_delimiter(text)
    delimiter = announced or _delimiter(text, wording)
    # Cutting millions of cells would take long and lead to nothing.
    for count, most, what in (
        (max(text.count("\n"), text.count("\r")), _MOST_LINES, "lines"),
        (text.count(delimiter), _MOST_CELLS, "cells"),
    ):
        if count > most:
            raise RosterError(path, f"more than {most:,} {what}", "a roster", "Export one class only.")
    try:
        return [(row.line, row.values) for row in cut(text, delimiter)][1 if announced else 0 :]
    except CsvFault as fault:
        found = f"quotes out of place ({fault.found})"
        trouble = RosterTrouble(fault.line, found, "cells in plain quotes", "Mend the quotes.")
        raise roster_error(path, [trouble]) from fault


def _decoded(path: Path, data: bytes) -> str:
    with contextlib.suppress(CsvFault):
        source = decoded(data)
        # Latin-1 takes any bytes at all.
        if source.encoding != "latin-1":
            return source.text
    found, expected = "bytes that fit no known encoding", "UTF-8, UTF-16 or Windows-1252"
    raise RosterError(path, found, expected, "Save the roster as CSV, UTF-8.")


def _delimiter(text: str, wording: RosterWording) -> str:
    """The mark that makes the most known headings in a line near the top, else the most cells."""
    lines = [line for line in text[:_SAMPLE].splitlines() if line.strip()][:_FIRST_LINES]

    def score(mark: str) -> tuple[int, int]:
        rows = [[cell.strip().strip('"') for cell in line.split(mark)] for line in lines]
        known = max((known_headings(cells, wording) for cells in rows), default=0)
        return known, len(rows[0]) if rows else 0

    return max(DELIMITERS, key=score)


def _tabs(path: Path) -> list[TabState]:
    """The visible tabs of a workbook."""
    package = read_package(path)
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        remedy = "Open it in a spreadsheet program, save it as .xlsx without a password, and name that file."
        raise RosterError(path, refusal_in_words(state).found, "a roster as .xlsx, CSV or OneRoster", remedy)
    return [tab for tab in state.tabs if tab.visibility == "visible"]


def _old_tabs(data: bytes) -> list[TabState] | None:
    """The visible tabs of a workbook in the binary format from before Open XML; None where it is another
    compound file, or damaged, encrypted or too large: the reader of CSV says what it is. The format ends at
    65,536 rows and 256 columns, which bounds what is read."""
    import xlrd

    if len(data) > _LARGEST_OLD:
        return None
    try:
        return [
            TabState(sheet.name, _old_cells(sheet), False, "visible")
            for sheet in xlrd.open_workbook(file_contents=data, logfile=io.StringIO()).sheets()
            if sheet.visibility == 0
        ]
    except Exception:
        # A damaged file raises whatever its parser stumbles on: index, struct, assertion and value errors.
        return None


def _old_cells(sheet: "Sheet") -> dict[tuple[int, int], CellState]:
    from xlrd import XL_CELL_BOOLEAN, XL_CELL_DATE, XL_CELL_ERROR

    return {
        (row, column): CellState(
            bool(cell.value) if cell.ctype == XL_CELL_BOOLEAN else cell.value,
            is_date=cell.ctype == XL_CELL_DATE,
            is_error=cell.ctype == XL_CELL_ERROR,
        )
        for row in range(sheet.nrows)
        for column, cell in enumerate(sheet.row(row))
        if cell.value != ""
    }


def _roster_in(path: Path, visible: Sequence[TabState], wording: RosterWording) -> Roster:
    """The people of the first tab whose headings can be used, else of the first one with anything in it."""
    filled = [(tab, rows) for tab in visible if (rows := _rows(tab))]
    if not filled:
        empty = RosterTrouble(1, "no tab with anything in it", "a list of people", "Export the roster again.")
        raise roster_error(path, [empty])
    usable = (each for each in filled if not find_headings(each[1], wording).faults)
    tab, rows = next(usable, filled[0])
    place = f"{path}:{tab.title}"
    if rows[-1][0] > _LAST_ROW_READ:
        found = f"people beyond row {_LAST_ROW_READ:,}"
        raise RosterError(place, found, "the list of one class", "Save the rows of one class alone.")
    roster = roster_from_rows(place, rows, wording)
    troubles = sorted((*roster.troubles, *_lost_digits(tab)), key=lambda trouble: trouble.line)
    return replace(roster, troubles=tuple(troubles))


def _rows(tab: TabState) -> list[Row]:
    """The rows that hold something, each as wide as the tab."""
    texts = {place: text for place, cell in tab.cells.items() if (text := _text(cell)).strip()}
    columns = range(1 + max((column for _, column in texts), default=-1))
    filled = sorted({row for row, _ in texts})
    return [(row + 1, [texts.get((row, column), "") for column in columns]) for row in filled]


def _text(cell: CellState) -> str:
    """What a cell says; dates and error values are no part of a roster."""
    if cell.value is None or cell.is_date or cell.is_error:
        return ""
    if isinstance(cell.value, float) and cell.value.is_integer():
        return f"{cell.value:.0f}"
    return str(cell.value).lower() if isinstance(cell.value, bool) else str(cell.value)


def _lost_digits(tab: TabState) -> list[RosterTrouble]:
    """Ids as long numbers, whose last digits the spreadsheet program has made 0."""
    remedy = "Format the column as text and import the list again."
    numbers = [
        (row + 1, f"the number {cell.value:.0f}, of which 15 digits are kept")
        for (row, _), cell in sorted(tab.cells.items())
        if type(cell.value) is float and not cell.is_date and abs(cell.value) >= _LOST_DIGITS
    ]
    return [RosterTrouble(line, found, "ids stored as text", remedy, MENDED) for line, found in numbers]
