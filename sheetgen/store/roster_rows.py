"""A roster from rows of text, whatever they were read from: CSV, a tab of a workbook."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.checking.list_words import plain_word
from sheetgen.errors import RosterError
from sheetgen.layout.class_book_settings import MOST_PEOPLE
from sheetgen.model.settings import Person
from sheetgen.store.roster_headings import Headings, Row, find_headings
from sheetgen.store.roster_people import MENDED, PersonRow, RosterTrouble, checked_people, shown
from sheetgen.store.roster_wording import RosterWording

__all__ = ["Roster", "roster_error", "roster_from_rows"]

_MOST_NAMED = 30
_NAMES = ("given_name", "family_name")
_AS_THEY_STAND = ("student_id", "email", "group", "role", "under_18", "takes_part", "partner", "apart")
_AS_TEXT = re.compile(r'="(.*)"', re.DOTALL)  # how some exports keep leading zeros


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


def roster_from_rows(place: Path, rows: Sequence[Row], wording: RosterWording, kind: str) -> Roster:
    """Return the people of a table with a row of headings among its first rows.

    Parameters
    ----------
    place : for messages. kind : in words, what the rows were read from.

    Raises
    ------
    RosterError : no headings, no people, or two people with one id; one line a fault.
    """
    filled = [(line, [_text(cell) for cell in cells]) for line, cells in rows if any(map(str.strip, cells))]
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
    troubles = sorted((*headings.troubles, *troubles, *checked.troubles), key=lambda one: one.line)
    if checked.faults:
        raise roster_error(place, sorted((*checked.faults, *troubles), key=lambda one: one.line))
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
    errors = [RosterError(f"{place}:{one.line}", one.found, one.expected, one.remedy) for one in faults]
    first, *others = errors
    more = [str(error) for error in others[: _MOST_NAMED - 1]]
    if len(errors) > _MOST_NAMED:
        more.append(f"{place}: and {len(errors) - _MOST_NAMED} more faults of such kinds")
    return RosterError(first.place, first.found, first.expected, "\n".join([first.remedy, *more]))


def _text(cell: str) -> str:
    as_text = _AS_TEXT.fullmatch(cell.strip())
    return as_text[1] if as_text else cell


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
