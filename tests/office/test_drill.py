"""The drill in the spreadsheet program: it says live what is found when it comes back."""

from pathlib import Path

import pytest

from sheetgen.marking.drill import drill_result
from sheetgen.protocols.names import DRILL
from tests.marking.test_drill import SETTINGS, Reader, attempt_of
from tests.office.client import Office
from tests.sheets import sheet_of

READERS: dict[str, tuple[Reader, str]] = {
    "right": (lambda step, zero, shown: shown - zero, "10 of 10 within half a step. "),
    "zero": (lambda step, zero, shown: shown, "6 of 10 within half a step. Most misses are the zero"),
    "mark": (lambda step, zero, shown: shown - zero - step, "0 of 10 within half a step. Most misses are"),
    "between": (lambda step, zero, shown: shown - zero + 0.3 * step, "10 of 10 within half a step. Often"),
    "half": (lambda step, zero, shown: shown - zero + 0.5 * step, "10 of 10 within half a step. Often"),
    "other": (lambda step, zero, shown: shown + 7 * step, "0 of 10 within half a step. Most misses are far"),
    "nine": (lambda step, zero, shown: None if zero == 0 and step == 0.2 else shown, "9 of 10 typed."),
}  # fmt: skip


@pytest.mark.parametrize("name", READERS)
def test_what_the_sheet_says_live_is_what_is_found_in_a_returned_one(
    office: Office, tmp_path: Path, name: str
) -> None:
    sheet, (reader, begins) = sheet_of(SETTINGS), READERS[name]
    attempt = attempt_of(sheet, reader)
    result = drill_result(attempt)
    assert result is not None
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    lines = [f"drill_slip_{number}" for number in range(1, 11)]
    lines += ["drill_within", "drill_typed", "drill_lean", "drill_said", "ready", "next_rank"]
    with office.workbook(path) as handle:
        office.set(
            handle,
            [[*sheet.place(entry), attempt.entries[entry]] for entry in DRILL if entry in attempt.entries],
        )
        *slips, within, typed, lean, said, ready, rank = office.get(
            handle, [sheet.place(line) for line in lines]
        )
    assert slips == [scale.slip for scale in result.scales]
    assert (within, typed, lean) == (result.within, result.typed, result.lean)
    assert str(said).startswith(begins)
    assert (ready, rank) == ("no", 1)
