"""How well rounds 1 and 2 repeat: by site over the class, and by student.

A class has a technical error of measurement; one student's few sites have a repeat difference, which is no
certificate of anything. The teacher's own sheets are the criterion and are left out of the class.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sheetgen.statistics.agreement import (
    ACCEPTABLE_LIMITS,
    AcceptableLimit,
    Agreement,
    IntraclassCorrelation,
    acceptable_limit,
    agreement,
    intraclass_correlation,
)
from sheetgen.statistics.outcome import Interval, Undefined
from sheetgen.statistics.readings_frame import LEAST_DEGREES, LEAST_PEOPLE
from sheetgen.statistics.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    technical_error_two,
    total_technical_error,
)

if TYPE_CHECKING:
    from pandas import DataFrame

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


if TYPE_CHECKING:
    from pandas import DataFrame


@dataclass(frozen=True, slots=True)
class ObserverPrecision:
    """One site between students who measured the same person.

    people : measured by two students or more. measurements : of those people.
    error : TEM between students [mm]. relative : [%]. limits : published, of that.
    total : total TEM [mm], within and between. correlation : ICC(1,1): the measurers differ from person to
        person; of the people with the most common number of measurers.
    """

    site: str
    people: int
    measurements: int
    error: TechnicalError | Undefined
    interval: Interval | Undefined
    relative: float | Undefined
    total: float | Undefined
    correlation: IntraclassCorrelation | Undefined
    limits: tuple[AcceptableLimit, ...]


@dataclass(frozen=True, slots=True)
class AgreementPoint:
    """One student's measurement beside the teacher's. mean_mm, difference_mm : student less teacher."""

    copy_code: str
    participant_code: str
    mean_mm: float
    difference_mm: float


@dataclass(frozen=True, slots=True)
class CriterionAgreement:
    """One site against the teacher's measure. people : measured by the teacher and by a student."""

    site: str
    people: int
    agreement: Agreement | Undefined
    points: tuple[AgreementPoint, ...]


def first_goes(rounds: "DataFrame") -> "DataFrame":
    """Return the rows about known participants, by participant; of two sheets by one measurer the first."""
    known = rounds[rounds["participant_code"] != ""]
    first = known.groupby(["participant_code", "student_id"])["sheet"].transform("min")
    return known[known["sheet"] == first].sort_values("participant_code", kind="stable")


def between_students(rounds: "DataFrame", within: Mapping[str, float]) -> tuple[ObserverPrecision, ...]:
    """Return the precision between students of every site of one session.

    Parameters
    ----------
    within : TEM within a measurer by site [mm], for the total TEM.
    """
    people = first_goes(rounds[~rounds["is_teacher"]])
    return tuple(
        _observers(people[people["site"] == site], site, within.get(site)) for site in rounds["site"].unique()
    )


def with_teacher(rounds: "DataFrame") -> tuple[CriterionAgreement, ...] | Undefined:
    """Return the agreement of students with the teacher by site, student less teacher.

    Notes
    -----
    Of several sheets of teachers about a person the first copy code counts. Where students share a person,
    their differences share the teacher's error too: the intervals would be too narrow and are not given.
    """
    people = first_goes(rounds)
    by_teacher = people[people["is_teacher"]]
    first = by_teacher.groupby("participant_code")["sheet"].transform("min")
    criterion = by_teacher.loc[by_teacher["sheet"] == first, ["participant_code", "site", "mean_mm"]]
    if criterion.empty:
        return Undefined("no-teacher-sheet")
    both = people[~people["is_teacher"]].merge(
        criterion, on=["participant_code", "site"], suffixes=("", "_teacher")
    )
    both = both.dropna(subset=["mean_mm", "mean_mm_teacher"])
    return tuple(_criterion(both[both["site"] == site], site) for site in rounds["site"].unique())


def _observers(own: "DataFrame", site: str, within: float | None) -> ObserverPrecision:
    by_person = own.dropna(subset="mean_mm").groupby("participant_code")["mean_mm"].agg(list)
    rows = [means for means in by_person if len(means) >= 2]
    limits = tuple(limit for limit in ACCEPTABLE_LIMITS if limit.comparison == "between")
    counted = sum(map(len, rows))
    error = technical_error(rows)
    if not rows:
        error = Undefined("no-two-students")
    elif counted - len(rows) < LEAST_DEGREES:
        error = Undefined("few-between", (("people", len(rows)), ("students", counted)))
    if isinstance(error, Undefined):
        return ObserverPrecision(site, len(rows), counted, error, error, error, error, error, limits)
    total: float | Undefined = Undefined("within-unknown")
    if within is not None:
        total = total_technical_error(within, within, error.value)
    return ObserverPrecision(
        site,
        len(rows),
        counted,
        error,
        technical_error_interval(error),
        relative_technical_error(error),
        total,
        _correlation(rows),
        limits,
    )


def _correlation(rows: Sequence[Sequence[float]]) -> IntraclassCorrelation | Undefined:
    sizes = Counter(len(row) for row in rows)
    size = max(sizes, key=lambda size: (sizes[size], size))
    table = [row for row in rows if len(row) == size]
    if len(table) < LEAST_DEGREES:
        values = (("people", len(table)), ("measurers", size), ("needed", LEAST_DEGREES))
        return Undefined("few-with-measurers", values)
    return intraclass_correlation(table)


def _criterion(own: "DataFrame", site: str) -> CriterionAgreement:
    pairs = list(zip(own["mean_mm"], own["mean_mm_teacher"], strict=True))
    points = tuple(
        AgreementPoint(copy_code, code, (mean + reference) / 2, mean - reference)
        for copy_code, code, (mean, reference) in zip(
            own["copy_code"], own["participant_code"], pairs, strict=True
        )
    )
    people = int(own["participant_code"].nunique())
    found: Agreement | Undefined = Undefined(
        "few-beside-teacher", (("sheets", len(pairs)), ("needed", LEAST_DEGREES))
    )
    if len(pairs) >= LEAST_DEGREES:
        found = agreement(pairs)
    if isinstance(found, Agreement) and people < len(pairs):
        why = Undefined("shared-person")
        found = replace(found, mean_interval=why, lower_interval=why, upper_interval=why)
    return CriterionAgreement(site, people, found, points)
