"""Same numbers in two files: who needs a conversation. No mark changes, and chance is not called copying.

Model of chance, computed and not published: a reading is a fold with a normal error of standard deviation
TEM, read off to the nearest division D; folds differ normally with standard deviation S, a share C of its
variance common to all sites of a sheet (a thick person is thick everywhere).
"""

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from operator import attrgetter
from statistics import median
from typing import TYPE_CHECKING, Any, NamedTuple

from sheetgen.statistics.digits import third_reading_chance_on_scale
from sheetgen.statistics.precision import first_goes

if TYPE_CHECKING:
    from pandas import DataFrame, Series

EXPECTED = 0.05
"""Innocent pairs expected in the class stay below this, half of it for each of the two kinds of pairs."""
_LEAST_SHEETS = 10
_ASSUMED_ERROR, _ASSUMED_SPREAD = 0.5, 4.0
"""[mm] where the class is too small to tell; small on purpose, so that the threshold is high."""
_COMMON_BODY, _COMMON_HABIT = 0.7, 0.5
"""Share of variance common to all sites: between people, and between measurers. Assumed, no source."""
_LEAST_SITES = 3
"""No threshold is lower, however small the class: the model is no better than that."""
_FULL_BUCKET = 30
_MOST_MEASURERS = 30
_MOST_STEPS = 200


@dataclass(frozen=True, slots=True)
class SiteSpread:
    """One site. error : TEM within a measurer. spread : S, between the sheets compared. Both [mm]."""

    error: float
    spread: float


@dataclass(frozen=True, slots=True)
class NumbersPair:
    """Two files that need a conversation.

    equal_sites : sites with rounds 1 and 2 both equal, as read off the scale. equal_readings : of compared.
    threshold, expected : the sites that make a flag in this kind of pair, and the innocent pairs expected.
    side_by_side : (site, round, reading in the first file, in the second) [mm].
    """

    first_file: str
    first_copy_code: str
    first_student: str
    second_file: str
    second_copy_code: str
    second_student: str
    same_participant: bool
    equal_sites: int
    equal_readings: int
    compared: int
    threshold: int
    expected: float
    side_by_side: tuple[tuple[str, int, float | None, float | None], ...]


class PairKind(NamedTuple):
    """Pairs of files about different people, or about the same person.

    threshold, expected : the equal sites that make a flag, and the innocent pairs expected to have them.
    """

    pairs: int
    threshold: int
    expected: float


@dataclass(frozen=True, slots=True)
class SameNumbers:
    """What was compared, how, and which pairs need a conversation.

    files : compared, practice left out. sites : the most a file has. division_mm : coarsest scale.
    different, same : of files about different people, and about the same person.
    declared_out : pairs that reached a threshold and were declared.
    """

    pairs: tuple[NumbersPair, ...]
    files: int
    sites: int
    division_mm: float
    different: PairKind
    same: PairKind
    declared_out: int


_Readings = Mapping[str, tuple[float | None, ...]]
"""Rounds 1 and 2 by site, as read off the scale [mm]."""
_file = attrgetter("file", "copy_code", "student_id")


def same_numbers(rounds: "DataFrame", declared: Sequence[Collection[str]] = ()) -> SameNumbers:
    """Return the pairs of files of one session with more equal sites than chance allows.

    declared : groups of student_ids who may hold the same numbers: partners with one record, a trio.

    Notes
    -----
    A file is indexed by every three of its site pairs (site, round 1, round 2): no threshold is below three,
    so only files that share them are looked at. More than 30 files under one key are chained, each with the
    one before, so that one record handed in by hundreds stays quick.
    Two sheets of one student about one person are a second go, not a pair. Where it is not known who was
    measured, the higher threshold holds. Source of the chances: `match_chances`, from the class's own spread.
    """
    used = rounds[rounds["sheet"].isin(rounds.dropna(subset=["raw_1", "raw_2"])["sheet"])]
    sites, sheets = list(used["site"].unique()), used.drop_duplicates("sheet")
    division = int(sheets["division"].fillna(100).max()) if len(sheets) else 100
    different, same = _kinds(used, sheets, sites, division)
    facts = {sheet.sheet: sheet for sheet in sheets.itertuples()}
    readings: dict[int, dict[str, tuple[float | None, ...]]] = {}
    shown = (used[["raw_1", "raw_2"]] / 100).astype(object).where(used[["raw_1", "raw_2"]].notna(), None)
    for sheet, site, *pair in zip(used["sheet"], used["site"], shown["raw_1"], shown["raw_2"], strict=True):
        readings.setdefault(sheet, {})[site] = tuple(pair)
    whole = {
        sheet: {(site, *pair) for site, pair in own.items() if None not in pair}
        for sheet, own in readings.items()
    }
    pairs, declared_out = [], 0
    for sheet, other_sheet in _candidates(whole):
        one, other = facts[sheet], facts[other_sheet]
        students, people = {one.student_id, other.student_id}, {one.participant_code, other.participant_code}
        alike = len(people) == 1 or "" in people
        kind, equal = same if alike else different, len(whole[sheet] & whole[other_sheet])
        if equal < kind.threshold or (alike and len(students) == 1):
            continue
        if any(students <= set(group) for group in declared):
            declared_out += 1
            continue
        side_by_side = _side_by_side(readings[sheet], readings[other_sheet])
        both = [(left, right) for *_, left, right in side_by_side if left is not None and right is not None]
        equal_readings = sum(left == right for left, right in both)
        facts_of_both = (*_file(one), *_file(other), alike, equal, equal_readings, len(both))
        pairs.append(NumbersPair(*facts_of_both, kind.threshold, kind.expected, side_by_side))
    pairs.sort(key=lambda pair: (-pair.equal_sites, pair.first_copy_code, pair.first_file))
    return SameNumbers(tuple(pairs), len(sheets), len(sites), division / 100, different, same, declared_out)


def without_pairs(rounds: "DataFrame", found: SameNumbers) -> "DataFrame":
    """Return the rows without both files of each pair: which of them holds its own readings nobody knows.

    For the precision between measurers and the calipers, which one such file would spoil.
    """
    files = [file for pair in found.pairs for file in (pair.first_file, pair.second_file)]
    return rounds[~rounds["file"].isin(files)]


def match_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return P(K >= t) for t = 0 to the number of sites: K sites where both rounds of two sheets are equal.

    Parameters
    ----------
    division : D, of the scale [0.01 mm]. common : C, from 0 to 1.

    Notes
    -----
    Given the gap g = S sqrt(2 C) G between two sheets, G standard normal,
    q(g) = min(1, H D exp(-g^2 / 4v) / sqrt(4 pi v)), v = S^2 (1 - C) + TEM^2 / 2, H = sum over k of h(k)^2,
    with h(k) the chance that two readings of one fold lie k divisions apart, signed. It comes from
    sum over (i, j) of P(i, j)^2: sum and difference of two normal errors are independent. The chances of the
    sites are then independent; K is their Poisson-binomial number, averaged over G.
    Validity: v above about (D / 2)^2; below that q is at its upper side, so a threshold too.

    Examples
    --------
    >>> [round(chance, 3) for chance in match_chances([SiteSpread(0.7, 5.0)] * 2, 100, 0.0)]
    [1.0, 0.029, 0.0]
    """
    import numpy

    gaps = numpy.arange(-60, 61) / 10
    density = numpy.exp(-gaps * gaps / 2) / math.sqrt(math.tau) / 10
    counts = numpy.zeros((len(sites) + 1, len(gaps)))
    counts[0] = 1.0
    for site in sites:
        height, rate = _match(site, division, common)
        q = numpy.minimum(1.0, height * numpy.exp(-gaps * gaps * rate))
        counts[1:] = counts[1:] * (1 - q) + counts[:-1] * q
        counts[0] *= 1 - q
    tails = counts[::-1].cumsum(axis=0)[::-1] @ density
    return tuple(numpy.minimum(tails, 1.0).tolist())


def least_matches(chances: Sequence[float], pairs: int, expected: float, floor: int = 1) -> tuple[int, float]:
    """Return the smallest number of equal sites, `floor` at least, that chance is expected to bring about in
    fewer pairs than `expected`, and how many it does; one more than there are sites, and 0, where none is
    enough.

    Examples
    --------
    >>> least_matches((1.0, 0.04, 0.0002), 100, 0.05)
    (2, 0.02)
    >>> least_matches((1.0, 0.04, 0.0002), 1000, 0.05)
    (3, 0.0)
    """
    enough = (least for least in range(floor, len(chances)) if pairs * chances[least] < expected)
    least = next(enough, max(floor, len(chances)))
    return least, pairs * chances[least] if least < len(chances) else 0.0


def _match(site: SiteSpread, division: int, common: float) -> tuple[float, float]:
    """H D / sqrt(4 pi v), and the rate r of exp(-r G^2) = exp(-S^2 2C G^2 / 4v)."""
    variance = site.spread**2 * (1 - common) + site.error**2 / 2
    if variance <= 0:
        return 1.0, 0.0
    height = _same_gap(site.error, division) * division / 100 / math.sqrt(4 * math.pi * variance)
    return height, site.spread**2 * common / (2 * variance)


def _same_gap(error: float, division: int) -> float:
    """H: the chance that two honest pairs of readings have the same signed gap."""
    beyond = [third_reading_chance_on_scale(error, step * division, division) for step in range(_MOST_STEPS)]
    return (1 - beyond[0]) ** 2 + sum((wider - further) ** 2 for wider, further in pairwise(beyond)) / 2


def _kinds(
    used: "DataFrame", sheets: "DataFrame", sites: Sequence[str], division: int
) -> tuple[PairKind, PairKind]:
    """The pairs of files about different people, and those that are, or may be, about the same person."""
    of_person = first_goes(sheets).groupby("participant_code").size()
    unknown = int((sheets["participant_code"] == "").sum())
    same = sum(math.comb(count, 2) for count in of_person.tolist())
    same += unknown * (len(sheets) - unknown) + math.comb(unknown, 2)
    different = max(math.comb(len(sheets), 2) - same, 0)
    # From the mean |difference|, 2 TEM / sqrt(pi), which a few blunders do not carry away.
    gaps = (used["raw_1"] - used["raw_2"]) / 100 * math.sqrt(math.pi) / 2
    errors = _mean_sizes(gaps, used["site"], _ASSUMED_ERROR)
    # From the mean |deviation| between people, which averages S sqrt(2 / pi).
    deviations = (used["mean_mm"] - used.groupby("site")["mean_mm"].transform("mean")) * math.sqrt(
        math.pi / 2
    )
    bodies = _mean_sizes(deviations, used["site"], _ASSUMED_SPREAD)
    body = [SiteSpread(errors[site], bodies[site]) for site in sites]
    people = first_goes(used).dropna(subset="mean_mm")
    habits = {site: _habit_spread(people[people["site"] == site], errors[site]) for site in sites}
    habit = [SiteSpread(errors[site], habits[site]) for site in sites]
    least = least_matches(match_chances(body, division, _COMMON_BODY), different, EXPECTED / 2, _LEAST_SITES)
    higher = least_matches(match_chances(habit, division, _COMMON_HABIT), same, EXPECTED / 2, least[0])
    return PairKind(different, *least), PairKind(same, *higher)


def _mean_sizes(values: "Series", sites: "Series", assumed: float) -> dict[str, float]:
    """The mean size of values by site; what is assumed where there are too few."""
    found = values.abs().groupby(sites).agg(["mean", "count"])
    return dict(found["mean"].where(found["count"] >= _LEAST_SHEETS, assumed))


def _habit_spread(own: "DataFrame", error: float) -> float:
    """Standard deviation between measurers of one person, their own error taken off; 0 where nobody knows.

    From the median |difference| of two, 0.6745 sqrt(2) S, which a copied file does not carry away.
    """
    of_person = own.groupby("participant_code")["mean_mm"].agg(list)
    gaps = [
        abs(one - other) for means in of_person for one, other in combinations(means[:_MOST_MEASURERS], 2)
    ]
    if len(gaps) < _LEAST_SHEETS:
        return 0.0
    return math.sqrt(max((median(gaps) / (0.6745 * math.sqrt(2))) ** 2 - error**2 / 2, 0.0))


def _candidates(whole: Mapping[int, Collection[tuple[Any, ...]]]) -> list[tuple[int, int]]:
    """Pairs of sheets that share three site pairs or more, each once."""
    buckets = defaultdict(list)
    for sheet, pairs in whole.items():
        for key in combinations(sorted(pairs), _LEAST_SITES):
            buckets[key].append(sheet)
    found: set[tuple[int, int]] = set()
    for bucket in buckets.values():
        found.update(combinations(bucket, 2) if len(bucket) <= _FULL_BUCKET else pairwise(bucket))
    return sorted(found)


def _side_by_side(
    first: _Readings, second: _Readings
) -> tuple[tuple[str, int, float | None, float | None], ...]:
    none = (None, None)
    return tuple(
        (site, number, left, right)
        for site in dict.fromkeys((*first, *second))
        for number, left, right in zip((1, 2), first.get(site, none), second.get(site, none), strict=True)
    )
