import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from sheetgen.core.incomplete_functions import incomplete_beta, incomplete_gamma

parameters = st.floats(0.25, 500)


@given(parameters, parameters, st.floats(1e-6, 1 - 1e-6))
def test_incomplete_beta_against_scipy(a: float, b: float, x: float) -> None:
    lower, upper, slope = incomplete_beta(a, b, x, 1 - x)
    assert lower == pytest.approx(special.betainc(a, b, x), rel=1e-10, abs=1e-14)
    assert upper == pytest.approx(special.betaincc(a, b, x), rel=1e-10, abs=1e-14)
    assert slope == pytest.approx(stats.beta.pdf(x, a, b) * x * (1 - x), rel=1e-9, abs=1e-14)


@given(parameters, st.floats(1e-6, 1000))
def test_incomplete_gamma_against_scipy(a: float, x: float) -> None:
    lower, upper, slope = incomplete_gamma(a, x)
    assert lower == pytest.approx(special.gammainc(a, x), rel=1e-10, abs=1e-14)
    assert upper == pytest.approx(special.gammaincc(a, x), rel=1e-10, abs=1e-14)
    assert slope == pytest.approx(stats.gamma.pdf(x, a) * x, rel=1e-9, abs=1e-14)


@pytest.mark.parametrize("whole", [19, 20, 21, 25, 40])
def test_incomplete_gamma_of_a_whole_parameter(whole: int) -> None:
    """Q(a, a) is the chance of fewer than a events where a are expected (DLMF 8.4.10), to 14 digits.

    The series for the gamma function is taken from 20 up, where it is least precise.
    """
    fewer = sum(Fraction(whole**count, math.factorial(count)) for count in range(whole))
    chance = float(fewer) * math.exp(-whole)
    lower, upper, _ = incomplete_gamma(whole, whole)
    assert upper == pytest.approx(chance, rel=5e-14, abs=0)
    assert lower == pytest.approx(1 - chance, rel=5e-14, abs=0)


def test_incomplete_beta_stops_where_the_fraction_does_not_settle() -> None:
    with pytest.raises(ArithmeticError, match="did not settle"):
        incomplete_beta(1e15, 1e15, 0.4999999999, 0.5000000001)
