"""Everything that one session says about how the class measured, gathered for the report."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import fmean

from sheetgen.checking.calipers import CaliperReport, caliper_report
from sheetgen.checking.precision import (
    RepeatDifference,
    SitePrecision,
    WorstSite,
    class_errors,
    repeat_differences,
    site_precision,
    worst_site,
)
from sheetgen.checking.precision_between import (
    CriterionAgreement,
    ObserverPrecision,
    between_students,
    with_teacher,
)
from sheetgen.checking.precision_readings import (
    CompressionReport,
    DigitPreference,
    IdenticalReport,
    compression,
    digit_preference,
    identical_records,
)
from sheetgen.checking.precision_sheets import MeasuredSheet, measured_sheets
from sheetgen.checking.retest import RetestReport, retest
from sheetgen.checking.same_numbers import SameNumbers, same_numbers, without_pairs
from sheetgen.core.outcome import Undefined
from sheetgen.model.attempt import Attempt, Results
from sheetgen.model.settings import ClassBook

__all__ = ["ClassAnalysis", "ThirdReadings", "class_analysis"]


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
class ClassAnalysis:
    """One session.

    sheets : that count. apart : those without both files of each pair with the same numbers, the base of
    `between`, `criterion` and `calipers`. retest : None without an earlier session. earlier : its number.
    """

    session: int
    sheets: tuple[MeasuredSheet, ...]
    apart: tuple[MeasuredSheet, ...]
    same: SameNumbers
    sites: tuple[SitePrecision, ...]
    worst: WorstSite | Undefined
    thirds: tuple[ThirdReadings, ...]
    repeats: tuple[RepeatDifference, ...]
    between: tuple[ObserverPrecision, ...]
    criterion: tuple[CriterionAgreement, ...] | Undefined
    calipers: CaliperReport
    digits: tuple[DigitPreference, ...]
    compression: CompressionReport
    identical: IdenticalReport
    retest: RetestReport | None
    earlier: int | None


def class_analysis(
    attempts: Sequence[Attempt],
    book: ClassBook,
    session: int,
    earlier_attempts: Sequence[Attempt] = (),
    declared: Sequence[Collection[str]] = (),
) -> ClassAnalysis:
    """Return what one session says.

    Parameters
    ----------
    attempts : of this session; those of another are left out.
    earlier_attempts : of earlier sessions; the last one before this is compared with it.
    declared : groups of student_ids who may hold the same numbers, see `same_numbers`.
    """
    sheets = measured_sheets(attempts, book, session)
    same = same_numbers(sheets, declared)
    apart = without_pairs(sheets, same)
    sites = site_precision(sheets)
    errors = class_errors(sites)
    before = [one for one in earlier_attempts if one.record is not None and one.record.session < session]
    earlier = max((one.record.session for one in before if one.record is not None), default=None)
    change = None if earlier is None else retest([*before, *attempts], book, earlier, session)
    return ClassAnalysis(
        session,
        sheets,
        apart,
        same,
        sites,
        worst_site(sites),
        _third_readings(attempts, sheets),
        repeat_differences(sheets),
        between_students(apart, errors),
        with_teacher(apart),
        caliper_report(apart, book.settings.calipers),
        digit_preference(sheets),
        compression(sheets),
        identical_records(sheets, errors),
        change,
        earlier,
    )


def _third_readings(
    attempts: Sequence[Attempt], sheets: Sequence[MeasuredSheet]
) -> tuple[ThirdReadings, ...]:
    """By site in circuit order; a sheet counts at a site that has rounds 1 and 2."""
    results = {
        (attempt.record.copy_code, attempt.file): attempt.results
        for attempt in attempts
        if attempt.record is not None and attempt.results is not None
    }
    found: dict[str, list[tuple[int, bool, bool]]] = {}
    for sheet in sheets:
        if not sheet.is_teacher:
            _add(found, sheet, results[sheet.copy_code, sheet.file])
    return tuple(
        ThirdReadings(
            site,
            len(rows),
            fmean(gap for gap, _, _ in rows) / 100 if rows else None,
            sum(needed for _, needed, _ in rows),
            sum(again for _, _, again in rows),
        )
        for site, rows in found.items()
    )


def _add(found: dict[str, list[tuple[int, bool, bool]]], sheet: MeasuredSheet, results: Results) -> None:
    for site in results.sites:
        rows = found.setdefault(site.site, [])
        first, second = sheet.corrected[site.site]
        if first is not None and second is not None:
            rows.append((abs(first - second), site.third_needed == "yes", site.measure_again))
