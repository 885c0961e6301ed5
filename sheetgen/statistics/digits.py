"""Signs in the readings themselves: final digits, a second round thinner everywhere, pairs all alike.

Questions only. Divisions and gaps are whole hundredths of a millimetre; a register holds scales of 1, 0.5,
0.2 and 0.1 mm alone.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Undefined

if TYPE_CHECKING:
    from pandas import DataFrame

# Common practice: the chi-square approximation holds from 5 expected in each class.
_LEAST_EXPECTED = 5
_FALSE_ALARMS = 0.05
_LEAST_SITES = 5
"""Sites, or pairs that differ, before 'everywhere' is said: by chance 1 in 32."""


@dataclass(frozen=True, slots=True)
class DigitCounts:
    """How often each final digit that the scale can show was written.

    digits, counts : side by side. off_scale : readings the scale cannot show, not among the counts.
    """

    digits: tuple[int, ...]
    counts: tuple[int, ...]
    off_scale: int


@dataclass(frozen=True, slots=True)
class DigitTest:
    """Chi-square test that all final digits are equally frequent."""

    chi_square: float
    degrees_of_freedom: int
    probability: float


@dataclass(frozen=True, slots=True)
class DigitPreference:
    """Final digits of round 1 on all scales of one division. piles_up : beyond chance."""

    division_mm: float
    sheets: int
    counts: DigitCounts
    test: DigitTest | Undefined
    piles_up: bool

    @property
    def digit(self) -> int:
        """The first of the most frequent final digits."""
        return self.counts.digits[self.counts.counts.index(max(self.counts.counts))]


@dataclass(frozen=True, slots=True)
class SignTest:
    """How many second readings are lower, higher, equal; the chance of so many lower or more."""

    lower: int
    higher: int
    equal: int
    probability: float


@dataclass(frozen=True, slots=True)
class Compression:
    """The rounds of one student. everywhere : round 2 thinner wherever they differ, at five sites or more."""

    student_id: str
    copy_codes: tuple[str, ...]
    test: SignTest | Undefined
    everywhere: bool


@dataclass(frozen=True, slots=True)
class CompressionReport:
    """students : by student_id. whole_class : all pairs of all students.
    expected_everywhere : how many students would be thinner everywhere by chance."""

    students: tuple[Compression, ...]
    whole_class: SignTest | Undefined
    expected_everywhere: float


@dataclass(frozen=True, slots=True)
class IdenticalRecord:
    """A sheet on which round 2 equals round 1 at every site. chance : that an honest sheet does so."""

    copy_code: str
    student_id: str
    sites: int
    chance: float | Undefined


@dataclass(frozen=True, slots=True)
class IdenticalReport:
    """records : by copy code. expected : how many honest sheets of this class would be so by chance."""

    records: tuple[IdenticalRecord, ...]
    expected: float | Undefined


def digit_counts(readings: Sequence[int], division: int) -> DigitCounts:
    """Count the final digits of raw readings.

    Parameters
    ----------
    readings : as read off the scale, zero not deducted [0.01 mm].
    division : of the scale [0.01 mm]: 1, 2 or 5 times a power of ten.

    Notes
    -----
    The final digit is that of the scale: tenths at 0.1, 0.2 and 0.5 mm, whole millimetres at 1 mm.

    Examples
    --------
    >>> digit_counts([1200, 1250, 1300, 1320], 50)
    DigitCounts(digits=(0, 5), counts=(2, 1), off_scale=1)
    """
    unit = 10 ** (len(str(division)) - 1)
    digits = range(0, 10, division // unit)
    counts = Counter(abs(reading) // unit % 10 for reading in readings if reading % division == 0)
    return DigitCounts(
        tuple(digits), tuple(counts[digit] for digit in digits), len(readings) - counts.total()
    )


def digit_test(counted: DigitCounts) -> DigitTest | Undefined:
    """Test whether the final digits are equally frequent: chi-square = sum (count - expected)^2 / expected.

    Notes
    -----
    Validity: one reading a fold (two of one fold are not independent, so give the first round), and folds
    that spread over more than ten steps of the last digit: at a 1 mm scale thin folds keep to a few.

    Examples
    --------
    >>> result = digit_test(DigitCounts((0, 5), (70, 30), 0))
    >>> result.chi_square, result.degrees_of_freedom, f"{result.probability:.2e}"
    (16.0, 1, '6.33e-05')
    """
    from scipy.special import chdtrc

    digits, there = len(counted.digits), sum(counted.counts)
    expected = there / digits
    if expected < _LEAST_EXPECTED:
        values = (("digits", digits), ("needed", _LEAST_EXPECTED * digits), ("there", there))
        return Undefined("few-digits", values)
    chi_square = math.fsum((count - expected) ** 2 for count in counted.counts) / expected
    return DigitTest(chi_square, digits - 1, float(chdtrc(digits - 1, chi_square)))


def digit_preference(rounds: "DataFrame") -> tuple[DigitPreference, ...]:
    """Return the final digits of the class by scale division, students' sheets only.

    One reading a fold, the first round. Beyond chance: below 0.05 divided by the number of scales.
    """
    scales = rounds[~rounds["is_teacher"] & (rounds["caliper"] != "")].groupby("division")
    found = []
    for division, own in scales:
        counts = digit_counts(own["raw_1"].dropna().astype(int).tolist(), int(division))
        test = digit_test(counts)
        piles_up = isinstance(test, DigitTest) and test.probability < _FALSE_ALARMS / scales.ngroups
        found.append(DigitPreference(division / 100, sheet_count(own), counts, test, piles_up))
    return tuple(found)


def sign_test(gaps: Iterable[float]) -> SignTest | Undefined:
    """Test whether second readings are lower than the first more often than chance: a compressed fold.

    Gaps are first less second reading, NaN where one is missing. The probability is the exact one-sided
    binomial; equal pairs take no side and are left out of it.

    Examples
    --------
    >>> sign_test([0.5] * 7)
    SignTest(lower=7, higher=0, equal=0, probability=0.0078125)
    """
    from scipy.special import bdtrc

    signs = Counter((gap > 0) - (gap < 0) for gap in gaps if gap == gap)
    lower, higher = signs[1], signs[-1]
    if lower + higher == 0:
        return Undefined("no-pair-differs")
    chance = float(bdtrc(lower - 1, lower + higher, 0.5)) if lower else 1.0
    return SignTest(lower, higher, signs[0], chance)


def compression(rounds: "DataFrame") -> CompressionReport:
    """Return for each student, and for the class, whether round 2 is thinner more often than chance.

    By `sign_test`. The number expected is the sum over students of (1/2)^(pairs that differ).
    """
    of_students = rounds[~rounds["is_teacher"]]
    codes = of_students.drop_duplicates("sheet").groupby("student_id")["copy_code"].agg(tuple)
    students, expected = [], 0.0
    for student, gaps in of_students.groupby("student_id")["gap"].agg(list).items():
        test, everywhere = sign_test(gaps), False
        if isinstance(test, SignTest) and test.lower + test.higher >= _LEAST_SITES:
            everywhere = test.higher == 0
            expected += 0.5 ** (test.lower + test.higher)
        students.append(Compression(student, codes[student], test, everywhere))
    return CompressionReport(tuple(students), sign_test(of_students["gap"]), expected)


def third_reading_chance_on_scale(error: float, rule: int, division: int) -> float:
    """Return how often two readings on a scale lie further apart than a rule; exactly met is within.

    Parameters
    ----------
    error : TEM [mm]. rule : the tolerance [0.01 mm], at least 0. division : of the scale [0.01 mm], above 0.

    Notes
    -----
    Two readings whose errors differ by d lie k divisions apart with chance max(0, 1 - |d / division - k|):
    the place of the fold between two divisions is even. Summed over all k that break the rule and over d,
    with D the division, s = sqrt(2) TEM, m divisions the widest gap within the rule, and E(z) the mean of
    max(Z - z, 0): 2 s/D [E(m D / s) - E((m + 1) D / s)].

    Examples
    --------
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
    """Return the chance that an honest record, TEM of each site [mm], has two equal readings at every site.

    1 less the chance of a third reading at a rule of 0, site by site; their errors are taken as independent.

    Examples
    --------
    >>> round(100 * all_pairs_identical_chance([0.4] * 7, 100), 1)
    1.9
    """
    return math.prod(1 - third_reading_chance_on_scale(error, 0, division) for error in errors)


def identical_records(rounds: "DataFrame", errors: Mapping[str, float]) -> IdenticalReport:
    """Return the students' sheets with two equal readings at every site, five sites or more.

    The class's TEM by site [mm] holds these sheets too, so the chance comes out at its upper side, in the
    students' favour.
    """
    records, chances = [], []
    both = rounds[~rounds["is_teacher"]].dropna(subset="gap")
    of_sheet = both.groupby(["sheet", "copy_code", "student_id", "division"], dropna=False)
    for (_, copy_code, student, division), sites, gaps in of_sheet[["site", "gap"]].agg(list).itertuples():
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
