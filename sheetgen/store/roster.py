"""Reading a roster from CSV as it leaves a school's system."""

import re
from pathlib import Path

from sheetgen.errors import RosterError
from sheetgen.store.csv_text import CsvFault, Decoded, cut, decoded
from sheetgen.store.roster_headings import Row, known_headings
from sheetgen.store.roster_people import RosterTrouble
from sheetgen.store.roster_rows import Roster, roster_error, roster_from_rows
from sheetgen.store.roster_wording import RosterWording

__all__ = ["LARGEST_FILE", "csv_roster"]

LARGEST_FILE = 5_000_000
"""Bytes of a roster that is one file."""

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright line"}
_ANNOUNCED = re.compile(r"sep=([,;\t|])[ \t]*(\r\n|\r|\n|\Z)", re.IGNORECASE)
_MOST_LINES = 50_000
_MOST_CELLS = 500_000
_FIRST_LINES = 30
_SAMPLE = 100_000
_SAVE_AS = "Save it as CSV, UTF-8, and name that file."
_OTHER_FILES = (
    (b"PK\x03\x04", "a workbook"),
    (b"\xd0\xcf\x11\xe0", "a workbook"),
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"{\\rtf", "a text document"),
    (b"<", "a web page or XML"),
    (b"\xef\xbb\xbf<", "a web page or XML"),
)


def csv_roster(path: Path, wording: RosterWording) -> Roster:
    """Return the roster in a CSV file.

    UTF-8, UTF-16 or Windows-1252; comma, semicolon, tab or upright line, announced by a line `sep=;` or
    found by the headings. Title lines above the headings and blank rows are passed over.

    Raises
    ------
    RosterError : it cannot be used; one line a fault, each with file and line.
    """
    source = _decoded(path, _bytes(path))
    text, skipped = source.text, 0
    announced = _ANNOUNCED.match(text)
    if announced:
        text, skipped = text[announced.end() :], 1
    delimiter = announced[1] if announced else _delimiter(text, wording)
    _check_size(path, text, delimiter)
    try:
        rows: list[Row] = [
            (row.line + skipped, [cell.value for cell in row.cells]) for row in cut(text, delimiter)
        ]
    except CsvFault as fault:
        found = f"quotes out of place ({fault.found})"
        trouble = RosterTrouble(fault.line + skipped, found, "cells in plain quotes", "Mend the quotes.")
        raise roster_error(path, [trouble]) from fault
    encoding = {"cp1252": "Windows-1252"}.get(source.encoding, source.encoding.upper())
    return roster_from_rows(path, rows, wording, f"CSV, {encoding}, {_DELIMITERS[delimiter]}")


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as fault:
        found = f"it cannot be read ({getattr(fault, 'strerror', None) or fault})"
        expected = "a CSV or .xlsx list of people, or a OneRoster folder or zip"
        raise RosterError(path, found, expected, "Check the name and your right to read it.") from fault
    if len(data) > LARGEST_FILE:
        raise RosterError(path, f"more than {LARGEST_FILE:,} bytes", "a roster", "Export one class only.")
    for magic, kind in _OTHER_FILES:
        if data.startswith(magic):
            raise RosterError(path, kind, "a CSV file", _SAVE_AS)
    return data


def _decoded(path: Path, data: bytes) -> Decoded:
    unknown = RosterError(
        path, "bytes that fit no known encoding", "UTF-8, UTF-16 or Windows-1252",
        "Save the roster as CSV, UTF-8.",
    )  # fmt: skip
    try:
        source = decoded(data)
    except CsvFault as fault:
        raise unknown from fault
    # Latin-1 takes any bytes at all.
    if source.encoding == "latin-1":
        raise unknown
    return source


def _check_size(path: Path, text: str, delimiter: str) -> None:
    """Cutting millions of cells would take long and lead to nothing."""
    counts = (
        (max(text.count("\n"), text.count("\r")), _MOST_LINES, "lines"),
        (text.count(delimiter), _MOST_CELLS, "cells"),
    )
    for count, most, what in counts:
        if count > most:
            raise RosterError(path, f"more than {most:,} {what}", "a roster", "Export one class only.")


def _delimiter(text: str, wording: RosterWording) -> str:
    """The mark that makes the most known headings in a line near the top, else the most cells."""
    lines = [line for line in text[:_SAMPLE].splitlines() if line.strip()][:_FIRST_LINES]

    def score(mark: str) -> tuple[int, int]:
        rows = [[cell.strip().strip('"') for cell in line.split(mark)] for line in lines]
        known = max((known_headings(cells, wording) for cells in rows), default=0)
        return known, len(rows[0]) if rows else 0

    return max(_DELIMITERS, key=score)
