"""Measured sheets for tests, written down directly."""

from collections.abc import Mapping, Sequence

import pandas
from msgspec import Struct

from sheetgen.measurement.numbers import hundredths

Pair = tuple[int | None, int | None]


class Sheet(Struct, frozen=True):
    """One sheet that counts. raw, corrected : rounds 1 and 2 by site [0.01 mm].

    calipers : (identifier, typed zero [0.01 mm]) in the order of use.
    """

    student_id: str
    participant_code: str
    is_teacher: bool
    calipers: tuple[tuple[str, int], ...]
    division: int | None
    raw: Mapping[str, Pair]
    corrected: Mapping[str, Pair]
    copy_code: str
    file: str

    @property
    def caliper_id(self) -> str:
        """The one caliper used."""
        return self.calipers[0][0] if len(self.calipers) == 1 else ""


def measured(
    student: str,
    participant: str,
    readings: Mapping[str, Sequence[float | None]],
    caliper: str = "C01",
    is_teacher: bool = False,
    division: int = 50,
) -> Sheet:
    """Return a sheet with rounds 1 and 2 by site [mm], zero 0."""
    pairs: dict[str, Pair] = {
        site: (None if first is None else hundredths(first), None if second is None else hundredths(second))
        for site, (first, second) in readings.items()
    }
    code = f"{student}-{participant}"
    calipers = ((caliper, 0),)
    return Sheet(student, participant, is_teacher, calipers, division, pairs, pairs, code, f"{code}.xlsx")


def rounds(sheets: Sequence[Sheet]) -> pandas.DataFrame:
    """Return the sheets as `rounds_of` does."""
    rows = [
        (number, sheet.file, sheet.copy_code, sheet.student_id, sheet.is_teacher, sheet.participant_code,
         sheet.caliper_id, sheet.division, site, *sheet.raw[site], *sheet.corrected[site])
        for number, sheet in enumerate(sheets)
        for site in sheet.raw
    ]  # fmt: skip
    wide = pandas.DataFrame(
        rows,
        columns=[
            "sheet", "file", "copy_code", "student_id", "is_teacher", "participant_code", "caliper",
            "division", "site", "raw_1", "raw_2", "first", "second",
        ],
    ).astype(
        {"is_teacher": bool, **dict.fromkeys(("division", "raw_1", "raw_2", "first", "second"), "float64")}
    )  # fmt: skip
    gap, mean = wide["first"] - wide["second"], (wide["first"] + wide["second"]) / 200
    return wide.assign(gap=gap, whole_gap=gap, own_gap=gap, mean_mm=mean, why="")


def readings(sheets: Sequence[Sheet]) -> pandas.DataFrame:
    """Return the calipers used on the sheets as `readings_frame` has them."""
    rows = [
        (number, sheet.file, sheet.copy_code, sheet.student_id, caliper, float(zero))
        for number, sheet in enumerate(sheets)
        for caliper, zero in sheet.calipers
    ]
    return pandas.DataFrame(rows, columns=["sheet", "file", "copy_code", "student_id", "registered", "zero"])
