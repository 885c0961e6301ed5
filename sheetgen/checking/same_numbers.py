"""Same numbers in two files: who needs a conversation. No mark changes, and chance is not called copying."""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from statistics import fmean, median

from sheetgen.checking.precision_between import by_participant
from sheetgen.checking.precision_matches import SiteSpread, least_matches, match_chances
from sheetgen.checking.precision_sheets import MeasuredSheet, round_mean, sites_of

__all__ = ["EXPECTED", "NumbersPair", "SameNumbers", "same_numbers", "without_pairs"]

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


@dataclass(frozen=True, slots=True)
class SameNumbers:
    """What was compared, how, and which pairs need a conversation.

    files : compared, practice left out. sites : the most a file has. division_mm : coarsest scale.
    *_pairs, *_threshold, *_expected : of files about different people, and about the same person.
    declared_out : pairs that reached a threshold and were declared. looked_at : pairs compared reading by
        reading.
    """

    pairs: tuple[NumbersPair, ...]
    files: int
    sites: int
    division_mm: float
    different_pairs: int
    different_threshold: int
    different_expected: float
    same_pairs: int
    same_threshold: int
    same_expected: float
    declared_out: int
    looked_at: int


def same_numbers(sheets: Sequence[MeasuredSheet], declared: Sequence[Collection[str]] = ()) -> SameNumbers:
    """Return the pairs of files of one session with more equal sites than chance allows.

    Parameters
    ----------
    sheets : of one session; practice is left out of them already.
    declared : groups of student_ids who may hold the same numbers: partners with one record, a trio.

    Notes
    -----
    A file is indexed by every three of its site pairs (site, round 1, round 2): no threshold is below three,
    so only files that share them are looked at. More than 30 files under one key are chained, each with the
    one before, so that one record handed in by hundreds stays quick.
    Two sheets of one student about one person are a second go, not a pair. Where it is not known who was
    measured, the higher threshold holds. Source of the chances: `match_chances`, from the class's own spread.
    """
    used = [sheet for sheet in sheets if _site_pairs(sheet)]
    sites = sites_of(used)
    division = max([sheet.division or 100 for sheet in used], default=100)
    same_count = sum(math.comb(len(own), 2) for own in by_participant(used).values())
    unknown = sum(not sheet.participant_code for sheet in used)
    same_count += unknown * (len(used) - unknown) + math.comb(unknown, 2)
    different_count = max(math.comb(len(used), 2) - same_count, 0)
    errors = {site: _error(used, site) for site in sites}
    body = [SiteSpread(errors[site], _body_spread(used, site)) for site in sites]
    habit = [SiteSpread(errors[site], _habit_spread(used, site, errors[site])) for site in sites]
    different, different_expected = _threshold(body, division, _COMMON_BODY, different_count)
    same, same_expected = _threshold(habit, division, _COMMON_HABIT, same_count, different)
    limits = {False: (different, different_expected), True: (same, same_expected)}
    groups = [frozenset(group) for group in declared]
    pairs, declared_out, looked_at = [], 0, 0
    for first, second in _candidates(used, _LEAST_SITES):
        looked_at += 1
        one, other = used[first], used[second]
        alike = not one.participant_code or one.participant_code in ("", other.participant_code)
        alike = alike or not other.participant_code
        if one.student_id == other.student_id and alike:
            continue
        equal = len(_site_pairs(one) & _site_pairs(other))
        if equal < limits[alike][0]:
            continue
        if any({one.student_id, other.student_id} <= group for group in groups):
            declared_out += 1
            continue
        pairs.append(_pair(one, other, alike, equal, *limits[alike]))
    return SameNumbers(
        tuple(sorted(pairs, key=lambda pair: (-pair.equal_sites, pair.first_copy_code, pair.first_file))),
        len(used),
        len(sites),
        division / 100,
        different_count,
        different,
        different_expected,
        same_count,
        same,
        same_expected,
        declared_out,
        looked_at,
    )


def without_pairs(sheets: Sequence[MeasuredSheet], found: SameNumbers) -> tuple[MeasuredSheet, ...]:
    """Return the sheets without both files of each pair: which of them holds its own readings nobody knows.

    For the precision between measurers and the calipers, which one such file would spoil.
    """
    files = {file for pair in found.pairs for file in (pair.first_file, pair.second_file)}
    return tuple(sheet for sheet in sheets if sheet.file not in files)


def _threshold(
    sites: Sequence[SiteSpread], division: int, common: float, pairs: int, floor: int = _LEAST_SITES
) -> tuple[int, float]:
    """Return the sites that make a flag, at least `floor`, and the innocent pairs expected to have them."""
    chances = match_chances(sites, division, common)
    least, expected = least_matches(chances, pairs, EXPECTED / 2)
    if least >= floor:
        return least, expected
    return floor, pairs * chances[floor] if len(chances) > floor else 0.0


def _site_pairs(sheet: MeasuredSheet) -> set[tuple[str, int, int]]:
    return {
        (site, first, second)
        for site, (first, second) in sheet.raw.items()
        if first is not None and second is not None
    }


def _candidates(sheets: Sequence[MeasuredSheet], size: int) -> Iterator[tuple[int, int]]:
    """Pairs of files that share `size` site pairs or more, each once."""
    buckets: dict[tuple[tuple[str, int, int], ...], list[int]] = {}
    for number, sheet in enumerate(sheets):
        for key in combinations(sorted(_site_pairs(sheet)), size):
            buckets.setdefault(key, []).append(number)
    seen: set[tuple[int, int]] = set()
    for bucket in buckets.values():
        if len(bucket) <= _FULL_BUCKET:
            seen.update(combinations(bucket, 2))
        else:
            seen.update(pairwise(bucket))
    yield from sorted(seen)


def _error(sheets: Sequence[MeasuredSheet], site: str) -> float:
    """TEM from the mean |difference|, 2 TEM / sqrt(pi), which a few blunders do not carry away."""
    pairs = [sheet.raw.get(site, (None, None)) for sheet in sheets]
    gaps = [abs(first - second) for first, second in pairs if first is not None and second is not None]
    if len(gaps) < _LEAST_SHEETS:
        return _ASSUMED_ERROR
    return fmean(gaps) / 100 * math.sqrt(math.pi) / 2


def _body_spread(sheets: Sequence[MeasuredSheet], site: str) -> float:
    """Standard deviation between people from the mean |deviation|, which averages S sqrt(2 / pi)."""
    means = [mean for sheet in sheets if (mean := round_mean(sheet, site)) is not None]
    if len(means) < _LEAST_SHEETS:
        return _ASSUMED_SPREAD
    centre = fmean(means)
    return fmean([abs(mean - centre) for mean in means]) * math.sqrt(math.pi / 2)


def _habit_spread(sheets: Sequence[MeasuredSheet], site: str, error: float) -> float:
    """Standard deviation between measurers of one person, their own error taken off; 0 where nobody knows.

    From the median |difference| of two, 0.6745 sqrt(2) S, which a copied file does not carry away.
    """
    gaps = []
    for own in by_participant(sheets).values():
        means = [mean for sheet in own if (mean := round_mean(sheet, site)) is not None]
        gaps += [abs(one - other) for one, other in combinations(means[:_MOST_MEASURERS], 2)]
    if len(gaps) < _LEAST_SHEETS:
        return 0.0
    return math.sqrt(max((median(gaps) / (0.6745 * math.sqrt(2))) ** 2 - error**2 / 2, 0.0))


def _pair(
    one: MeasuredSheet, other: MeasuredSheet, alike: bool, equal: int, threshold: int, expected: float
) -> NumbersPair:
    rows, equal_readings, compared = [], 0, 0
    for site in dict.fromkeys((*one.raw, *other.raw)):
        for number in (0, 1):
            first = one.raw.get(site, (None, None))[number]
            second = other.raw.get(site, (None, None))[number]
            if first is not None and second is not None:
                compared += 1
                equal_readings += first == second
            shown = (None if first is None else first / 100, None if second is None else second / 100)
            rows.append((site, number + 1, *shown))
    return NumbersPair(
        one.file,
        one.copy_code,
        one.student_id,
        other.file,
        other.copy_code,
        other.student_id,
        alike,
        equal,
        equal_readings,
        compared,
        threshold,
        expected,
        tuple(rows),
    )
