import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from sheetgen.statistics.repeatability import (
    Interval,
    TechnicalError,
    Undefined,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    total_technical_error,
)
from tests.reference_values import rows

readings = st.integers(1, 900).map(lambda tenths: tenths / 10)
pair_tables = st.lists(st.tuples(readings, readings), min_size=1, max_size=30)
tables = st.lists(st.lists(readings, min_size=2, max_size=5), min_size=1, max_size=20)


def test_technical_error_of_published_duplicates() -> None:
    """Pederson & Gore in Norton & Olds: the sum of squares and the TEM as printed."""
    printed = {row["quantity"]: row["value"] for row in rows("duplicate_results")}
    pairs = [(float(row["difference_mm"]), 0.0) for row in rows("duplicate_differences")]
    error = technical_error(pairs)
    assert f"{error.value**2 * 2 * error.people:.2f}" == printed["sum_of_squares"]
    assert f"{error.value:.2f}" == printed["technical_error"]
    assert error.value**2 == pytest.approx(float(printed["mean_square_within"]), abs=0.00005)


def test_technical_error_of_four_observers() -> None:
    """Ulijaszek & Kerr 1999: 3.06 mm from the figures, 3.07 printed from rounded sums."""
    people = [
        [1000 * float(row[name]) for name in ("first_m", "second_m", "third_m", "fourth_m")]
        for row in rows("four_observers")
    ]
    error = technical_error(people)
    assert f"{error.value:.2f}" == "3.06"
    assert (error.people, error.degrees_of_freedom) == (10, 30)


def test_technical_error_of_unequal_numbers_of_readings() -> None:
    """Squares 2 from three readings and 0.5 from two, over 2 + 1 degrees of freedom."""
    error = technical_error([(10, 11, 12), (20, 21)])
    assert error.value == pytest.approx(math.sqrt(2.5 / 3))
    assert (error.mean, error.people, error.degrees_of_freedom) == (14.8, 2, 3)


def test_technical_error_refuses_a_person_with_one_reading() -> None:
    with pytest.raises(ValueError, match="at least two data points"):
        technical_error([(10.0, 11.0), (12.0,)])


@given(pair_tables)
def test_technical_error_of_two_readings_a_person(pairs: list[tuple[float, float]]) -> None:
    """sqrt(sum d^2 / 2n), as published for duplicates."""
    squares = sum((first - second) ** 2 for first, second in pairs)
    error = technical_error(pairs)
    assert error.value == pytest.approx(math.sqrt(squares / (2 * len(pairs))))
    assert (error.people, error.degrees_of_freedom) == (len(pairs), len(pairs))


@given(st.integers(2, 5), st.data())
def test_technical_error_by_the_printed_formula(count: int, data: st.DataObject) -> None:
    """sqrt(sum over people of [sum M^2 - (sum M)^2 / K] / (N (K - 1))), in whole tenths."""
    row = st.lists(st.integers(1, 900), min_size=count, max_size=count)
    people = data.draw(st.lists(row, min_size=1, max_size=20))
    squares = sum(count * sum(m * m for m in person) - sum(person) ** 2 for person in people) / count
    expected = math.sqrt(squares / (len(people) * (count - 1)))
    assert technical_error(people).value == pytest.approx(expected)


@given(tables, st.floats(0.01, 100))
def test_technical_error_in_another_unit(people: list[list[float]], scale: float) -> None:
    scaled = technical_error([[scale * value for value in person] for person in people])
    plain = technical_error(people)
    assert scaled.value == pytest.approx(scale * plain.value, abs=1e-9 * scale)


@given(st.lists(st.tuples(readings, st.integers(2, 5)), min_size=1, max_size=20))
def test_technical_error_of_identical_readings(people: list[tuple[float, int]]) -> None:
    assert technical_error([[value] * count for value, count in people]).value == 0


def test_technical_error_interval_of_ten_people() -> None:
    error = TechnicalError(0.33, 12, 10, 10)
    interval = technical_error_interval(error)
    assert isinstance(interval, Interval)
    low, high = (0.33 * math.sqrt(10 / stats.chi2.ppf(share, 10)) for share in (0.975, 0.025))
    assert (interval.lower, interval.upper) == pytest.approx((low, high))
    assert interval.confidence == 0.95


@given(tables)
def test_technical_error_interval_holds_its_value(people: list[list[float]]) -> None:
    error = technical_error(people)
    assume(error.value > 0 and error.people > 1)
    interval = technical_error_interval(error)
    assert isinstance(interval, Interval)
    assert interval.lower < error.value < interval.upper


def test_technical_error_interval_of_one_person() -> None:
    error = technical_error([(10, 11, 12)])
    assert technical_error_interval(error) == Undefined("interval-two-people")


def test_technical_error_interval_of_no_error() -> None:
    interval = technical_error_interval(technical_error([(10, 10), (12, 12)]))
    assert isinstance(interval, Undefined)
    assert interval.reason == "all-repeat-exactly"


def test_relative_technical_error_of_a_mean() -> None:
    assert relative_technical_error(TechnicalError(0.5, 12.5, 10, 10)) == 4.0


@pytest.mark.parametrize(("value", "mean"), [(0.5, 0.5), (0.5, 0.0), (0.0, 0.0), (0.5, -12.0), (0.5, 1e-12)])
def test_relative_technical_error_of_a_mean_near_nought(value: float, mean: float) -> None:
    result = relative_technical_error(TechnicalError(value, mean, 10, 10))
    assert isinstance(result, Undefined)
    assert result.reason == "mean-below-error"


@given(tables, st.floats(0.01, 100))
def test_relative_technical_error_has_no_unit(people: list[list[float]], scale: float) -> None:
    plain = relative_technical_error(technical_error(people))
    assume(not isinstance(plain, Undefined) and plain < 99)
    scaled = technical_error([[scale * value for value in person] for person in people])
    assert relative_technical_error(scaled) == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize(
    ("within", "between", "expected"), [(5.0, 12.0, 13.0), (0.3, 0.4, 0.5), (0.0, 0.4, 0.4)]
)
def test_total_technical_error_of_two_observers(within: float, between: float, expected: float) -> None:
    """Whole numbers by hand; errors below 1 mm are the usual ones."""
    assert total_technical_error(within, between) == pytest.approx(expected, abs=1e-12)
