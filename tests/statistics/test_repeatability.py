import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from sheetgen.statistics.outcome import Interval, Undefined
from sheetgen.statistics.repeatability import (
    TechnicalError,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    technical_error_two,
    total_technical_error,
)
from tests.reference_values import rows

readings = st.integers(1, 900).map(lambda tenths: tenths / 10)
pair_tables = st.lists(st.tuples(readings, readings), min_size=1, max_size=30)
tables = st.lists(st.lists(readings, min_size=2, max_size=5), min_size=1, max_size=20)


def found(result: TechnicalError | Undefined) -> TechnicalError:
    assert isinstance(result, TechnicalError)
    return result


def test_technical_error_of_published_duplicates() -> None:
    """Pederson & Gore in Norton & Olds: the sum of squares and the TEM as printed."""
    printed = {row["quantity"]: row["value"] for row in rows("duplicate_results")}
    pairs = [(float(row["difference_mm"]), 0.0) for row in rows("duplicate_differences")]
    error = found(technical_error_two(pairs))
    assert f"{error.value**2 * 2 * error.people:.2f}" == printed["sum_of_squares"]
    assert f"{error.value:.2f}" == printed["technical_error"]
    assert error.value**2 == pytest.approx(float(printed["mean_square_within"]), abs=0.00005)


def test_technical_error_of_four_observers() -> None:
    """Ulijaszek & Kerr 1999: 3.06 mm from the figures, 3.07 printed from rounded sums."""
    people = [
        [1000 * float(row[name]) for name in ("first_m", "second_m", "third_m", "fourth_m")]
        for row in rows("four_observers")
    ]
    error = found(technical_error(people))
    assert f"{error.value:.2f}" == "3.06"
    assert (error.people, error.left_out, error.degrees_of_freedom) == (10, 0, 30)


def test_technical_error_of_unequal_numbers_of_readings() -> None:
    """Squares 2 from three readings and 0.5 from two, over 2 + 1 degrees of freedom; one person left out."""
    error = found(technical_error([(10, 11, 12), (20, None, 21), (None, 15, None)]))
    assert error.value == pytest.approx(math.sqrt(2.5 / 3))
    assert (error.mean, error.people, error.left_out, error.degrees_of_freedom) == (14.8, 2, 1, 3)
    assert error.standard_deviation == pytest.approx(math.sqrt(110.8 / 4))


@pytest.mark.parametrize("people", [[], [()], [(1.0, None), (None, None)]])
def test_technical_error_without_a_pair(people: list[tuple[float | None, ...]]) -> None:
    assert technical_error(people) == Undefined("no-person-twice")
    pairs = [(*person, None, None)[:2] for person in people]
    assert technical_error_two(pairs) == Undefined("no-person-twice")


@pytest.mark.parametrize("bad", [math.nan, math.inf, 1e10, True])
def test_technical_error_refuses_a_bad_reading(bad: float) -> None:
    with pytest.raises(ValueError, match="a reading must be a finite number"):
        technical_error([(bad, 10.0)])
    with pytest.raises(ValueError, match="a reading must be a finite number"):
        technical_error_two([(10.0, bad)])


@given(pair_tables)
def test_technical_error_of_two_equals_that_of_k(pairs: list[tuple[float, float]]) -> None:
    two, many = found(technical_error_two(pairs)), found(technical_error(pairs))
    assert many.value == pytest.approx(two.value)
    assert (many.mean, many.people, many.degrees_of_freedom) == (two.mean, two.people, two.degrees_of_freedom)


@given(st.integers(2, 5), st.data())
def test_technical_error_by_the_printed_formula(count: int, data: st.DataObject) -> None:
    """sqrt(sum over people of [sum M^2 - (sum M)^2 / K] / (N (K - 1))), in whole tenths."""
    row = st.lists(st.integers(1, 900), min_size=count, max_size=count)
    people = data.draw(st.lists(row, min_size=1, max_size=20))
    squares = sum(count * sum(m * m for m in person) - sum(person) ** 2 for person in people) / count
    expected = math.sqrt(squares / (len(people) * (count - 1)))
    assert found(technical_error(people)).value == pytest.approx(expected)


@given(tables, st.floats(0.01, 100))
def test_technical_error_in_another_unit(people: list[list[float]], scale: float) -> None:
    scaled = found(technical_error([[scale * value for value in person] for person in people]))
    plain = found(technical_error(people))
    assert scaled.value == pytest.approx(scale * plain.value, abs=1e-9 * scale)


@given(st.lists(st.tuples(readings, st.integers(2, 5)), min_size=1, max_size=20))
def test_technical_error_of_identical_readings(people: list[tuple[float, int]]) -> None:
    assert found(technical_error([[value] * count for value, count in people])).value == 0
    assert found(technical_error_two([(value, value) for value, _ in people])).value == 0


def test_technical_error_interval_of_ten_people() -> None:
    error = TechnicalError(0.33, 12, 3, 10, 0, 10)
    interval = technical_error_interval(error)
    assert isinstance(interval, Interval)
    low, high = (0.33 * math.sqrt(10 / stats.chi2.ppf(share, 10)) for share in (0.975, 0.025))
    assert (interval.lower, interval.upper) == pytest.approx((low, high))
    assert interval.confidence == 0.95


@given(tables, st.floats(0.7, 0.99))
def test_technical_error_interval_holds_its_value(people: list[list[float]], confidence: float) -> None:
    error = found(technical_error(people))
    assume(error.value > 0 and error.people > 1)
    interval = technical_error_interval(error, confidence)
    assert isinstance(interval, Interval)
    assert interval.lower < error.value < interval.upper


def test_technical_error_interval_of_one_person() -> None:
    error = found(technical_error([(10, 11, 12)]))
    assert technical_error_interval(error) == Undefined("interval-two-people")


def test_technical_error_interval_of_no_error() -> None:
    interval = technical_error_interval(found(technical_error([(10, 10), (12, 12)])))
    assert isinstance(interval, Undefined)
    assert interval.reason == "all-repeat-exactly"


def test_technical_error_interval_refuses_a_bad_confidence() -> None:
    with pytest.raises(ValueError, match="a confidence must lie between 0 and 1"):
        technical_error_interval(TechnicalError(1, 12, 3, 10, 0, 10), 95)


def test_relative_technical_error_of_a_mean() -> None:
    assert relative_technical_error(TechnicalError(0.5, 12.5, 3, 10, 0, 10)) == 4.0


@pytest.mark.parametrize(("value", "mean"), [(0.5, 0.5), (0.5, 0.0), (0.0, 0.0), (0.5, -12.0), (0.5, 1e-12)])
def test_relative_technical_error_of_a_mean_near_nought(value: float, mean: float) -> None:
    result = relative_technical_error(TechnicalError(value, mean, 3, 10, 0, 10))
    assert isinstance(result, Undefined)
    assert result.reason == "mean-below-error"


@given(tables, st.floats(0.01, 100))
def test_relative_technical_error_has_no_unit(people: list[list[float]], scale: float) -> None:
    plain = relative_technical_error(found(technical_error(people)))
    assume(not isinstance(plain, Undefined) and plain < 99)
    scaled = technical_error([[scale * value for value in person] for person in people])
    assert relative_technical_error(found(scaled)) == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "between", "expected"),
    [(1.0, 7.0, 12.0, 13.0), (7.0, 1.0, 12.0, 13.0), (0.3, 0.3, 0.4, 0.5), (0.0, 0.0, 0.4, 0.4)],
)
def test_total_technical_error_of_two_observers(
    first: float, second: float, between: float, expected: float
) -> None:
    """Whole numbers by hand; either observer may be the first, and errors below 1 mm are the usual ones."""
    assert total_technical_error(first, second, between) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_total_technical_error_refuses_a_bad_argument(bad: float) -> None:
    with pytest.raises(ValueError, match="a technical error must be"):
        total_technical_error(1.0, bad, 1.0)
