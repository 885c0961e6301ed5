import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy
import pandas
import pytest
from msgspec.structs import replace

from sheetgen.protocols.settings import Caliper
from sheetgen.statistics.calipers import (
    CaliperOffset,
    CaliperReport,
    OffsetFit,
    caliper_report,
    connected_groups,
    fit_offsets,
    in_one_hand,
    without_outliers,
)
from sheetgen.statistics.repeatability import Agreement, Interval, Undefined
from tests.statistics.measured import Sheet, measured, readings, rounds

REGISTER = [Caliper(name, "spring", 0.5, 60.0, 0.0) for name in ("A", "B", "C", "D")]
# Errors of the measurers [mm] that add up to nought, so that the truth is known.
ERRORS = (0.25, -0.25, 0.0, 0.25, -0.25, 0.0, 0.5, -0.5)


def _ring(reads: dict[str, float], measurers: int = 3) -> list[Sheet]:
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


def _report(sheets: list[Sheet], register: list[Caliper] = REGISTER) -> CaliperReport:
    return caliper_report(readings(sheets), rounds(sheets), register)


def _offsets(sheets: list[Sheet], register: list[Caliper] = REGISTER) -> dict[str, CaliperOffset]:
    offsets = _report(sheets, register).offsets
    assert not isinstance(offsets, Undefined)
    return {one.caliper_id: one for one in offsets}


def test_a_forgotten_zero_of_one_millimetre() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}))
    assert [name for name, one in found.items() if one.near_mm is not None] == ["B"]
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
    report = _report(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}, measurers=1))
    assert report.offsets == Undefined("calipers-cannot-be-told")


def test_two_calipers_do_not_tell_which_is_off() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0}))
    reason = Undefined("two-calipers-only", (("first", "A"), ("second", "B")))
    assert [(one.offset, one.near_mm) for one in found.values()] == [(reason, None)] * 2


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
    report = _report([measured("S1", "P1", {"chest": (10, 10)}, caliper="B")], register)
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
    report = _report([sheet])
    assert [one.caliper_id for one in report.zero_differences] == ["B"]
    assert report.left_out == 1


def test_a_sheet_about_someone_else_hides_no_caliper() -> None:
    sheets = _ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0})
    wrong = measured(sheets[5].student_id, sheets[5].participant_code, {"chest": (40, 40), "thigh": (50, 50)})
    sheets[5] = replace(wrong, calipers=sheets[5].calipers)
    report = _report(sheets)
    assert report.far_off == 1
    assert _offsets(sheets)["B"].near_mm == 1.0


def test_the_family_wise_rule_is_in_the_interval() -> None:
    found = _offsets(_ring({"A": 0.0, "B": 1.0, "C": 0.0, "D": 0.0}))
    intervals = [one.interval for one in found.values()]
    assert [None if isinstance(one, Undefined) else one.confidence for one in intervals] == [0.9875] * 4


def test_no_sheets() -> None:
    report = _report([])
    assert report.zero_differences == ()
    assert isinstance(report.offsets, Undefined)


@dataclass(frozen=True)
class Observation:
    """One sheet, its mean over the sites [mm]."""

    person: str
    caliper: str
    measurer: str
    value: float


def _frame(observations: Sequence[Observation]) -> pandas.DataFrame:
    return pandas.DataFrame(
        [vars(one) for one in observations], columns=["person", "caliper", "measurer", "value"]
    )


def _fit_offsets(observations: Sequence[Observation]) -> OffsetFit | Undefined:
    return fit_offsets(_frame(observations))


def _connected_groups(observations: Sequence[Observation]) -> tuple[tuple[str, ...], ...]:
    return connected_groups(_frame(observations))


def _without_outliers(observations: Sequence[Observation]) -> tuple[Observation, ...]:
    return tuple(observations[number] for number in without_outliers(_frame(observations)).index)


def _observed(
    people: int, each: int, offsets: dict[str, float], error: float, habit: float, seed: int = 1
) -> list[Observation]:
    """Person n is measured by measurers n + 1, n + 2 ...; calipers go round by measurer."""
    dice = random.Random(seed)
    habits = [dice.gauss(0, habit) for _ in range(people)]
    names = sorted(offsets)
    found = []
    for person in range(people):
        fold = dice.gauss(15, 5)
        for step in range(1, each + 1):
            measurer = (person + step) % people
            caliper = names[measurer % len(names)]
            value = fold + offsets[caliper] + habits[measurer] + dice.gauss(0, error)
            found.append(Observation(f"P{person}", caliper, f"M{measurer}", value))
    return found


def test_offsets_without_error_are_exact() -> None:
    fit = _fit_offsets(_observed(12, 3, {"A": 0.0, "B": 0.0, "C": 1.5}, 0, 0))
    assert isinstance(fit, OffsetFit)
    assert [round(offset, 9) for offset in fit.offsets] == [-0.5, -0.5, 1.0]
    assert round(fit.contrast(2, [0, 1])[0], 9) == 1.5
    assert fit.degrees_of_freedom == 9


def test_variances_are_recovered_on_average() -> None:
    """Error 0.4 and habit 0.3 mm put in; mean variances of 40 classes of 30 within a tenth of them."""
    offsets = dict.fromkeys("ABCDEFGHIJ", 0.0)
    fits = [_fit_offsets(_observed(30, 3, offsets, 0.4, 0.3, seed)) for seed in range(40)]
    found = [fit for fit in fits if isinstance(fit, OffsetFit)]
    assert len(found) == 40
    assert sum(fit.error**2 for fit in found) / 40 == pytest.approx(0.16, rel=0.1)
    assert sum(fit.habit**2 for fit in found) / 40 == pytest.approx(0.09, rel=0.2)


def test_the_standard_error_is_that_of_repeated_classes() -> None:
    """Over 100 classes the offsets spread as the mean standard error says, within a fifth."""
    offsets = dict.fromkeys("ABCDEFGHIJ", 0.0)
    contrasts = []
    for seed in range(100):
        fit = _fit_offsets(_observed(30, 3, offsets, 0.4, 0.3, seed))
        assert isinstance(fit, OffsetFit)
        contrasts.append(fit.contrast(0, range(1, 10)))
    spread = (sum(offset**2 for offset, _ in contrasts) / 100) ** 0.5
    expected = (sum(error**2 for _, error in contrasts) / 100) ** 0.5
    assert spread == pytest.approx(expected, rel=0.2)


def test_one_measurer_a_caliper_cannot_be_told_apart() -> None:
    found = [Observation(f"P{n}", c, c, 10.0 + n) for n in range(9) for c in "AB"]
    assert _fit_offsets(found) == Undefined("caliper-or-measurer")


def test_one_caliper_or_too_few_people() -> None:
    alone = [Observation("P1", "A", "M1", 10), Observation("P1", "A", "M2", 11)]
    assert _fit_offsets(alone) == Undefined("no-two-calipers")
    few = [*alone[:1], Observation("P1", "B", "M2", 11), Observation("P2", "A", "M3", 11)]
    assert _fit_offsets(few) == Undefined("few-two-calipers")


def test_groups_are_joined_through_people() -> None:
    pairs = (("P1", "A"), ("P1", "B"), ("P2", "C"), ("P2", "D"), ("P3", "D"), ("P3", "E"))
    found = [Observation(person, caliper, "M", 1.0) for person, caliper in pairs]
    assert _connected_groups(found) == (("A", "B"), ("C", "D", "E"))


def test_a_sheet_about_someone_else_is_an_outlier() -> None:
    honest = _observed(20, 3, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    wrong = Observation(honest[4].person, honest[4].caliper, honest[4].measurer, honest[4].value + 8)
    assert _without_outliers([*honest[:4], wrong, *honest[5:]]) == (*honest[:4], *honest[5:])


def test_of_two_sheets_about_a_person_both_go() -> None:
    honest = _observed(20, 2, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    wrong = Observation(honest[4].person, honest[4].caliper, honest[4].measurer, honest[4].value + 8)
    assert _without_outliers([*honest[:4], wrong, *honest[5:]]) == (*honest[:4], *honest[6:])


def test_a_caliper_that_is_far_off_is_no_outlier() -> None:
    honest = _observed(20, 3, {"A": 0.0, "B": 0.0, "C": 5.0}, 0.3, 0.1)
    assert _without_outliers(honest) == tuple(honest)


def test_offsets_and_covariance_worked_out_by_hand() -> None:
    """Two calipers, three people measured once with each, differences B less A of 1, 2 and 3 mm.

    Offsets -1 and 1 mm. What is left of each sheet is half of -1, 0, 1: squares 1 over 2 degrees of freedom.
    A = 3 [[0.5, -0.5], [-0.5, 0.5]], so A+ = [[1/6, -1/6], [-1/6, 1/6]].
    """
    found = [
        Observation(f"P{person}", caliper, f"{caliper}{person}", 10.0 * person + more)
        for person in (1, 2, 3)
        for caliper, more in (("A", 0.0), ("B", float(person)))
    ]
    fit = _fit_offsets(found)
    assert isinstance(fit, OffsetFit)
    assert fit.degrees_of_freedom == 4
    assert fit.offsets == pytest.approx((-1.0, 1.0))
    assert fit.error**2 + fit.habit**2 == pytest.approx(0.5)
    # Of a difference: its variance over the three people, (1 + 0 + 1) / 2, over 3.
    assert fit.contrast(1, [0]) == pytest.approx((2.0, (1 / 3) ** 0.5))
    assert fit.contrast(0, [1])[0] == pytest.approx(-2.0)
    twelfth = 1 / 12
    assert [list(row) for row in fit.covariance] == [
        pytest.approx([twelfth, -twelfth]), pytest.approx([-twelfth, twelfth]),
    ]  # fmt: skip


def test_offsets_and_their_covariance_add_up_to_nought() -> None:
    fit = _fit_offsets(_observed(30, 3, {"A": 0.0, "B": 1.0, "C": -0.4, "D": 2.0}, 0.4, 0.3))
    assert isinstance(fit, OffsetFit)
    assert sum(fit.offsets) == pytest.approx(0.0, abs=1e-9)
    for row, column in zip(fit.covariance, zip(*fit.covariance, strict=True), strict=True):
        assert (sum(row), sum(column)) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_contrast_takes_the_mean_of_the_others() -> None:
    """Variances 1, 4 and 9, nothing shared: 1 + (4 + 9) / 4."""
    covariance = ((1.0, 0.0, 0.0), (0.0, 4.0, 0.0), (0.0, 0.0, 9.0))
    fit = OffsetFit(numpy.array((3.0, -1.0, -2.0)), numpy.array(covariance), 5, 1.0, 0.0)
    assert fit.contrast(0, [1, 2]) == pytest.approx((4.5, 4.25**0.5))


def test_a_covariance_below_nought_by_rounding_gives_no_error() -> None:
    fit = OffsetFit(numpy.zeros(2), numpy.array(((-1e-18, 0.0), (0.0, 0.0))), 5, 0.0, 0.0)
    assert fit.contrast(0, [1]) == (0.0, 0.0)


def test_one_measurer_more_than_calipers_and_one_sheet_more_than_needed_are_enough() -> None:
    """Three sheets of two people in two calipers leave 3 - 2 - 2 + 1 = 0; a fourth leaves 1."""
    found = [
        Observation("P1", "A", "M1", 10.0), Observation("P1", "B", "M2", 11.0),
        Observation("P2", "A", "M3", 12.0),
    ]  # fmt: skip
    assert _fit_offsets(found) == Undefined("few-two-calipers")
    fit = _fit_offsets([*found, Observation("P2", "B", "M2", 13.0)])
    assert isinstance(fit, OffsetFit)
    assert fit.degrees_of_freedom == 1
    assert fit.offsets == pytest.approx((-0.5, 0.5))


def test_where_most_sheets_agree_to_the_last_digit_none_is_an_outlier() -> None:
    """Half of what is left is nought, so there is nothing to hold the others against."""
    sheets = [Observation(f"P{n}", "A", f"M{m}", 10.0 + n) for n in range(9) for m in (1, 2)]
    sheets[0] = Observation("P0", "A", "M1", 30.0)
    assert _without_outliers(sheets) == tuple(sheets)


def test_no_sheets_have_no_outliers_and_no_groups() -> None:
    assert _without_outliers([]) == ()
    assert _connected_groups([]) == ()


def test_outliers_go_one_after_the_other() -> None:
    honest = _observed(20, 3, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    sheets = list(honest)
    for at, more in ((4, 8.0), (31, -20.0)):
        one = honest[at]
        sheets[at] = Observation(one.person, one.caliper, one.measurer, one.value + more)
    assert _without_outliers(sheets) == tuple(one for at, one in enumerate(honest) if at not in (4, 31))


def _both(people: int, more: Sequence[float], measurers: Sequence[str] = ("S1",)) -> pandas.DataFrame:
    """Everybody measured with A in the circuit and with B besides, or the other way round in turn; B reads
    higher by `more` at the chest, in turn, and by 0.4 mm more than that at the thigh."""
    parts = []
    for exercise in (0, 1):
        sheets = []
        for number in range(people):
            for which, student in enumerate(measurers):
                caliper = "AB"[(number + exercise) % 2]
                higher = more[(number + which) % len(more)] * (caliper == "B")
                extra = 0.4 * (caliper == "B")
                folds = {"chest": (12 + higher,) * 2, "thigh": (20 + higher + extra,) * 2}
                sheets.append(measured(student, f"P{number}", folds, caliper=caliper))
        word = ("circuit", "second-caliper")[exercise]
        parts.append(rounds(sheets).assign(exercise=word, in_question=False))
    return pandas.concat(parts)


def test_two_calipers_in_one_hand_by_hand() -> None:
    """Six people, 0.5 and 1.5 mm in turn: mean 1.0, deviation sqrt(6 x 0.25 / 5) = 0.5477; t(5) is 2.5706
    (tables), so the mean is out by up to 2.5706 x 0.5477 / sqrt(6) = 0.5748. At the thigh 0.4 more, over both
    sites 0.2 more. Whichever was used first, it is B less A."""
    found = in_one_hand(_both(6, (0.5, 1.5)))
    assert [(one.first, one.second, one.site, one.people) for one in found] == [
        ("A", "B", "", 6), ("A", "B", "chest", 6), ("A", "B", "thigh", 6),
    ]  # fmt: skip
    for one, mean in zip(found, (1.2, 1.0, 1.4), strict=True):
        assert isinstance(one.agreement, Agreement)
        assert one.agreement.mean_difference == pytest.approx(mean)
        interval = one.agreement.mean_interval
        assert isinstance(interval, Interval)
        assert (interval.lower, interval.upper) == pytest.approx((mean - 0.5748, mean + 0.5748), abs=1e-3)


def test_one_difference_a_person_however_many_measured_them() -> None:
    """Two measurers of each person, one finds 0.5 and one 1.5 mm: six differences of 1.0, not twelve."""
    chest = in_one_hand(_both(6, (0.5, 1.5), ("S1", "S2")))[1]
    assert isinstance(chest.agreement, Agreement)
    assert (chest.agreement.pairs, chest.agreement.mean_difference) == (6, pytest.approx(1.0))


def test_of_fewer_than_five_people_nothing_is_told() -> None:
    found = in_one_hand(_both(4, (0.5, 1.5)))
    assert {one.agreement for one in found} == {Undefined("small-cell", (("people", 4), ("needed", 5)))}
    alone = _both(6, (1.0,))
    assert in_one_hand(alone[alone["exercise"] == "circuit"]) == ()
    assert in_one_hand(alone.assign(in_question=True)) == ()
