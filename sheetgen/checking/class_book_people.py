"""The tab Roster of the class book: who is in the class, and what they wished for."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.checking.class_book_cells import Line, faulty_id, id_key, problem, text_of, word_of
from sheetgen.layout.class_book_words import (
    LONGEST,
    ROLES,
    ROSTER_COLUMNS,
    STATUSES,
    TAKES_PART,
    WISH_COLUMNS,
    YES_NO,
)
from sheetgen.model.finding import Finding, quoted
from sheetgen.model.settings import Person

__all__ = ["PeopleWithLines", "people_from"]

PeopleWithLines = list[tuple[Person, Line]]

_WORDS = {
    "role": (ROLES, ROLES[0]), "under_18": (YES_NO, ""),
    "takes_part": (TAKES_PART, TAKES_PART[0]), "status": (STATUSES, ""),
}  # fmt: skip
"""Column to the words it takes, and what an empty cell stands for."""


def people_from(lines: Sequence[Line], codes: Mapping[str, str]) -> tuple[PeopleWithLines, list[Finding]]:
    """Return the people with their lines, and the faults.

    Parameters
    ----------
    lines : of the tab Roster. codes : participant codes given out, by the key of the id.
    """
    people: PeopleWithLines = []
    aparts: list[str] = []
    problems: list[Finding] = []
    seen: dict[str, str] = {}
    for line in lines:
        cells: dict[str, str] = {}
        for column in (*ROSTER_COLUMNS, *WISH_COLUMNS):
            if column in _WORDS:
                cells[column], faults = word_of(line, column, *_WORDS[column])
            else:
                cells[column], faults = text_of(line, column, LONGEST[column])
            problems += faults
        if faulty_id(line, "student_id", cells["student_id"], seen, problems):
            continue
        apart = cells.pop("apart")
        person = Person(
            student_id=cells["student_id"],
            given_name=cells["given_name"],
            family_name=cells["family_name"],
            email=cells["email"],
            group=cells["group"],
            role=cells["role"],
            participant_code=codes.get(id_key(cells["student_id"]), ""),
            under_18=cells["under_18"],
            takes_part=cells["takes_part"],
            partner=cells["partner"],
            status=cells["status"],
        )
        people.append((person, line))
        aparts.append(apart)
    ids = {id_key(person.student_id): person.student_id for person, _ in people}
    wishing: PeopleWithLines = []
    for (person, line), apart in zip(people, aparts, strict=True):
        partner, faults = _resolved(line, "partner", person, [person.partner] if person.partner else [], ids)
        others, apart_faults = _resolved(line, "apart", person, _split(apart, ids), ids)
        problems += [*faults, *apart_faults]
        wishing.append((replace(person, partner="".join(partner), apart=tuple(others)), line))
    return wishing, problems


def _split(text: str, ids: Mapping[str, str]) -> list[str]:
    """Ids with semicolons, commas or blanks between; an id that has a blank or comma in it is taken whole
    between semicolons."""
    found: list[str] = []
    for piece in (piece.strip() for piece in text.split(";")):
        if id_key(piece) in ids:
            found.append(piece)
        else:
            found += piece.replace(",", " ").split()
    return list(dict.fromkeys(found))


def _resolved(
    line: Line, word: str, person: Person, wished: Sequence[str], ids: Mapping[str, str]
) -> tuple[list[str], list[Finding]]:
    """Ids as the roster writes them; one that is on no line, or the person's own, is a fault."""
    known: list[str] = []
    problems: list[Finding] = []
    for one in wished:
        if id_key(one) in ids and id_key(one) != id_key(person.student_id):
            known.append(ids[id_key(one)])
        else:
            problems.append(problem("class-book-wish-unknown", line, word, {"id": quoted(one[:40])}))
    return known, problems
