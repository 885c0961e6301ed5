import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.core.detectable_change import (
    ACCEPTABLE_LIMITS,
    acceptable_limit,
    minimal_detectable_change,
)
from tests.reference_values import rows

errors = st.floats(0, 50)


def test_acceptable_limits_against_the_reference() -> None:
    """Gore et al. in Norton & Olds 2000, from memory."""
    found = [(limit.comparison, limit.experience, limit.percent) for limit in ACCEPTABLE_LIMITS]
    expected = [
        (row["comparison"], row["experience"], float(row["percent"]))
        for row in rows("acceptable_error_limits")
    ]
    assert found == expected
    assert {limit.source for limit in ACCEPTABLE_LIMITS} == {
        "Gore et al. in Norton & Olds 2000 (from memory)"
    }


def test_acceptable_limit_by_name() -> None:
    assert acceptable_limit("between", "skilled").percent == 7.5


def test_acceptable_limit_refuses_an_unknown_name() -> None:
    with pytest.raises(ValueError, match="within or between, for a beginner or skilled"):
        acceptable_limit("within", "expert")  # type: ignore[arg-type]


def test_minimal_detectable_change_of_a_site() -> None:
    """1.96 sqrt(2) TEM, from memory: Weir 2005. 1.96 x 1.414214 = 2.771859."""
    assert minimal_detectable_change([1.0]) == pytest.approx(2.771859, abs=5e-7)


def test_minimal_detectable_change_with_a_multiplier_below_one() -> None:
    """Half a deviation, for fewer than 95 % of differences: sqrt(2) / 2."""
    assert minimal_detectable_change([1.0], multiplier=0.5) == pytest.approx(0.7071068, abs=5e-8)


@given(errors, st.integers(1, 12))
def test_minimal_detectable_change_of_n_like_sites(error: float, sites: int) -> None:
    expected = math.sqrt(sites) * minimal_detectable_change([error])
    assert minimal_detectable_change([error] * sites) == pytest.approx(expected)


@given(errors, st.integers(1, 12))
def test_minimal_detectable_change_of_a_mean(error: float, count: int) -> None:
    expected = minimal_detectable_change([error]) / math.sqrt(count)
    assert minimal_detectable_change([error], readings=count) == pytest.approx(expected)


def test_minimal_detectable_change_of_two_sites() -> None:
    """The root of 3 squared and 4 squared is 5; 1.96 sqrt(2) times that."""
    assert minimal_detectable_change([3.0, 4.0]) == pytest.approx(13.859293, abs=5e-7)


def test_minimal_detectable_change_in_a_simulation() -> None:
    """Of 20,000 seeded retests without change 5 % lie beyond it, within 3 standard errors (0.5 points)."""
    chance = random.Random(5)
    sites = (0.4, 0.8, 1.2)
    limit = minimal_detectable_change(sites, readings=2)

    def total() -> float:
        return sum((chance.gauss(0, site) + chance.gauss(0, site)) / 2 for site in sites)

    beyond = sum(abs(total() - total()) > limit for _ in range(20_000))
    assert beyond / 20_000 == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize(
    ("multiplier_of_rule", "rule", "lowest", "highest"),
    [
        (1.0, "median", 0.94, 1.06),
        (2.0, "median", 0.94, 1.06),
        (1.0, "closest-pair", 1.0, 1.14),
        (2.0, "closest-pair", 1.0, 1.14),
    ],
)
def test_error_of_a_site_value_under_the_third_reading_rule(
    multiplier_of_rule: float, rule: str, lowest: float, highest: float
) -> None:
    """Against TEM / sqrt(2): what the docstring says of it, 20,000 seeded sites."""
    chance = random.Random(7)
    squares = 0.0
    for _ in range(20_000):
        first, second = chance.gauss(0, 1), chance.gauss(0, 1)
        value = (first + second) / 2
        if abs(first - second) > multiplier_of_rule:
            low, middle, high = sorted((first, second, chance.gauss(0, 1)))
            pair = (low, middle) if middle - low < high - middle else (middle, high)
            value = middle if rule == "median" else sum(pair) / 2
        squares += value * value
    assert lowest < math.sqrt(squares / 20_000) / math.sqrt(1 / 2) < highest


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_change_refuses_a_bad_error(bad: float) -> None:
    with pytest.raises(ValueError, match="a technical error must be"):
        minimal_detectable_change([bad])


@pytest.mark.parametrize("count", [0, -1, 1.5, True])
def test_change_refuses_a_bad_count(count: int) -> None:
    with pytest.raises(ValueError, match="a mean is of 1 reading or more"):
        minimal_detectable_change([1.0], readings=count)


def test_change_refuses_a_multiplier_below_nought() -> None:
    with pytest.raises(ValueError, match="a multiplier must be"):
        minimal_detectable_change([1.0], multiplier=-1)


def test_change_of_a_sum_refuses_no_sites() -> None:
    with pytest.raises(ValueError, match="a sum needs at least one site"):
        minimal_detectable_change([])
