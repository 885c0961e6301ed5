"""Everything that one session says about how the class measured, gathered for the report."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetgen.checking.between import (
    CriterionAgreement,
    ObserverPrecision,
    between_students,
    with_teacher,
)
from sheetgen.checking.calipers import CaliperReport, caliper_report
from sheetgen.checking.pile_ups import (
    CompressionReport,
    DigitPreference,
    IdenticalReport,
    compression,
    digit_preference,
    identical_records,
)
from sheetgen.checking.precision import (
    RepeatDifference,
    SitePrecision,
    ThirdReadings,
    WorstSite,
    class_errors,
    repeat_differences,
    site_precision,
    third_readings,
    worst_site,
)
from sheetgen.checking.readings_frame import readings_frame, rounds_of
from sheetgen.checking.retest import RetestReport, retest
from sheetgen.checking.same_numbers import SameNumbers, same_numbers, without_pairs
from sheetgen.core.outcome import Undefined
from sheetgen.model.attempt import Attempt
from sheetgen.model.settings import ClassBook

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = ["ClassAnalysis", "class_analysis"]


@dataclass(frozen=True, slots=True)
class ClassAnalysis:
    """One session.

    readings : of `readings_frame`. rounds : of the sheets that count, by `rounds_of`. apart : those without
    both files of each pair with the same numbers, the base of `between`, `criterion` and `calipers`.
    retest : None without an earlier session. earlier : its number.
    """

    session: int
    readings: "DataFrame"
    rounds: "DataFrame"
    apart: "DataFrame"
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
    codes: Collection[str] = (),
) -> ClassAnalysis:
    """Return what one session says.

    Parameters
    ----------
    attempts : of this session; those of another are left out.
    earlier_attempts : of earlier sessions; the last one before this is compared with it.
    declared : groups of student_ids who may hold the same numbers, see `same_numbers`.
    codes : what `participant_today` may name besides the codes of the class book.
    """
    of_all = readings_frame([*earlier_attempts, *attempts], book, codes)
    readings = of_all[of_all["session"] == session]
    rounds = rounds_of(readings)
    same = same_numbers(rounds, declared)
    apart = without_pairs(rounds, same)
    left_out = readings.loc[readings["left_out_because"] != "", "site"].value_counts()
    sites = site_precision(rounds, left_out.to_dict())
    errors = class_errors(sites)
    before = [one.record.session for one in earlier_attempts if one.record is not None]
    earlier = max((number for number in before if number < session), default=None)
    return ClassAnalysis(
        session,
        readings,
        rounds,
        apart,
        same,
        sites,
        worst_site(sites),
        third_readings(rounds),
        repeat_differences(rounds),
        between_students(apart, errors),
        with_teacher(apart),
        caliper_report(readings, apart, book.settings.calipers),
        digit_preference(rounds),
        compression(rounds),
        identical_records(rounds, errors),
        None if earlier is None else retest(of_all, earlier, session),
        earlier,
    )
