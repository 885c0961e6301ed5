import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from sheetgen.core.distributions import chi_square_quantile, chi_square_tail, f_quantile, t_quantile

PRECISION = 1e-10
PROBABILITIES = (1e-6, 0.001, 0.025, 0.05, 0.3, 0.5, 0.9, 0.95, 0.975, 0.999, 1 - 1e-6)
DEGREES = (0.5, 1, 2, 3, 5, 15, 16, 24.7, 100, 4000)


@pytest.mark.parametrize("above", DEGREES)
@pytest.mark.parametrize("below", DEGREES)
def test_f_quantile_against_scipy(above: float, below: float) -> None:
    found = [f_quantile(probability, above, below) for probability in PROBABILITIES]
    assert found == pytest.approx(list(stats.f.ppf(PROBABILITIES, above, below)), rel=PRECISION, abs=0)


@pytest.mark.parametrize("degrees", DEGREES)
def test_t_quantile_against_scipy(degrees: float) -> None:
    found = [t_quantile(probability, degrees) for probability in PROBABILITIES]
    assert found == pytest.approx(list(stats.t.ppf(PROBABILITIES, degrees)), rel=PRECISION)


@pytest.mark.parametrize("degrees", DEGREES)
def test_chi_square_quantile_against_scipy(degrees: float) -> None:
    found = [chi_square_quantile(probability, degrees) for probability in PROBABILITIES]
    assert found == pytest.approx(list(stats.chi2.ppf(PROBABILITIES, degrees)), rel=PRECISION, abs=0)


@pytest.mark.parametrize("degrees", DEGREES)
def test_chi_square_tail_against_scipy(degrees: float) -> None:
    values = [0, 1e-9, 0.5, 3.84, 20, 100, 5000]
    found = [chi_square_tail(value, degrees) for value in values]
    assert found == pytest.approx(list(stats.chi2.sf(values, degrees)), rel=1e-9, abs=1e-300)


def test_quantiles_at_the_largest_degrees() -> None:
    """As many readings as a national cohort has: the precision stated in the module."""
    for probability in (0.025, 0.975):
        assert f_quantile(probability, 1e6, 1e6) == pytest.approx(
            stats.f.ppf(probability, 1e6, 1e6), rel=1e-9
        )
        assert t_quantile(probability, 1e6) == pytest.approx(stats.t.ppf(probability, 1e6), rel=1e-9)
        assert chi_square_quantile(probability, 1e6) == pytest.approx(
            stats.chi2.ppf(probability, 1e6), rel=1e-9
        )


@pytest.mark.parametrize("probability", [1e-12, 1 - 1e-12])
@pytest.mark.parametrize("degrees", DEGREES)
def test_quantiles_at_the_ends_of_the_probabilities(probability: float, degrees: float) -> None:
    """Both ends are allowed, and the smaller tail keeps its digits there."""
    assert f_quantile(probability, degrees, 5) == pytest.approx(
        stats.f.ppf(probability, degrees, 5), rel=PRECISION, abs=0
    )
    assert t_quantile(probability, degrees) == pytest.approx(
        stats.t.ppf(probability, degrees), rel=PRECISION, abs=0
    )
    assert chi_square_quantile(probability, degrees) == pytest.approx(
        stats.chi2.ppf(probability, degrees), rel=PRECISION, abs=0
    )


@pytest.mark.parametrize("gap", [1e-9, -1e-9, 1e-6])
def test_t_quantile_near_the_middle(gap: float) -> None:
    """With one degree of freedom t is tan(pi (p - 1/2)): close to nought it keeps its digits."""
    probability = 0.5 + gap
    expected = math.tan(math.pi * (probability - 0.5))
    assert t_quantile(probability, 1) == pytest.approx(expected, rel=PRECISION, abs=0)


@given(st.floats(0.001, 0.999), st.floats(0.5, 300), st.floats(0.5, 300))
def test_f_quantile_mirrored(probability: float, above: float, below: float) -> None:
    """1 / F has the degrees of freedom exchanged and the tails too."""
    mirrored = 1 / f_quantile(1 - probability, below, above)
    assert f_quantile(probability, above, below) == pytest.approx(mirrored, rel=1e-8)


@given(st.floats(0.001, 0.999), st.floats(0.5, 300))
def test_chi_square_tail_of_its_quantile(probability: float, degrees: float) -> None:
    tail = chi_square_tail(chi_square_quantile(probability, degrees), degrees)
    assert tail == pytest.approx(1 - probability, abs=1e-10)


@pytest.mark.parametrize("probability", [0, 1, -0.1, 1.5, math.nan])
def test_quantiles_refuse_a_probability_out_of_range(probability: float) -> None:
    with pytest.raises(ValueError, match="a probability must lie between"):
        f_quantile(probability, 2, 2)
    with pytest.raises(ValueError, match="a probability must lie between"):
        t_quantile(probability, 2)
    with pytest.raises(ValueError, match="a probability must lie between"):
        chi_square_quantile(probability, 2)


@pytest.mark.parametrize("degrees", [0, -1, 0.4, 1.1e6, math.nan, math.inf])
def test_quantiles_refuse_degrees_of_freedom_out_of_range(degrees: float) -> None:
    with pytest.raises(ValueError, match="degrees of freedom must lie between"):
        f_quantile(0.5, 2, degrees)
    with pytest.raises(ValueError, match="degrees of freedom must lie between"):
        f_quantile(0.5, degrees, 2)
    with pytest.raises(ValueError, match="degrees of freedom must lie between"):
        t_quantile(0.5, degrees)
    with pytest.raises(ValueError, match="degrees of freedom must lie between"):
        chi_square_quantile(0.5, degrees)
    with pytest.raises(ValueError, match="degrees of freedom must lie between"):
        chi_square_tail(1, degrees)


def test_chi_square_tail_of_the_largest_value() -> None:
    """1e9 is allowed; beyond it less is left than a float can hold."""
    assert chi_square_tail(1e9, 1) == 0.0


@pytest.mark.parametrize("value", [-1, 1e9 + 1, math.nan, math.inf])
def test_chi_square_tail_refuses_a_value_out_of_range(value: float) -> None:
    with pytest.raises(ValueError, match="a chi-square must lie between"):
        chi_square_tail(value, 1)
