"""A newer roster against the people of the class book: who joined, who left, what changed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sheetgen.checking.class_book_cells import id_key
from sheetgen.layout.class_book_settings import LEFT
from sheetgen.model.settings import ClassBook, Pairing, Person

__all__ = ["RosterChange", "updated_book", "without_leavers"]

_FROM_ROSTER = ("given_name", "family_name", "email", "group")


@dataclass(frozen=True, slots=True)
class RosterChange:
    """What a newer roster changes in a class book.

    joined, left, back : student_ids; back: who had left and is on the roster again.
    changed : (student_id, column, as it was, as it is now).
    only_here : students of the class book whom no roster ever named: typed by the teacher, they stay.
    absent : not on the roster, and not marked, since a line of the roster could not be used.
    unpaired : pairs taken out because one of the two has left.
    demonstration : who was measured by everybody and has left; nobody is, now.
    doubts : student_ids of whom the roster says that they are under 18, and the class book that they are not.
    paired : pairs made since for who had none.
    """

    book: ClassBook
    joined: tuple[str, ...]
    left: tuple[str, ...]
    back: tuple[str, ...]
    changed: tuple[tuple[str, str, str, str], ...]
    only_here: tuple[str, ...]
    absent: tuple[str, ...]
    unpaired: tuple[Pairing, ...]
    doubts: tuple[str, ...]
    demonstration: str = ""
    paired: tuple[Pairing, ...] = ()


def updated_book(
    book: ClassBook,
    roster: Sequence[Person],
    earlier: Sequence[Person] | None,
    complete: bool = True,
) -> RosterChange:
    """Return the class book brought up to date with a newer roster.

    Joiners stand at the end. Who is not on the roster any more is marked as having left, and no line is taken
    out. Names, email and group follow the roster where the roster itself changed; a correction of the
    teacher's stays while the roster repeats what it said. Every other column stays as typed; an empty
    under_18 is filled in. Pairs with a leaver are taken out, so that the partner can be paired anew.

    Parameters
    ----------
    earlier : the roster taken over last; None where that is not known: then the newer one holds.
    complete : every line of the newer roster could be used; else nobody is marked as having left, since the
        line left out may be theirs.
    """
    newer = {id_key(person.student_id): person for person in roster}
    before = None if earlier is None else {id_key(person.student_id): person for person in earlier}
    people: list[Person] = []
    left: list[str] = []
    absent: list[str] = []
    back: list[str] = []
    only_here: list[str] = []
    doubts: list[str] = []
    changed: list[tuple[str, str, str, str]] = []
    for person in book.people:
        key = id_key(person.student_id)
        if key in newer:
            now, changes = _updated(person, newer[key], None if before is None else before.get(key))
            changed += changes
            if person.status == LEFT:
                back.append(person.student_id)
            if newer[key].under_18 == "yes" and person.under_18 == "no":
                doubts.append(person.student_id)
            people.append(now)
        elif person.role != "student" or person.status == LEFT:
            people.append(person)
        elif before is not None and key not in before:
            only_here.append(person.student_id)
            people.append(person)
        elif not complete:
            absent.append(person.student_id)
            people.append(person)
        else:
            left.append(person.student_id)
            people.append(replace(person, status=LEFT))
    known = {id_key(person.student_id) for person in book.people}
    joiners = [person for person in roster if id_key(person.student_id) not in known]
    whole = without_leavers(replace(book, people=(*people, *joiners)))
    return RosterChange(
        book=whole,
        joined=tuple(person.student_id for person in joiners),
        left=tuple(left),
        back=tuple(back),
        changed=tuple(changed),
        only_here=tuple(only_here),
        absent=tuple(absent),
        unpaired=tuple(pairing for pairing in book.pairings if pairing not in whole.pairings),
        doubts=tuple(doubts),
        demonstration="" if whole.demonstration else book.demonstration,
    )


def without_leavers(book: ClassBook) -> ClassBook:
    """Return the book without pairs of which one has left, and without a demonstration by one who has."""
    gone = {person.student_id for person in book.people if person.status == LEFT}
    return replace(
        book,
        pairings=tuple(
            pairing for pairing in book.pairings if not {pairing.measurer, pairing.participant} & gone
        ),
        demonstration="" if book.demonstration in gone else book.demonstration,
    )


def _updated(
    person: Person, newer: Person, earlier: Person | None
) -> tuple[Person, list[tuple[str, str, str, str]]]:
    values: dict[str, str] = {}
    for column in _FROM_ROSTER:
        is_now, was = getattr(newer, column), getattr(person, column)
        # A roster without the column says nothing about it.
        if is_now and is_now != was and (earlier is None or is_now != getattr(earlier, column)):
            values[column] = is_now
    changes = [
        (person.student_id, column, getattr(person, column), value) for column, value in values.items()
    ]
    now = replace(
        person,
        given_name=values.get("given_name", person.given_name),
        family_name=values.get("family_name", person.family_name),
        email=values.get("email", person.email),
        group=values.get("group", person.group),
        under_18=person.under_18 or newer.under_18,
        status="",
    )
    return now, changes
