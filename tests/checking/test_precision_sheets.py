from dataclasses import replace

import pytest

from sheetgen.checking.precision_sheets import MeasuredSheet, measured_sheets, round_mean, sites_of
from sheetgen.model.attempt import Attempt
from tests.simulation import BOOK, FOLDS, attempt_of


def _attempt(status: str = "accepted", session: int = 1, **changed: str | float | None) -> Attempt:
    readings = {f"reading_{number}_{site}": fold for site, fold in FOLDS.items() for number in (1, 2)}
    entries = {"data_source": "measured", "caliper_id": "c01", "zero_mm": -0.5, **readings, **changed}
    return attempt_of("S01", "P02", entries, session=session, status=status)


def _only(attempt: Attempt) -> MeasuredSheet:
    (sheet,) = measured_sheets([attempt], BOOK, 1)
    return sheet


# a sheet, whether it counts
COUNTS = (
    (_attempt(), True),
    (_attempt("review"), True),
    (_attempt("refused"), False),
    (_attempt("superseded"), False),
    (_attempt(session=2), False),
    (_attempt(data_source="Practice"), False),
    (_attempt(data_source=None), True),
    (replace(_attempt(), record=None), False),
    (replace(_attempt(), results=None), False),
)


@pytest.mark.parametrize(("attempt", "counts"), COUNTS)
def test_which_sheets_count(attempt: Attempt, counts: bool) -> None:
    assert len(measured_sheets([attempt], BOOK, 1)) == int(counts)


def test_the_same_bytes_under_two_names_count_once() -> None:
    one = _attempt()
    sheets = measured_sheets([replace(one, file="b.xlsx"), replace(one, file="a.xlsx")], BOOK, 1)
    assert [sheet.file for sheet in sheets] == ["a.xlsx"]


def test_readings_raw_and_corrected() -> None:
    sheet = _only(_attempt(reading_2_chest=12.0, reading_3_chest=40.0, reading_2_thigh=None))
    assert (sheet.raw["chest"], sheet.corrected["chest"]) == ((1100, 1200), (1150, 1250))
    assert (round_mean(sheet, "chest"), round_mean(sheet, "thigh")) == (12.0, None)
    assert (sheet.caliper_id, sheet.zero, sheet.division) == ("C01", -50, 50)
    assert sites_of([sheet]) == tuple(site.site for site in _attempt().results.sites)  # type: ignore[union-attr]


def test_a_site_not_taken_has_no_readings() -> None:
    sheet = _only(_attempt(not_taken_chest="declined"))
    assert (sheet.raw["chest"], sheet.corrected["chest"]) == ((None, None), (None, None))


# caliper, what is left of chest as read, as corrected, and how many readings are left out
BEYOND = (
    ("c01", (1100, None), (1150, None), 1),
    ("mine", (1100, 16000), (1150, 16050), 0),
)


@pytest.mark.parametrize(("caliper", "raw", "corrected", "left_out"), BEYOND)
def test_a_reading_beyond_the_opening_says_nothing_about_repeating(
    caliper: str, raw: tuple[int, int | None], corrected: tuple[int, int | None], left_out: int
) -> None:
    sheet = _only(_attempt(caliper_id=caliper, reading_2_chest=160.0))
    assert (sheet.raw["chest"], sheet.corrected["chest"]) == (raw, corrected)
    assert sheet.beyond_opening == left_out


# typed in participant_today, code, whether someone else was measured
TODAY = (
    (None, "P02", False),
    ("p02", "P02", False),
    ("p05", "P05", True),
    ("Somebody", "", True),
)


@pytest.mark.parametrize(("typed", "code", "other"), TODAY)
def test_whose_readings_these_are(typed: str | None, code: str, other: bool) -> None:
    sheet = _only(_attempt(participant_today=typed))
    assert (sheet.participant_code, sheet.other_participant) == (code, other)
    assert sheet.printed_participant == "P02"


def test_a_caliper_changed_in_the_middle_is_not_one_caliper() -> None:
    sheet = _only(_attempt(changed_from="2_chest", caliper_id_2="C03", zero_2_mm=0.5))
    assert sheet.caliper_id == ""
    assert sheet.calipers == (("C01", -50), ("C03", 50))


def test_a_caliper_not_registered_has_no_scale() -> None:
    sheet = _only(_attempt(caliper_id="mine"))
    assert (sheet.caliper_id, sheet.division) == ("", None)


def test_every_field_of_a_sheet() -> None:
    """Zero -0.5 mm; every round as thick as the fold."""
    sheet = _only(_attempt(side="LEFT"))
    raw = {site: (round(fold * 100), round(fold * 100)) for site, fold in FOLDS.items()}
    corrected = {site: (first + 50, second + 50) for site, (first, second) in raw.items()}
    values = {site: fold + 0.5 for site, fold in FOLDS.items()}
    assert sheet == MeasuredSheet(
        file=_attempt().file, copy_code="S01-P02-1", session=1, student_id="S01", is_teacher=False,
        participant_code="P02", printed_participant="P02", other_participant=False,
        protocol_id=_attempt().protocol_id, side="left", calipers=(("C01", -50),), division=50, raw=raw,
        corrected=corrected, values=values, beyond_opening=0,
    )  # fmt: skip
    assert _only(_attempt()).side == "right"


def test_a_reading_as_wide_as_the_caliper_opens_counts() -> None:
    (opening,) = {one.opening for one in BOOK.settings.calipers if one.identifier == "C01"}
    sheet = _only(_attempt(reading_1_chest=opening, reading_2_chest=opening + 0.5))
    assert sheet.raw["chest"] == (round(opening * 100), None)
    assert sheet.beyond_opening == 1


def test_a_site_that_the_sheet_has_not() -> None:
    assert round_mean(_only(_attempt()), "calf") is None


def test_a_zero_that_was_not_typed() -> None:
    sheet = _only(_attempt(zero_mm=None))
    assert (sheet.zero, sheet.corrected["chest"]) == (None, (None, None))


def test_sheets_stand_by_copy_code_and_then_by_file() -> None:
    one, other = _attempt(), attempt_of("S00", "P02", _attempt().entries)
    again = replace(one, file="z.xlsx", sha256="zz")
    sheets = measured_sheets([again, one, other], BOOK, 1)
    assert [(sheet.copy_code, sheet.file) for sheet in sheets] == sorted(
        (sheet.copy_code, sheet.file) for sheet in sheets
    )
    assert [sheet.student_id for sheet in sheets] == ["S00", "S01", "S01"]
