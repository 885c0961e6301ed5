"""Who measures whom where nobody has said so: groups that go round, wishes kept where they fit, and no two
together who are to be kept apart."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from sheetgen.class_book.table import LEFT, MEASURES_ONLY
from sheetgen.class_folder.records import Pairing, Person
from sheetgen.protocols.settings import Caliper

_MOST_TRIALS = 20_000
"""Places tried before a search is given up; a class of 30 needs about 30."""

Apart = Mapping[str, Collection[str]]
"""Who to whom: both ways."""
Wishes = Sequence[tuple[str, str]]
"""Who wished for whom, the strongest wish first."""


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
        measured = [person for person in (*people, *others) if _measured(person)]
        if demonstration not in {person.student_id for person in measured}:
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
    unmet = [Unmet(person, "apart" if len(both) > 1 else "alone") for person in alone]
    taking = [
        *both,
        *(person.student_id for person in others if _measured(person) and person.role != "teacher"),
    ]
    only = [person for person in students if not _measured(person)]
    more, left = _only_measuring(only, taking, pairings, issued, len(groups), apart)
    unmet += left
    made = (*pairings, *more)
    met = {(pairing.measurer, pairing.participant) for pairing in made}
    without = {wish.student_id for wish in unmet}
    unmet += [
        Unmet(student, "partner", wished)
        for student, wished in partner.items()
        if student not in without and not met & {(student, wished), (wished, student)}
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
    return person.takes_part != MEASURES_ONLY and person.status != LEFT


def _wishes(both: Sequence[str], partner: Mapping[str, str]) -> list[tuple[str, str]]:
    """Those that two have for each other first."""
    wishes = [
        (student, partner[student]) for student in both if student in partner and partner[student] != student
    ]
    return sorted(wishes, key=lambda wish: partner.get(wish[1]) != wish[0])


def _round_one(
    students: Sequence[Person], issued: Sequence[str], demonstration: str, apart: Mapping[str, set[str]]
) -> Pairs:
    """Everybody measures one participant, who measures nobody."""
    measuring = [person.student_id for person in students if person.student_id != demonstration]
    kept = [student for student in measuring if demonstration not in apart.get(student, ())]
    pairings = [
        Pairing(student, demonstration, issued[number % len(issued)]) for number, student in enumerate(kept)
    ]
    unmet = [Unmet(student, "apart", demonstration) for student in measuring if student not in kept]
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
        free = [student for student in taking if student not in apart.get(person.student_id, ())]
        if not free:
            unmet.append(Unmet(person.student_id, "apart" if taking else "alone"))
            continue
        partner = person.partner if person.partner in free else min(free, key=times.__getitem__)
        if partner not in caliper_of:
            caliper_of[partner] = issued[groups % len(issued)]
            groups += 1
        made.append(Pairing(person.student_id, partner, caliper_of[partner]))
        times[partner] += 1
    return made, unmet


def group_sizes(count: int, size: int) -> tuple[int, ...]:
    """Return how many go into each group: all of `size`, or as near to it as goes, the larger ones last.

    Examples
    --------
    >>> group_sizes(7, 2), group_sizes(9, 4), group_sizes(7, 4), group_sizes(1, 2)
    ((2, 2, 3), (4, 5), (3, 4), ())
    """
    if count < 2:
        return ()
    groups, rest = divmod(count, size)
    if rest > groups:  # Adding the rest to these would make one of them larger by two or more.
        groups += 1
    small, larger = divmod(count, groups)
    return (small,) * (groups - larger) + (small + 1,) * larger


def groups_of(
    people: Sequence[str], size: int, wishes: Wishes, apart: Apart
) -> tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]:
    """Return the groups in the order of their first people, and those for whom there is no group.

    Keeping apart comes before wishes: where no groups can be found, whoever is to be kept apart from most is
    left out, then the next. The same people give the same groups.

    Parameters
    ----------
    people : in the order in which they go into groups where nobody wished for anything. size : at least 2.
    """
    order = {person: place for place, person in enumerate(people)}
    inside = list(people)
    alone: list[str] = []
    while True:
        sizes = group_sizes(len(inside), size)
        groups = _packed([(person,) for person in inside], sizes, apart)
        if groups is not None:
            break
        together = set(inside)
        worst = max(inside, key=lambda person: (len(together & set(apart.get(person, ()))), order[person]))
        inside.remove(worst)
        alone.append(worst)
    if not groups:
        return (), tuple(sorted([*inside, *alone], key=order.__getitem__))
    known = set(inside)
    open_wishes = [wish for wish in wishes if set(wish) <= known]
    if open_wishes:
        groups = _with_wishes(inside, sizes, open_wishes, apart, order) or groups
    inner = [tuple(sorted(group, key=order.__getitem__)) for group in groups]
    if len(alone) > 1:
        # Two who are to be kept apart from many may still go together.
        more, left = groups_of(sorted(alone, key=order.__getitem__), size, wishes, apart)
        inner, alone = [*inner, *more], list(left)
    inner.sort(key=lambda group: order[group[0]])
    return tuple(inner), tuple(sorted(alone, key=order.__getitem__))


def _with_wishes(
    people: Sequence[str], sizes: Sequence[int], wishes: Wishes, apart: Apart, order: Mapping[str, int]
) -> list[list[str]] | None:
    """All wishes at once where they fit; else halves of them: one that cannot be met costs no other."""
    kept: list[tuple[str, str]] = []
    best: list[list[str]] | None = None
    waiting = [list(wishes)]
    while waiting:
        more = waiting.pop()
        clusters = _clusters(people, [*kept, *more], max(sizes), apart, order)
        groups = _packed(clusters, sizes, apart)
        if groups is not None:
            kept, best = [*kept, *more], groups
        elif len(more) > 1:
            half = len(more) // 2
            waiting += [more[half:], more[:half]]
    return best


def _clusters(
    people: Sequence[str], wishes: Wishes, largest: int, apart: Apart, order: Mapping[str, int]
) -> list[tuple[str, ...]]:
    """People joined by wishes; a wish that would join too many, or two to be kept apart, joins nobody."""
    cluster_of = {person: [person] for person in people}
    for one, other in wishes:
        first, second = cluster_of[one], cluster_of[other]
        if first is second or len(first) + len(second) > largest or _clash(first, second, apart):
            continue
        joined = sorted([*first, *second], key=order.__getitem__)
        for person in joined:
            cluster_of[person] = joined
    return list(dict.fromkeys(tuple(cluster_of[person]) for person in people))


def _clash(first: Sequence[str], second: Collection[str], apart: Apart) -> bool:
    return any(other in apart[person] for person in first if person in apart for other in second)


def _packed(
    clusters: Sequence[tuple[str, ...]], sizes: Sequence[int], apart: Apart
) -> list[list[str]] | None:
    """Return one group of each size, every cluster whole in one of them; None where none was found.

    Single people whom nobody is to be kept apart from fit anywhere; the search is for the others.
    """
    hard = [cluster for cluster in clusters if len(cluster) > 1 or any(person in apart for person in cluster)]
    hard.sort(key=lambda cluster: -len(cluster))
    groups: list[list[str]] = [[] for _ in sizes]
    if sum(sizes) != sum(map(len, clusters)):
        return None if hard else groups
    places = [_places(hard[0], groups, sizes, apart)] if hard else []
    taken: list[int] = []
    trials = 0
    while len(taken) < len(hard):
        trials += 1
        at = next(places[-1], None)
        if at is None or trials > _MOST_TRIALS + 2 * len(hard):
            if not taken or at is not None:
                return None
            places.pop()
            back = taken.pop()
            del groups[back][-len(hard[len(taken)]) :]
            continue
        groups[at] += hard[len(taken)]
        taken.append(at)
        if len(taken) < len(hard):
            places.append(_places(hard[len(taken)], groups, sizes, apart))
    easy = (cluster[0] for cluster in clusters if len(cluster) == 1 and cluster[0] not in apart)
    for group, size in zip(groups, sizes, strict=True):
        group += [next(easy) for _ in range(size - len(group))]
    return groups


def _places(
    cluster: Sequence[str], groups: Sequence[Sequence[str]], sizes: Sequence[int], apart: Apart
) -> Iterator[int]:
    """Groups with room for a cluster; of empty groups of one size the first: the others are no different."""
    seen: set[int] = set()
    for at, (group, size) in enumerate(zip(groups, sizes, strict=True)):
        if len(group) + len(cluster) > size or (not group and size in seen):
            continue
        if not group:
            seen.add(size)
        if not _clash(cluster, group, apart):
            yield at


def circle(group: Sequence[str], partner: Mapping[str, str]) -> tuple[str, ...]:
    """Return a group in the order in which each measures the next, the last the first.

    The first stays first; of the others' orders, the one in which most who wished for each other are
    neighbours, then most measure whom they wished for, then the given one.
    """
    inside = set(group)
    wishes = [(one, partner[one]) for one in group if partner.get(one) in inside]
    if len(group) < 3 or not wishes:
        return tuple(group)

    def met(order: tuple[str, ...]) -> int:
        after = dict(zip(order, (*order[1:], order[0]), strict=True))
        forward = sum(after[one] == other for one, other in wishes)
        return len(group) * (forward + sum(after[other] == one for one, other in wishes)) + forward

    return max(((group[0], *rest) for rest in permutations(group[1:])), key=met)
