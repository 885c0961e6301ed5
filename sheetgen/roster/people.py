"""The people of a roster, out of rows of text: whom the class takes, and what was left out or mended."""

import difflib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.records import LONGEST_OF_PERSON, MOST_PEOPLE, ROLES, Person
from sheetgen.errors import RosterError
from sheetgen.roster.headings import (
    BOTH_NAMES,
    COLUMNS,
    LEFT_OUT,
    MENDED,
    Headings,
    RosterTrouble,
    RosterWording,
    Row,
    find_headings,
    shown,
)
from sheetgen.texts.csv_cells import unwrapped
from sheetgen.texts.languages import folded, plain_word

_MOST_NAMED = 30
_NAMES = ("student_id", *BOTH_NAMES)
_AS_THEY_STAND = tuple(column for column in COLUMNS if not column.endswith("name"))
_LONGEST_OTHER = 200
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")
"""Signs that no cell can hold: line ends, control signs, what XML has no place for."""
_NO_PART = "left_out"
_NO_LOSS = "Nothing: nobody is lost by it."
_WHO = "Ask who that is, and type the name on the tab Roster; until then nobody is paired with them."
_ANSWERS = {
    "role": (f"{' or '.join(ROLES)}, or nothing", "student", "student"),
    "under_18": ("yes or no, or nothing", "", "yes"),
    "over_18": ("yes or no, or nothing", "", "no"),
    "takes_part": ("both or measures-only, or nothing", "both", "measures-only"),
}
"""What is expected, what an empty cell stands for, and the careful answer: for one that is not understood."""
_UNDER_18_BY_OVER_18 = {"": "", "yes": "no", "no": "yes"}
_LIKE_A_DATE = re.compile(r"\d(\D*\d){2}")


class Roster(Struct, frozen=True):
    """The people of a class as a list from elsewhere has them, in its order. troubles : rows and columns left
    out, cells mended; by line. headings : of a list; None of an export whose form is fixed."""

    people: tuple[Person, ...]
    troubles: tuple[RosterTrouble, ...] = ()
    headings: Headings | None = None


class PersonRow(Struct, frozen=True):
    """One person's cells by the names of Person's fields, and the line they begin on."""

    line: int
    cells: Mapping[str, str]


def roster_error(place: object, faults: Sequence[RosterTrouble]) -> RosterError:
    """Return one error that names every fault, at least one; its sentence is one line a fault."""
    first, *others = (
        RosterError(f"{place}:{fault.line}", fault.found, fault.expected, fault.remedy) for fault in faults
    )
    more = [str(error) for error in others[: _MOST_NAMED - 1]]
    if len(faults) > _MOST_NAMED:
        more.append(f"{place}: and {len(faults) - _MOST_NAMED} more faults of such kinds")
    return RosterError(first.place, first.found, first.expected, "\n".join([first.remedy, *more]))


def roster_from_rows(place: object, rows: Sequence[Row], wording: RosterWording) -> Roster:
    """Return the people of a table with a row of headings among its first rows; RosterError where there are
    no headings, no people, or two people with one id; one line a fault. place : for messages."""
    filled = [(line, [unwrapped(one) for one in cells]) for line, cells in rows if any(map(str.strip, cells))]
    if not filled:
        empty = RosterTrouble(1, "an empty file", "a line of headings", "Export the roster again.")
        raise roster_error(place, [empty])
    headings = find_headings(filled, wording)
    if headings.faults:
        raise roster_error(place, headings.faults)
    below = filled[headings.row + 1 :]
    if len(below) > MOST_PEOPLE:
        found, expected = f"{len(below):,} people", f"at most {MOST_PEOPLE:,}"
        remedy = "Make a class folder for each section."
        raise roster_error(place, [RosterTrouble(below[MOST_PEOPLE][0], found, expected, remedy)])
    troubles = list(headings.troubles)
    again = _plain_words(filled[headings.row][1])
    people = []
    for line, cells in below:
        if _plain_words(cells) == again:
            # Lists that were put together, or a page of each.
            troubles.append(RosterTrouble(line, "the headings again", "one person in each line", _NO_LOSS))
        elif row := _person_row(line, cells, headings, wording, troubles):
            people.append(row)
    roster = checked_people(place, people, wording, troubles)
    if not roster.people:
        line = filled[headings.row][0]
        none = RosterTrouble(line, "no people below the headings", "a line for each", "Export it again.")
        raise roster_error(place, roster.troubles or [none])
    return replace(roster, headings=headings)


def _plain_words(cells: Sequence[str]) -> list[str]:
    return [plain_word(cell) for cell in cells]


def _person_row(
    line: int, cells: Sequence[str], headings: Headings, wording: RosterWording, troubles: list[RosterTrouble]
) -> PersonRow | None:
    """The cells of one person, None where the row is left out; what is to be said goes to the troubles."""
    filled = [cell for cell in cells if cell.strip()]
    # A word for a sum, and besides it nothing but numbers.
    if re.sub(r"\d+", "", plain_word(filled[0])) in wording.totals and all(
        re.fullmatch(r"[\d\s.,]+", cell) for cell in filled[1:]
    ):
        found, expected = f"a row that counts the others, {shown(filled[0])}", "one person in each line"
        troubles.append(RosterTrouble(line, found, expected, _NO_LOSS))
        return None
    last_needed = max(place for name, place in headings.places.items() if name in ("name", *_NAMES))
    if len(cells) <= last_needed or any(map(str.strip, cells[len(headings.cells) :])):
        expected = f"{len(headings.cells)}, as many as there are headings"
        remedy = "Put a cell that holds the separating mark in quotes; leave none out."
        troubles.append(RosterTrouble(line, f"{len(cells)} cells", expected, remedy))
        return None
    known = {name: "".join(cells[place : place + 1]).strip() for name, place in headings.places.items()}
    names = _names(line, known, troubles)
    return PersonRow(line, {**{name: known[name] for name in _AS_THEY_STAND if name in known}, **names})


def _names(line: int, known: Mapping[str, str], troubles: list[RosterTrouble]) -> dict[str, str]:
    """The given and the family name: preferred ones where there are any, one column of both cut in two."""
    given, family = (known.get(name, known.get("name", "")) for name in BOTH_NAMES)
    if not set(BOTH_NAMES) & set(known):
        given, family = _cut_name(line, known["name"], troubles)
    family = " ".join(filter(None, (family, known.get("second_family_name", ""))))
    return {
        "given_name": known.get("preferred_given_name") or given,
        "family_name": known.get("preferred_family_name") or family,
    }


def _cut_name(line: int, whole: str, troubles: list[RosterTrouble]) -> tuple[str, str]:
    """Cut at the comma (`Family, Given`), else at the last blank (`Given Family`), which may be wrong."""
    family, comma, given = whole.partition(",")
    if comma:
        return given.strip(), family.strip()
    *first, last = whole.split() or [""]
    if not first:
        return whole, ""
    given = " ".join(first)
    if len(first) > 1:
        found = f"the name {shown(whole)}, cut into given {shown(given)} and family {shown(last)}"
        remedy = "Correct it in the class book where it is wrong."
        troubles.append(RosterTrouble(line, found, "'Family, Given', or two columns", remedy, MENDED))
    return given, last


def checked_people(
    place: object, rows: Sequence[PersonRow], wording: RosterWording, earlier: Sequence[RosterTrouble] = ()
) -> Roster:
    """Return the people of some rows, in their order. Ids are text; two that differ in upper and lower case
    only are the same. Such a row again with the same content is left out; RosterError for another content:
    nobody can tell who is who. place : for messages. earlier : troubles of the same list known already."""
    people: list[tuple[int, Person]] = []
    troubles = list(earlier)
    faults: list[RosterTrouble] = []
    first: dict[str, PersonRow] = {}
    for raw in rows:
        plain = {name: cell.strip().removeprefix("\ufeff") for name, cell in raw.cells.items()}
        row = PersonRow(raw.line, {name: unicodedata.normalize("NFC", cell) for name, cell in plain.items()})
        identifier = row.cells["student_id"]
        same = first.setdefault(folded(identifier), row) if identifier else row
        if same is not row and same.cells == row.cells:
            found = f"the same person as in line {same.line}, {shown(identifier)}"
            troubles.append(RosterTrouble(row.line, found, "each id once", "Take one of the two lines out."))
            continue
        person = _person(row, wording, troubles)
        if same is not row:
            found = f"student_id {shown(identifier)}, which line {same.line} has too"
            faults.append(RosterTrouble(row.line, found, "each id once", "Correct one of the two."))
        elif person is not None:
            people.append((row.line, person))
    nameless = [line for line, person in people if not (person.given_name or person.family_name)]
    for line in nameless if len(nameless) < len(people) else ():
        troubles.append(RosterTrouble(line, "no name", "a given or a family name", _WHO, MENDED))
    ids = {folded(person.student_id): person.student_id for _, person in people}
    wished = tuple(_with_known_wishes(line, person, ids, troubles) for line, person in people)
    told = tuple(sorted((*faults, *troubles), key=lambda trouble: trouble.line))
    if faults:
        raise roster_error(place, told)
    return Roster(wished, told)


def _person(row: PersonRow, wording: RosterWording, troubles: list[RosterTrouble]) -> Person | None:
    """The person, None where the row is left out; an answer not understood counts as the careful one."""
    if not row.cells["student_id"]:
        remedy = "Type the person's id."
        troubles.append(RosterTrouble(row.line, "no student_id", "one in every line", remedy))
        return None
    found: list[RosterTrouble] = []
    texts: dict[str, Any] = {name: _text(row.line, name, cell, found) for name, cell in row.cells.items()}
    for name, (_, empty, careful) in _ANSWERS.items():
        text = texts.get(name, "")
        known = getattr(wording, name.replace("over_18", "under_18")).get(plain_word(text))
        texts[name] = careful if text else empty
        if known is not None and known.stands_for != _NO_PART:
            texts[name] = known.stands_for.replace("_", "-")
        elif text:
            found.append(_not_understood(row.line, name, text, known is not None))
    troubles += found
    if any(trouble.outcome == LEFT_OUT for trouble in found):
        return None
    said = texts["under_18"], _UNDER_18_BY_OVER_18[texts.pop("over_18")]
    texts["under_18"] = "yes" if "yes" in said else max(said)
    texts["apart"] = tuple(filter(None, re.split(r"[\s,;|]+", texts.get("apart", ""))))
    return Person(**texts)


def _not_understood(line: int, name: str, text: str, no_part: bool) -> RosterTrouble:
    """no_part : the word is known, of somebody who has no part in a class."""
    found, expected = f"{name} {shown(text)}", _ANSWERS[name][0]
    if name == "role":
        near = [] if no_part else difflib.get_close_matches(text.casefold(), ROLES, 1)
        found = f"the role {shown(text)}"
        expected += f" (did you mean {near[0]}?)" if near else ""
    # A date of birth is nobody's business, not even in a message.
    elif name.endswith("_18") and _LIKE_A_DATE.search(text):
        found = f"{name} that looks like a date"
    remedy = "Correct it, or leave it empty."
    return RosterTrouble(line, found, expected, remedy, LEFT_OUT if no_part else MENDED)


def _text(line: int, name: str, cell: str, troubles: list[RosterTrouble]) -> str:
    """A cell as plain text that the class book takes; an id or name that is too long is not shortened."""
    text = cell
    if _CONTROL.search(cell):
        found = f"a control character in {name} {shown(cell)}"
        outcome = LEFT_OUT if name == "student_id" else MENDED
        troubles.append(RosterTrouble(line, found, "plain text on one line", "Type the cell anew.", outcome))
        text = " ".join(_CONTROL.sub(lambda sign: " " if sign[0].isspace() else "", cell).split())
    longest = LONGEST_OF_PERSON.get(name, _LONGEST_OTHER)
    if len(text) <= longest:
        return text
    outcome = LEFT_OUT if name in _NAMES else MENDED
    found = f"{name} of {len(text)} characters"
    troubles.append(RosterTrouble(line, found, f"at most {longest}", "Shorten it.", outcome))
    return ""


def _with_known_wishes(
    line: int, person: Person, ids: Mapping[str, str], troubles: list[RosterTrouble]
) -> Person:
    """Partner and people to keep apart, by their ids as the roster has them; unknown ones are dropped."""

    def known(name: str, wishes: Sequence[str]) -> tuple[str, ...]:
        others = [ids.get(folded(wished), person.student_id) for wished in wishes]
        for wished, other in zip(wishes, others, strict=True):
            if other == person.student_id:
                found, expected = f"{name} {shown(wished)}", "the student_id of somebody else in this roster"
                remedy = "Correct it in the class book."
                troubles.append(RosterTrouble(line, found, expected, remedy, MENDED))
        return tuple(dict.fromkeys(other for other in others if other != person.student_id))

    partner = known("partner", (person.partner,) if person.partner else ())
    return replace(person, partner="".join(partner), apart=known("apart", person.apart))
