"""Agreement of measurers: between students who measured the same person, and with the teacher's measure.

Both compare the mean of the corrected rounds 1 and 2. Differences between the calipers count as differences
between measurers here.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.checking.precision_sheets import LEAST_DEGREES, MeasuredSheet, round_mean, sites_of
from sheetgen.core.agreement import Agreement, agreement
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit
from sheetgen.core.intraclass import IntraclassCorrelation, intraclass_correlation
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    total_technical_error,
)

__all__ = [
    "AgreementPoint",
    "CriterionAgreement",
    "ObserverPrecision",
    "between_students",
    "by_participant",
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


def by_participant(sheets: Sequence[MeasuredSheet]) -> dict[str, list[MeasuredSheet]]:
    """Return the sheets about each known participant; of two by one measurer the first copy code."""
    people: dict[str, dict[str, MeasuredSheet]] = {}
    for sheet in sheets:
        if sheet.participant_code:
            people.setdefault(sheet.participant_code, {}).setdefault(sheet.student_id, sheet)
    return {code: list(by_student.values()) for code, by_student in sorted(people.items())}


def between_students(
    sheets: Sequence[MeasuredSheet], within: Mapping[str, float]
) -> tuple[ObserverPrecision, ...]:
    """Return the precision between students of every site of one session.

    Parameters
    ----------
    within : TEM within a measurer by site [mm], for the total TEM.
    """
    people = by_participant([sheet for sheet in sheets if not sheet.is_teacher])
    return tuple(_observers(list(people.values()), site, within.get(site)) for site in sites_of(sheets))


def with_teacher(sheets: Sequence[MeasuredSheet]) -> tuple[CriterionAgreement, ...] | Undefined:
    """Return the agreement of students with the teacher by site, student less teacher.

    Notes
    -----
    Of several sheets of teachers about a person the first copy code counts. Where students share a person,
    their differences share the teacher's error too: the intervals would be too narrow and are not given.
    """
    people = by_participant(sheets)
    criterion = {
        code: next((sheet for sheet in own if sheet.is_teacher), None) for code, own in people.items()
    }
    given = {code: sheet for code, sheet in criterion.items() if sheet is not None}
    if not given:
        return Undefined("no-teacher-sheet")
    return tuple(_criterion(people, given, site) for site in sites_of(sheets))


def _observers(
    people: Sequence[Sequence[MeasuredSheet]], site: str, within: float | None
) -> ObserverPrecision:
    rows = [[mean for sheet in own if (mean := round_mean(sheet, site)) is not None] for own in people]
    rows = [row for row in rows if len(row) >= 2]
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
    size = max(sizes, key=lambda one: (sizes[one], one))
    table = [row for row in rows if len(row) == size]
    if len(table) < LEAST_DEGREES:
        values = (("people", len(table)), ("measurers", size), ("needed", LEAST_DEGREES))
        return Undefined("few-with-measurers", values)
    return intraclass_correlation(table, "1,1")


def _criterion(
    people: Mapping[str, Sequence[MeasuredSheet]], given: Mapping[str, MeasuredSheet], site: str
) -> CriterionAgreement:
    points, pairs = [], []
    for code, teacher in given.items():
        reference = round_mean(teacher, site)
        for sheet in people[code]:
            mean = round_mean(sheet, site)
            if sheet.is_teacher or mean is None or reference is None:
                continue
            points.append(AgreementPoint(sheet.copy_code, code, (mean + reference) / 2, mean - reference))
            pairs.append((mean, reference))
    count = len({point.participant_code for point in points})
    found: Agreement | Undefined = Undefined(
        "few-beside-teacher", (("sheets", len(pairs)), ("needed", LEAST_DEGREES))
    )
    if len(pairs) >= LEAST_DEGREES:
        found = agreement(pairs)
    if isinstance(found, Agreement) and count < len(pairs):
        why = Undefined("shared-person")
        found = replace(found, mean_interval=why, lower_interval=why, upper_interval=why)
    return CriterionAgreement(site, count, found, tuple(points))
