import math
import random
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from sheetgen.statistics.digits import (
    DigitCounts,
    all_pairs_identical_chance,
    compression,
    digit_chance,
    digit_counts,
    digit_preference,
    identical_records,
    third_reading_chance_on_scale,
)
from sheetgen.statistics.repeatability import Undefined
from tests.reference_values import rows
from tests.statistics.measured import measured, rounds

ALL_TEN = tuple(range(10))


# scale [0.01 mm], the final digits it can show
SCALES = ((100, ALL_TEN), (50, (0, 5)), (20, (0, 2, 4, 6, 8)), (10, ALL_TEN), (200, (0, 2, 4, 6, 8)))


@pytest.mark.parametrize(("division", "expected"), SCALES)
def test_final_digits_of_a_scale(division: int, expected: tuple[int, ...]) -> None:
    """Whole millimetres at 1 mm, tenths below."""
    assert digit_counts([], division).digits == expected


@pytest.mark.parametrize(
    ("readings", "division", "counts", "off_scale"),
    [
        ([1500, 2000, 2100, 2150], 100, (1, 1, 0, 0, 0, 1, 0, 0, 0, 0), 1),
        ([1200, 1250, 1260, 50], 50, (1, 2), 1),
        ([1240, 1260, 1230, 1300], 20, (1, 0, 1, 1, 0), 1),
        ([], 10, (0,) * 10, 0),
        ([-150], 10, (0, 0, 0, 0, 0, 1, 0, 0, 0, 0), 0),  # a zero reading of -1.5
    ],
)
def test_digit_counts_on_a_scale(
    readings: list[int], division: int, counts: tuple[int, ...], off_scale: int
) -> None:
    found = digit_counts(readings, division)
    assert (found.counts, found.off_scale) == (counts, off_scale)


@given(st.lists(st.integers(0, 9000)), st.sampled_from([1, 10, 20, 50, 100]))
def test_digit_counts_hold_every_reading(readings: list[int], division: int) -> None:
    counted = digit_counts(readings, division)
    assert sum(counted.counts) + counted.off_scale == len(readings)


@given(st.lists(st.integers(5, 500), min_size=10, max_size=10))
def test_digit_test_against_scipy(counts: list[int]) -> None:
    result = digit_chance(DigitCounts(ALL_TEN, tuple(counts), 0))
    assert result == pytest.approx(stats.chisquare(counts).pvalue, rel=1e-9, abs=1e-300)


def test_digit_test_of_readings_that_pile_up() -> None:
    result = digit_chance(DigitCounts(ALL_TEN, (30, 2, 4, 3, 2, 25, 3, 4, 4, 3), 0))
    assert result is not None and result < 1e-6


def test_digit_test_of_even_counts() -> None:
    assert digit_chance(DigitCounts((0, 5), (20, 20), 3)) == 1.0


def test_digit_test_of_too_few_readings() -> None:
    assert digit_chance(digit_counts([1200] * 49, 100)) is None
    assert digit_chance(digit_counts([1200] * 50, 100)) is not None


def test_thinner_everywhere_by_chance() -> None:
    """Every order of five to seven pairs that differ, equally likely: one in 2^n is thinner throughout."""
    for pairs in (5, 6, 7):
        sheets = [
            measured(f"S{number:03}", "P1", dict(zip(SITES, gaps, strict=False)))
            for number, gaps in enumerate(product(((10, 9.5), (10, 10.5)), repeat=pairs))
        ]
        report = compression(rounds(sheets))
        assert [one.pairs for one in report.students] == [pairs]
        assert report.expected == 1.0


errors = st.floats(0.05, 5)
rules = st.integers(0, 400)
divisions = st.sampled_from([10, 20, 50, 100])


def chance_of(row: dict[str, str]) -> float:
    error, rule = float(row["technical_error_mm"]), round(100 * float(row["rule_mm"]))
    if row["division_mm"]:
        return third_reading_chance_on_scale(error, rule, round(100 * float(row["division_mm"])))
    # A scale without steps lies between two of a hundredth of a millimetre: exactly met, within and beyond.
    return sum(third_reading_chance_on_scale(error, limit, 1) for limit in (rule, rule - 1)) / 2


@pytest.mark.parametrize(
    "row", rows("third_reading_chance"), ids=lambda row: "-".join(list(row.values())[:3])
)
def test_third_reading_chance_against_the_reference(row: dict[str, str]) -> None:
    assert 100 * chance_of(row) == pytest.approx(float(row["percent"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    ("error", "rule", "division"),
    [(0.5, 100, 20), (0.5, 100, 100), (1.0, 100, 50), (1.0, 100, 20), (1.5, 200, 100)],
)
def test_third_reading_chance_in_a_simulation(error: float, rule: int, division: int) -> None:
    """30,000 seeded folds of any thickness, read to the nearest division: within 4 standard errors."""
    chance = random.Random(11)
    step = division / 100
    called = 0
    for _ in range(30_000):
        fold = chance.uniform(8, 40)
        first, second = (round(chance.gauss(fold, error) / step) for _ in range(2))
        called += abs(first - second) * division > rule
    expected = third_reading_chance_on_scale(error, rule, division)
    assert called / 30_000 == pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / 30_000))


@given(errors, divisions)
def test_a_pair_identical_by_integration(error: float, division: int) -> None:
    """Both readings in the same division, averaged over where in a division the fold lies."""
    step = division / 100

    def same(fold: float) -> float:
        reach = int(8 * error / step) + 2
        edges = [(place - 0.5) * step for place in range(-reach, reach + 2)]
        below = stats.norm.cdf(edges, fold, error)
        return float(((below[1:] - below[:-1]) ** 2).sum())

    expected = integrate.quad(same, 0, step / 2, epsabs=1e-9)[0] / (step / 2)
    assert all_pairs_identical_chance([error], division) == pytest.approx(expected, abs=1e-7)


@given(errors, st.integers(1, 400))
def test_third_reading_chance_on_a_fine_scale(error: float, rule: int) -> None:
    """At a hundredth of a millimetre the steps hardly show: half a step of the rule bounds the difference."""
    on_scale = third_reading_chance_on_scale(error, rule, 1)
    # Without steps: 2 Phi(-rule / sqrt(2) TEM).
    above, below = (
        2 * stats.norm.sf(limit, scale=math.sqrt(2) * error) for limit in (rule / 100 + 0.01, rule / 100)
    )
    assert above - 1e-9 <= on_scale <= below + 1e-9


def test_third_reading_chance_with_a_rule_between_two_gaps() -> None:
    """Readings to the millimetre lie 1 or 2 mm apart, never 1.5: the rule acts as one of 1 mm."""
    between = third_reading_chance_on_scale(0.5, 150, 100)
    assert between == third_reading_chance_on_scale(0.5, 100, 100)
    assert between == pytest.approx(0.049, abs=0.0005)


def test_third_reading_chance_with_an_error_beyond_any_fold() -> None:
    """A chance is never above 1, though rounding would leave 1.00000005 here."""
    assert third_reading_chance_on_scale(1e7, 0, 1) == 1


def test_a_pair_identical_on_a_scale_of_hundredths() -> None:
    """About the step times the density of the difference at nought: 0.01 / (sqrt(4 pi) TEM)."""
    assert all_pairs_identical_chance([0.5], 1) == pytest.approx(0.0056419, abs=5e-7)


@given(errors, rules, divisions)
def test_third_reading_chance_falls_with_the_rule(error: float, rule: int, division: int) -> None:
    wider = third_reading_chance_on_scale(error, rule + division, division)
    assert 0 <= wider <= third_reading_chance_on_scale(error, rule, division) <= 1


@pytest.mark.parametrize("row", rows("identical_records"), ids=lambda row: row["technical_error_mm"])
def test_all_pairs_identical_against_the_reference(row: dict[str, str]) -> None:
    chance = all_pairs_identical_chance([float(row["technical_error_mm"])] * 7, 100)
    assert f"{100 * chance:.1f}" == row["percent"]


def test_all_pairs_identical_with_errors_of_their_own() -> None:
    expected = all_pairs_identical_chance([0.3], 50) * all_pairs_identical_chance([0.9], 50)
    assert all_pairs_identical_chance([0.3, 0.9], 50) == pytest.approx(expected)


def test_chances_without_error() -> None:
    assert third_reading_chance_on_scale(0, 0, 100) == 0
    assert all_pairs_identical_chance([0, 0], 100) == 1


SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")


def _same_everywhere(first: float, second: float) -> dict[str, tuple[float, float]]:
    return dict.fromkeys(SITES, (first, second))


def test_readings_on_whole_millimetres_pile_up() -> None:
    """70 readings on whole millimetres at a 0.5 mm scale: chi-square 70, 1 degree of freedom."""
    sheets = [measured(f"S{one}", f"P{one}", _same_everywhere(10 + one, 10.5)) for one in range(10)]
    (found,) = digit_preference(rounds(sheets))
    assert (found.division_mm, found.sheets, found.counts.counts) == (0.5, 10, (70, 0))
    assert (found.chance, found.piles_up) == (pytest.approx(5.9e-17, rel=0.01), True)
    assert found.digit == 0


def test_readings_that_use_the_scale_do_not_pile_up() -> None:
    sheets = [measured(f"S{one}", f"P{one}", _same_everywhere(10 + one / 2, 10.0)) for one in range(10)]
    (found,) = digit_preference(rounds(sheets))
    assert (found.counts.counts, found.piles_up) == ((35, 35), False)


def test_each_scale_is_tested_on_its_own_and_few_readings_say_nothing() -> None:
    sheets = [
        measured("S1", "P1", _same_everywhere(10, 10)),
        measured("S2", "P2", _same_everywhere(10, 10), division=100),
    ]
    half, whole = digit_preference(rounds(sheets))
    assert (half.division_mm, whole.division_mm) == (0.5, 1.0)
    assert (half.chance, whole.chance, half.piles_up, whole.piles_up) == (None, None, False, False)


def test_round_2_thinner_everywhere() -> None:
    report = compression(
        rounds(
            [
                measured("S1", "P1", _same_everywhere(10, 9.5)),
                measured("S2", "P2", _same_everywhere(10, 10.5)),
                measured("S3", "P3", _same_everywhere(10, 10)),
                measured("T1", "P3", _same_everywhere(10, 9), is_teacher=True),
            ]
        )
    )
    assert [(one.student_id, one.copy_codes, one.pairs) for one in report.students] == [("S1", ("S1-P1",), 7)]
    assert report.expected == 2 / 128


def test_four_pairs_are_not_everywhere() -> None:
    report = compression(rounds([measured("S1", "P1", dict.fromkeys(SITES[:4], (10, 9)))]))
    assert (report.students, report.expected) == ((), 0.0)


def test_identical_pairs_judged_by_the_class() -> None:
    """1.9 % of honest records at a 1 mm scale with a technical error of 0.4 mm."""
    sheets = [
        measured("S1", "P1", _same_everywhere(10, 10), division=100),
        measured("S2", "P2", {**_same_everywhere(10, 10), "thigh": (10, 11)}, division=100),
        measured("S3", "P3", dict.fromkeys(SITES[:4], (10, 10)), division=100),
    ]
    report = identical_records(rounds(sheets), dict.fromkeys(SITES, 0.4))
    (found,) = report.records
    assert isinstance(found.chance, float) and isinstance(report.expected, float)
    assert (found.copy_code, found.sites, round(100 * found.chance, 1)) == ("S1-P1", 7, 1.9)
    assert report.expected == 2 * found.chance


def test_identical_pairs_where_the_error_is_not_known() -> None:
    report = identical_records(rounds([measured("S1", "P1", _same_everywhere(10, 10))]), {"chest": 0.4})
    assert isinstance(report.records[0].chance, Undefined)
    assert isinstance(report.expected, Undefined)
