"""How well rounds 1 and 2 repeat: by site over the class, and by student.

A class has a technical error of measurement; one student's few sites have a repeat difference, which is no
certificate of anything. The teacher's own sheets are the criterion and are left out of the class.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from sheetgen.checking.precision_sheets import LEAST_DEGREES, LEAST_PEOPLE, MeasuredSheet, sites_of
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit, acceptable_limit
from sheetgen.core.distributions import f_quantile
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error_interval,
    technical_error_two,
)

__all__ = [
    "RepeatDifference",
    "SitePrecision",
    "WorstSite",
    "class_errors",
    "repeat_differences",
    "site_precision",
    "worst_site",
]

_FALSE_ALARMS = 0.05


@dataclass(frozen=True, slots=True)
class SitePrecision:
    """One site over the class.

    sheets : with both rounds. people : different participants among them.
    error : TEM within a measurer [mm]. interval : 95 %, of the TEM. relative : 100 TEM / mean [%].
    limits : published, of the relative TEM within a measurer. judgement : the class against them, `skilled`,
        `beginner` or `above`; `few-people` where they do not apply, empty without a relative TEM.
    """

    site: str
    sheets: int
    people: int
    error: TechnicalError | Undefined
    interval: Interval | Undefined
    relative: float | Undefined
    limits: tuple[AcceptableLimit, ...]
    judgement: str


@dataclass(frozen=True, slots=True)
class WorstSite:
    """The site with the largest relative TEM. stands_out : by more than chance."""

    site: str
    relative: float
    stands_out: bool


@dataclass(frozen=True, slots=True)
class RepeatDifference:
    """Your repeat difference: how far rounds 1 and 2 of one student lie apart, over all their sheets.

    by_site : (site, mean of |round 1 - round 2| [mm]) in circuit order. pairs : of readings.
    mean_mm : over all pairs; Undefined where there is none. largest_site : the first of the largest.
    """

    student_id: str
    is_teacher: bool
    copy_codes: tuple[str, ...]
    pairs: int
    by_site: tuple[tuple[str, float], ...]
    mean_mm: float | Undefined
    largest_site: str
    largest_mm: float | Undefined


def site_precision(sheets: Sequence[MeasuredSheet]) -> tuple[SitePrecision, ...]:
    """Return the precision of every site over the students' sheets of one session, in circuit order."""
    of_students = [sheet for sheet in sheets if not sheet.is_teacher]
    return tuple(_site(of_students, site) for site in sites_of(of_students))


def class_errors(sites: Sequence[SitePrecision]) -> dict[str, float]:
    """Return the TEM [mm] of every site that has one."""
    return {one.site: one.error.value for one in sites if isinstance(one.error, TechnicalError)}


def worst_site(sites: Sequence[SitePrecision]) -> WorstSite | Undefined:
    """Return the site that repeats worst for its thickness.

    Notes
    -----
    It stands out where the square of its relative TEM, over that of the other sites pooled, is beyond F at
    0.05 divided by the number of sites: in a class where all sites are alike 5 % of reports name one.
    Validity: normal errors that grow with the fold.
    """
    known = [
        (one.site, one.relative, one.error.degrees_of_freedom)
        for one in sites
        if isinstance(one.error, TechnicalError) and isinstance(one.relative, float)
    ]
    if len(known) < 2:
        return Undefined("few-sites")
    site, relative, degrees = max(known, key=lambda one: one[1])
    others = [one for one in known if one[0] != site]
    below = sum(one[2] for one in others)
    pooled = sum(one[1] ** 2 * one[2] for one in others) / below
    limit = f_quantile(1 - _FALSE_ALARMS / len(known), degrees, below)
    return WorstSite(site, relative, relative**2 > limit * pooled)


def repeat_differences(sheets: Sequence[MeasuredSheet]) -> tuple[RepeatDifference, ...]:
    """Return the repeat difference of every measurer, by student_id."""
    by_student: dict[str, list[MeasuredSheet]] = {}
    for sheet in sheets:
        by_student.setdefault(sheet.student_id, []).append(sheet)
    return tuple(_student(student, own) for student, own in sorted(by_student.items()))


def _site(sheets: Sequence[MeasuredSheet], site: str) -> SitePrecision:
    pairs: list[tuple[float, float]] = []
    people = set()
    for sheet in sheets:
        first, second = sheet.corrected.get(site, (None, None))
        if first is not None and second is not None:
            pairs.append((first / 100, second / 100))
            people.add(sheet.participant_code or f"sheet {sheet.copy_code}")
    limits = tuple(limit for limit in ACCEPTABLE_LIMITS if limit.comparison == "within")
    error = technical_error_two(pairs)
    if len(pairs) < LEAST_DEGREES:
        error = Undefined("few-pairs", (("pairs", len(pairs)), ("needed", LEAST_DEGREES)))
    if isinstance(error, Undefined):
        return SitePrecision(site, len(pairs), len(people), error, error, error, limits, "")
    relative = relative_technical_error(error)
    return SitePrecision(
        site,
        len(pairs),
        len(people),
        error,
        technical_error_interval(error),
        relative,
        limits,
        _judgement(relative, len(people)),
    )


def _judgement(relative: float | Undefined, people: int) -> str:
    if isinstance(relative, Undefined):
        return ""
    if people < LEAST_PEOPLE:
        return "few-people"
    if relative <= acceptable_limit("within", "skilled").percent:
        return "skilled"
    return "beginner" if relative <= acceptable_limit("within", "beginner").percent else "above"


def _student(student: str, sheets: Sequence[MeasuredSheet]) -> RepeatDifference:
    gaps: dict[str, list[int]] = {}
    for sheet in sheets:
        for site, (first, second) in sheet.corrected.items():
            if first is not None and second is not None:
                gaps.setdefault(site, []).append(abs(first - second))
    by_site = tuple((site, fmean(found) / 100) for site, found in gaps.items())
    every = [gap for found in gaps.values() for gap in found]
    none = Undefined("no-site-twice")
    largest = max(by_site, key=lambda one: one[1]) if by_site else ("", none)
    return RepeatDifference(
        student,
        sheets[0].is_teacher,
        tuple(sheet.copy_code for sheet in sheets),
        len(every),
        by_site,
        fmean(every) / 100 if every else none,
        largest[0],
        largest[1],
    )
