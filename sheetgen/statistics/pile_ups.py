"""Readings that pile up: final digits, a second round thinner everywhere, pairs all alike. Questions only."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetgen.statistics.digits import (
    DigitCounts,
    DigitTest,
    SignTest,
    all_pairs_identical_chance,
    digit_counts,
    digit_test,
    sign_test,
)
from sheetgen.statistics.outcome import Undefined
from sheetgen.statistics.readings_frame import sheet_count

if TYPE_CHECKING:
    from pandas import DataFrame

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


_LEAST_SITES = 5
"""Sites, or pairs that differ, before 'everywhere' is said: by chance 1 in 32."""


def digit_preference(rounds: "DataFrame") -> tuple[DigitPreference, ...]:
    """Return the final digits of the class by scale division, students' sheets only.

    Notes
    -----
    One reading a fold, the first round. Beyond chance: below 0.05 divided by the number of scales. At a 1 mm
    scale it holds only where folds spread over more than ten millimetres.
    """
    of_students = rounds[~rounds["is_teacher"] & (rounds["caliper"] != "")]
    scales = of_students.groupby("division")
    return tuple(_digits(own, int(division), scales.ngroups) for division, own in scales)


def compression(rounds: "DataFrame") -> CompressionReport:
    """Return for each student, and for the class, whether round 2 is thinner more often than chance.

    Notes
    -----
    Exact one-sided sign test; equal pairs take no side. The number expected is the sum over students of
    (1/2)^(pairs that differ).
    """
    of_students = rounds[~rounds["is_teacher"]]
    gaps = of_students.groupby("student_id")["gap"].agg(list)
    codes = of_students.drop_duplicates("sheet").groupby("student_id")["copy_code"].agg(tuple)
    students = tuple(_compression(student, codes[student], own) for student, own in gaps.items())
    expected = math.fsum(
        0.5 ** (student.test.lower + student.test.higher)
        for student in students
        if isinstance(student.test, SignTest) and student.test.lower + student.test.higher >= _LEAST_SITES
    )
    return CompressionReport(students, _sign_test(of_students["gap"]), expected)


def identical_records(rounds: "DataFrame", errors: Mapping[str, float]) -> IdenticalReport:
    """Return the students' sheets with two equal readings at every site, five sites or more.

    Parameters
    ----------
    errors : the class's TEM by site [mm]. It holds these sheets too, so the chance comes out at its upper
        side, in the students' favour.
    """
    records: list[IdenticalRecord] = []
    expected: float | Undefined = 0.0
    sheet_facts = ["sheet", "file", "copy_code", "student_id", "division"]
    both = rounds[~rounds["is_teacher"]].dropna(subset="gap")
    by_sheet = both.groupby(sheet_facts, dropna=False)[["site", "gap"]].agg(list)
    for (_, file, copy_code, student_id, division), sites, gaps in by_sheet.itertuples():
        if len(sites) < _LEAST_SITES:
            continue
        chance: float | Undefined = Undefined("error-not-known")
        if division > 0 and all(site in errors for site in sites):
            chance = all_pairs_identical_chance([errors[site] for site in sites], int(division))
        if isinstance(expected, float):
            expected = chance if isinstance(chance, Undefined) else expected + chance
        if not any(gaps):
            records.append(IdenticalRecord(file, copy_code, student_id, len(sites), chance))
    return IdenticalReport(tuple(records), expected)


def _digits(own: "DataFrame", division: int, scales: int) -> DigitPreference:
    counts = digit_counts(own["raw_1"].dropna().astype(int).tolist(), division)
    test = digit_test(counts)
    piles_up = isinstance(test, DigitTest) and test.probability < _FALSE_ALARMS / scales
    return DigitPreference(division / 100, sheet_count(own), counts, test, piles_up)


def _compression(student: str, codes: tuple[str, ...], gaps: Iterable[float]) -> Compression:
    test = _sign_test(gaps)
    everywhere = isinstance(test, SignTest) and test.higher == 0 and test.lower >= _LEAST_SITES
    return Compression(student, codes, test, everywhere)


def _sign_test(gaps: Iterable[float]) -> SignTest | Undefined:
    return sign_test([-gap for gap in gaps if not math.isnan(gap)])
