"""Signs in the readings themselves: final digits, a second round thinner everywhere, pairs all alike.

Questions only. Divisions and gaps are whole hundredths of a millimetre; a register holds scales of 1, 0.5,
0.2 and 0.1 mm alone.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Undefined

if TYPE_CHECKING:
    from pandas import DataFrame

# Common practice: the chi-square approximation holds from 5 expected in each class.
_LEAST_EXPECTED = 5
_FALSE_ALARMS = 0.05
_LEAST_SITES = 5
"""Sites, or pairs that differ, before 'everywhere' is said: by chance 1 in 32."""


class DigitCounts(Struct, frozen=True):
    """How often each final digit that the scale can show was written. digits, counts : side by side.
    off_scale : readings the scale cannot show, not among the counts."""

    digits: tuple[int, ...]
    counts: tuple[int, ...]
    off_scale: int


class DigitPreference(Struct, frozen=True):
    """Final digits of round 1 on all scales of one division; chance : of `digit_chance`."""

    division_mm: float
    sheets: int
    counts: DigitCounts
    chance: float | None
    piles_up: bool

    @property
    def digit(self) -> int:
        """The first of the most frequent final digits."""
        return self.counts.digits[self.counts.counts.index(max(self.counts.counts))]


class Compression(Struct, frozen=True):
    """A student whose round 2 is thinner wherever the rounds differ. pairs : that differ, five or more."""

    student_id: str
    copy_codes: tuple[str, ...]
    pairs: int


class CompressionReport(Struct, frozen=True):
    """students : by student_id. expected : how many of the class would be so by chance."""

    students: tuple[Compression, ...]
    expected: float


class IdenticalRecord(Struct, frozen=True):
    """A sheet on which round 2 equals round 1 at every site. chance : that an honest sheet does so."""

    copy_code: str
    student_id: str
    sites: int
    chance: float | Undefined


class IdenticalReport(Struct, frozen=True):
    """records : by copy code. expected : how many honest sheets of this class would be so by chance."""

    records: tuple[IdenticalRecord, ...]
    expected: float | Undefined


def digit_counts(readings: Sequence[int], division: int) -> DigitCounts:
    """Count the final digits of raw readings. readings : as read off the scale, zero not deducted [0.01 mm].
    division : of the scale [0.01 mm], 1, 2 or 5 times a power of ten. The final digit is tenths at 0.1, 0.2
    and 0.5 mm, whole millimetres at 1 mm.

    >>> digit_counts([1200, 1250, 1300, 1320], 50)
    DigitCounts(digits=(0, 5), counts=(2, 1), off_scale=1)
    """
    unit = 10 ** (len(str(division)) - 1)
    digits = range(0, 10, division // unit)
    counts = Counter(abs(reading) // unit % 10 for reading in readings if reading % division == 0)
    return DigitCounts(tuple(digits), tuple(counts[one] for one in digits), len(readings) - counts.total())


def digit_chance(counted: DigitCounts) -> float | None:
    """Return how often digits that are equally frequent would be counted so unevenly or more: chi-square =
    sum (count - expected)^2 / expected. None below five expected of each.

    Validity: one reading a fold (two of one fold are not independent, so give the first round), and folds
    that spread over more than ten steps of the last digit: at a 1 mm scale thin folds keep to a few.

    >>> f"{digit_chance(DigitCounts((0, 5), (70, 30), 0)):.2e}"
    '6.33e-05'
    """
    from scipy.special import chdtrc

    expected = sum(counted.counts) / len(counted.digits)
    if expected < _LEAST_EXPECTED:
        return None
    chi_square = math.fsum((count - expected) ** 2 for count in counted.counts) / expected
    return float(chdtrc(len(counted.digits) - 1, chi_square))


def digit_preference(rounds: "DataFrame") -> tuple[DigitPreference, ...]:
    """Return the final digits of the class by scale division, students' sheets only. One reading a fold, the
    first round. Beyond chance: below 0.05 divided by the number of scales."""
    scales = rounds[~rounds["is_teacher"] & (rounds["caliper"] != "")].groupby("division")
    found = []
    for division, own in scales:
        counts = digit_counts(own["raw_1"].dropna().astype(int).tolist(), int(division))
        chance = digit_chance(counts)
        piles_up = chance is not None and chance < _FALSE_ALARMS / scales.ngroups
        found.append(DigitPreference(division / 100, sheet_count(own), counts, chance, piles_up))
    return tuple(found)


def compression(rounds: "DataFrame") -> CompressionReport:
    """Return the students whose round 2 is thinner wherever the rounds differ: a compressed fold, perhaps.
    Either round is as likely the thinner one, so that chance is (1/2)^(pairs that differ); the number
    expected is its sum over the students with five such pairs or more."""
    own = rounds[~rounds["is_teacher"] & (rounds["own_gap"].abs() > 0)]
    thinner = (own["own_gap"] > 0).groupby(own["student_id"]).agg(["size", "all"])
    enough = thinner[thinner["size"] >= _LEAST_SITES]
    codes = rounds.drop_duplicates("sheet").groupby("student_id")["copy_code"].agg(tuple)
    students = (Compression(who, codes[who], pairs) for who, pairs, every in enough.itertuples() if every)
    return CompressionReport(tuple(students), float((0.5 ** enough["size"]).sum()))


def third_reading_chance_on_scale(error: float, rule: int, division: int) -> float:
    """Return how often two readings on a scale lie further apart than a rule; exactly met is within.

    error : TEM [mm]. rule : the tolerance [0.01 mm], at least 0. division : of the scale [0.01 mm], above 0.

    Two readings whose errors differ by d lie k divisions apart with chance max(0, 1 - |d / division - k|):
    the place of the fold between two divisions is even. Summed over all k that break the rule and over d,
    with D the division, s = sqrt(2) TEM, m divisions the widest gap within the rule, and E(z) the mean of
    max(Z - z, 0): 2 s/D [E(m D / s) - E((m + 1) D / s)].

    >>> round(third_reading_chance_on_scale(0.5, 100, 100), 3)
    0.049
    """
    if error == 0:
        return 0.0
    within, ratio = rule // division, division / 100 / (math.sqrt(2) * error)
    chance = 2 * (_mean_excess(within * ratio) - _mean_excess((within + 1) * ratio)) / ratio
    return min(max(chance, 0.0), 1.0)


def _mean_excess(z: float) -> float:
    """Return the mean of max(Z - z, 0) for a standard normal Z: phi(z) - z (1 - Phi(z)), z from 0 up."""
    density = math.exp(-z * z / 2) / math.sqrt(math.tau)
    return max(density - z * math.erfc(z / math.sqrt(2)) / 2, 0.0)


def all_pairs_identical_chance(errors: Iterable[float], division: int) -> float:
    """Return the chance that an honest record, TEM of each site [mm], has two equal readings at every site. 1
    less the chance of a third reading at a rule of 0, site by site; their errors are taken as independent.

    >>> round(100 * all_pairs_identical_chance([0.4] * 7, 100), 1)
    1.9
    """
    return math.prod(1 - third_reading_chance_on_scale(error, 0, division) for error in errors)


def identical_records(rounds: "DataFrame", errors: Mapping[str, float]) -> IdenticalReport:
    """Return the students' sheets with two equal readings at every site, five sites or more. The class's TEM
    by site [mm] holds these sheets too, so the chance comes out at its upper side, in the students' favour.
    """
    records, chances = [], []
    both = rounds[~rounds["is_teacher"]].dropna(subset="own_gap")
    of_sheet = both.groupby(["sheet", "copy_code", "student_id", "division"], dropna=False)
    for (_, copy_code, student, division), sites, gaps in (
        of_sheet[["site", "own_gap"]].agg(list).itertuples()
    ):
        if len(sites) < _LEAST_SITES:
            continue
        chance: float | Undefined = Undefined("error-not-known")
        if division > 0 and errors.keys() >= set(sites):
            chance = all_pairs_identical_chance([errors[site] for site in sites], int(division))
        chances.append(chance)
        if not any(gaps):
            records.append(IdenticalRecord(copy_code, student, len(sites), chance))
    unknown = next((chance for chance in chances if isinstance(chance, Undefined)), None)
    known = [chance for chance in chances if not isinstance(chance, Undefined)]
    return IdenticalReport(tuple(records), unknown or math.fsum(known))
