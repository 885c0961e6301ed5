"""Which row of a roster names its columns, and which column is which."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.checking.list_words import plain_word
from sheetgen.store.roster_people import RosterTrouble, shown
from sheetgen.store.roster_wording import COLUMNS, NEVER_READ, RosterWording

__all__ = ["Headings", "Row", "find_headings", "known_headings"]

Row = tuple[int, Sequence[str]]
"""The line it begins on, counted from 1, and its cells."""

_MOST_TITLE_ROWS = 10
_NEAR = 0.8
_SHORTEST_NEAR, _LONGEST_NEAR = 4, 100
_BOTH_NAMES = ("given_name", "family_name")


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


def known_headings(cells: Sequence[str], wording: RosterWording) -> int:
    """Return how many different columns the cells of a row name."""
    found = {one.stands_for for one in map(wording.column, cells) if one is not None}
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
    number = max(range(len(first)), key=lambda one: known_headings(first[one][1], wording))
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


def _missing(places: dict[str, int]) -> list[str]:
    names = [] if "name" in places else [name for name in _BOTH_NAMES if name not in places]
    return [name for name in ("student_id",) if name not in places] + names


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
        candidates = [key for key, one in wording.headings.items() if one.stands_for in absent]
        near = _nearest(plain, candidates)
        if near:
            column = wording.headings[near].stands_for
            text = wording.headings[near].text
            absent.remove(column)
            expected = f"a heading that is known (did you mean '{text}'?)"
            trouble = RosterTrouble(line, f"the heading {shown(heading)}", expected, f"Write '{text}'.")
            near_misses.append((trouble, column))
    return near_misses


def _nearest(plain: str, candidates: Sequence[str]) -> str:
    """The candidate most like a heading, of equal ones the first in the table; empty where none is near."""
    near = difflib.get_close_matches(plain, candidates, 3, _NEAR)
    likeness = [difflib.SequenceMatcher(None, one, plain).ratio() for one in near]
    best = [one for one, like in zip(near, likeness, strict=True) if like == max(likeness)]
    return min(best, key=candidates.index, default="")
