"""Who measures whom, with which caliper, where nobody has said so. Groups go round, wishes are kept where
they fit, and no two are together who are to be kept apart."""

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import cycle, permutations, repeat

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.lesson import calipers_at_work, pairs_in_turn, takes_turns, waves_needed
from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.records import ClassBook, Pairing, Person
from sheetgen.sheet.student import counts_as_under_18

_MOST_TRIALS = 20_000
"""Places tried before a search is given up; a class of 30 needs about 30."""

Apart = Mapping[str, Collection[str]]
"""Who to whom: both ways."""
Wishes = Sequence[tuple[str, str]]
"""Who wished for whom, the strongest wish first."""


class Unmet(Struct, frozen=True):
    """A wish that could not be met, or someone who measures nobody. reason : `partner`: is not paired with
    `other`, whom they wished for. `apart`: measures nobody, since everybody left is to be kept apart from
    them. `alone`: measures nobody, since nobody is left; `age`: since everybody left is of age and they count
    as under 18, or the other way round. `nameless`: measures nobody, since others have a name and they have
    none."""

    student_id: str
    reason: str
    other: str = ""


class Pairs(Struct, frozen=True):
    """Pairings, and what could not be met. Nobody is paired with someone they are to be kept apart from."""

    pairings: tuple[Pairing, ...] = ()
    unmet: tuple[Unmet, ...] = ()


def pairs_for_the_rest(book: ClassBook) -> Pairs:
    """Return pairings in which every student who measures nobody yet measures once, in their order. Groups of
    the book's size go round, each measuring the next, the last the first. Wishes for a partner are kept where
    they fit; keeping apart always is, and so are people under 18 among themselves; what a pairing that is
    there meets counts as met. Whoever only measures is paired like everybody. With a demonstration
    participant everybody measures that one instead. Left out: teachers, those who left or have no name, one
    student alone. No more calipers are used than have a recorder each, shared out for the fewest waves; of
    pairs made later each group shares one. Whom the teacher measures, they measure with the caliper that a
    student uses on that person, so that only the hand differs. Without a caliper in service: nothing. The
    same book gives the same."""
    issued = [caliper.identifier for caliper in book.settings.calipers if caliper.in_service]
    if not issued:
        return Pairs()
    make = _of_one if book.demonstration else _in_groups
    nameless, rest = _nameless(book), unpaired(book)
    pairings, unmet = make(book, [one for one in rest if one.student_id not in nameless], issued)
    unmet += [Unmet(one.student_id, "nameless") for one in rest if one.student_id in nameless]
    together = {frozenset((each.measurer, each.participant)) for each in (*book.pairings, *pairings)}
    pairings += _of_teacher(book, pairings, issued)
    still = (wish for wish in unmet if frozenset((wish.student_id, wish.other)) not in together)
    return Pairs(tuple(pairings), tuple(still))


def better_anew(book: ClassBook) -> list[str]:
    """Return what is odd about the pairs that are there and would not be, were they made anew: calipers that
    nobody measures with, and pairs of which one alone counts as under 18."""
    anew = pairs_for_the_rest(replace(book, pairings=())).pairings
    in_use, would = ({pair.caliper_id for pair in pairs} for pairs in (book.pairings, anew))
    odd = [f"nobody measures with {', '.join(sorted(would - in_use))}"] if len(would) > len(in_use) else []
    minors = {one.student_id for one in book.people if _is_minor(one, book)}
    pairs = [] if book.demonstration else [(one.measurer, one.participant) for one in pairs_in_turn(book)]
    mixed = [" and ".join(pair) for pair in pairs if len(minors.intersection(pair)) == 1]
    return [*odd, *([f"one of two alone counts as under 18: {', '.join(mixed)}"] if mixed else [])]


def unpaired(book: ClassBook) -> list[Person]:
    """Return the students of the class who measure nobody."""
    measurers = {pairing.measurer for pairing in book.pairings}
    return [person for person in book.people if takes_turns(person) and person.student_id not in measurers]


def _nameless(book: ClassBook) -> set[str]:
    """Who has no name where others have: it may be a line of something else."""
    without = {one.student_id for one in book.people if not (one.given_name or one.family_name)}
    return without if len(without) < len(book.people) else set()


def kept_apart(people: Sequence[Person]) -> Mapping[str, set[str]]:
    """Return who is to be kept apart from whom, both ways, whichever of the two said so."""
    apart: dict[str, set[str]] = defaultdict(set)
    for person in people:
        for other in person.apart:
            apart[person.student_id].add(other)
            apart[other].add(person.student_id)
    return apart


def _of_one(
    book: ClassBook, rest: Sequence[Person], issued: Sequence[str]
) -> tuple[list[Pairing], list[Unmet]]:
    """Everybody measures the demonstration participant, who measures nobody."""
    measured, apart = book.demonstration, kept_apart(book.people).get(book.demonstration, ())
    careful = any(person.student_id == measured and _is_minor(person, book) for person in book.people)
    others = [person for person in rest if person.student_id != measured]
    of_age = {person.student_id for person in others if careful and not _is_minor(person, book)}
    unmet = [
        Unmet(person.student_id, "apart" if person.student_id in apart else "age", measured)
        for person in others
        if person.student_id in {*apart, *of_age}
    ]
    without = {each.student_id for each in unmet}
    kept = (person.student_id for person in others if person.student_id not in without)
    return [Pairing(*turn) for turn in zip(kept, repeat(measured), cycle(issued), strict=False)], unmet


def _of_teacher(book: ClassBook, made: Sequence[Pairing], issued: Sequence[str]) -> list[Pairing]:
    """Those whom the teacher measures, by the first teacher, as far as there is no such pair yet."""
    teachers = [one.student_id for one in book.people if one.role == "teacher" and one.status != LEFT]
    every = (*book.pairings, *made)
    with_caliper = {pair.participant: pair.caliper_id for pair in reversed(every)}
    apart, there = kept_apart(book.people), {(pair.measurer, pair.participant) for pair in every}
    return [
        Pairing(teacher, measured, with_caliper.get(measured, issued[0]))
        for teacher in teachers[:1]
        for measured in book.teacher_measures
        if (teacher, measured) not in there and measured not in (teacher, *apart.get(teacher, ()))
    ]


def _is_minor(person: Person, book: ClassBook) -> bool:
    """A teacher of whom nobody says it is none."""
    return counts_as_under_18(person, book.minors) and (person.role != "teacher" or person.under_18 == "yes")


def _in_groups(
    book: ClassBook, rest: Sequence[Person], issued: Sequence[str]
) -> tuple[list[Pairing], list[Unmet]]:
    """Unmet: every wish of those who measure somebody, met or not."""
    apart = kept_apart(book.people)
    partner = {person.student_id: person.partner for person in rest if person.partner}
    both = [person.student_id for person in rest]
    # Those that two have for each other first.
    wishes = [(student, partner[student]) for student in both if student in partner]
    wishes.sort(key=lambda wish: partner.get(wish[1]) != wish[0])
    minors = {person.student_id for person in rest if _is_minor(person, book)}
    groups: list[tuple[str, ...]] = []
    unmet: list[Unmet] = []
    for inside in (minors, set(both) - minors):
        kind = [student for student in both if student in inside]
        made, alone = groups_of(kind, book.group_size, wishes, apart)
        groups += made
        reason = "apart" if len(kind) > 1 else "age" if len(both) > 1 else "alone"
        unmet += [Unmet(student, reason) for student in alone]
    order = {student: place for place, student in enumerate(both)}
    groups.sort(key=lambda group: order[group[0]])
    unmet.sort(key=lambda one: order[one.student_id])
    turns = [turn for group in groups for turn in _round(circle(group, partner))]
    calipers = _calipers_for(list(map(len, groups)), book, issued)
    pairings = [Pairing(*turn, caliper) for turn, caliper in zip(turns, calipers, strict=True)]
    without = {each.student_id for each in unmet}
    wishes_of = ((student, other) for student, other in partner.items() if student not in without)
    return pairings, [*unmet, *(Unmet(student, "partner", other) for student, other in wishes_of)]


def _calipers_for(groups: Sequence[int], book: ClassBook, issued: Sequence[str]) -> list[str]:
    """The caliper of each turn of groups that measure one after another."""
    people = sum(map(takes_turns, book.people))
    used = issued[: calipers_at_work(people, len(issued))]
    if not book.pairings:
        # Each caliper is filled up before the next: a group on two of them has the last waves of the one and
        # the first of the other.
        waves = waves_needed(groups, people, len(used))
        return [used[turn // waves] for turn in range(sum(groups))]
    taken = Counter(pair.caliper_id for pair in book.pairings)
    calipers: list[str] = []
    for size in groups:
        least = min(used, key=lambda caliper: taken[caliper])
        taken[least] += size
        calipers += [least] * size
    return calipers


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
    """Return the groups in the order of their first people, and those for whom there is no group. Keeping
    apart comes before wishes: where no groups can be found, whoever is to be kept apart from most is left
    out, then the next. The same people give the same groups. people : in the order in which they go into
    groups where nobody wished for anything. size : at least 2."""
    order = {person: place for place, person in enumerate(people)}
    inside, alone = list(people), list[str]()
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
        return (), tuple(people)
    known = set(inside)

    def packed(kept: Wishes) -> list[list[str]] | None:
        return _packed(_clusters(inside, kept, max(sizes), apart), sizes, apart)

    groups = packed(_kept([wish for wish in wishes if set(wish) <= known], [], packed)) or groups
    # Two who are to be kept apart from many may still go together.
    more, left = groups_of(sorted(alone, key=order.__getitem__), size, wishes, apart)
    inner = [*(tuple(sorted(group, key=order.__getitem__)) for group in groups), *more]
    return tuple(sorted(inner, key=lambda group: order[group[0]])), left


def _kept(wishes: Wishes, before: Wishes, packed: Callable[[Wishes], object]) -> Wishes:
    """All wishes at once where they fit; else halves of them: one that cannot be met costs no other."""
    if packed([*before, *wishes]) is not None:
        return [*before, *wishes]
    half = len(wishes) // 2
    return _kept(wishes[half:], _kept(wishes[:half], before, packed), packed) if half else before


def _clusters(people: Sequence[str], wishes: Wishes, largest: int, apart: Apart) -> list[tuple[str, ...]]:
    """People joined by wishes; a wish that would join too many, or two to be kept apart, joins nobody."""
    order = {person: place for place, person in enumerate(people)}
    cluster_of = {person: [person] for person in people}
    for one, other in wishes:
        first, second = cluster_of[one], cluster_of[other]
        if first is second or len(first) + len(second) > largest or _clash(first, second, apart):
            continue
        joined = sorted([*first, *second], key=order.__getitem__)
        cluster_of |= dict.fromkeys(joined, joined)
    return list(dict.fromkeys(tuple(cluster_of[person]) for person in people))


def _clash(first: Sequence[str], second: Collection[str], apart: Apart) -> bool:
    return any(other in apart.get(person, ()) for person in first for other in second)


def _packed(
    clusters: Sequence[tuple[str, ...]], sizes: Sequence[int], apart: Apart
) -> list[list[str]] | None:
    """Return one group of each size, every cluster whole in one of them; None where none was found. Single
    people whom nobody is to be kept apart from fit anywhere; the search is for the others."""
    hard = [cluster for cluster in clusters if len(cluster) > 1 or cluster[0] in apart]
    hard.sort(key=lambda cluster: -len(cluster))
    groups: list[list[str]] = [[] for _ in sizes]
    places: list[Iterator[int]] = []
    taken: list[int] = []
    for _ in range(_MOST_TRIALS + 2 * len(hard) + 1):
        if len(taken) == len(hard):
            break
        if len(places) == len(taken):
            places.append(_places(hard[len(taken)], groups, sizes, apart))
        at = next(places[-1], None)
        if at is not None:
            groups[at] += hard[len(taken)]
            taken.append(at)
            continue
        if not taken:
            return None
        places.pop()
        back = taken.pop()
        del groups[back][-len(hard[len(taken)]) :]
    else:
        return None
    placed = set(hard)
    easy = (cluster[0] for cluster in clusters if cluster not in placed)
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
    """Return a group in the order in which each measures the next, the last the first. The first stays first;
    of the others' orders, the one in which most who wished for each other are neighbours, then most measure
    whom they wished for, then the given one."""
    inside = set(group)
    wishes = [(one, partner[one]) for one in group if partner.get(one) in inside]

    def met(order: tuple[str, ...]) -> tuple[int, int]:
        after = set(_round(order))
        forward = sum(wish in after for wish in wishes)
        return forward + sum((other, one) in after for one, other in wishes), forward

    return max(((group[0], *rest) for rest in permutations(group[1:])), key=met)


def _round(order: Sequence[str]) -> Iterator[tuple[str, str]]:
    return zip(order, (*order[1:], order[0]), strict=True)
