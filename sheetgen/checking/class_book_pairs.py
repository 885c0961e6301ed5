"""The pairs of the class book: those typed, and those made for whoever is left."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.checking.class_book_cells import Line, id_key, problem, text_of, word_of
from sheetgen.layout.class_book_words import LEFT, LONGEST, TAKES_PART
from sheetgen.layout.pairing import Pairs, kept_apart, pairs_for_the_rest
from sheetgen.model.finding import Finding, Values, listed, quoted
from sheetgen.model.settings import Caliper, Pairing, Person

__all__ = ["pairings_from"]

_LONGEST = {"measurer": "student_id", "participant": "student_id", "caliper": "identifier"}
_COPY_CODE = re.compile("[0-9A-Z]{8}")


@dataclass(frozen=True, slots=True)
class _Class:
    """What a line of the tab Pairs may name."""

    people: dict[str, Person]
    calipers: Sequence[Caliper]
    protocol_ids: Sequence[str]


def pairings_from(
    lines: Sequence[Line],
    people: Sequence[tuple[Person, Line]],
    calipers: Sequence[Caliper],
    protocol_ids: Sequence[str],
    group_size: int = 2,
    demonstration: str = "",
) -> tuple[tuple[Pairing, ...], list[Finding]]:
    """Return the pairings typed, then those made for students who measure nobody yet.

    A line without a caliper gets the next one in service, in turn by line. A line that names someone who left
    is left out and said so. A student for whom no partner is left, and a wish that could not be met, is named
    by a warning.

    Parameters
    ----------
    lines : of the tab Pairs. people : with their lines of the tab Roster.
    protocol_ids : what the column protocol may hold; empty there, the protocol of the class holds.
    group_size : how many go round where pairs are made. demonstration : whom everybody measures instead.
    """
    of_class = _Class({id_key(person.student_id): person for person, _ in people}, calipers, protocol_ids)
    issued = [caliper.identifier for caliper in calipers if caliper.in_service]
    apart = kept_apart([person for person, _ in people])
    pairings: list[Pairing] = []
    problems: list[Finding] = []
    places: dict[tuple[str, str], int] = {}
    spares: dict[str, int] = {}
    for number, line in enumerate(lines):
        next_caliper = issued[number % len(issued)] if issued else ""
        pairing, faults = _pairing(line, of_class, next_caliper)
        problems += faults
        if pairing is None:
            continue
        pairings.append(pairing)
        both: Values = {"measurer": pairing.measurer, "participant": pairing.participant}
        above = places.setdefault((pairing.measurer, pairing.participant), line.row + 1)
        if above != line.row + 1:
            problems.append(problem("class-book-pair-twice", line, "measurer", {**both, "line": str(above)}))
        above = spares.setdefault(pairing.spare, line.row + 1) if pairing.spare else line.row + 1
        if above != line.row + 1:
            twice: Values = {"code": pairing.spare, "line": str(above)}
            problems.append(problem("class-book-spare", line, "spare", twice, "twice"))
        if pairing.participant in apart.get(pairing.measurer, ()):
            apart_problem = problem("class-book-pair-apart", line, "participant", both, severity="warning")
            problems.append(apart_problem)
    if any(each.severity == "error" for each in problems):
        return tuple(pairings), problems
    made = pairs_for_the_rest([person for person, _ in people], pairings, calipers, group_size, demonstration)
    problems += _unmet(made, pairings, people, bool(issued))
    return (*pairings, *made.pairings), problems


def _pairing(line: Line, of_class: _Class, next_caliper: str) -> tuple[Pairing | None, list[Finding]]:
    cells: dict[str, str] = {}
    problems: list[Finding] = []
    for word, longest in _LONGEST.items():
        cells[word], faults = text_of(line, word, LONGEST[longest])
        problems += faults
    if problems:
        return None, problems
    named: dict[str, Person] = {}
    for word in ("measurer", "participant"):
        person = of_class.people.get(id_key(cells[word]))
        if person is not None:
            named[word] = person
        elif not cells[word]:
            problems.append(problem("class-book-pair-incomplete", line, word, case=word))
        else:
            problems.append(problem("class-book-pair-unknown", line, word, {"id": quoted(cells[word])}))
    if cells["measurer"] and id_key(cells["measurer"]) == id_key(cells["participant"]):
        problems.append(problem("class-book-pair-self", line, "participant"))
    left = [word for word, person in named.items() if person.status == LEFT]
    if left and not problems:
        people = listed(tuple(named[word].student_id for word in left), "and")
        values: Values = {"line": line.row + 1, "people": people}
        return None, [problem("class-book-pair-left", line, left[0], values, severity="warning")]
    participant = named.get("participant")
    if participant is not None and participant.takes_part == TAKES_PART[1]:
        who = {"id": quoted(participant.student_id)}
        problems.append(problem("class-book-pair-measures-only", line, "participant", who))
    caliper, faults = _caliper(line, cells["caliper"], of_class.calipers, next_caliper)
    protocol_id, protocol_faults = word_of(line, "protocol", of_class.protocol_ids, "")
    spare, spare_faults = _spare(line)
    problems += [*faults, *protocol_faults, *spare_faults]
    if problems:
        return None, problems
    return Pairing(
        named["measurer"].student_id, named["participant"].student_id, caliper, protocol_id, spare
    ), []


def _caliper(
    line: Line, text: str, calipers: Sequence[Caliper], next_caliper: str
) -> tuple[str, list[Finding]]:
    if not text:
        if not next_caliper:
            return "", [problem("class-book-no-caliper", line, "caliper")]
        return next_caliper, []
    known = {id_key(caliper.identifier): caliper for caliper in calipers}
    caliper = known.get(id_key(text))
    if caliper is None or not caliper.in_service:
        case = "unknown" if caliper is None else ""
        return "", [problem("class-book-pair-caliper", line, "caliper", {"id": quoted(text)}, case)]
    return caliper.identifier, []


def _spare(line: Line) -> tuple[str, list[Finding]]:
    """A copy code as it is printed, however the blanks, hyphens and capitals were typed."""
    text, problems = text_of(line, "spare", LONGEST["spare"])
    if problems or not text:
        return "", problems
    signs = re.sub(r"[\s\-\u2010-\u2015]", "", text).upper()
    if not _COPY_CODE.fullmatch(signs):
        return "", [problem("class-book-spare", line, "spare", {"typed": quoted(text)})]
    return f"{signs[:4]}-{signs[4:]}", []


def _unmet(
    made: Pairs, pairings: Sequence[Pairing], people: Sequence[tuple[Person, Line]], any_caliper: bool
) -> list[Finding]:
    """Warnings on the lines of the tab Roster; without any caliper one error instead."""
    lines = {person.student_id: line for person, line in people}
    measurers = {pairing.measurer for pairing in pairings}
    left = [
        person
        for person, _ in people
        if person.role != "teacher" and person.status != LEFT and person.student_id not in measurers
    ]
    if left and not any_caliper:
        line = lines[left[0].student_id]
        return [problem("class-book-no-caliper", line, "student_id", {"count": len(left)}, "waiting")]
    problems: list[Finding] = []
    for each in made.unmet:
        line = lines[each.student_id]
        if each.reason == "partner":
            values = {"person": each.student_id, "other": each.other}
            problems.append(problem("class-book-wish-unmet", line, "partner", values, severity="warning"))
            continue
        who = {"person": each.student_id}
        problems.append(problem("class-book-unpaired", line, "student_id", who, each.reason, "warning"))
    return problems
