from dataclasses import replace

from sheetgen.checking.calipers import CaliperOffset, caliper_report
from sheetgen.checking.precision_sheets import MeasuredSheet
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.model.settings import Caliper
from tests.checking.measured import measured

REGISTER = [Caliper(name, "spring", 0.5, 60.0, 0.0) for name in ("A", "B", "C", "D")]
# Errors of the measurers [mm] that add up to nought, so that the truth is known.
ERRORS = (0.25, -0.25, 0.0, 0.25, -0.25, 0.0, 0.5, -0.5)


def _ring(reads: dict[str, float], measurers: int = 3) -> list[MeasuredSheet]:
    """24 people measured by the next three measurers each; calipers go round by measurer."""
    sheets, names = [], sorted(reads)
    for person in range(24):
        for step in range(1, measurers + 1):
            who = (person + step) % 24
            caliper = names[who % len(names)]
            fold = 12 + person % 5 + reads[caliper] + ERRORS[(3 * person + step) % 8]
            readings = {"chest": (fold, fold), "thigh": (fold + 6, fold + 6)}
            sheets.append(measured(f"S{who:02}", f"P{person:02}", readings, caliper=caliper))
    return sheets


def _offsets(sheets: list[MeasuredSheet], register: list[Caliper] = REGISTER) -> dict[str, CaliperOffset]:
    offsets = caliper_report(sheets, register).offsets
    assert not isinstance(offsets, Undefined)
    return {one.caliper_id: one for one in offsets}


def test_a_forgotten_zero_of_one_millimetre() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}))
    assert [name for name, one in found.items() if one.zero_looks_forgotten] == ["B"]
    assert found["B"].near_mm == 1.0
    assert isinstance(found["B"].offset, float)
    assert 0.8 < found["B"].offset < 1.2
    assert (found["B"].sheets, found["B"].people, found["B"].measurers) == (18, 18, 6)


def test_the_registered_zero_left_in_is_named_before_a_whole_division() -> None:
    register = [replace(one, zero=-0.7) if one.identifier == "B" else one for one in REGISTER]
    sheets = [
        replace(sheet, calipers=(("B", -70),)) if sheet.caliper_id == "B" else sheet
        for sheet in _ring({"A": 0.0, "B": -0.7, "C": 0.0, "D": 0.0})
    ]
    assert _offsets(sheets, register)["B"].near_mm == -0.7


def test_calipers_that_agree_are_left_alone() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 0.0, "C": 0.0, "D": 0.0}))
    assert [one.beyond_chance for one in found.values()] == [False] * 4


def test_one_measurer_a_participant_cannot_tell() -> None:
    report = caliper_report(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}, measurers=1), REGISTER)
    assert report.offsets == Undefined("calipers-cannot-be-told")


def test_two_calipers_do_not_tell_which_is_off() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0}))
    reason = Undefined("two-calipers-only", (("first", "A"), ("second", "B")))
    assert [(one.offset, one.zero_looks_forgotten) for one in found.values()] == [(reason, False)] * 2


def test_a_caliper_in_one_measurers_hands_is_not_called_off() -> None:
    sheets = _ring({"A": 0.0, "B": 0.0, "C": 0.0, "D": 0.0})
    teacher = [
        measured("T1", f"P{n:02}", {"chest": (17 + n % 5,) * 2, "thigh": (23 + n % 5,) * 2}, "E", True)
        for n in range(24)
    ]
    found = _offsets([*sheets, *teacher], [*REGISTER, Caliper("E", "spring", 0.5, 60.0, 0.0)])
    assert not found["E"].beyond_chance
    assert isinstance(found["E"].interval, Interval)
    assert found["E"].interval.lower > 0


def test_typed_and_registered_zero_that_disagree_are_exact() -> None:
    register = [replace(one, zero=1.0) if one.identifier == "B" else one for one in REGISTER]
    report = caliper_report([measured("S1", "P1", {"chest": (10, 10)}, caliper="B")], register)
    (found,) = report.zero_differences
    assert (found.copy_code, found.caliper_id, found.typed_mm, found.registered_mm) == (
        "S1-P1",
        "B",
        0.0,
        1.0,
    )
    assert report.left_out == 1


def test_sheets_with_two_calipers_are_left_out_and_their_zeros_looked_at() -> None:
    sheet = replace(measured("S1", "P1", {"chest": (10, 10)}), calipers=(("A", 0), ("B", 50)))
    report = caliper_report([sheet], REGISTER)
    assert [one.caliper_id for one in report.zero_differences] == ["B"]
    assert report.left_out == 1


def test_a_sheet_about_someone_else_hides_no_caliper() -> None:
    sheets = _ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0})
    wrong = measured(sheets[5].student_id, sheets[5].participant_code, {"chest": (40, 40), "thigh": (50, 50)})
    sheets[5] = replace(wrong, calipers=sheets[5].calipers)
    report = caliper_report(sheets, REGISTER)
    assert report.far_off == 1
    assert _offsets(sheets)["B"].zero_looks_forgotten


def test_the_family_wise_rule_is_in_the_interval() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}))
    intervals = [one.interval for one in found.values()]
    assert [None if isinstance(one, Undefined) else one.confidence for one in intervals] == [0.9875] * 4


def test_no_sheets() -> None:
    report = caliper_report([], REGISTER)
    assert report.zero_differences == ()
    assert isinstance(report.offsets, Undefined)
