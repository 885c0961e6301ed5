"""Who measures whom where nobody has said so."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.layout.class_book_words import LEFT
from sheetgen.layout.pairing_groups import circle, groups_of
from sheetgen.model.settings import Caliper, Pairing, Person

__all__ = ["Pairs", "Unmet", "kept_apart", "make_pairs", "pairs_for_the_rest"]


@dataclass(frozen=True, slots=True)
class Unmet:
    """A wish that could not be met, or someone who measures nobody.

    reason : `partner`: is not paired with `other`, whom they wished for. `apart`: measures nobody, since
        everybody left is to be kept apart from them. `alone`: measures nobody, since nobody is left.
    """

    student_id: str
    reason: str
    other: str = ""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairings, and what could not be met. Nobody is paired with someone they are to be kept apart from."""

    pairings: tuple[Pairing, ...]
    unmet: tuple[Unmet, ...] = ()


def make_pairs(
    people: Sequence[Person],
    calipers: Sequence[Caliper],
    group_size: int = 2,
    demonstration: str = "",
    others: Sequence[Person] = (),
) -> Pairs:
    """Return pairings in which every student measures once, in their order.

    Groups of `group_size` go round, each measuring the next, the last the first: with 2, two and two measure
    each other, and of an odd number three go round. Wishes for a partner are kept where they fit; keeping
    apart always is. Whoever only measures is measured by nobody and measures someone who takes part, at
    their caliper. Left out: teachers, those who left, one student alone. The calipers in service go round by
    group, so that who measure each other share one; without any, no pairings. The same people give the same.

    Parameters
    ----------
    group_size : 2 to 6. demonstration : student_id of the one participant whom everybody measures instead.
    others : who may also be measured by someone who only measures, but measure nobody here.

    Raises
    ------
    ValueError : the group size is out of range, or the demonstration participant cannot be measured.

    Examples
    --------
    >>> two = (Person("s1", "Ada", "Example"), Person("s2", "Ben", "Example"))
    >>> pairs = make_pairs(two, [Caliper("C1", "spring", 0.5, 60.0, 0.0)])
    >>> [pairing.participant for pairing in pairs.pairings]
    ['s2', 's1']
    """
    if not 2 <= group_size <= 6:
        raise ValueError(f"a group has 2 to 6 people, not {group_size}")
    students = [person for person in people if person.role != "teacher" and person.status != LEFT]
    issued = [caliper.identifier for caliper in calipers if caliper.in_service]
    if not issued:
        return Pairs(())
    apart = kept_apart([*people, *others])
    if demonstration:
        measured = [each for each in (*people, *others) if _measured(each)]
        if demonstration not in {each.student_id for each in measured}:
            raise ValueError(f"{demonstration!r} is nobody who can be measured by everybody")
        return _round_one(students, issued, demonstration, apart)
    partner = {person.student_id: person.partner for person in students if person.partner}
    both = [person.student_id for person in students if _measured(person)]
    groups, alone = groups_of(both, group_size, _wishes(both, partner), apart)
    pairings: list[Pairing] = []
    for number, group in enumerate(groups):
        order = circle(group, partner)
        pairings += [
            Pairing(measurer, participant, issued[number % len(issued)])
            for measurer, participant in zip(order, (*order[1:], order[0]), strict=True)
        ]
    unmet = [Unmet(one, "apart" if len(both) > 1 else "alone") for one in alone]
    taking = [*both, *(each.student_id for each in others if _measured(each) and each.role != "teacher")]
    only = [person for person in students if not _measured(person)]
    more, left = _only_measuring(only, taking, pairings, issued, len(groups), apart)
    unmet += left
    made = (*pairings, *more)
    met = {(each.measurer, each.participant) for each in made}
    without = {each.student_id for each in unmet}
    unmet += [
        Unmet(one, "partner", other)
        for one, other in partner.items()
        if one not in without and not met & {(one, other), (other, one)}
    ]
    return Pairs(made, tuple(unmet))


def pairs_for_the_rest(
    people: Sequence[Person],
    pairings: Sequence[Pairing],
    calipers: Sequence[Caliper],
    group_size: int = 2,
    demonstration: str = "",
) -> Pairs:
    """Return pairs for those of the class who measure nobody yet; the pairings there are stay as they are.

    What a pairing that is there meets already counts as met.
    """
    measurers = {pairing.measurer for pairing in pairings}
    there = {(pairing.measurer, pairing.participant) for pairing in pairings}
    rest = [person for person in people if person.student_id not in measurers]
    others = [person for person in people if person.student_id in measurers]
    made = make_pairs(rest, calipers, group_size, demonstration, others)
    unmet = [
        each
        for each in made.unmet
        if not there & {(each.student_id, each.other), (each.other, each.student_id)}
    ]
    return Pairs(made.pairings, tuple(unmet))


def kept_apart(people: Sequence[Person]) -> dict[str, set[str]]:
    """Return who is to be kept apart from whom, both ways, whichever of the two said so."""
    apart: dict[str, set[str]] = {}
    for person in people:
        for other in person.apart:
            if other != person.student_id:
                apart.setdefault(person.student_id, set()).add(other)
                apart.setdefault(other, set()).add(person.student_id)
    return apart


def _measured(person: Person) -> bool:
    return person.takes_part != "measures-only" and person.status != LEFT


def _wishes(both: Sequence[str], partner: Mapping[str, str]) -> list[tuple[str, str]]:
    """Those that two have for each other first."""
    wishes = [(one, partner[one]) for one in both if one in partner and partner[one] != one]
    return sorted(wishes, key=lambda wish: partner.get(wish[1]) != wish[0])


def _round_one(
    students: Sequence[Person], issued: Sequence[str], demonstration: str, apart: Mapping[str, set[str]]
) -> Pairs:
    """Everybody measures one participant, who measures nobody."""
    measuring = [each.student_id for each in students if each.student_id != demonstration]
    kept = [one for one in measuring if demonstration not in apart.get(one, ())]
    pairings = [Pairing(one, demonstration, issued[number % len(issued)]) for number, one in enumerate(kept)]
    unmet = [Unmet(one, "apart", demonstration) for one in measuring if one not in kept]
    return Pairs(tuple(pairings), tuple(unmet))


def _only_measuring(
    only: Sequence[Person],
    taking: Sequence[str],
    pairings: Sequence[Pairing],
    issued: Sequence[str],
    groups: int,
    apart: Mapping[str, set[str]],
) -> tuple[list[Pairing], list[Unmet]]:
    """Each measures whom they wished for, else who is measured least often so far, in their order."""
    caliper_of = {pairing.participant: pairing.caliper_id for pairing in pairings}
    times = Counter(pairing.participant for pairing in pairings)
    made: list[Pairing] = []
    unmet: list[Unmet] = []
    for person in only:
        free = [one for one in taking if one not in apart.get(person.student_id, ())]
        if not free:
            unmet.append(Unmet(person.student_id, "apart" if taking else "alone"))
            continue
        one = person.partner if person.partner in free else min(free, key=times.__getitem__)
        if one not in caliper_of:
            caliper_of[one] = issued[groups % len(issued)]
            groups += 1
        made.append(Pairing(person.student_id, one, caliper_of[one]))
        times[one] += 1
    return made, unmet
