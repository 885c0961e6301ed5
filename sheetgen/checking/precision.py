"""How well rounds 1 and 2 repeat: by site over the class, and by student.

A class has a technical error of measurement; one student's few sites have a repeat difference, which is no
certificate of anything. The teacher's own sheets are the criterion and are left out of the class.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetgen.checking.readings_frame import LEAST_DEGREES, LEAST_PEOPLE
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit, acceptable_limit
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error_interval,
    technical_error_two,
)

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "RepeatDifference",
    "SitePrecision",
    "ThirdReadings",
    "WorstSite",
    "class_errors",
    "repeat_differences",
    "site_precision",
    "third_readings",
    "worst_site",
]

_FALSE_ALARMS = 0.05


@dataclass(frozen=True, slots=True)
class SitePrecision:
    """One site over the class.

    sheets : with both rounds. people : different participants among them. left_out : readings entered that
        do not count.
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
    left_out: int = 0


@dataclass(frozen=True, slots=True)
class ThirdReadings:
    """One site over the students' sheets.

    sheets : with rounds 1 and 2. mean_difference : mean of |round 1 - round 2| [mm], None without a sheet.
    needed : where the first two readings ask for a third. again : no two of three within the tolerance.
    """

    site: str
    sheets: int
    mean_difference: float | None
    needed: int
    again: int


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


def site_precision(
    rounds: "DataFrame", left_out: Mapping[str, int] | None = None
) -> tuple[SitePrecision, ...]:
    """Return the precision of every site over the students' sheets of one session, in circuit order.

    Parameters
    ----------
    rounds : of `rounds_of`. left_out : readings by site that do not count.
    """
    of_students = rounds[~rounds["is_teacher"]]
    return tuple(
        _site(site, own, (left_out or {}).get(site, 0))
        for site, own in of_students.groupby("site", sort=False)
    )


def class_errors(sites: Sequence[SitePrecision]) -> dict[str, float]:
    """Return the TEM [mm] of every site that has one."""
    return {site.site: site.error.value for site in sites if isinstance(site.error, TechnicalError)}


def worst_site(sites: Sequence[SitePrecision]) -> WorstSite | Undefined:
    """Return the site that repeats worst for its thickness.

    Notes
    -----
    It stands out where the square of its relative TEM, over that of the other sites pooled, is beyond F at
    0.05 divided by the number of sites: in a class where all sites are alike 5 % of reports name one.
    Validity: normal errors that grow with the fold.
    """
    from scipy.special import fdtri

    known = [
        (site.relative, site.error.degrees_of_freedom, site.site)
        for site in sites
        if isinstance(site.error, TechnicalError) and isinstance(site.relative, float)
    ]
    if len(known) < 2:
        return Undefined("few-sites")
    worst = max(known, key=lambda site: site[0])
    others = [site for site in known if site is not worst]
    below = sum(degrees for _, degrees, _ in others)
    pooled = sum(relative**2 * degrees for relative, degrees, _ in others) / below
    relative, degrees, word = worst
    limit = float(fdtri(degrees, below, 1 - _FALSE_ALARMS / len(known)))
    return WorstSite(word, relative, relative**2 > limit * pooled)


def repeat_differences(rounds: "DataFrame") -> tuple[RepeatDifference, ...]:
    """Return the repeat difference of every measurer, by student_id."""
    gaps = rounds["gap"].abs().dropna()
    students, sites = rounds["student_id"], rounds["site"]
    means = (gaps.groupby(students).mean() / 100).to_dict()
    pairs = gaps.groupby(students).size().to_dict()
    by_site: dict[str, list[tuple[str, float]]] = {}
    for (student, site), mean in (gaps.groupby([students, sites], sort=False).mean() / 100).items():
        by_site.setdefault(student, []).append((site, mean))
    none = ("", Undefined("no-site-twice"))
    found = []
    for student, sheets in rounds.drop_duplicates("sheet").groupby("student_id"):
        own = by_site.get(student, [])
        largest, largest_mm = max(own, key=lambda site: site[1], default=none)
        of_sheets = (bool(sheets["is_teacher"].iloc[0]), tuple(sheets["copy_code"]))
        mean = means.get(student, none[1])
        found.append(
            RepeatDifference(
                student, *of_sheets, pairs.get(student, 0), tuple(own), mean, largest, largest_mm
            )
        )
    return tuple(found)


def third_readings(rounds: "DataFrame") -> tuple[ThirdReadings, ...]:
    """Return how often a third reading was needed over the students' sheets, by site in circuit order."""
    found = []
    for site, own in rounds[~rounds["is_teacher"]].groupby("site", sort=False):
        both = own.dropna(subset="gap")
        needed, again = (both["third_needed"] == "yes").sum(), both["measure_again"].sum()
        mean = float(both["gap"].abs().mean()) / 100 if len(both) else None
        found.append(ThirdReadings(site, len(both), mean, int(needed), int(again)))
    return tuple(found)


def _site(site: str, own: "DataFrame", left_out: int) -> SitePrecision:
    both = own.dropna(subset="gap")
    known = both["participant_code"] != ""
    people = int(both["participant_code"].where(known, "sheet " + both["copy_code"]).nunique())
    limits = tuple(limit for limit in ACCEPTABLE_LIMITS if limit.comparison == "within")
    error = technical_error_two((both[["first", "second"]] / 100).to_numpy().tolist())
    if len(both) < LEAST_DEGREES:
        error = Undefined("few-pairs", (("pairs", len(both)), ("needed", LEAST_DEGREES)))
    if isinstance(error, Undefined):
        return SitePrecision(site, len(both), people, error, error, error, limits, "", left_out)
    relative, interval = relative_technical_error(error), technical_error_interval(error)
    judgement = _judgement(relative, people)
    return SitePrecision(site, len(both), people, error, interval, relative, limits, judgement, left_out)


def _judgement(relative: float | Undefined, people: int) -> str:
    if isinstance(relative, Undefined):
        return ""
    if people < LEAST_PEOPLE:
        return "few-people"
    if relative <= acceptable_limit("within", "skilled").percent:
        return "skilled"
    return "beginner" if relative <= acceptable_limit("within", "beginner").percent else "above"
