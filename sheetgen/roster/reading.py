"""Reading a roster: people out of rows of text, and the rows out of CSV as it leaves a school's system."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.class_folder.records import MOST_PEOPLE, Person
from sheetgen.errors import RosterError
from sheetgen.roster.headings import (
    MENDED,
    Headings,
    RosterTrouble,
    RosterWording,
    Row,
    find_headings,
    known_headings,
    shown,
)
from sheetgen.roster.people import PersonRow, checked_people
from sheetgen.texts.csv_cells import (
    DELIMITERS,
    CsvFault,
    Decoded,
    announced_delimiter,
    cut,
    decoded,
    unwrapped,
)
from sheetgen.texts.languages import plain_word

LARGEST_FILE = 5_000_000
"""Bytes of a roster that is one file."""

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
_MOST_NAMED = 30
_NAMES = ("given_name", "family_name")
_AS_THEY_STAND = ("student_id", "email", "group", "role", "under_18", "takes_part", "partner", "apart")


@dataclass(frozen=True, slots=True)
class Roster:
    """The people of a class as a list from elsewhere has them.

    people : in the order of the list.
    troubles : rows and columns left out, cells mended; in the order of the lines.
    source : in words, what the list was read as.
    """

    people: tuple[Person, ...]
    troubles: tuple[RosterTrouble, ...] = ()
    source: str = ""


def csv_roster(path: Path, wording: RosterWording) -> Roster:
    """Return the roster in a CSV file.

    UTF-8, UTF-16 or Windows-1252; comma, semicolon, tab or upright line, announced by a line `sep=;` or
    found by the headings. Title lines above the headings and blank rows are passed over.

    Raises
    ------
    RosterError : it cannot be used; one line a fault, each with file and line.
    """
    source = _decoded(path, _bytes(path))
    announced = announced_delimiter(source.text)
    delimiter = announced or _delimiter(source.text, wording)
    _check_size(path, source.text, delimiter)
    try:
        rows = [(row.line, row.values) for row in cut(source.text, delimiter)]
    except CsvFault as fault:
        found = f"quotes out of place ({fault.found})"
        trouble = RosterTrouble(fault.line, found, "cells in plain quotes", "Mend the quotes.")
        raise roster_error(path, [trouble]) from fault
    encoding = {"cp1252": "Windows-1252"}.get(source.encoding, source.encoding.upper())
    kind = f"CSV, {encoding}, {DELIMITERS.get(delimiter, delimiter)}"
    return roster_from_rows(path, rows[1:] if announced else rows, wording, kind)


def roster_from_rows(place: Path, rows: Sequence[Row], wording: RosterWording, kind: str) -> Roster:
    """Return the people of a table with a row of headings among its first rows.

    Parameters
    ----------
    place : for messages. kind : in words, what the rows were read from.

    Raises
    ------
    RosterError : no headings, no people, or two people with one id; one line a fault.
    """
    filled = [
        (line, [unwrapped(cell) for cell in cells]) for line, cells in rows if any(map(str.strip, cells))
    ]
    if not filled:
        empty = RosterTrouble(1, "an empty file", "a line of headings", "Export the roster again.")
        raise roster_error(place, [empty])
    headings = find_headings(filled, wording)
    line, names = filled[headings.row]
    if headings.faults:
        raise roster_error(place, headings.faults)
    below = filled[headings.row + 1 :]
    if len(below) > MOST_PEOPLE:
        found, expected = f"{len(below):,} people", f"at most {MOST_PEOPLE:,}"
        remedy = "Make a class folder for each section."
        raise roster_error(place, [RosterTrouble(below[MOST_PEOPLE][0], found, expected, remedy)])
    people, troubles = _people_of(below, headings, wording)
    checked = checked_people(people, wording)
    troubles = sorted((*headings.troubles, *troubles, *checked.troubles), key=lambda trouble: trouble.line)
    if checked.faults:
        raise roster_error(place, sorted((*checked.faults, *troubles), key=lambda trouble: trouble.line))
    if not checked.people:
        none = RosterTrouble(line, "no people below the headings", "a line for each", "Export it again.")
        raise roster_error(place, troubles or [none])
    return Roster(checked.people, tuple(troubles), f"{kind}; {_said(line, names, headings)}")


def roster_error(place: object, faults: Sequence[RosterTrouble]) -> RosterError:
    """Return one error that names every fault; its sentence is one line a fault.

    Parameters
    ----------
    faults : at least one.
    """
    errors = [
        RosterError(f"{place}:{fault.line}", fault.found, fault.expected, fault.remedy) for fault in faults
    ]
    first, *others = errors
    more = [str(error) for error in others[: _MOST_NAMED - 1]]
    if len(errors) > _MOST_NAMED:
        more.append(f"{place}: and {len(errors) - _MOST_NAMED} more faults of such kinds")
    return RosterError(first.place, first.found, first.expected, "\n".join([first.remedy, *more]))


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

    return max(DELIMITERS, key=score)


def _people_of(
    rows: Sequence[Row], headings: Headings, wording: RosterWording
) -> tuple[list[PersonRow], list[RosterTrouble]]:
    people, troubles = [], []
    read = [place for name, place in headings.places.items() if name in ("student_id", "name", *_NAMES)]
    needed = 1 + max(read)
    for line, cells in rows:
        if _is_total(cells, wording):
            word = next(filter(str.strip, cells))
            found, expected = f"a row that counts the others, {shown(word)}", "one person in each line"
            troubles.append(RosterTrouble(line, found, expected, "Nothing: nobody is lost by it."))
        elif not needed <= len(cells) or any(map(str.strip, cells[headings.width :])):
            expected = f"{headings.width}, as many as there are headings"
            remedy = "Put a cell that holds the separating mark in quotes; leave none out."
            troubles.append(RosterTrouble(line, f"{len(cells)} cells", expected, remedy))
        else:
            known = {
                name: cells[place].strip() if place < len(cells) else ""
                for name, place in headings.places.items()
            }
            given, family, found_here = _names(line, known)
            troubles += found_here
            rest = {name: known[name] for name in _AS_THEY_STAND if name in known}
            people.append(PersonRow(line, {**rest, "given_name": given, "family_name": family}))
    return people, troubles


def _is_total(cells: Sequence[str], wording: RosterWording) -> bool:
    """A word for a sum, and besides it nothing but numbers."""
    filled = [cell for cell in cells if cell.strip()]
    word = re.sub(r"\d+", "", plain_word(filled[0]))
    return word in wording.totals and all(re.fullmatch(r"[\d\s.,]+", cell) for cell in filled[1:])


def _names(line: int, known: Mapping[str, str]) -> tuple[str, str, list[RosterTrouble]]:
    """The given and the family name: preferred ones where there are any, one column of both cut in two."""
    given, family = known.get("given_name", ""), known.get("family_name", "")
    troubles: list[RosterTrouble] = []
    whole = known.get("name", "")
    if "given_name" not in known and "family_name" not in known:
        given, family, troubles = _cut_name(line, whole)
    elif "given_name" not in known:
        given = whole
    elif "family_name" not in known:
        family = whole
    family = " ".join(filter(None, (family, known.get("second_family_name", ""))))
    preferred = known.get("preferred_given_name", ""), known.get("preferred_family_name", "")
    return preferred[0] or given, preferred[1] or family, troubles


def _cut_name(line: int, whole: str) -> tuple[str, str, list[RosterTrouble]]:
    """Cut at the comma (`Family, Given`), else at the last blank (`Given Family`), which may be wrong."""
    family, comma, given = whole.partition(",")
    if comma:
        return given.strip(), family.strip(), []
    words = whole.split()
    if len(words) < 2:
        return whole, "", []
    given, family = " ".join(words[:-1]), words[-1]
    if len(words) == 2:
        return given, family, []
    found = f"the name {shown(whole)}, cut into given {shown(given)} and family {shown(family)}"
    remedy = "Correct it in the class book where it is wrong."
    return given, family, [RosterTrouble(line, found, "'Family, Given', or two columns", remedy, MENDED)]


def _said(line: int, names: Sequence[str], headings: Headings) -> str:
    """In words, which heading gave which column."""
    columns = [f"{name} from {shown(names[place].strip())}" for name, place in headings.places.items()]
    said = f"headings in line {line}: {', '.join(columns)}"
    if "name" in headings.places and not set(headings.places) & set(_NAMES):
        said += "; one column of names, cut at its comma or else at its last blank"
    unread = ", ".join(map(shown, headings.unread))
    return said + (f"; not read: {unread}" if unread else "")
