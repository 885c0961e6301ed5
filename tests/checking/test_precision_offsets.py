import random

import pytest

from sheetgen.checking.precision_offsets import (
    Observation,
    OffsetFit,
    connected_groups,
    fit_offsets,
    without_outliers,
)
from sheetgen.core.outcome import Undefined


def _ring(
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
    fit = fit_offsets(_ring(12, 3, {"A": 0.0, "B": 0.0, "C": 1.5}, 0, 0))
    assert isinstance(fit, OffsetFit)
    assert [round(offset, 9) for offset in fit.offsets] == [-0.5, -0.5, 1.0]
    assert round(fit.contrast(2, [0, 1])[0], 9) == 1.5
    assert fit.degrees_of_freedom == 9


def test_variances_are_recovered_on_average() -> None:
    """Error 0.4 and habit 0.3 mm put in; mean variances of 40 classes of 30 within a tenth of them."""
    offsets = dict.fromkeys("ABCDEFGHIJ", 0.0)
    fits = [fit_offsets(_ring(30, 3, offsets, 0.4, 0.3, seed)) for seed in range(40)]
    found = [fit for fit in fits if isinstance(fit, OffsetFit)]
    assert len(found) == 40
    assert sum(fit.error**2 for fit in found) / 40 == pytest.approx(0.16, rel=0.1)
    assert sum(fit.habit**2 for fit in found) / 40 == pytest.approx(0.09, rel=0.2)


def test_the_standard_error_is_that_of_repeated_classes() -> None:
    """Over 100 classes the offsets spread as the mean standard error says, within a fifth."""
    offsets = dict.fromkeys("ABCDEFGHIJ", 0.0)
    contrasts = []
    for seed in range(100):
        fit = fit_offsets(_ring(30, 3, offsets, 0.4, 0.3, seed))
        assert isinstance(fit, OffsetFit)
        contrasts.append(fit.contrast(0, range(1, 10)))
    spread = (sum(offset**2 for offset, _ in contrasts) / 100) ** 0.5
    expected = (sum(error**2 for _, error in contrasts) / 100) ** 0.5
    assert spread == pytest.approx(expected, rel=0.2)


def test_one_measurer_a_caliper_cannot_be_told_apart() -> None:
    found = [Observation(f"P{n}", c, c, 10.0 + n) for n in range(9) for c in "AB"]
    assert fit_offsets(found) == Undefined("caliper-or-measurer")


def test_one_caliper_or_too_few_people() -> None:
    alone = [Observation("P1", "A", "M1", 10), Observation("P1", "A", "M2", 11)]
    assert fit_offsets(alone) == Undefined("no-two-calipers")
    few = [*alone[:1], Observation("P1", "B", "M2", 11), Observation("P2", "A", "M3", 11)]
    assert fit_offsets(few) == Undefined("few-two-calipers")


def test_groups_are_joined_through_people() -> None:
    pairs = (("P1", "A"), ("P1", "B"), ("P2", "C"), ("P2", "D"), ("P3", "D"), ("P3", "E"))
    found = [Observation(person, caliper, "M", 1.0) for person, caliper in pairs]
    assert connected_groups(found) == (("A", "B"), ("C", "D", "E"))


def test_a_sheet_about_someone_else_is_an_outlier() -> None:
    honest = _ring(20, 3, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    wrong = Observation(honest[4].person, honest[4].caliper, honest[4].measurer, honest[4].value + 8)
    assert without_outliers([*honest[:4], wrong, *honest[5:]]) == (*honest[:4], *honest[5:])


def test_of_two_sheets_about_a_person_both_go() -> None:
    honest = _ring(20, 2, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    wrong = Observation(honest[4].person, honest[4].caliper, honest[4].measurer, honest[4].value + 8)
    assert without_outliers([*honest[:4], wrong, *honest[5:]]) == (*honest[:4], *honest[6:])


def test_a_caliper_that_is_far_off_is_no_outlier() -> None:
    honest = _ring(20, 3, {"A": 0.0, "B": 0.0, "C": 5.0}, 0.3, 0.1)
    assert without_outliers(honest) == tuple(honest)


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
    fit = fit_offsets(found)
    assert isinstance(fit, OffsetFit)
    assert (fit.calipers, fit.degrees_of_freedom) == (("A", "B"), 4)
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
    fit = fit_offsets(_ring(30, 3, {"A": 0.0, "B": 1.0, "C": -0.4, "D": 2.0}, 0.4, 0.3))
    assert isinstance(fit, OffsetFit)
    assert sum(fit.offsets) == pytest.approx(0.0, abs=1e-9)
    for row, column in zip(fit.covariance, zip(*fit.covariance, strict=True), strict=True):
        assert (sum(row), sum(column)) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_contrast_takes_the_mean_of_the_others() -> None:
    """Variances 1, 4 and 9, nothing shared: 1 + (4 + 9) / 4."""
    covariance = ((1.0, 0.0, 0.0), (0.0, 4.0, 0.0), (0.0, 0.0, 9.0))
    fit = OffsetFit(("A", "B", "C"), (3.0, -1.0, -2.0), covariance, 5, 1.0, 0.0)
    assert fit.contrast(0, [1, 2]) == pytest.approx((4.5, 4.25**0.5))


def test_a_covariance_below_nought_by_rounding_gives_no_error() -> None:
    fit = OffsetFit(("A", "B"), (0.0, 0.0), ((-1e-18, 0.0), (0.0, 0.0)), 5, 0.0, 0.0)
    assert fit.contrast(0, [1]) == (0.0, 0.0)


def test_one_measurer_more_than_calipers_and_one_sheet_more_than_needed_are_enough() -> None:
    """Three sheets of two people in two calipers leave 3 - 2 - 2 + 1 = 0; a fourth leaves 1."""
    found = [
        Observation("P1", "A", "M1", 10.0), Observation("P1", "B", "M2", 11.0),
        Observation("P2", "A", "M3", 12.0),
    ]  # fmt: skip
    assert fit_offsets(found) == Undefined("few-two-calipers")
    fit = fit_offsets([*found, Observation("P2", "B", "M2", 13.0)])
    assert isinstance(fit, OffsetFit)
    assert fit.degrees_of_freedom == 1
    assert fit.offsets == pytest.approx((-0.5, 0.5))


def test_where_most_sheets_agree_to_the_last_digit_none_is_an_outlier() -> None:
    """Half of what is left is nought, so there is nothing to hold the others against."""
    sheets = [Observation(f"P{n}", "A", f"M{m}", 10.0 + n) for n in range(9) for m in (1, 2)]
    sheets[0] = Observation("P0", "A", "M1", 30.0)
    assert without_outliers(sheets) == tuple(sheets)


def test_no_sheets_have_no_outliers_and_no_groups() -> None:
    assert without_outliers([]) == ()
    assert connected_groups([]) == ()


def test_outliers_go_one_after_the_other() -> None:
    honest = _ring(20, 3, {"A": 0.0, "B": 0.0, "C": 3.0}, 0.3, 0.1)
    sheets = list(honest)
    for at, more in ((4, 8.0), (31, -20.0)):
        one = honest[at]
        sheets[at] = Observation(one.person, one.caliper, one.measurer, one.value + more)
    assert without_outliers(sheets) == tuple(one for at, one in enumerate(honest) if at not in (4, 31))
