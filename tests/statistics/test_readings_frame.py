import pandas
import pytest
from msgspec.structs import replace

from sheetgen.finding import Finding
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.readings_frame import (
    LEFT_OUT_WORDS,
    readings_frame,
    rounds_of,
    sheet_count,
)
from tests.simulation import BOOK, FOLDS, attempt_of

SITES = len(FOLDS)


def _attempt(status: str = "accepted", session: int = 1, **changed: str | float | None) -> Attempt:
    readings = {f"reading_{number}_{site}": fold for site, fold in FOLDS.items() for number in (1, 2)}
    entries = {"data_source": "measured", "caliper_id": "c01", "zero_mm": -0.5, **readings, **changed}
    return attempt_of("S01", "P02", entries, session=session, status=status)


def _rounds(*attempts: Attempt) -> pandas.DataFrame:
    return rounds_of(readings_frame(attempts, BOOK))


def _site(site: str, **changed: str | float | None) -> dict[str, object]:
    """One site of a sheet, its rounds side by side; None where there is no number."""
    rounds = _rounds(_attempt(**changed))  # type: ignore[arg-type]
    row = rounds[rounds["site"] == site].iloc[0].to_dict()
    return {name: None if value != value else value for name, value in row.items()}


# a sheet, its rows, whether it counts
COUNTS = (
    (_attempt(), SITES * 3, True),
    (_attempt("review"), SITES * 3, True),
    (_attempt("refused"), 0, False),
    (_attempt("superseded"), SITES * 3, False),
    (_attempt(session=2), SITES * 3, True),
    (_attempt(data_source="Practice"), SITES * 3, False),
    (_attempt(data_source=None), SITES * 3, True),
    (replace(_attempt(), record=None), 0, False),
    (replace(_attempt(), results=None), 0, False),
)


@pytest.mark.parametrize(("attempt", "rows", "counts"), COUNTS)
def test_which_sheets_count(attempt: Attempt, rows: int, counts: bool) -> None:
    assert len(readings_frame([attempt], BOOK)) == rows
    assert sheet_count(_rounds(attempt)) == int(counts)


def test_the_same_bytes_under_two_names_count_once() -> None:
    one = _attempt()
    rounds = _rounds(replace(one, file="b.xlsx"), replace(one, file="a.xlsx"))
    assert set(rounds["file"]) == {"a.xlsx"}


def test_of_the_same_bytes_the_file_that_counts_is_kept() -> None:
    one = _attempt()
    rounds = _rounds(replace(one, file="a.xlsx", status="superseded"), replace(one, file="b.xlsx"))
    assert set(rounds["file"]) == {"b.xlsx"}


def test_readings_raw_and_corrected() -> None:
    changed = {"reading_2_chest": 12.0, "reading_3_chest": 40.0, "reading_2_thigh": None}
    chest, thigh = _site("chest", **changed), _site("thigh", **changed)
    assert [chest[name] for name in ("raw_1", "raw_2", "first", "second")] == [1100, 1200, 1150, 1250]
    assert (chest["gap"], chest["mean_mm"], thigh["gap"], thigh["mean_mm"]) == (-100, 12.0, None, None)
    assert (chest["caliper"], chest["zero"], chest["division"]) == ("C01", -50, 50)
    assert list(_rounds(_attempt())["site"]) == [site.site for site in _attempt().results.sites]  # type: ignore[union-attr]


def test_rows_stand_in_the_order_of_taking() -> None:
    frame = readings_frame([_attempt()], BOOK)
    sites = [site.site for site in _attempt().results.sites]  # type: ignore[union-attr]
    assert list(zip(frame["round"], frame["site"], strict=True)) == [
        (number, site) for number in (1, 2, 3) for site in sites
    ]


def test_a_site_not_taken_has_no_readings() -> None:
    chest = _site("chest", not_taken_chest="declined")
    assert [chest[name] for name in ("raw_1", "raw_2", "first", "second")] == [None] * 4


# caliper, what is left of chest as read, as corrected, and how many readings are left out; the two rounds
# of a caliper that is not registered are 149 mm apart without a settled third
BEYOND = (
    ("c01", [1100, None], [None, None], 1),
    ("mine", [1100, 16000], [None, None], 0),
)


@pytest.mark.parametrize(("caliper", "raw", "corrected", "left_out"), BEYOND)
def test_a_reading_beyond_the_opening_says_nothing_about_repeating(
    caliper: str, raw: list[int | None], corrected: list[int | None], left_out: int
) -> None:
    chest = _site("chest", caliper_id=caliper, reading_2_chest=160.0)
    assert [chest["raw_1"], chest["raw_2"]] == raw
    assert [chest["first"], chest["second"]] == corrected
    frame = readings_frame([_attempt(caliper_id=caliper, reading_2_chest=160.0)], BOOK)
    assert frame["beyond_opening"].sum() == left_out


def test_a_reading_as_wide_as_the_caliper_opens_counts() -> None:
    (opening,) = {one.opening for one in BOOK.settings.calipers if one.identifier == "C01"}
    chest = _site("chest", reading_1_chest=opening, reading_2_chest=opening + 0.5)
    assert (chest["raw_1"], chest["raw_2"]) == (round(opening * 100), None)


# typed in participant_today, code, whether someone else was measured
TODAY = (
    (None, "P02", False),
    ("p02", "P02", False),
    ("p05", "P05", True),
    ("Somebody", "", True),
    ("q1", "Q1", True),
)


@pytest.mark.parametrize(("typed", "code", "other"), TODAY)
def test_whose_readings_these_are(typed: str | None, code: str, other: bool) -> None:
    row = readings_frame([_attempt(participant_today=typed)], BOOK, ["Q1"]).iloc[0]
    assert (row["participant_code"], row["other_participant"]) == (code, other)
    assert row["printed_participant"] == "P02"


def test_a_caliper_changed_in_the_middle_is_not_one_caliper() -> None:
    frame = readings_frame([_attempt(changed_from="2_chest", caliper_id_2="C03", zero_2_mm=0.5)], BOOK)
    assert set(frame["caliper"]) == {""}
    used = frame.drop_duplicates("registered")
    assert list(zip(used["round"], used["registered"], used["zero"], strict=True)) == [
        (1, "C01", -50), (2, "C03", 50),
    ]  # fmt: skip


def test_a_caliper_not_registered_has_no_scale() -> None:
    chest = _site("chest", caliper_id="mine")
    assert (chest["caliper"], chest["registered"], chest["division"]) == ("", "", None)


def test_every_field_of_a_row() -> None:
    """Zero -0.5 mm; every round as thick as the fold."""
    attempt = _attempt(side="LEFT")
    row = readings_frame([attempt], BOOK).iloc[0].to_dict()
    assert {name: None if value != value else value for name, value in row.items()} == {
        "sheet": 0, "session": 1, "exercise": "circuit", "file": attempt.file, "copy_code": "S01-P02-1",
        "sha256": attempt.sha256,
        "student_id": "S01", "is_teacher": False, "participant_code": "P02", "printed_participant": "P02",
        "other_participant": False, "protocol": "seven-sites", "side": "left", "caliper": "C01",
        "division": 50, "opening": 6000, "status": "accepted", "practice": False, "sheet_counts": True,
        "in_question": False, "step": 50, "far_limit": None,
        "site": "chest", "rounds": 2, "site_mm": 11.5,
        "third_needed": "no", "kept_rounds": "1+2", "measure_again": False, "not_taken": "", "round": 1,
        "reading_mm": 11.0, "caliper_id": "c01", "zero_mm": -0.5, "registered": "C01", "zero": -50,
        "raw": 1100, "corrected": 1150, "beyond_opening": False, "counts": "yes", "left_out_because": "",
    }  # fmt: skip
    assert readings_frame([_attempt()], BOOK)["side"].iloc[0] == "right"


def test_a_zero_that_was_not_typed() -> None:
    chest = _site("chest", zero_mm=None)
    assert (chest["zero"], chest["first"], chest["second"]) == (None, None, None)


def test_sheets_stand_by_copy_code_and_then_by_file() -> None:
    one, other = _attempt(), attempt_of("S00", "P02", _attempt().entries)
    again = replace(one, file="z.xlsx", sha256="zz")
    sheets = readings_frame([again, one, other], BOOK).drop_duplicates("sheet")
    assert list(sheets["student_id"]) == ["S00", "S01", "S01"]
    assert list(sheets["file"]) == [other.file, one.file, "z.xlsx"]


def test_no_attempts() -> None:
    assert len(readings_frame([], BOOK)) == len(_rounds()) == 0


# what is changed on a sheet, what becomes of rounds 1 and 2 at the chest
LEFT_OUT = (
    ({}, ("yes", ""), ("yes", "")),
    ({"status": "superseded"}, ("no", "superseded"), ("no", "superseded")),
    ({"data_source": "practice"}, ("no", "practice"), ("no", "practice")),
    ({"not_taken_chest": "left-out"}, ("no", "site-left-out"), ("no", "site-left-out")),
    ({"reading_2_chest": 160.0}, ("no", "one-round"), ("no", "beyond-opening")),
    ({"reading_2_chest": 2e6}, ("no", "one-round"), ("no", "beyond-opening")),
    ({"reading_2_chest": 11.3}, ("no", "one-round"), ("no", "off-scale")),
    ({"reading_2_chest": 15.0}, ("no", "third-unsettled"), ("no", "third-unsettled")),
    ({"reading_2_chest": 15.0, "reading_3_chest": 11.5}, ("yes", ""), ("yes", "")),
    (
        {"reading_2_chest": 15.0, "reading_3_chest": 22.0},
        ("no", "third-unsettled"),
        ("no", "third-unsettled"),
    ),
    ({"status": "review"}, ("no", "in-question"), ("no", "in-question")),
    ({"zero_mm": None}, ("no", "no-zero"), ("no", "no-zero")),
    ({"reading_1_chest": -0.5}, ("no", "not-above-zero"), ("no", "one-round")),
    ({"reading_2_chest": None}, ("no", "one-round"), ("no", "")),
    ({"reading_2_chest": "ten"}, ("no", "one-round"), ("no", "")),
)


@pytest.mark.parametrize(("changed", "first", "second"), LEFT_OUT)
def test_why_a_reading_does_not_count(
    changed: dict[str, str | float | None], first: tuple[str, str], second: tuple[str, str]
) -> None:
    frame = readings_frame([_attempt(**changed)], BOOK)  # type: ignore[arg-type]
    chest = frame[(frame["site"] == "chest") & (frame["round"] < 3)]
    assert list(zip(chest["counts"], chest["left_out_because"], strict=True)) == [first, second]
    assert {first[1], second[1]} <= {"", *LEFT_OUT_WORDS}


def test_a_third_reading_and_the_teacher_enter_no_error_of_the_class() -> None:
    entries = _attempt(reading_3_chest=12.0).entries
    for student, counts in (("S01", ("third", "")), ("T1", ("no", "teacher"))):
        frame = readings_frame([attempt_of(student, "P02", entries)], BOOK)
        third = frame[(frame["site"] == "chest") & (frame["round"] == 3)].iloc[0]
        assert (third["counts"], third["left_out_because"]) == counts


def _gaps(*gaps: float) -> list[Attempt]:
    """A sheet for each difference of the rounds at the chest [mm], the third reading settled."""
    return [
        attempt_of(
            f"S{number:02}",
            f"P{number:02}",
            {**_attempt().entries, "reading_2_chest": 11.0 + gap, "reading_3_chest": 11.0},
        )
        for number, gap in enumerate(gaps)
    ]


# differences of ten sheets [mm], the last is judged; the limit: 6 times their median, that 0.25 at least
FAR = (
    ((*[1.0] * 9, 6.0), 6.0, "yes"),
    ((*[1.0] * 9, 6.5), 6.0, "no"),
    ((*[0.0] * 9, 1.5), 1.5, "yes"),
    ((*[0.0] * 9, 2.0), 1.5, "no"),
    ((*[1.0] * 8, 20.0), None, "yes"),
)


@pytest.mark.parametrize(("gaps", "limit", "counts"), FAR)
def test_a_pair_further_apart_than_the_class_allows_is_a_slip(
    gaps: tuple[float, ...], limit: float | None, counts: str
) -> None:
    frame = readings_frame(_gaps(*gaps), BOOK)
    chest = frame[(frame["site"] == "chest") & (frame["round"] < 3)].iloc[-2:]
    assert set(chest["counts"]) == {counts}
    assert set(chest["left_out_because"]) == {"" if counts == "yes" else "far-apart"}
    limits = {value for value in chest["far_limit"] if value == value}
    assert limits == (set() if limit is None else {100 * limit})


def test_a_sheet_that_only_came_late_is_not_in_question() -> None:
    late = Finding("procedure-late", {"day": "2027-03-05", "last": "2027-03-04"})
    sheet = replace(_attempt("review"), findings=(late,))
    assert set(readings_frame([sheet], BOOK)["in_question"]) == {False}


def test_a_slip_is_no_part_of_the_measurers_own_repeating() -> None:
    rounds = _rounds(*_gaps(*[1.0] * 9, 6.5))
    chest = rounds[rounds["site"] == "chest"].iloc[-1]
    assert (chest["why"], chest["whole_gap"]) == ("far-apart", -650)
    assert all(chest[name] != chest[name] for name in ("gap", "own_gap", "mean_mm", "first"))
    unsettled = _site("chest", reading_2_chest=15.0)
    assert (unsettled["why"], unsettled["gap"], unsettled["own_gap"]) == ("third-unsettled", None, -400)
