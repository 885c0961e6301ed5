"""The pairs of the class book: those typed, and those made for whoever is left."""

from collections.abc import Sequence

from sheetgen.checking.class_book_cells import Line, id_key, problem, text_of, word_of
from sheetgen.layout.class_book_words import LONGEST
from sheetgen.layout.pairing import make_pairs
from sheetgen.model.finding import Finding
from sheetgen.model.settings import Caliper, Pairing, Person

__all__ = ["pairings_from"]

_LONGEST = {"measurer": "student_id", "participant": "student_id", "caliper": "identifier"}


def pairings_from(
    lines: Sequence[Line],
    people: Sequence[tuple[Person, Line]],
    calipers: Sequence[Caliper],
    protocol_ids: Sequence[str],
) -> tuple[tuple[Pairing, ...], list[Finding]]:
    """Return the pairings typed, then those made for students who measure nobody yet.

    A line without a caliper gets the next one in service, in turn by line. A student for whom no partner is
    left is named by a warning.

    Parameters
    ----------
    lines : of the tab Pairs. people : with their lines of the tab Roster.
    protocol_ids : what the column protocol may hold; empty there, the protocol of the class holds.
    """
    ids = {id_key(person.student_id): person.student_id for person, _ in people}
    issued = [caliper.identifier for caliper in calipers if caliper.in_service]
    pairings: list[Pairing] = []
    problems: list[Finding] = []
    places: dict[tuple[str, str], int] = {}
    for number, line in enumerate(lines):
        next_caliper = issued[number % len(issued)] if issued else ""
        pairing, faults = _pairing(line, ids, calipers, next_caliper, protocol_ids)
        if pairing is not None and not faults:
            above = places.setdefault((pairing.measurer, pairing.participant), line.row + 1)
            if above != line.row + 1:
                found = f"{pairing.measurer} measures {pairing.participant}, as in line {above}"
                faults = [problem("class-book-pair-twice", line, "measurer", found, "each pair once")]
            pairings.append(pairing)
        problems += faults
    if problems:
        return tuple(pairings), problems
    measurers = {pairing.measurer for pairing in pairings}
    left = [
        (person, line)
        for person, line in people
        if person.role != "teacher" and person.student_id not in measurers
    ]
    made = make_pairs([person for person, _ in left], calipers)
    if left and not made:
        problems += _unpaired(left, bool(issued))
    return (*pairings, *made), problems


def _pairing(
    line: Line,
    ids: dict[str, str],
    calipers: Sequence[Caliper],
    next_caliper: str,
    protocol_ids: Sequence[str],
) -> tuple[Pairing | None, list[Finding]]:
    cells: dict[str, str] = {}
    problems: list[Finding] = []
    for word, longest in _LONGEST.items():
        cells[word], faults = text_of(line, word, LONGEST[longest])
        problems += faults
    if problems:
        return None, problems
    for word in ("measurer", "participant"):
        if not cells[word]:
            found, expected = "nothing", f"the id of the {word}"
            problems.append(problem("class-book-pair-incomplete", line, word, found, expected))
        elif id_key(cells[word]) not in ids:
            found, expected = repr(cells[word]), "an id of the tab Roster"
            problems.append(problem("class-book-pair-unknown", line, word, found, expected))
    if cells["measurer"] and id_key(cells["measurer"]) == id_key(cells["participant"]):
        found, expected = "the same person twice", "two people"
        problems.append(problem("class-book-pair-self", line, "participant", found, expected))
    caliper, faults = _caliper(line, cells["caliper"], calipers, next_caliper)
    protocol_id, protocol_faults = word_of(line, "protocol", protocol_ids, "")
    problems += [*faults, *protocol_faults]
    if problems:
        return None, problems
    measurer, participant = (ids[id_key(cells[word])] for word in ("measurer", "participant"))
    return Pairing(measurer, participant, caliper, protocol_id), []


def _caliper(
    line: Line, text: str, calipers: Sequence[Caliper], next_caliper: str
) -> tuple[str, list[Finding]]:
    if not text:
        if not next_caliper:
            expected = "a caliper in service"
            return "", [problem("class-book-no-caliper", line, "caliper", "none in service", expected)]
        return next_caliper, []
    known = {id_key(caliper.identifier): caliper for caliper in calipers}
    caliper = known.get(id_key(text))
    if caliper is None or not caliper.in_service:
        found = f"{text!r}, {'not on the tab Calipers' if caliper is None else 'out of service'}"
        return "", [problem("class-book-pair-caliper", line, "caliper", found, "a caliper in service")]
    return caliper.identifier, []


def _unpaired(left: Sequence[tuple[Person, Line]], any_caliper: bool) -> list[Finding]:
    if len(left) == 1:
        person, line = left[0]
        found = f"{person.student_id} measures nobody, and nobody is left to pair with"
        expected = "a line on the tab Pairs"
        return [problem("class-book-unpaired", line, "student_id", found, expected, "warning")]
    if any_caliper:
        return []
    _, line = left[0]
    found = f"{len(left)} people to pair, and no caliper in service"
    return [problem("class-book-no-caliper", line, "student_id", found, "a caliper in service")]
