"""The headings of a roster: how its columns may be called, and which row of a list names them. The words are
a table, roster.toml: the shipped one, and a teacher's own before it."""

import difflib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from msgspec import Struct

from sheetgen.texts import toml_tables as toml
from sheetgen.texts.languages import plain_word
from sheetgen.texts.templates import TemplateKind, table_of, templates_folder
from sheetgen.texts.toml_tables import Fault, Table, table_faults

LEFT_OUT, MENDED = "left out", "mended"

COLUMNS = (
    "student_id", "given_name", "family_name", "second_family_name", "name", "preferred_given_name",
    "preferred_family_name", "email", "group", "role", "under_18", "over_18", "takes_part", "partner",
    "apart",
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
BOTH_NAMES = ("given_name", "family_name")


class RosterTrouble(Struct, frozen=True):
    """Something of a roster that could not be taken as it stands. line : counted from 1. remedy : one
    sentence on what to do. outcome : `left out` (the row, or a column) or `mended` (the rest counts)."""

    line: int
    found: str
    expected: str
    remedy: str
    outcome: str = LEFT_OUT


class Wording(Struct, frozen=True):
    """What a wording stands for. rank : the lower goes before. text : as the table has it."""

    stands_for: str
    rank: int
    text: str


class RosterWording(Struct, frozen=True):
    """By plain wording what it stands for: a column, a role, a way to take part, yes or no, totals."""

    headings: Mapping[str, Wording]
    role: Mapping[str, Wording]
    takes_part: Mapping[str, Wording]
    under_18: Mapping[str, Wording]
    totals: Mapping[str, Wording]

    def column(self, heading: str) -> Wording | None:
        """Return the column of a heading, None where it is not known."""
        return self.headings.get(plain_word(heading)) if len(heading) <= 2 * _LONGEST_WORDING else None


class Headings(Struct, frozen=True):
    """The row of headings. row : its number among the rows, from 0. places : column to its place. cells : as
    they stand. faults : the roster cannot be used. troubles : a column is left out."""

    row: int
    places: Mapping[str, int]
    cells: Sequence[str]
    faults: Sequence[RosterTrouble]
    troubles: Sequence[RosterTrouble]

    @property
    def used(self) -> tuple[tuple[str, str], ...]:
        """Each heading that is read, and the column it stands for."""
        found = sorted((place, name) for name, place in self.places.items())
        return tuple((self.cells[place].strip(), name) for place, name in found)

    @property
    def not_used(self) -> tuple[str, ...]:
        """The headings that are not read."""
        read = set(self.places.values())
        others = (cell.strip() for place, cell in enumerate(self.cells) if place not in read)
        return tuple(filter(None, others))


def shown(text: str) -> str:
    """Return a text in quotes, made printable and short."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def load_wording(own: Path | None = None, told: Sequence[tuple[str, str]] = ()) -> RosterWording:
    """Return the shipped wordings; those of a teacher's own file go before them, and those told, headings
    with their columns, before all. TemplateError : a file has faults; every one is named with its line."""
    kind = TemplateKind("roster wording", "", _wording_faults)
    paths = filter(None, (own, templates_folder() / "roster.toml"))
    tables: list[Table] = [{"headings": {column: [heading]}} for heading, column in told]
    tables += [table_of(kind, path) for path in paths]
    return RosterWording(*(_merged(tables, name) for name in _KEYS))


@lru_cache(maxsize=1)
def shipped_wording() -> RosterWording:
    """Return the wordings without a teacher's own."""
    return load_wording()


def known_headings(cells: Sequence[str], wording: RosterWording) -> int:
    """Return how many different columns the cells of a row name."""
    return len(_places(cells, wording)[0])


def find_headings(rows: Sequence[Row], wording: RosterWording) -> Headings:
    """Return the first row that names an id and names of people, else the likeliest one with its faults;
    rows : at least one, none of them blank; the first few may be titles."""
    first = [cells for _, cells in rows[: _MOST_TITLE_ROWS + 1]]
    usable = (number for number, cells in enumerate(first) if not _missing(_places(cells, wording)[0]))
    likeliest = max(range(len(first)), key=lambda number: known_headings(first[number], wording))
    number = next(usable, likeliest)
    line, cells = rows[number]
    places, given_twice = _places(cells, wording)
    remedy = "Take one of the two out."
    found = (f"the column {name} a second time" for name in given_twice)
    twice = [RosterTrouble(line, name, "each column once", remedy) for name in found]
    near = _near_misses(line, cells, places, wording)
    missing = _missing(places)
    if not missing:
        return Headings(number, places, cells, twice, list(near.values()))
    asked = {trouble.found for trouble in near.values()}
    left = (cell for cell in cells if cell.strip() and f"the heading {shown(cell)}" not in asked)
    unknown = [cell.strip() for cell in left if wording.column(cell) is None]
    lost = [name for name in missing if name not in near]
    if set(BOTH_NAMES) <= set(lost):
        lost = [*lost[: -len(BOTH_NAMES)], "name"]
    faults = [*twice, *near.values(), *([_unnamed(line, lost, cells, unknown)] if lost else [])]
    return Headings(number, places, cells, faults, ())


def answer(heading: str, column: str) -> str:
    """Return the option that says which column a heading stands for."""
    return f'--heading "{heading}={column}"'


def _unnamed(line: int, lost: Sequence[str], cells: Sequence[str], unknown: Sequence[str]) -> RosterTrouble:
    """The columns that no heading names, and how to say which they are."""
    found = f"no such column among {', '.join(map(shown, filter(str.strip, cells)))}"
    # Guessed by their order; whoever reads the line knows better.
    asked = [*unknown, *["THEIRS"] * len(lost)]
    answers = " ".join(answer(heading, name) for heading, name in zip(asked, lost, strict=False))
    remedy = f"Add the column {' and '.join(lost)}, or say which heading it is: {answers}."
    return RosterTrouble(line, found, f"one with the heading {' and one '.join(lost)}", remedy)


def _merged(tables: Sequence[Table], name: str) -> dict[str, Wording]:
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
    right = (
        isinstance(value, list)
        and len(value) <= _MOST_WORDINGS
        and all(
            isinstance(text, str) and len(text) <= _LONGEST_WORDING and plain_word(text) for text in value
        )
    )
    return "" if right else f"a list of at most {_MOST_WORDINGS} texts of 1 to {_LONGEST_WORDING} characters"


def _missing(places: Mapping[str, int]) -> list[str]:
    needed = ("student_id",) if "name" in places else ("student_id", *BOTH_NAMES)
    return [name for name in needed if name not in places]


def _places(cells: Sequence[str], wording: RosterWording) -> tuple[dict[str, int], list[str]]:
    """The columns by place, of several headings the best; and the columns whose best heading stands twice."""
    ranked: dict[str, list[tuple[int, int]]] = {}
    for place, known in enumerate(map(wording.column, cells)):
        if known is not None and known.stands_for != NEVER_READ:
            ranked.setdefault(known.stands_for, []).append((known.rank, place))
    places = {name: min(found)[1] for name, found in ranked.items()}
    twice = [name for name, found in ranked.items() if [rank for rank, _ in found].count(min(found)[0]) > 1]
    return places, twice


def _near_misses(
    line: int, cells: Sequence[str], places: Mapping[str, int], wording: RosterWording
) -> dict[str, RosterTrouble]:
    """Headings that may be meant for a column that is not there, by that column."""
    whole = all(name in places for name in BOTH_NAMES)
    absent = [name for name in COLUMNS if name not in places and not (whole and name == "name")]
    near_misses: dict[str, RosterTrouble] = {}
    for heading in cells:
        plain = plain_word(heading[:_LONGEST_NEAR])
        if len(plain) < _SHORTEST_NEAR or wording.column(heading) is not None:
            continue
        candidates = [
            key
            for key, known in wording.headings.items()
            if known.stands_for in absent and known.stands_for not in near_misses
        ]
        near = wording.headings.get(_nearest(plain, candidates))
        if near is not None:
            expected = f"a heading that is known (did you mean '{near.text}'?)"
            found, meant = f"the heading {shown(heading)}", answer(heading.strip(), near.stands_for)
            remedy = f"Write '{near.text}', or {meant}."
            near_misses[near.stands_for] = RosterTrouble(line, found, expected, remedy)
    return near_misses


def _nearest(plain: str, candidates: Sequence[str]) -> str:
    """The candidate most like a heading, of equal ones the first in the table; empty where none is near."""

    def likeness(candidate: str) -> tuple[float, int]:
        return difflib.SequenceMatcher(None, candidate, plain).ratio(), -candidates.index(candidate)

    return max(difflib.get_close_matches(plain, candidates, 3, _NEAR), key=likeness, default="")
