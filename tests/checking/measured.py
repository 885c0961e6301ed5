"""Measured sheets for tests, written down directly."""

from collections.abc import Mapping, Sequence

from sheetgen.checking.precision_sheets import MeasuredSheet
from sheetgen.core.number_policy import hundredths

__all__ = ["measured"]


def measured(
    student: str,
    participant: str,
    readings: Mapping[str, Sequence[float | None]],
    caliper: str = "C01",
    is_teacher: bool = False,
    division: int = 50,
    session: int = 1,
) -> MeasuredSheet:
    """Return a sheet with rounds 1 and 2 by site [mm], zero 0; the site value is their mean."""
    pairs: dict[str, tuple[int | None, int | None]] = {}
    values = {}
    for site, (first, second) in readings.items():
        pairs[site] = (
            None if first is None else hundredths(first),
            None if second is None else hundredths(second),
        )
        if first is not None and second is not None:
            values[site] = (first + second) / 2
    code = f"{student}-{participant}"
    return MeasuredSheet(
        file=f"{code}.xlsx",
        copy_code=code,
        session=session,
        student_id=student,
        is_teacher=is_teacher,
        participant_code=participant,
        printed_participant=participant,
        other_participant=False,
        protocol_id="seven-sites",
        side="right",
        calipers=((caliper, 0),),
        division=division,
        raw=pairs,
        corrected=pairs,
        values=values,
    )
