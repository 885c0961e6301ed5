"""Same numbers in two files: who needs a conversation. No mark changes, and chance is not called copying.

How often chance does it is computed from a model, and not published: a reading is a fold with a normal error
of standard deviation TEM, read off to the nearest division D; folds differ normally with standard deviation
S, a share C of its variance common to all sites of a sheet (a thick person is thick everywhere).
"""

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from operator import itemgetter
from statistics import median
from typing import TYPE_CHECKING, Any, NamedTuple

from msgspec import Struct

from sheetgen.statistics.digits import third_reading_chance_on_scale
from sheetgen.statistics.precision import first_goes

if TYPE_CHECKING:
    from pandas import DataFrame, Series

_MOST_STEPS = 200
EXPECTED = 0.025
"""Innocent pairs expected in the class stay below this, all kinds of pairs together: 0.05 sheets."""
_LEAST_SHEETS = 10
_ASSUMED_ERROR, _ASSUMED_SPREAD = 0.5, 4.0
"""[mm] where the class is too small to tell; small on purpose, so that the threshold is high."""
_COMMON_BODY, _COMMON_HABIT = 0.7, 0.5
"""Share of variance common to all sites: between people, and between measurers. Assumed, no source."""
_LEAST_SITES = 3
"""No threshold is lower, however small the class: the model is no better than that."""
_LEAST_ALTERED = 4
_FULL_BUCKET = 30
_MOST_MEASURERS = 30


class SiteSpread(Struct, frozen=True):
    """One site. error : TEM within a measurer. spread : S, between the sheets compared. Both [mm]."""

    error: float
    spread: float


def match_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return P(K >= t) for t = 0 to the number of sites: K sites where both rounds of two sheets are equal.

    division : D, of the scale [0.01 mm]. common : C, from 0 to 1.

    Given the gap g = S sqrt(2 C) G between two sheets, G standard normal,
    q(g) = min(1, H D exp(-g^2 / 4v) / sqrt(4 pi v)), v = S^2 (1 - C) + TEM^2 / 2, H = sum over k of h(k)^2,
    with h(k) the chance that two readings of one fold lie k divisions apart, signed. It comes from
    sum over (i, j) of P(i, j)^2: sum and difference of two normal errors are independent. The chances of the
    sites are then independent; K is their Poisson-binomial number, averaged over G.
    Validity: v above about (D / 2)^2; below that q is at its upper side, so a threshold too.

    >>> [round(chance, 3) for chance in match_chances([SiteSpread(0.7, 5.0)] * 2, 100, 0.0)]
    [1.0, 0.029, 0.0]
    """
    import numpy

    gaps = numpy.arange(-60, 61) / 10
    density = numpy.exp(-gaps * gaps / 2) / math.sqrt(math.tau) / 10
    tails = _tails((_match(site, division, common) for site in sites), gaps) @ density
    return tuple(numpy.minimum(tails, 1.0).tolist())


def _tails(matches: Iterable[tuple[float, float]], gaps: Any) -> Any:
    """P(K >= t) by t and gap g; matches : h and r of each site, its chance min(1, h exp(-r g^2))."""
    import numpy

    chances = [numpy.minimum(1.0, height * numpy.exp(-rate * gaps * gaps)) for height, rate in matches]
    counts = numpy.zeros((len(chances) + 1, len(gaps)))
    counts[0] = 1.0
    for q in chances:
        counts[1:] = counts[1:] * (1 - q) + counts[:-1] * q
        counts[0] *= 1 - q
    return counts[::-1].cumsum(axis=0)[::-1]


def altered_chances(sites: Sequence[SiteSpread], division: int, common: float) -> tuple[float, ...]:
    """Return how many pairs of alterations, a shift and an order of the rounds, make t sites of two sheets
    equal, on average, for t = 0 to the number of sites; at the upper side.

    As in `match_chances`, with the gap g less the shift: summed over all shifts by whole divisions D the
    gap's own spread drops out, 2 / D x integral of P(K >= t | g) dg, with 2 for the order of the rounds."""
    import numpy

    variances = [
        max(site.spread**2 * (1 - common) + site.error**2 / 2, (division / 200) ** 2) for site in sites
    ]
    gaps = numpy.linspace(-1, 1, 401) * 9 * math.sqrt(max(variances, default=1.0))
    matches = (
        (_height(site.error, division, variance), 1 / (4 * variance))
        for site, variance in zip(sites, variances, strict=True)
    )
    tails = _tails(matches, gaps).sum(axis=1)
    return tuple((2 * tails * (gaps[1] - gaps[0]) / (division / 100)).tolist())


def practice_chances(sites: int, division: int) -> tuple[float, ...]:
    """Return P(K >= t) of K sites of a practice list equal to those of another sheet, for t = 0 to `sites`.

    Binomial with q = D / 60 mm: the folds of a list lie evenly over 20 mm, and it has each difference of the
    rounds in a third of the sites or fewer.

    >>> [round(chance, 4) for chance in practice_chances(2, 100)]
    [1.0, 0.0331, 0.0003]
    """
    q = min(division / 6000, 1.0)
    of = [math.comb(sites, count) * q**count * (1 - q) ** (sites - count) for count in range(sites + 1)]
    return tuple(math.fsum(of[least:]) for least in range(sites + 1))


def least_matches(chances: Sequence[float], pairs: int, expected: float, floor: int = 1) -> tuple[int, float]:
    """Return the smallest number of equal sites, `floor` at least, that chance is expected to bring about in
    fewer pairs than `expected`, and how many it does; one more than there are sites, and 0, where none is
    enough.

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
    return _height(site.error, division, variance), site.spread**2 * common / (2 * variance)


def _height(error: float, division: int, variance: float) -> float:
    """H D / sqrt(4 pi v)."""
    return _alike(error, division) * division / 100 / math.sqrt(4 * math.pi * variance)


@lru_cache(maxsize=64)
def _alike(error: float, division: int) -> float:
    """H, the chance that two honest pairs of readings have the same signed gap; the same for all kinds."""
    beyond = [third_reading_chance_on_scale(error, step * division, division) for step in range(_MOST_STEPS)]
    return (1 - beyond[0]) ** 2 + sum((wider - further) ** 2 for wider, further in pairwise(beyond)) / 2


class NumbersPair(Struct, frozen=True):
    """Two files that need a conversation.
    equal_sites : sites with rounds 1 and 2 both equal, as read off the scale. equal_readings : of compared.
    threshold, expected : the sites that make a flag in this kind of pair, and the innocent pairs expected.
    side_by_side : (site, round, reading in the first file, in the second) [mm].
    kind : one of KINDS. swapped : the rounds of the second file in the other order. shift_mm : what the first
    reads more throughout."""

    first_copy_code: str
    first_student: str
    second_copy_code: str
    second_student: str
    same_participant: bool
    equal_sites: int
    equal_readings: int
    compared: int
    threshold: int
    expected: float
    side_by_side: tuple[tuple[str, int, float | None, float | None], ...]
    kind: str = "different"
    swapped: bool = False
    shift_mm: float = 0.0


class PairKind(NamedTuple):
    """One kind of pairs of files. pairs : of this kind. threshold, expected : the equal sites that make a
    flag, and the innocent pairs expected to have them."""

    pairs: int
    threshold: int
    expected: float


class SameNumbers(Struct, frozen=True):
    """What was compared, how, and which pairs need a conversation. files : measured in this session.
    sites : most of a file. division_mm : coarsest scale. kinds : of KINDS. declared_out : pairs declared."""

    pairs: tuple[NumbersPair, ...]
    files: int
    sites: int
    division_mm: float
    kinds: Mapping[str, PairKind]
    declared_out: int


_BUDGET = {
    "different": 0.25, "same": 0.25, "altered-different": 0.125, "altered-same": 0.125, "practice": 0.125,
    "again": 0.125,
}  # fmt: skip
KINDS = tuple(_BUDGET)
"""Files about different people, and about the same person, as they stand; the same with the rounds swapped or
all readings shifted by one constant; with a sheet of practice readings; with the measurer's own sheet about
the same person in an earlier session."""


_Readings = dict[str, tuple[float | None, ...]]
"""Rounds 1 and 2 by site, as read off the scale [mm]."""


class _Sheet(NamedTuple):
    """facts : its row. whole : raw rounds 1 and 2 [0.01 mm] by site, where both are there. shown : [mm]."""

    facts: Any
    whole: dict[str, tuple[int, ...]]
    shown: _Readings

    @property
    def who(self) -> tuple[str, str]:
        """Measurer and participant; nobody else's where it is not known who was measured."""
        return self.facts.student_id, self.facts.participant_code or self.facts.copy_code


def same_numbers(
    rounds: "DataFrame",
    declared: Sequence[Collection[str]] = (),
    practice: "DataFrame | None" = None,
    earlier: "DataFrame | None" = None,
) -> SameNumbers:
    """Return the pairs of files of one session with more equal sites than chance allows.
    declared : groups of student_ids who may hold the same numbers: partners with one record, a trio.
    practice : rounds of the sheets of practice readings of this session. earlier : of those measured before.

    A file is indexed by every three of its site pairs (site, round 1, round 2): no threshold is below three,
    so only files that share them are looked at; and by every four of them less their first reading, in both
    orders of the rounds, since no threshold for altered readings is below four. More than 30 files under one
    key are chained, each with the one before, so that one record handed in by hundreds stays quick.
    Two sheets of one student about one person are a second go, not a pair. Where it is not known who was
    measured, the higher threshold holds. Source of the chances: `match_chances`, `altered_chances`,
    `practice_chances`, from the class's own spread."""
    used = _with_a_whole_site(rounds)
    division = int(used["division"].fillna(100).max()) if len(used) else 100
    measured, before = _sheets(used), {} if earlier is None else _sheets(_with_a_whole_site(earlier))
    practised = {} if practice is None else _sheets(_with_a_whole_site(practice))
    own = defaultdict(list)
    for number, sheet in before.items():
        own[sheet.who].append(number)
    again = [(old, new) for new, sheet in measured.items() for old in own[sheet.who]]
    kinds = _kinds(used, division, len(practised), len(again))
    every, found, declared_out = {**before, **measured, **practised}, {}, 0
    straight = {
        number: combinations(sorted(sheet.whole.items()), _LEAST_SITES)
        for number, sheet in {**measured, **practised}.items()
    }
    altered = {number: _altered_keys(sheet.whole) for number, sheet in measured.items()}
    looked = (("", _candidates(straight)), ("altered-", _candidates(altered)), ("again", again))
    for how, (first, second) in ((how, pair) for how, pairs in looked for pair in pairs):
        pair = _pair(every[first], every[second], how, kinds, practised.keys() & {first, second})
        if pair is None or (first, second) in found:
            continue
        students = {pair.first_student, pair.second_student}
        if how != "again" and any(students <= set(group) for group in declared):
            declared_out += 1
        else:
            found[first, second] = pair

    def place(numbers: tuple[int, int]) -> tuple[int, str, str]:
        return -found[numbers].equal_sites, found[numbers].first_copy_code, every[numbers[0]].facts.file

    pairs, sites = tuple(found[numbers] for numbers in sorted(found, key=place)), int(used["site"].nunique())
    return SameNumbers(pairs, len(measured), sites, division / 100, kinds, declared_out)


def _with_a_whole_site(rounds: "DataFrame") -> "DataFrame":
    return rounds[rounds["sheet"].isin(rounds.dropna(subset=["raw_1", "raw_2"])["sheet"])]


def _sheets(rows: "DataFrame") -> dict[int, _Sheet]:
    found: dict[int, _Sheet] = {}
    for row in rows.itertuples():
        sheet = found.setdefault(row.sheet, _Sheet(row, {}, {}))
        raw = (row.raw_1, row.raw_2)
        sheet.shown[row.site] = tuple(reading / 100 if reading == reading else None for reading in raw)
        if None not in sheet.shown[row.site]:
            sheet.whole[row.site] = tuple(map(int, raw))
    return found


def _pair(
    one: _Sheet, other: _Sheet, how: str, kinds: Mapping[str, PairKind], practice: Collection[int]
) -> NumbersPair | None:
    """Two sheets that reach the threshold of their kind; None of all others. how : `altered-`, `again`, or
    empty. practice : those of the two that are practice sheets."""
    people = {one.facts.participant_code, other.facts.participant_code}
    alike = not practice and (len(people) == 1 or "" in people)
    own = one.facts.student_id == other.facts.student_id
    if own and how != "again" and (alike or practice):
        return None
    word = "practice" if practice else how if how == "again" else how + ("same" if alike else "different")
    counts: Counter[tuple[bool, int]] = Counter()
    for site in one.whole.keys() & other.whole.keys():
        left = one.whole[site]
        for swapped in (False, True):
            right = other.whole[site][:: -1 if swapped else 1]
            if left[0] - right[0] == left[1] - right[1]:
                counts[swapped, left[0] - right[0]] += 1
    straight = counts.pop((False, 0), 0)
    (swapped, shift), equal = (False, 0), straight
    if how == "altered-":
        (swapped, shift), equal = max(counts.items(), key=itemgetter(1), default=((False, 0), 0))
    kind = kinds[word]
    if equal < kind.threshold:
        return None
    side_by_side = _side_by_side(one.shown, other.shown, swapped)
    both = [(left, right) for *_, left, right in side_by_side if left is not None and right is not None]
    equal_readings = sum(round(100 * (left - right)) == shift for left, right in both)
    return NumbersPair(
        one.facts.copy_code, one.facts.student_id, other.facts.copy_code, other.facts.student_id, alike,
        equal, equal_readings, len(both), kind.threshold, kind.expected, side_by_side, word, swapped,
        shift / 100,
    )  # fmt: skip


def _altered_keys(whole: Mapping[str, tuple[int, ...]]) -> set[tuple[Any, ...]]:
    """Every four site pairs less their first reading, in both orders of the rounds."""
    keys: set[tuple[Any, ...]] = set()
    for step in (1, -1):
        pairs = [(site, pair[::step]) for site, pair in sorted(whole.items())]
        for at, (_, (base, _)) in enumerate(pairs):
            first, *rest = [(site, one - base, other - base) for site, (one, other) in pairs[at:]]
            keys.update((first, *three) for three in combinations(rest, _LEAST_ALTERED - 1))
    return keys


def copies(found: SameNumbers) -> set[str]:
    """Return the copy codes of both files of each pair."""
    return {code for pair in found.pairs for code in (pair.first_copy_code, pair.second_copy_code)}


def without_pairs(rounds: "DataFrame", found: SameNumbers) -> "DataFrame":
    """Return the rows without both files of each pair: which of them holds its own readings nobody knows. For
    the precision between measurers and the calipers, which one such file would spoil."""
    return rounds[~rounds["copy_code"].isin(copies(found))]


def _kinds(used: "DataFrame", division: int, practised: int, again: int) -> dict[str, PairKind]:
    """Every kind of pairs; practised, again : how many sheets and pairs of those kinds there are."""
    sheets, sites = used.drop_duplicates("sheet"), list(used["site"].unique())
    of_person = first_goes(sheets).groupby("participant_code").size()
    unknown = int((sheets["participant_code"] == "").sum())
    same = sum(math.comb(count, 2) for count in of_person.tolist())
    same += unknown * (len(sheets) - unknown) + math.comb(unknown, 2)
    different = max(math.comb(len(sheets), 2) - same, 0)
    # From the mean |difference|, 2 TEM / sqrt(pi), of pairs that are no slip.
    gaps = used["gap"] / 100 * math.sqrt(math.pi) / 2
    errors = _mean_sizes(gaps, used["site"], _ASSUMED_ERROR)
    # From the mean |deviation| between people, which averages S sqrt(2 / pi).
    deviations = used["mean_mm"] - used.groupby("site")["mean_mm"].transform("mean")
    bodies = _mean_sizes(deviations * math.sqrt(math.pi / 2), used["site"], _ASSUMED_SPREAD)
    people = dict(list(first_goes(used).dropna(subset="mean_mm").groupby("site")))
    body = [SiteSpread(errors[site], bodies[site]) for site in sites]
    habit = [SiteSpread(errors[site], _habit_spread(people.get(site), errors[site])) for site in sites]
    own = [SiteSpread(errors[site], 0.0) for site in sites]
    lists = practised * len(sheets) + math.comb(practised, 2)
    chances = {
        "different": (different, match_chances(body, division, _COMMON_BODY)),
        "same": (same, match_chances(habit, division, _COMMON_HABIT)),
        "altered-different": (different, altered_chances(body, division, _COMMON_BODY)),
        "altered-same": (same, altered_chances(habit, division, _COMMON_HABIT)),
        "practice": (lists, practice_chances(len(sites), division)),
        "again": (again, match_chances(own, division, 0.0)),
    }
    found: dict[str, PairKind] = {}
    for word, (pairs, chance) in chances.items():
        floor = _LEAST_ALTERED if word.startswith("altered") else _LEAST_SITES
        # Sheets about one person are alike at least as often as others are.
        floor = found["different"].threshold if word == "same" else floor
        found[word] = PairKind(pairs, *least_matches(chance, pairs, EXPECTED * _BUDGET[word], floor))
    return found


def _mean_sizes(values: "Series", sites: "Series", assumed: float) -> dict[str, float]:
    """The mean size of values by site; what is assumed where there are too few."""
    found = values.abs().groupby(sites).agg(["mean", "count"])
    return dict(found["mean"].where(found["count"] >= _LEAST_SHEETS, assumed))


def _habit_spread(own: "DataFrame | None", error: float) -> float:
    """Standard deviation between measurers of one person, their own error taken off; 0 where nobody knows.

    From the median |difference| of two, 0.6745 sqrt(2) S, which a copied file does not carry away."""
    of_person = () if own is None else own.groupby("participant_code")["mean_mm"].agg(list)
    pairs = (pair for means in of_person for pair in combinations(means[:_MOST_MEASURERS], 2))
    gaps = [abs(one - other) for one, other in pairs]
    if len(gaps) < _LEAST_SHEETS:
        return 0.0
    return math.sqrt(max((median(gaps) / (0.6745 * math.sqrt(2))) ** 2 - error**2 / 2, 0.0))


def _candidates(keys: Mapping[int, Iterable[Any]]) -> list[tuple[int, int]]:
    """Pairs of sheets that share a key, each once."""
    buckets = defaultdict(list)
    for sheet, own in keys.items():
        for key in own:
            buckets[key].append(sheet)
    found: set[tuple[int, int]] = set()
    for bucket in buckets.values():
        found.update(combinations(bucket, 2) if len(bucket) <= _FULL_BUCKET else pairwise(bucket))
    return sorted(found)


def _side_by_side(
    first: _Readings, second: _Readings, swapped: bool
) -> tuple[tuple[str, int, float | None, float | None], ...]:
    """With rounds that are swapped, round 1 of the first beside round 2 of the second."""
    none, step = (None, None), -1 if swapped else 1
    sites = dict.fromkeys((*first, *second))
    sides = ((site, first.get(site, none), second.get(site, none)[::step]) for site in sites)
    return tuple((site, at + 1, left[at], right[at]) for site, left, right in sides for at in (0, 1))
