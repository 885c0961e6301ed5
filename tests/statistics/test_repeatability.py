import math
import random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from sheetgen.statistics.repeatability import (
    LIMITS_SOURCE,
    Interval,
    IntraclassCorrelation,
    TechnicalError,
    Undefined,
    acceptable_limit,
    agreement,
    intraclass_correlation,
    minimal_detectable_change,
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


PEAK_FLOW = [(float(row["first"]), float(row["second"])) for row in rows("peak_flow")]
PEAK_FLOW_DIFFERENCES = [first - second for first, second in PEAK_FLOW]

JUDGES = [
    [float(row[name]) for name in ("first", "second", "third", "fourth")] for row in rows("four_judges")
]

difference_lists = st.lists(
    st.tuples(readings, readings).map(lambda pair: pair[0] - pair[1]), min_size=2, max_size=30
)


def ends(interval: Interval | Undefined) -> tuple[float, float]:
    assert isinstance(interval, Interval)
    return interval.lower, interval.upper


@pytest.mark.parametrize(
    "row", rows("peak_flow_agreement"), ids=lambda row: f"{row['quantity']}-{row['multiplier']}"
)
def test_agreement_of_two_meters(row: dict[str, str]) -> None:
    """Bland & Altman 1986."""
    result = agreement(PEAK_FLOW_DIFFERENCES, float(row["multiplier"]))
    lower, upper = ends(result.mean_interval)
    quantities = {
        "mean_difference": result.mean_difference,
        "standard_deviation": result.standard_deviation,
        "lower_limit": result.lower_limit,
        "upper_limit": result.upper_limit,
        "mean_interval_lower": lower,
        "mean_interval_upper": upper,
    }
    assert quantities[row["quantity"]] == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))
    assert (result.multiplier, result.pairs) == (float(row["multiplier"]), 17)


RATERS = ("first", "second", "third", "fourth", "fifth")
INTERVALS = {
    "mean_difference": "mean_interval",
    "lower_limit": "lower_interval",
    "upper_limit": "upper_interval",
}


def ratings_of(table: str) -> list[list[float]]:
    """Everybody without a gap."""
    if table == "four_judges":
        return JUDGES
    people = [row for row in rows("invented_ratings") if row["table"] == table]
    raters = [rater for rater in RATERS if any(row[rater] for row in people)]
    return [[float(row[rater]) for rater in raters] for row in people if all(row[rater] for rater in raters)]


@pytest.mark.parametrize("data", ["peak_flow", "close"])
def test_agreement_against_two_other_packages(data: str) -> None:
    """Frozen numbers; the one's bands of the limits have 3/n as in 1986, the other divides by n."""
    pairs = PEAK_FLOW if data == "peak_flow" else ratings_of(data)
    result = agreement([first - second for first, second in pairs])
    count = result.pairs
    lines = {
        (row["package"], row["quantity"]): row for row in rows("package_agreement") if row["data"] == data
    }
    assert len(lines) == 6
    wider = math.sqrt(count / (count - 1))
    narrower = math.sqrt((1 / count + 1.96**2 / (2 * (count - 1))) / (3 / count))
    for quantity in ("mean_difference", "lower_limit", "upper_limit"):
        row, found = lines["pingouin", quantity], getattr(result, quantity)
        value, lower, upper = (float(row[name]) for name in ("value", "lower", "upper"))
        assert found == pytest.approx(value, rel=1e-12)
        ratio = 1 if quantity == "mean_difference" else narrower
        expected = [value + ratio * (end - value) for end in (lower, upper)]
        assert ends(getattr(result, INTERVALS[quantity])) == pytest.approx(expected, rel=1e-10)
        drawn = float(lines["statsmodels", quantity]["value"])
        middle = float(lines["statsmodels", "mean_difference"]["value"])
        assert found == pytest.approx(middle + wider * (drawn - middle), rel=1e-10)


def test_agreement_intervals_name_their_confidence() -> None:
    result = agreement(PEAK_FLOW_DIFFERENCES)
    intervals = (result.mean_interval, result.lower_interval, result.upper_interval)
    assert [getattr(interval, "confidence", None) for interval in intervals] == [0.95, 0.95, 0.95]


@given(difference_lists, st.floats(0, 3))
def test_limits_lie_evenly_about_the_mean_difference(differences: list[float], multiplier: float) -> None:
    result = agreement(differences, multiplier)
    middle = (result.lower_limit + result.upper_limit) / 2
    assert middle == pytest.approx(result.mean_difference, abs=1e-9)
    if result.standard_deviation > 1e-6:
        low, high = ends(result.lower_interval), ends(result.upper_interval)
        assert low[0] + high[1] == pytest.approx(2 * result.mean_difference, abs=1e-7)
        assert low[1] + high[0] == pytest.approx(2 * result.mean_difference, abs=1e-7)


@given(difference_lists)
def test_agreement_the_other_way_round(differences: list[float]) -> None:
    result, turned = agreement(differences), agreement([-difference for difference in differences])
    assert turned.mean_difference == pytest.approx(-result.mean_difference)
    assert turned.lower_limit == pytest.approx(-result.upper_limit)
    assert turned.standard_deviation == pytest.approx(result.standard_deviation)


def test_agreement_of_differences_all_alike() -> None:
    result = agreement([1, 1, 1])
    assert (result.mean_difference, result.lower_limit, result.upper_limit) == (1, 1, 1)
    for interval in (result.mean_interval, result.lower_interval, result.upper_interval):
        assert interval == Undefined("differences-alike")


ratings = st.integers(0, 60)
rating_tables = st.integers(2, 5).flatmap(
    lambda count: st.lists(st.lists(ratings, min_size=count, max_size=count), min_size=2, max_size=12)
)


def correlation(table: list[list[float]]) -> IntraclassCorrelation:
    result = intraclass_correlation(table)
    assert isinstance(result, IntraclassCorrelation)
    return result


@pytest.mark.parametrize("row", rows("four_judges_correlations"), ids=lambda row: row["form"])
def test_intraclass_correlation_of_four_judges(row: dict[str, str]) -> None:
    """Shrout & Fleiss 1979; intervals McGraw & Wong 1996."""
    result = correlation(JUDGES)
    assert f"{result.value:.2f}".removeprefix("0") == row["value"]
    assert [f"{end:.4f}" for end in ends(result.interval)] == [row["lower"], row["upper"]]


def test_intraclass_correlation_from_printed_mean_squares() -> None:
    """Pederson & Gore in Norton & Olds: duplicates about means that give the printed square."""
    printed = {row["quantity"]: float(row["value"]) for row in rows("duplicate_results")}
    differences = [float(row["difference_mm"]) for row in rows("duplicate_differences")]
    # Ten means one apart have squared deviations 82.5 in sum; the mean square is twice that over 9.
    step = math.sqrt(printed["mean_square_between"] * 9 / 2 / 82.5)
    table = [
        [12 + step * place + difference / 2, 12 + step * place - difference / 2]
        for place, difference in enumerate(differences)
    ]
    assert round(correlation(table).value, 2) == printed["intraclass_correlation"]


@pytest.mark.parametrize("row", rows("package_correlations"), ids=lambda row: row["table"])
def test_intraclass_correlation_against_another_package(row: dict[str, str]) -> None:
    """Frozen numbers of five tables; people with a gap are left out on both sides."""
    result = correlation(ratings_of(row["table"]))
    assert result.value == pytest.approx(float(row["value"]), abs=1e-10)
    assert ends(result.interval) == pytest.approx((float(row["lower"]), float(row["upper"])), abs=1e-9)


@given(rating_tables, st.floats(0.01, 100), st.floats(-100, 100))
def test_intraclass_correlation_in_another_unit(
    table: list[list[float]], scale: float, origin: float
) -> None:
    plain = intraclass_correlation(table)
    other = intraclass_correlation([[scale * value + origin for value in row] for row in table])
    if isinstance(plain, IntraclassCorrelation) and abs(plain.value) > 1e-6:
        assert isinstance(other, IntraclassCorrelation)
        assert other.value == pytest.approx(plain.value, abs=1e-6)


@given(rating_tables)
def test_intraclass_correlation_within_its_bounds(table: list[list[float]]) -> None:
    """Never above 1, never below -1 / (k - 1), the interval in order around the value."""
    result = intraclass_correlation(table)
    if isinstance(result, Undefined):
        return
    assert -1 / (len(table[0]) - 1) - 1e-9 <= result.value <= 1 + 1e-12
    if isinstance(result.interval, Interval):
        assert result.interval.lower - 1e-9 <= result.value <= result.interval.upper + 1e-9
        assert result.interval.upper <= 1 + 1e-12


def test_intraclass_correlation_of_ratings_far_from_nought() -> None:
    """What all ratings have in common takes no digits from what they differ by."""
    plain = correlation(JUDGES).value
    far = correlation([[1e8 + value for value in row] for row in JUDGES]).value
    close = correlation([[1 + value / 1e7 for value in row] for row in JUDGES]).value
    assert far == pytest.approx(plain, abs=1e-12)
    assert close == pytest.approx(plain, abs=1e-8)


def test_raters_who_agree_exactly() -> None:
    result = correlation([[10.1, 10.1], [12.3, 12.3], [20.7, 20.7]])
    assert result.value == 1
    assert result.interval == Undefined("no-error-left")


@pytest.mark.parametrize("table", [[[0.1, 0.3], [0.1, 0.3], [0.1, 0.3]], [[7, 7], [7, 7]]])
def test_people_who_do_not_differ(table: list[list[float]]) -> None:
    assert intraclass_correlation(table) == Undefined("people-alike")


errors = st.floats(0, 50)


def test_acceptable_limits_against_the_reference() -> None:
    """Gore et al. in Norton & Olds 2000, from memory."""
    limits = rows("acceptable_error_limits")
    assert len(limits) == 4
    for row in limits:
        assert acceptable_limit(row["comparison"], row["experience"]) == float(row["percent"])
    assert LIMITS_SOURCE == "Gore et al. in Norton & Olds 2000 (from memory)"


def test_minimal_detectable_change_of_a_site() -> None:
    """1.96 sqrt(2) TEM, from memory: Weir 2005. 1.96 x 1.414214 = 2.771859."""
    assert minimal_detectable_change([1.0]) == pytest.approx(2.771859, abs=5e-7)


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


def test_a_change_beyond_an_error_that_is_estimated() -> None:
    """Student's t at 97.5 %: 2.086 with 20 degrees of freedom, 2.021 with 40 of two equal errors."""
    assert minimal_detectable_change([1.0], 2, [20]) == pytest.approx(2.086, abs=5e-4)
    assert minimal_detectable_change([1.0, 1.0], 2, [20, 20]) == pytest.approx(2.021 * 2**0.5, abs=1e-3)
    assert minimal_detectable_change([1.0], 2, [float("inf")]) == pytest.approx(1.96)
