"""A roster from whatever a school's system gives: CSV, a workbook, or a OneRoster export as folder or zip."""

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sheetgen.errors import RosterError
from sheetgen.finding import Refusal
from sheetgen.roster.headings import (
    RosterTrouble,
    RosterWording,
    Row,
    find_headings,
    load_wording,
)
from sheetgen.roster.oneroster_people import holds_oneroster, oneroster_roster
from sheetgen.roster.reading import Roster, csv_roster, roster_error, roster_from_rows
from sheetgen.texts.findings import refusal_in_words
from sheetgen.workbook.read.guard import Package, read_package
from sheetgen.workbook.read.kinds import COMPOUND_MAGIC
from sheetgen.workbook.read.ods import snapshot as ods_snapshot
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

if TYPE_CHECKING:
    from xlrd.sheet import Sheet

_LARGEST_OLD = 20_000_000
_LAST_ROW_READ = 4_999  # from 0: a snapshot ends there
_LOST_DIGITS = 1e15
"""A spreadsheet keeps 15 digits of a number."""


def load_roster(path: Path, school_class: str = "", wording: Path | None = None) -> Roster:
    """Return the people of a roster, with everything that was left out or mended.

    Parameters
    ----------
    school_class : title or sourcedId of a class in a OneRoster export; empty: the only one with people in it.
    wording : a teacher's own table of headings and words, beside the shipped one.

    Raises
    ------
    RosterError : it cannot be used: not readable, no ids, no people, two people with one id, a class that is
        not there or not the only one.
    TemplateError : the table of wordings has faults.
    """
    words = load_wording(wording)
    if path.is_dir() or holds_oneroster(path):
        return oneroster_roster(path, words, school_class)
    if school_class:
        found = f"one list of people, so no class {school_class[:80]!r} to choose"
        raise RosterError(path, found, "a OneRoster export", "Leave --school-class out.")
    start = _start_of(path)
    if start.startswith(COMPOUND_MAGIC) and (tabs := _old_tabs(path)) is not None:
        return _roster_in(path, tabs, words)
    return _workbook_roster(path, words) if start.startswith(b"PK") else csv_roster(path, words)


def _start_of(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(len(COMPOUND_MAGIC))
    except (OSError, ValueError):
        return b""  # the reader of CSV says what is wrong


def _old_tabs(path: Path) -> list[TabState] | None:
    """The visible tabs of a workbook in the binary format from before Open XML; None where it is another
    compound file, or damaged, encrypted or too large: the reader of CSV says what it is.

    The format ends at 65,536 rows and 256 columns, which bounds what is read.
    """
    import xlrd

    try:
        if path.stat().st_size > _LARGEST_OLD:
            return None
        book = xlrd.open_workbook(filename=str(path), logfile=io.StringIO())
        return [
            TabState(sheet.name, _old_cells(sheet), False, "visible")
            for sheet in book.sheets()
            if sheet.visibility == 0
        ]
    except Exception:
        # A damaged file raises whatever its parser stumbles on: index, struct, assertion and value errors.
        return None


def _old_cells(sheet: "Sheet") -> dict[tuple[int, int], CellState]:
    from xlrd import XL_CELL_BOOLEAN, XL_CELL_DATE, XL_CELL_ERROR

    cells = {}
    for row in range(sheet.nrows):
        for column, cell in enumerate(sheet.row(row)):
            value = bool(cell.value) if cell.ctype == XL_CELL_BOOLEAN else cell.value
            kinds = {"is_date": cell.ctype == XL_CELL_DATE, "is_error": cell.ctype == XL_CELL_ERROR}
            if value != "":
                cells[row, column] = CellState(value, **kinds)
    return cells


def _workbook_roster(path: Path, wording: RosterWording) -> Roster:
    package = read_package(path)
    state = package if isinstance(package, Refusal) else _snapshot(package)
    if isinstance(state, Refusal):
        remedy = "Open it in a spreadsheet program, save it as .xlsx without a password, and name that file."
        raise RosterError(path, refusal_in_words(state).found, "a roster as .xlsx, CSV or OneRoster", remedy)
    return _roster_in(path, [tab for tab in state.tabs if tab.visibility == "visible"], wording)


def _roster_in(path: Path, visible: Sequence[TabState], wording: RosterWording) -> Roster:
    tab, rows = _tab_with_headings(path, visible, wording)
    place = Path(f"{path}:{tab.title}")
    if any(line > _LAST_ROW_READ for line, _ in rows):
        found = f"people beyond row {_LAST_ROW_READ:,}"
        raise RosterError(place, found, "the list of one class", "Save the rows of one class alone.")
    roster = roster_from_rows(place, rows, wording, f"workbook, tab {tab.title!r}")
    troubles = sorted((*roster.troubles, *_lost_digits(tab)), key=lambda one: one.line)
    return Roster(roster.people, tuple(troubles), roster.source)


def _snapshot(package: Package) -> Snapshot | Refusal:
    return ods_snapshot(package) if package.kind == "ods" else snapshot(package)


def _tab_with_headings(
    path: Path, visible: Sequence[TabState], wording: RosterWording
) -> tuple[TabState, list[Row]]:
    """The first visible tab whose headings can be used, else the first one with anything in it."""
    filled = [(tab, rows) for tab in visible if (rows := _rows(tab))]
    if not filled:
        empty = RosterTrouble(1, "no tab with anything in it", "a list of people", "Export the roster again.")
        raise roster_error(path, [empty])
    usable = (one for one in filled if not find_headings(one[1], wording).faults)
    return next(usable, filled[0])


def _rows(tab: TabState) -> list[Row]:
    """The rows that hold something, each as wide as the tab."""
    texts = {place: _text(cell) for place, cell in tab.cells.items()}
    texts = {place: text for place, text in texts.items() if text.strip()}
    width = 1 + max((column for _, column in texts), default=-1)
    rows: dict[int, list[str]] = {row: [""] * width for row in sorted({row for row, _ in texts})}
    for (row, column), text in texts.items():
        rows[row][column] = text
    return [(row + 1, cells) for row, cells in rows.items()]


def _text(cell: CellState) -> str:
    """What a cell says; dates and error values are no part of a roster."""
    if cell.value is None or cell.is_date or cell.is_error:
        return ""
    if isinstance(cell.value, bool):
        return "true" if cell.value else "false"
    if isinstance(cell.value, float):
        return f"{cell.value:.0f}" if cell.value.is_integer() else repr(cell.value)
    return cell.value


def _lost_digits(tab: TabState) -> list[RosterTrouble]:
    """Ids as long numbers, whose last digits the spreadsheet program has made 0."""
    expected = "ids stored as text"
    remedy = "Format the column as text and import the list again."
    return [
        RosterTrouble(
            row + 1, f"the number {cell.value:.0f}, of which 15 digits are kept", expected, remedy, "mended"
        )
        for (row, _), cell in sorted(tab.cells.items())
        if type(cell.value) is float and not cell.is_date and abs(cell.value) >= _LOST_DIGITS
    ]
