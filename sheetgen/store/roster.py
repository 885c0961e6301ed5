"""Reading a roster from CSV as it leaves a school's system. Every fault is named at once, with its line."""

import csv
import difflib
import io
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.errors import RosterError
from sheetgen.layout.class_book_words import LONGEST, MOST_PEOPLE, ROLES, ROSTER_COLUMNS
from sheetgen.model.settings import Person

__all__ = ["read_roster"]

_NEEDED = ("student_id", "given_name", "family_name")
_UNDER_18 = {
    "": "", "yes": "yes", "y": "yes", "true": "yes", "1": "yes",
    "no": "no", "n": "no", "false": "no", "0": "no",
}  # fmt: skip
_LARGEST_FILE = 5_000_000  # bytes
_MOST_NAMED = 30


@dataclass(frozen=True, slots=True)
class _Fault:
    line: int
    found: str
    expected: str
    remedy: str


@dataclass(frozen=True, slots=True)
class _Row:
    """One person's cells by column, and the line they begin on."""

    line: int
    cells: Mapping[str, str]


def read_roster(path: Path) -> tuple[Person, ...]:
    """Return the people of a roster, in its order.

    UTF-8, UTF-16 with a byte-order mark, or Windows-1252; comma, semicolon or tab. Columns student_id,
    given_name, family_name, and optionally email, group, role (student or teacher) and under_18 (yes or no, y
    or n, true or false, 1 or 0); others are left out.
    Ids are text, leading zeros kept; two that differ in upper and lower case only count as the same.

    Raises
    ------
    RosterError : it cannot be used; one line a fault, each with file and line, what was found, what was
        expected and what to do.
    """
    text = _decoded(path, _bytes(path))
    records, faults = _records(text)
    if not records and not faults:
        faults = [_Fault(1, "an empty file", "a line of headings", "Export the roster again.")]
    rows: list[_Row] = []
    if records:
        columns, header_faults = _columns(*records[0])
        faults += header_faults
        if not header_faults:
            rows, row_faults = _rows(columns, len(records[0][1]), records[1:])
            faults += row_faults or _faults_of_people(rows)
            if len(records) == 1 and not faults:
                line = records[0][0]
                faults = [_Fault(line, "no people below the headings", "a line for each", "Export it again.")]
    if faults:
        raise _error(path, faults)
    return tuple(_person(row.cells) for row in rows)


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_FILE + 1)
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror})"
        raise RosterError(path, found, "a CSV file", "Check the name and your right to read it.") from fault
    if len(data) > _LARGEST_FILE:
        raise RosterError(path, f"more than {_LARGEST_FILE:,} bytes", "a roster", "Export one class only.")
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise RosterError(path, "a workbook", "a CSV file", "Save it as CSV, UTF-8, and name that file.")
    return data


def _decoded(path: Path, data: bytes) -> str:
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    expected = "UTF-8, UTF-16 or Windows-1252"
    raise RosterError(path, "bytes that fit no known encoding", expected, "Save the roster as CSV, UTF-8.")


def _records(text: str) -> tuple[list[tuple[int, list[str]]], list[_Fault]]:
    """Return (line, cells) of every record that is not empty, the headings first."""
    first, _, rest = text.partition("\n")
    skipped = 0
    announced = re.fullmatch(r"sep=([,;\t])\s*", first.lower())
    if announced:
        text, skipped = rest, 1
        first = rest.partition("\n")[0]
    delimiter = announced[1] if announced else max(",;\t", key=lambda mark: len(first.split(mark)))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[tuple[int, list[str]]] = []
    line = 1 + skipped
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                records.append((line, cells))
            line = reader.line_num + 1 + skipped
    except csv.Error as error:
        fault = _Fault(line, f"quotes out of place ({error})", "cells in plain quotes", "Mend the quotes.")
        return records, [fault]
    return records, []


def _plain(heading: str) -> str:
    """A heading without case, spaces and lines."""
    return re.sub(r"[\W_]+", "", heading.casefold())


def _columns(line: int, headings: Sequence[str]) -> tuple[dict[int, str], list[_Fault]]:
    """Return the known columns by place."""
    by_plain = {_plain(name): name for name in ROSTER_COLUMNS}
    columns: dict[int, str] = {}
    faults = []
    for place, heading in enumerate(headings):
        name = by_plain.get(_plain(heading))
        if name in columns.values():
            found, expected = f"the column {name} a second time", "each column once"
            faults.append(_Fault(line, found, expected, "Take one of the two out."))
        elif name is not None:
            columns[place] = name
    missing = [name for name in ROSTER_COLUMNS if name not in columns.values()]
    for place, heading in enumerate(headings):
        near = difflib.get_close_matches(_plain(heading), [_plain(name) for name in missing], 1, 0.75)
        if place not in columns and near:
            name = by_plain[near[0]]
            missing.remove(name)
            expected = f"a heading that is known (did you mean {name}?)"
            faults.append(_Fault(line, f"the heading {_shown(heading)}", expected, f"Write {name}."))
    for name in missing:
        if name in _NEEDED:
            known = ", ".join(map(_shown, filter(str.strip, headings)))
            expected = f"one with the heading {name}"
            faults.append(_Fault(line, f"no such column among {known}", expected, f"Add the column {name}."))
    return columns, faults


def _rows(
    columns: Mapping[int, str], headings: int, records: Sequence[tuple[int, list[str]]]
) -> tuple[list[_Row], list[_Fault]]:
    rows, faults = [], []
    if len(records) > MOST_PEOPLE:
        found, expected = f"{len(records):,} people", f"at most {MOST_PEOPLE:,}"
        return [], [_Fault(records[MOST_PEOPLE][0], found, expected, "Make a class folder for each section.")]
    needed = 1 + max(place for place, name in columns.items() if name in _NEEDED)
    for line, cells in records:
        if not needed <= len(cells) or any(map(str.strip, cells[headings:])):
            expected = f"{headings}, as many as there are headings"
            remedy = "Put a cell that holds the separating mark in quotes; leave none out."
            faults.append(_Fault(line, f"{len(cells)} cells", expected, remedy))
        known = {name: cells[place] if place < len(cells) else "" for place, name in columns.items()}
        stripped = {name: unicodedata.normalize("NFC", cell.strip()) for name, cell in known.items()}
        rows.append(_Row(line, stripped))
    return rows, faults


def _faults_of_people(rows: Sequence[_Row]) -> list[_Fault]:
    faults: list[_Fault] = []
    lines: dict[str, int] = {}
    for row in rows:
        identifier = row.cells["student_id"]
        earlier = lines.setdefault(identifier.casefold(), row.line)
        if not identifier:
            faults.append(_Fault(row.line, "no student_id", "one in every line", "Type the person's id."))
        elif earlier != row.line:
            found = f"student_id {_shown(identifier)}, which line {earlier} has too"
            faults.append(_Fault(row.line, found, "each id once", "Correct one of the two."))
        faults += _faults_of_cells(row)
    return faults


def _faults_of_cells(row: _Row) -> Iterator[_Fault]:
    for name, cell in row.cells.items():
        if any(unicodedata.category(character) in ("Cc", "Zl", "Zp") for character in cell):
            found = f"a control character in {name} {_shown(cell)}"
            yield _Fault(row.line, found, "plain text on one line", "Type the cell anew.")
        if len(cell) > LONGEST[name]:
            expected = f"at most {LONGEST[name]}"
            yield _Fault(row.line, f"{name} of {len(cell)} characters", expected, "Shorten it.")
    role = row.cells.get("role", "")
    if role and role.casefold() not in ROLES:
        near = difflib.get_close_matches(role.casefold(), ROLES, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        expected = " or ".join(ROLES) + ", or nothing" + hint
        yield _Fault(row.line, f"the role {_shown(role)}", expected, "Correct it, or leave it empty.")
    under_18 = row.cells.get("under_18", "")
    if under_18.casefold() not in _UNDER_18:
        found = f"under_18 {_shown(under_18)}"
        yield _Fault(row.line, found, "yes or no, or nothing", "Correct it, or leave it empty.")


def _person(cells: Mapping[str, str]) -> Person:
    role = cells.get("role", "").casefold() or "student"
    under_18 = _UNDER_18[cells.get("under_18", "").casefold()]
    return Person(**{**cells, "role": role, "under_18": under_18})


def _shown(text: str) -> str:
    """A text in quotes, made printable and short."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _error(path: Path, faults: Sequence[_Fault]) -> RosterError:
    """One error; its sentence is one line a fault."""
    faults = sorted(faults, key=lambda fault: fault.line)
    first = faults[0]
    lines = [
        str(RosterError(f"{path}:{each.line}", each.found, each.expected, each.remedy)) for each in faults
    ]
    more = lines[1:_MOST_NAMED]
    if len(lines) > _MOST_NAMED:
        more.append(f"{path}: and {len(lines) - _MOST_NAMED} more faults of such kinds")
    return RosterError(f"{path}:{first.line}", first.found, first.expected, "\n".join([first.remedy, *more]))
