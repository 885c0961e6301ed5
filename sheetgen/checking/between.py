"""Agreement of measurers: between students who measured the same person, and with the teacher's measure.

Both compare the mean of the corrected rounds 1 and 2. Differences between the calipers count as differences
between measurers here.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sheetgen.checking.readings_frame import LEAST_DEGREES
from sheetgen.core.agreement import Agreement, IntraclassCorrelation, agreement, intraclass_correlation
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    total_technical_error,
)

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "AgreementPoint",
    "CriterionAgreement",
    "ObserverPrecision",
    "between_students",
    "first_goes",
    "with_teacher",
]


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
