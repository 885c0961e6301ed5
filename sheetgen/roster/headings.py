"""The headings of a roster: how its columns may be called, and which row of a list names them.

The words are a table, roster.toml: the shipped one, and a teacher's own before it.
"""

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetgen.texts import toml_tables as toml
from sheetgen.texts.languages import plain_word
from sheetgen.texts.templates import TemplateKind, table_of, templates_folder
from sheetgen.texts.toml_tables import Fault, Table, table_faults

LEFT_OUT, MENDED = "left out", "mended"

COLUMNS = (
    "student_id", "given_name", "family_name", "second_family_name", "name", "preferred_given_name",
    "preferred_family_name", "email", "group", "role", "under_18", "takes_part", "partner", "apart",
)  # fmt: skip
NEVER_READ = "never_read"
_KEYS = {
    "headings": (*COLUMNS, NEVER_READ),
    "role": ("student", "teacher", "left_out"),
    "takes_part": ("both", "measures_only"),
    "under_18": ("yes", "no"),
    "rows": ("totals",),
}
_LONGEST_WORDING = 100
_MOST_WORDINGS = 500

Row = tuple[int, Sequence[str]]
"""The line it begins on, counted from 1, and its cells."""

_MOST_TITLE_ROWS = 10
_NEAR = 0.8
_SHORTEST_NEAR, _LONGEST_NEAR = 4, 100
_BOTH_NAMES = ("given_name", "family_name")


@dataclass(frozen=True, slots=True)
class RosterTrouble:
    """Something of a roster that could not be taken as it stands.

    line : counted from 1. remedy : one sentence on what to do.
    outcome : `left out` (the row, or a column of that heading) or `mended` (the rest of the row counts).
    """

    line: int
    found: str
    expected: str
    remedy: str
    outcome: str = LEFT_OUT


@dataclass(frozen=True, slots=True)
class Wording:
    """What a wording stands for. rank : the lower goes before. text : as the table has it."""

    stands_for: str
    rank: int
    text: str


@dataclass(frozen=True, slots=True)
class RosterWording:
    """By plain wording what it stands for: a column, a role, a way to take part, yes or no.

    totals : plain first words of a row that counts the others.
    """

    headings: Mapping[str, Wording]
    role: Mapping[str, Wording]
    takes_part: Mapping[str, Wording]
    under_18: Mapping[str, Wording]
    totals: frozenset[str]

    def column(self, heading: str) -> Wording | None:
        """Return the column of a heading, None where it is not known."""
        return self.headings.get(plain_word(heading)) if len(heading) <= 2 * _LONGEST_WORDING else None


@dataclass(frozen=True, slots=True)
class Headings:
    """The row of headings.

    row : its number among the rows, from 0. places : column to its place. width : how many headings.
    unread : headings of a column that another heading gives already.
    faults : the roster cannot be used. troubles : a column is left out.
    """

    row: int
    places: dict[str, int]
    width: int
    unread: tuple[str, ...]
    faults: tuple[RosterTrouble, ...]
    troubles: tuple[RosterTrouble, ...]


def shown(text: str) -> str:
    """Return a text in quotes, made printable and short."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def load_wording(own: Path | None = None) -> RosterWording:
    """Return the shipped wordings; those of a teacher's own file go before them.

    Raises
    ------
    TemplateError : a file has faults; every one is named with its line.
    """
    kind = TemplateKind("roster wording", "", _wording_faults)
    tables = [table_of(kind, templates_folder() / "roster.toml")]
    if own is not None:
        tables.insert(0, table_of(kind, own))
    return RosterWording(
        _merged(tables, "headings"),
        _merged(tables, "role"),
        _merged(tables, "takes_part"),
        _merged(tables, "under_18"),
        frozenset(_merged(tables, "rows")),
    )


def known_headings(cells: Sequence[str], wording: RosterWording) -> int:
    """Return how many different columns the cells of a row name."""
    found = {known.stands_for for known in map(wording.column, cells) if known is not None}
    return len(found - {NEVER_READ})


def find_headings(rows: Sequence[Row], wording: RosterWording) -> Headings:
    """Return the first row that names an id and names of people, else the likeliest one with its faults.

    Parameters
    ----------
    rows : at least one, none of them blank; the first few may be titles.
    """
    first = rows[: _MOST_TITLE_ROWS + 1]
    for number, (line, cells) in enumerate(first):
        places, unread, twice = _places(line, cells, wording)
        if not _missing(places):
            troubles = tuple(trouble for trouble, _ in _near_misses(line, cells, places, wording))
            return Headings(number, places, len(cells), unread, twice, troubles)
    number = max(range(len(first)), key=lambda number: known_headings(first[number][1], wording))
    line, cells = first[number]
    places, unread, twice = _places(line, cells, wording)
    near = _near_misses(line, cells, places, wording)
    known = ", ".join(map(shown, filter(str.strip, cells)))
    missing = [
        RosterTrouble(
            line, f"no such column among {known}", f"one with the heading {name}", f"Add the column {name}."
        )
        for name in _missing(places)
        if name not in [column for _, column in near]
    ]
    faults = (*twice, *(trouble for trouble, _ in near), *missing)
    return Headings(number, places, len(cells), unread, faults, ())


def _merged(tables: list[Table], name: str) -> dict[str, Wording]:
    merged: dict[str, Wording] = {}
    for table in tables:
        for stands_for, wordings in table.get(name, {}).items():
            for text in wordings:
                merged.setdefault(plain_word(text), Wording(stands_for, len(merged), text))
    return merged


def _wording_faults(table: Table) -> Iterator[Fault]:
    yield from table_faults(table, dict.fromkeys(_KEYS, toml.table), optional=_KEYS)
    for name, keys in _KEYS.items():
        lists = table.get(name)
        if not isinstance(lists, dict):
            continue
        yield from table_faults(lists, dict.fromkeys(keys, _wordings), (name,), keys)
        stands_for: dict[str, str] = {}
        for key, wordings in lists.items():
            for wording in wordings if key in keys and not _wordings(wordings) else ():
                earlier = stands_for.setdefault(plain_word(wording), key)
                if earlier != key:
                    found = f"'{wording}', which stands for {earlier} too"
                    yield Fault((name, key), found, "each wording in one list")


def _wordings(value: Any) -> str:
    right = isinstance(value, list) and len(value) <= _MOST_WORDINGS and all(map(_is_wording, value))
    return "" if right else f"a list of at most {_MOST_WORDINGS} texts of 1 to {_LONGEST_WORDING} characters"


def _is_wording(text: object) -> bool:
    return isinstance(text, str) and len(text) <= _LONGEST_WORDING and plain_word(text) != ""


def _missing(places: dict[str, int]) -> list[str]:
    names = [] if "name" in places else [name for name in _BOTH_NAMES if name not in places]
    return names if "student_id" in places else ["student_id", *names]


def _places(
    line: int, cells: Sequence[str], wording: RosterWording
) -> tuple[dict[str, int], tuple[str, ...], tuple[RosterTrouble, ...]]:
    """The columns by place, the headings passed over for a better one, and headings that stand twice."""
    by_column: dict[str, list[tuple[int, int]]] = {}
    for place, heading in enumerate(cells):
        known = wording.column(heading)
        if known is not None and known.stands_for != NEVER_READ:
            by_column.setdefault(known.stands_for, []).append((known.rank, place))
    places, unread, twice = {}, [], []
    for name, found in by_column.items():
        (rank, place), *others = sorted(found)
        places[name] = place
        unread += [cells[other].strip() for _, other in others]
        if others and others[0][0] == rank:
            remedy = "Take one of the two out."
            twice.append(RosterTrouble(line, f"the column {name} a second time", "each column once", remedy))
    return places, tuple(unread), tuple(twice)


def _near_misses(
    line: int, cells: Sequence[str], places: dict[str, int], wording: RosterWording
) -> list[tuple[RosterTrouble, str]]:
    """Headings that may be meant for a column that is not there, with that column."""
    absent = [name for name in COLUMNS if name not in places]
    if all(name in places for name in _BOTH_NAMES):
        absent = [name for name in absent if name != "name"]
    near_misses = []
    for heading in cells:
        plain = plain_word(heading[:_LONGEST_NEAR])
        if len(plain) < _SHORTEST_NEAR or wording.column(heading) is not None:
            continue
        candidates = [key for key, known in wording.headings.items() if known.stands_for in absent]
        near = wording.headings.get(_nearest(plain, candidates))
        if near is not None:
            absent.remove(near.stands_for)
            expected = f"a heading that is known (did you mean '{near.text}'?)"
            trouble = RosterTrouble(line, f"the heading {shown(heading)}", expected, f"Write '{near.text}'.")
            near_misses.append((trouble, near.stands_for))
    return near_misses


def _nearest(plain: str, candidates: Sequence[str]) -> str:
    """The candidate most like a heading, of equal ones the first in the table; empty where none is near."""

    def likeness(candidate: str) -> tuple[float, int]:
        return difflib.SequenceMatcher(None, candidate, plain).ratio(), -candidates.index(candidate)

    return max(difflib.get_close_matches(plain, candidates, 3, _NEAR), key=likeness, default="")
