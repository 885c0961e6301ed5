import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sheetgen.core.digits import (
    DigitCounts,
    DigitTest,
    SignTest,
    digit_counts,
    digit_test,
    final_digits,
    sign_test,
)
from sheetgen.core.outcome import Undefined

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
