"""Same numbers in two files: who needs a conversation. No mark changes, and chance is not called copying."""

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from operator import itemgetter
from statistics import median
from typing import TYPE_CHECKING, Any, NamedTuple

from sheetgen.statistics.chances import (
    SiteSpread,
    altered_chances,
    least_matches,
    match_chances,
    practice_chances,
)
from sheetgen.statistics.precision import first_goes

if TYPE_CHECKING:
    from pandas import DataFrame, Series

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


@dataclass(frozen=True, slots=True)
class NumbersPair:
    """Two files that need a conversation.

    equal_sites : sites with rounds 1 and 2 both equal, as read off the scale. equal_readings : of compared.
    threshold, expected : the sites that make a flag in this kind of pair, and the innocent pairs expected.
    side_by_side : (site, round, reading in the first file, in the second) [mm].
    kind : one of KINDS. swapped : the rounds of the second file in the other order. shift_mm : what the first
    reads more throughout.
    """

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
    """One kind of pairs of files.

    pairs : of this kind. threshold, expected : the equal sites that make a flag, and the innocent pairs
    expected to have them.
    """

    pairs: int
    threshold: int
    expected: float


@dataclass(frozen=True, slots=True)
class SameNumbers:
    """What was compared, how, and which pairs need a conversation.

    files : measured in this session. sites : the most a file has. division_mm : coarsest scale.
    kinds : by one of KINDS. declared_out : pairs that reached a threshold and were declared.
    """

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
    `practice_chances`, from the class's own spread.
    """
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
    """Two sheets that reach the threshold of their kind; None of all others.

    how : `altered-`, `again`, or empty. practice : those of the two that are practice sheets.
    """
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
    keys = set()
    for step in (1, -1):
        for four in combinations(sorted(whole.items()), _LEAST_ALTERED):
            base = four[0][1][::step][0]
            keys.add(tuple((site, *(reading - base for reading in pair[::step])) for site, pair in four))
    return keys


def copies(found: SameNumbers) -> set[str]:
    """Return the copy codes of both files of each pair."""
    return {code for pair in found.pairs for code in (pair.first_copy_code, pair.second_copy_code)}


def without_pairs(rounds: "DataFrame", found: SameNumbers) -> "DataFrame":
    """Return the rows without both files of each pair: which of them holds its own readings nobody knows.

    For the precision between measurers and the calipers, which one such file would spoil.
    """
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

    From the median |difference| of two, 0.6745 sqrt(2) S, which a copied file does not carry away.
    """
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
