"""The people of a roster, checked one by one: whom the class takes, and what was left out or mended."""

import difflib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.class_folder.records import LONGEST_OF_PERSON, ROLES, Person
from sheetgen.roster.headings import LEFT_OUT, MENDED, RosterTrouble, RosterWording, Wording, shown
from sheetgen.texts.languages import folded, plain_word

_NAMES = ("student_id", "given_name", "family_name")
_LONGEST_OTHER = 200
_NOT_SHOWN = re.compile(r"[\x00-\x08\x0e-\x1b\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
_NO_PART = "left_out"
_ANSWERS = {
    "role": f"{' or '.join(ROLES)}, or nothing",
    "under_18": "yes or no, or nothing",
    "takes_part": "both or measures-only, or nothing",
}
_LIKE_A_DATE = re.compile(r"\d(\D*\d){2}")


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person's cells by the names of Person's fields, and the line they begin on."""

    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class CheckedPeople:
    """faults : nobody can tell who is who. troubles : rows left out or mended."""

    people: tuple[Person, ...]
    troubles: tuple[RosterTrouble, ...]
    faults: tuple[RosterTrouble, ...]


def checked_people(rows: Sequence[PersonRow], wording: RosterWording) -> CheckedPeople:
    """Return the people of some rows, in their order.

    Ids are text; two that differ in upper and lower case only are the same. Such a row again with the same
    content is left out; with another content it is a fault.
    """
    people: list[Person] = []
    lines: list[int] = []
    troubles: list[RosterTrouble] = []
    faults: list[RosterTrouble] = []
    earlier: dict[str, PersonRow] = {}
    for raw in rows:
        row = PersonRow(raw.line, {name: _plain(cell) for name, cell in raw.cells.items()})
        person, found = _person(row, wording)
        identifier = row.cells.get("student_id", "")
        same = earlier.setdefault(folded(identifier), row) if identifier else row
        if same is not row and same.cells == row.cells:
            text = f"the same person as in line {same.line}, {shown(identifier)}"
            troubles.append(RosterTrouble(row.line, text, "each id once", "Take one of the two lines out."))
            continue
        troubles += found
        if same is not row:
            text = f"student_id {shown(identifier)}, which line {same.line} has too"
            faults.append(RosterTrouble(row.line, text, "each id once", "Correct one of the two."))
        elif person is not None:
            people.append(person)
            lines.append(row.line)
    wishes, found = _checked_wishes(people, lines)
    return CheckedPeople(wishes, (*troubles, *found), tuple(faults))


def _plain(cell: str) -> str:
    return unicodedata.normalize("NFC", cell.strip().removeprefix("\ufeff"))


def _person(row: PersonRow, wording: RosterWording) -> tuple[Person | None, list[RosterTrouble]]:
    """The person, None where the row is left out; an answer not understood counts as the careful one."""
    identifier = row.cells.get("student_id", "")
    if not identifier:
        return None, [RosterTrouble(row.line, "no student_id", "one in every line", "Type the person's id.")]
    texts, troubles = _texts(row)

    def answer(name: str, words: Mapping[str, Wording], empty: str, careful: str) -> str:
        text = texts.get(name, "")
        known = words.get(plain_word(text))
        if known is not None and known.stands_for != _NO_PART:
            return known.stands_for.replace("_", "-")
        if text:
            troubles.append(_not_understood(row.line, name, text, known is not None))
        return careful if text else empty

    role = answer("role", wording.role, "student", "student")
    under_18 = answer("under_18", wording.under_18, "", "yes")
    takes_part = answer("takes_part", wording.takes_part, "both", "measures-only")
    if any(trouble.outcome == LEFT_OUT for trouble in troubles):
        return None, troubles
    return Person(
        identifier,
        texts.get("given_name", ""),
        texts.get("family_name", ""),
        texts.get("email", ""),
        texts.get("group", ""),
        role,
        under_18=under_18,
        takes_part=takes_part,
        partner=texts.get("partner", ""),
        apart=tuple(filter(None, re.split(r"[\s,;|]+", texts.get("apart", "")))),
    ), troubles


def _not_understood(line: int, name: str, text: str, no_part: bool) -> RosterTrouble:
    """no_part : the word is known, of somebody who has no part in a class."""
    found, expected = f"{name} {shown(text)}", _ANSWERS[name]
    if name == "role":
        near = [] if no_part else difflib.get_close_matches(text.casefold(), ROLES, 1)
        found = f"the role {shown(text)}"
        expected += f" (did you mean {near[0]}?)" if near else ""
    # A date of birth is nobody's business, not even in a message.
    elif name == "under_18" and _LIKE_A_DATE.search(text):
        found = "under_18 that looks like a date"
    remedy = "Correct it, or leave it empty."
    return RosterTrouble(line, found, expected, remedy, LEFT_OUT if no_part else MENDED)


def _texts(row: PersonRow) -> tuple[dict[str, str], list[RosterTrouble]]:
    """The cells as plain texts that the class book takes; an id or name that is too long is not shortened."""
    texts, troubles = {}, []
    for name, cell in row.cells.items():
        text = cell
        if any(map(_is_control, cell)):
            found = f"a control character in {name} {shown(cell)}"
            outcome = LEFT_OUT if name == "student_id" else MENDED
            expected = "plain text on one line"
            troubles.append(RosterTrouble(row.line, found, expected, "Type the cell anew.", outcome))
            text = " ".join(_NOT_SHOWN.sub("", cell).split())
        longest = int(LONGEST_OF_PERSON.get(name, _LONGEST_OTHER))
        if len(text) > longest:
            outcome = LEFT_OUT if name in _NAMES else MENDED
            found = f"{name} of {len(text)} characters"
            expected = f"at most {longest}"
            troubles.append(RosterTrouble(row.line, found, expected, "Shorten it.", outcome))
            text = ""
        texts[name] = text
    return texts, troubles


def _is_control(sign: str) -> bool:
    """Whether a sign is none that a cell can hold: line ends, control signs, what XML has no place for."""
    return unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") or sign in "\ufffe\uffff"


def _checked_wishes(
    people: Sequence[Person], lines: Sequence[int]
) -> tuple[tuple[Person, ...], list[RosterTrouble]]:
    """Partners and people to keep apart, by their ids as the roster has them; unknown ones are dropped."""
    ids = {folded(person.student_id): person.student_id for person in people}
    checked, troubles = [], []
    for line, person in zip(lines, people, strict=True):
        partner, found = _known_id(person, "partner", line, person.partner, ids)
        troubles += found
        apart: dict[str, None] = {}
        for wished in person.apart:
            other, found = _known_id(person, "apart", line, wished, ids)
            troubles += found
            apart |= {other: None} if other else {}
        checked.append(replace(person, partner=partner, apart=tuple(apart)))
    return tuple(checked), troubles


def _known_id(
    person: Person, name: str, line: int, wished: str, ids: Mapping[str, str]
) -> tuple[str, list[RosterTrouble]]:
    other = ids.get(folded(wished), "")
    if not wished or other not in ("", person.student_id):
        return other, []
    expected = "the student_id of somebody else in this roster"
    remedy = "Correct it in the class book."
    return "", [RosterTrouble(line, f"{name} {shown(wished)}", expected, remedy, MENDED)]
