"""What simulated readers with a known lean are found to have, on scales of copies as they are handed out."""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.records import CopyRecord
from sheetgen.marking.drill import DrillResult, drill_result, slip_of
from sheetgen.protocols.names import DRILL
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt
from sheetgen.sheet.student import LAYOUT_VERSION
from tests.sheets import Sheet, settings_with, sheet_of

CODES = ("7K3F-9QXM", "2B4D-6FGH", "9XYZ-3CDE")
SETTINGS = settings_with(reading_drill=True)
"""Three kinds of caliper: steps of 0.5, 0.2 and 1 mm."""

Reader = Callable[[float, float, float], float | None]
"""Division, zero and what the pointer shows [mm] to what is typed."""


def attempt_of(sheet: Sheet, reader: Reader) -> Attempt:
    values = sheet.identity.values
    record = CopyRecord(
        copy_code=str(values["copy_code"]), session=1, student_id="S01", participant_id="S02",
        participant_code="P-2A3B", caliper_id="C1", layout_digest="", file_name="", file_sha256="",
        identity=values,
    )  # fmt: skip
    steps = (0.5, 0.2, 1.0)
    entries = {}
    for at, name in enumerate(DRILL):
        zero, shown = (float(values[f"drill_{what}_{at + 1}"] or 0) for what in ("zero", "shown"))
        read = reader(steps[at % 3], zero, shown)
        if read is not None:
            entries[name] = read
    built_with = BuiltWith(sheet.source.settings, sheet.source.protocol, LAYOUT_VERSION)
    return Attempt("f.xlsx", "", "accepted", record, "seven-sites", entries, None, (), built_with)


def read_by(reader: Reader, code: str = CODES[0]) -> DrillResult:
    result = drill_result(attempt_of(sheet_of(SETTINGS, copy_code=code), reader))
    assert result is not None
    return result


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize(
    # Reader, how many of the ten are within half a mark, lean. Four scales have a zero, none of one mark.
    ("reader", "within", "lean"),
    [
        (lambda step, zero, shown: shown - zero, 10, ""),
        (lambda step, zero, shown: shown, 6, "zero"),
        (lambda step, zero, shown: shown + zero, 6, "zero"),
        (lambda step, zero, shown: shown - zero + step, 0, "mark"),
        (lambda step, zero, shown: shown - zero - step, 0, "mark"),
        (lambda step, zero, shown: shown - zero + 0.4 * step, 10, "between"),
        (lambda step, zero, shown: shown - zero + 0.7 * step, 0, "between"),
        (lambda step, zero, shown: shown - zero + 10 * step, 0, "other"),
    ],
    ids=["right", "zero forgotten", "zero added", "one too far", "one short", "near", "between", "ten off"],
)
def test_drill_result_of_a_reader_with_a_lean(code: str, reader: Reader, within: int, lean: str) -> None:
    result = read_by(reader, code)
    assert (result.copy_code, result.typed, result.within, result.lean) == (code, 10, within, lean)


# division, zero, shown, read [mm], what is wrong; with a zero of 1 mm and the pointer at 12.5, 11.5 is right
@pytest.mark.parametrize(
    ("division", "zero", "shown", "read", "slip"),
    [
        (0.5, 1.0, 12.5, 11.5, "right"),
        (0.5, 1.0, 12.5, 12.5, "zero"),
        (0.5, 1.0, 12.5, 13.5, "zero"),
        (0.5, 1.0, 12.5, 12.0, "mark"),
        (0.5, 1.0, 12.5, 11.0, "mark"),
        (0.5, 1.0, 12.5, 11.3, "between"),
        (0.5, 1.0, 12.5, 16.5, "other"),
        # nothing to take off, so nothing is forgotten
        (0.5, 0.0, 12.5, 12.5, "right"),
        (0.5, 0.0, 12.5, 13.0, "mark"),
        (0.5, 0.0, 12.5, 14.5, "other"),
    ],
)
def test_slip_of_a_reading(division: float, zero: float, shown: float, read: float, slip: str) -> None:
    assert slip_of(division, zero, shown, read) == slip


@pytest.mark.parametrize("gone", ["drill_shown_4", "drill_zero_4"])
def test_drill_result_of_a_sheet_that_is_not_known_whole_is_none(gone: str) -> None:
    attempt = attempt_of(sheet_of(SETTINGS), lambda step, zero, shown: shown - zero)
    assert attempt.record is not None
    identity = {name: value for name, value in attempt.record.identity.items() if name != gone}
    assert drill_result(replace(attempt, record=replace(attempt.record, identity=identity))) is None


def test_drill_result_one_slip_is_no_lean() -> None:
    once = iter([True] + [False] * 9)
    result = read_by(lambda step, zero, shown: shown - zero + (step if next(once) else 0))
    assert (result.within, result.lean) == (9, "")
    assert [scale.slip for scale in result.scales] == ["mark", *["right"] * 9]
    assert [scale.off for scale in result.scales] == [1.0, *[0.0] * 9]


def test_drill_result_half_typed() -> None:
    turns = iter(range(10))
    result = read_by(lambda step, zero, shown: shown - zero if next(turns) < 4 else None)
    assert (result.typed, result.within) == (4, 4)
    assert [scale.slip for scale in result.scales] == ["right"] * 4 + [""] * 6
    assert result.scales[9].off is None


def test_drill_result_nothing_typed_and_no_drill() -> None:
    assert drill_result(attempt_of(sheet_of(SETTINGS), lambda step, zero, shown: None)) is None
    with_drill = attempt_of(sheet_of(SETTINGS), lambda step, zero, shown: shown)
    plain = sheet_of(settings_with()).identity.values
    assert with_drill.record is not None
    without = Attempt(
        "f.xlsx", "", "accepted", CopyRecord("", 1, "", "", "", "", "", "", "", plain), "",
        with_drill.entries, None, (), with_drill.built_with,
    )  # fmt: skip
    assert drill_result(without) is None
