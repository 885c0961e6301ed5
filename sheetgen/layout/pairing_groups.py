"""Groups of people who go round measuring each other: wishes kept where they fit, no two together who are to
be kept apart."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import permutations

__all__ = ["circle", "group_sizes", "groups_of"]

_MOST_TRIALS = 20_000
"""Places tried before a search is given up; a class of 30 needs about 30."""

Apart = Mapping[str, Collection[str]]
"""Who to whom: both ways."""
Wishes = Sequence[tuple[str, str]]
"""Who wished for whom, the strongest wish first."""


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
        worst = max(inside, key=lambda one: (len(together & set(apart.get(one, ()))), order[one]))
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
    hard = [one for one in clusters if len(one) > 1 or any(person in apart for person in one)]
    hard.sort(key=lambda one: -len(one))
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
    easy = (one[0] for one in clusters if len(one) == 1 and one[0] not in apart)
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
