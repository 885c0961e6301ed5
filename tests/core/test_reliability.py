import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.core.outcome import Undefined
from sheetgen.core.reliability import reliability, reliability_of_readings
from sheetgen.core.repeatability import TechnicalError, technical_error
from tests.reference_values import rows


def test_reliability_of_four_observers() -> None:
    """Ulijaszek & Kerr 1999, as printed."""
    names = ("first_m", "second_m", "third_m", "fourth_m")
    error = technical_error([[float(row[name]) for name in names] for row in rows("four_observers")])
    assert isinstance(error, TechnicalError)
    assert reliability_of_readings(error) == pytest.approx(0.9975, abs=0.00005)


def test_reliability_of_two_people() -> None:
    """The fewest there can be: TEM squared 0.5 over a variance of 101 / 3 is 1.5 / 101 of error."""
    error = technical_error([(10, 11), (20, 21)])
    assert isinstance(error, TechnicalError)
    assert reliability_of_readings(error) == pytest.approx(0.985148515, abs=5e-10)


@given(st.floats(0, 100), st.floats(0.01, 1000))
def test_reliability_is_a_share_or_undefined(error: float, spread: float) -> None:
    result = reliability(error, spread)
    assert isinstance(result, Undefined) if error >= spread else 0 <= result <= 1


def test_reliability_without_variance() -> None:
    result = reliability(0.0, 0.0)
    assert result == Undefined("readings-all-same")


@pytest.mark.parametrize(("error", "spread"), [(2.0, 1.0), (1.0, 1.0)])
def test_reliability_of_error_alone(error: float, spread: float) -> None:
    result = reliability(error, spread)
    assert result == Undefined("no-more-than-error")


def test_reliability_of_one_person() -> None:
    error = technical_error([(10, 11, 12)])
    assert isinstance(error, TechnicalError)
    assert reliability_of_readings(error) == Undefined("one-person-no-spread")


@pytest.mark.parametrize(
    ("error", "spread", "name"),
    [
        (-1, 1, "a technical error"),
        (1, -1, "a standard deviation"),
        (math.nan, 1, "a technical error"),
        (1, math.inf, "a standard deviation"),
    ],
)
def test_reliability_refuses_a_bad_argument(error: float, spread: float, name: str) -> None:
    """The message says which of the two it is."""
    with pytest.raises(ValueError, match=f"{name} must be a finite number"):
        reliability(error, spread)
