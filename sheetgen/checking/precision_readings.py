"""Readings that pile up: final digits, a second round thinner everywhere, pairs all alike. Questions only."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.checking.precision_sheets import MeasuredSheet
from sheetgen.core.chance_gaps import all_pairs_identical_chance
from sheetgen.core.digits import DigitCounts, DigitTest, SignTest, digit_counts, digit_test, sign_test
from sheetgen.core.outcome import Undefined

__all__ = [
    "Compression",
    "CompressionReport",
    "DigitPreference",
    "IdenticalRecord",
    "IdenticalReport",
    "compression",
    "digit_preference",
    "identical_records",
]

_FALSE_ALARMS = 0.05


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

    file: str
    copy_code: str
    student_id: str
    sites: int
    chance: float | Undefined


@dataclass(frozen=True, slots=True)
class IdenticalReport:
    """records : by copy code. expected : how many honest sheets of this class would be so by chance."""

    records: tuple[IdenticalRecord, ...]
    expected: float | Undefined


def digit_preference(sheets: Sequence[MeasuredSheet]) -> tuple[DigitPreference, ...]:
    """Return the final digits of the class by scale division, students' sheets only.

    Notes
    -----
    One reading a fold, the first round. Beyond chance: below 0.05 divided by the number of scales. At a 1 mm
    scale it holds only where folds spread over more than ten millimetres.
    """
    by_division: dict[int, list[MeasuredSheet]] = {}
    for sheet in sheets:
        if sheet.division is not None and sheet.caliper_id and not sheet.is_teacher:
            by_division.setdefault(sheet.division, []).append(sheet)
    return tuple(_digits(own, division, len(by_division)) for division, own in sorted(by_division.items()))


def compression(sheets: Sequence[MeasuredSheet]) -> CompressionReport:
    """Return for each student, and for the class, whether round 2 is thinner more often than chance.

    Notes
    -----
    Exact one-sided sign test; equal pairs take no side. The number expected is the sum over students of
    (1/2)^(pairs that differ).
    """
    pairs: dict[str, list[tuple[int | None, int | None]]] = {}
    codes: dict[str, list[str]] = {}
    for sheet in sheets:
        if not sheet.is_teacher:
            pairs.setdefault(sheet.student_id, []).extend(sheet.corrected.values())
            codes.setdefault(sheet.student_id, []).append(sheet.copy_code)
    students = tuple(_compression(one, codes[one], sign_test(own)) for one, own in sorted(pairs.items()))
    expected = math.fsum(
        0.5 ** (one.test.lower + one.test.higher)
        for one in students
        if isinstance(one.test, SignTest) and one.test.lower + one.test.higher >= _LEAST_SITES
    )
    whole = sign_test([pair for own in pairs.values() for pair in own])
    return CompressionReport(students, whole, expected)


def identical_records(sheets: Sequence[MeasuredSheet], errors: Mapping[str, float]) -> IdenticalReport:
    """Return the students' sheets with two equal readings at every site, five sites or more.

    Parameters
    ----------
    errors : the class's TEM by site [mm]. It holds these sheets too, so the chance comes out at its upper
        side, in the students' favour.
    """
    unknown = Undefined("error-not-known")
    records: list[IdenticalRecord] = []
    expected: float | Undefined = 0.0
    for sheet in sheets:
        both = {site: pair for site, pair in sheet.corrected.items() if None not in pair}
        if sheet.is_teacher or len(both) < _LEAST_SITES:
            continue
        chance: float | Undefined = unknown
        if sheet.division is not None and all(site in errors for site in both):
            chance = all_pairs_identical_chance([errors[site] for site in both], sheet.division)
        if isinstance(expected, float):
            expected = chance if isinstance(chance, Undefined) else expected + chance
        if all(first == second for first, second in both.values()):
            records.append(IdenticalRecord(sheet.file, sheet.copy_code, sheet.student_id, len(both), chance))
    return IdenticalReport(tuple(records), expected)


_LEAST_SITES = 5
"""Sites, or pairs that differ, before 'everywhere' is said: by chance 1 in 32."""


def _digits(sheets: Sequence[MeasuredSheet], division: int, scales: int) -> DigitPreference:
    readings = [first for sheet in sheets for first, _ in sheet.raw.values() if first is not None]
    counts = digit_counts(readings, division)
    test = digit_test(counts)
    if isinstance(test, Undefined):
        return DigitPreference(division / 100, len(sheets), counts, test, False)
    piles_up = test.probability < _FALSE_ALARMS / scales
    return DigitPreference(division / 100, len(sheets), counts, test, piles_up)


def _compression(student: str, codes: Sequence[str], test: SignTest | Undefined) -> Compression:
    if isinstance(test, Undefined):
        return Compression(student, tuple(codes), test, False)
    differing = test.lower + test.higher
    everywhere = test.higher == 0 and differing >= _LEAST_SITES
    return Compression(student, tuple(codes), test, everywhere)
