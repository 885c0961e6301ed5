import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from sheetgen.statistics.digits import (
    DigitCounts,
    DigitTest,
    SignTest,
    all_pairs_identical_chance,
    digit_counts,
    digit_test,
    final_digits,
    sign_test,
    third_reading_chance_on_scale,
)
from sheetgen.statistics.outcome import Undefined
from tests.reference_values import rows

ALL_TEN = tuple(range(10))


@pytest.mark.parametrize(
    ("division", "expected"),
    [
        (100, ALL_TEN),  # 1 mm: whole millimetres
        (50, (0, 5)),  # 0.5 mm: tenths
        (20, (0, 2, 4, 6, 8)),
        (10, ALL_TEN),
        (1, ALL_TEN),
        (5, (0, 5)),
        (200, (0, 2, 4, 6, 8)),
    ],
)
def test_final_digits_of_a_scale(division: int, expected: tuple[int, ...]) -> None:
    assert final_digits(division) == expected


@pytest.mark.parametrize(
    ("division", "message"),
    [
        (0, "above 0"),
        (-10, "above 0"),
        (0.5, "whole number"),
        (True, "whole number"),
        (25, "1, 2 or 5 times a power of ten, not 0.25 mm"),
        (30, "1, 2 or 5 times a power of ten, not 0.3 mm"),
    ],
)
def test_final_digits_refuses_a_division(division: int, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        final_digits(division)


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
    assert digit_counts(readings, division) == DigitCounts(final_digits(division), counts, off_scale)


@given(st.lists(st.integers(0, 9000)), st.sampled_from([1, 10, 20, 50, 100]))
def test_digit_counts_hold_every_reading(readings: list[int], division: int) -> None:
    counted = digit_counts(readings, division)
    assert sum(counted.counts) + counted.off_scale == len(readings)


def test_digit_counts_refuses_a_reading_in_millimetres() -> None:
    with pytest.raises(ValueError, match="a reading is a whole number of hundredths"):
        digit_counts([12.5], 50)  # type: ignore[list-item]


@given(st.lists(st.integers(5, 500), min_size=10, max_size=10))
def test_digit_test_against_scipy(counts: list[int]) -> None:
    result = digit_test(DigitCounts(ALL_TEN, tuple(counts), 0))
    assert isinstance(result, DigitTest)
    expected = stats.chisquare(counts)
    assert result.chi_square == pytest.approx(expected.statistic)
    assert result.probability == pytest.approx(expected.pvalue, rel=1e-9, abs=1e-300)
    assert result.degrees_of_freedom == 9


def test_digit_test_of_readings_that_pile_up() -> None:
    result = digit_test(DigitCounts(ALL_TEN, (30, 2, 4, 3, 2, 25, 3, 4, 4, 3), 0))
    assert isinstance(result, DigitTest)
    assert result.probability < 1e-6


def test_digit_test_of_even_counts() -> None:
    assert digit_test(DigitCounts((0, 5), (20, 20), 3)) == DigitTest(0.0, 1, 20.0, 1.0)


def test_digit_test_of_too_few_readings() -> None:
    result = digit_test(digit_counts([1200] * 14, 100))
    assert result == Undefined("few-digits", (("digits", 10), ("needed", 50), ("there", 14)))


def test_sign_test_of_seven_lower_pairs() -> None:
    """By chance 1 in 128."""
    assert sign_test([-50] * 7) == SignTest(7, 0, 0, 1 / 128)


def test_sign_test_leaves_out_ties() -> None:
    assert sign_test([-50, 50, 0]) == SignTest(1, 1, 1, 0.75)


@pytest.mark.parametrize("gaps", [[], [0]])
def test_sign_test_without_a_difference(gaps: list[int]) -> None:
    assert sign_test(gaps) == Undefined("no-pair-differs")


@given(st.integers(0, 200), st.integers(1, 200))
def test_sign_test_is_the_exact_binomial_chance(lower: int, higher: int) -> None:
    """Ways to have so many lower or more, counted as whole numbers."""
    trials = lower + higher
    result = sign_test([-1] * lower + [1] * higher)
    assert isinstance(result, SignTest)
    ways = sum(math.comb(trials, count) for count in range(lower, trials + 1))
    assert result.probability == pytest.approx(ways / 2**trials, rel=1e-10)


def test_sign_test_of_a_whole_programme() -> None:
    """More pairs than a float can hold ways."""
    result = sign_test([-1] * 5050 + [1] * 4950)
    assert isinstance(result, SignTest)
    assert result.probability == pytest.approx(stats.binom.sf(5049, 10_000, 0.5), rel=1e-9)


@given(st.lists(st.integers(-50, 50), min_size=1))
def test_sign_test_both_ways_round(gaps: list[int]) -> None:
    """The two one-sided chances share the observed count alone: 1 + P(exactly that many)."""
    result, turned = sign_test(gaps), sign_test([-gap for gap in gaps])
    if isinstance(result, SignTest) and isinstance(turned, SignTest):
        trials = result.lower + result.higher
        same = math.comb(trials, result.lower) / 2**trials
        assert result.probability + turned.probability == pytest.approx(1 + same)
    else:
        assert result == turned


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


@pytest.mark.parametrize(
    ("error", "rule", "division", "message"),
    [
        (-1, 100, 50, "a technical error must be"),
        (math.nan, 100, 50, "a technical error must be"),
        (1, -1, 50, "a tolerance is a whole number"),
        (1, 1.5, 50, "a tolerance is a whole number"),
        (1, 100, 0, "a scale division is a whole number"),
        (1, 100, 0.5, "a scale division is a whole number"),
        (1, 100, 1.5, "a scale division is a whole number"),
        (1, 100, True, "a scale division is a whole number"),
    ],
)
def test_third_reading_chance_refuses_a_bad_argument(
    error: float, rule: int, division: int, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        third_reading_chance_on_scale(error, rule, division)


def test_all_pairs_identical_refuses_no_sites() -> None:
    with pytest.raises(ValueError, match="a record needs at least one site"):
        all_pairs_identical_chance([], 100)
