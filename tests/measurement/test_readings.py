from itertools import combinations, permutations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sheetgen.measurement.numbers import hundredths
from sheetgen.measurement.readings import (
    SITE_RULES,
    SiteValue,
    Tolerance,
    corrected,
    exceeds,
    measure_again,
    midpoint,
    site_value,
    third_needed,
)
from tests.reference_values import rows

ONE = Tolerance("mm", 100)
TWO = Tolerance("mm", 200)
TEN_PERCENT = Tolerance("percent", 1000)

readings = st.integers(1, 9000)
tolerances = st.builds(Tolerance, st.just("mm"), st.integers(0, 500)) | st.builds(
    Tolerance, st.just("percent"), st.integers(0, 3000)
)


def whole(text: str) -> int | None:
    return hundredths(float(text)) if text else None


@pytest.mark.parametrize(
    ("kind", "limit", "message"),
    [("inch", 200, "in mm or percent"), ("", 200, "in mm or percent"), ("mm", -1, "at least 0")],
)
def test_tolerance_refuses_a_bad_argument(kind: str, limit: int, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Tolerance(kind, limit)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("reading", "zero", "expected"),
    [
        (1500, 0, 1500),
        (1500, 300, 1200),  # positive zero
        (1500, -50, 1550),  # negative zero
        (301, 300, 1),  # smallest value there is
        (300, 300, None),  # nought
        (200, 300, None),  # below nought
        (0, 0, None),
        (0, -50, 50),
        (-50, -50, None),
    ],
)
def test_corrected_by_zero(reading: int, zero: int, expected: int | None) -> None:
    assert corrected(reading, zero) == expected


def test_corrected_by_the_zero_of_common_practice() -> None:
    """Common practice: a zero of 3 mm is deducted from each reading."""
    for row in rows("zero_correction"):
        reading, zero, expected = (
            hundredths(float(row[f"{key}_mm"])) for key in ("reading", "zero", "corrected")
        )
        assert zero == 300
        assert corrected(reading, zero) == expected


@given(readings, st.integers(-300, 300), st.integers(-300, 300))
def test_corrected_shifts_by_the_zero_alone(reading: int, zero: int, other: int) -> None:
    one, two = corrected(reading + 600, zero), corrected(reading + 600, other)
    assert one is not None
    assert two is not None
    assert one - two == other - zero


@pytest.mark.parametrize(
    ("first", "second", "tolerance", "expected"),
    [
        (1240, 1140, ONE, False),  # exactly met
        (1241, 1140, ONE, True),
        (1240, 1040, TWO, False),  # exactly met
        (1241, 1040, TWO, True),
        (1200, 1200, Tolerance("mm", 0), False),
        (1200, 1201, Tolerance("mm", 0), True),
        (1050, 950, TEN_PERCENT, False),  # exactly met: 1.00 of 10.00
        (1051, 950, TEN_PERCENT, True),
        (2075, 1925, Tolerance("percent", 750), False),  # exactly met: 1.50 of 20.00
        (2076, 1925, Tolerance("percent", 750), True),
        (1200, 1200, Tolerance("percent", 0), False),
        (1200, 1201, Tolerance("percent", 0), True),
    ],
)
def test_exceeds_at_the_edge_of_the_tolerance(
    first: int, second: int, tolerance: Tolerance, expected: bool
) -> None:
    assert exceeds(first, second, tolerance) is expected
    assert exceeds(second, first, tolerance) is expected


@pytest.mark.parametrize(("first", "second"), [(12.4, 10.4), (4.1, 2.1), (32.3, 30.3), (2.3, 0.3)])
def test_exceeds_not_where_typed_readings_differ_by_the_tolerance(first: float, second: float) -> None:
    assert exceeds(hundredths(first), hundredths(second), TWO) is False


@given(readings, readings, st.integers(0, 3000))
def test_exceeds_per_cent_as_the_ratio_says(first: int, second: int, limit: int) -> None:
    ratio = 100 * abs(first - second) / ((first + second) / 2)
    assume(abs(ratio - limit / 100) > 1e-9)
    assert exceeds(first, second, Tolerance("percent", limit)) is (ratio > limit / 100)


@pytest.mark.parametrize(
    ("first", "second", "tolerance", "expected"),
    [
        (1240, 1440, ONE, "yes"),
        (1240, 1440, TWO, "no"),
        (1240, 1340, ONE, "no"),
        (1240, 1240, ONE, "no"),
        (1051, 950, TEN_PERCENT, "yes"),
        (1050, 950, TEN_PERCENT, "no"),
        (1240, None, ONE, ""),
        (None, 1240, ONE, ""),
        (None, None, ONE, ""),
    ],
)
def test_third_needed_by_the_first_two(
    first: int | None, second: int | None, tolerance: Tolerance, expected: str
) -> None:
    assert third_needed(first, second, tolerance) == expected


@given(st.none() | readings, st.none() | readings, tolerances)
def test_third_needed_is_symmetric(first: int | None, second: int | None, tolerance: Tolerance) -> None:
    assert third_needed(first, second, tolerance) == third_needed(second, first, tolerance)


def test_site_value_by_common_practice() -> None:
    """Common practice: two within 1 to 2 mm are kept, else a third is taken and the odd one is dropped."""
    for row in rows("pair_tolerance"):
        tolerance = Tolerance("mm", hundredths(float(row["tolerance_mm"])))
        first, second, third = (whole(row[key]) for key in ("first_mm", "second_mm", "third_mm"))
        value = site_value(first, second, third, tolerance, "closest-pair")
        assert third_needed(first, second, tolerance) == row["third_needed"]
        assert value is not None
        assert " ".join(map(str, value.kept_rounds)) == row["kept"]


@pytest.mark.parametrize(
    ("first", "second", "third", "rule", "expected"),
    [
        # two readings within the tolerance: the mean, exact to half a hundredth
        (1200, 1300, None, "median", SiteValue(12500, (1, 2))),
        (1201, 1300, None, "closest-pair", SiteValue(12505, (1, 2))),
        (1240, 1040, None, "median", SiteValue(11400, (1, 2))),
        # a third that was not needed is left out
        (1200, 1300, 9000, "median", SiteValue(12500, (1, 2))),
        (1240, 1040, 1240, "closest-pair", SiteValue(11400, (1, 2))),
        # a third that is needed and missing
        (1200, 1500, None, "median", SiteValue(13500, (1, 2))),
        (1200, 1500, None, "closest-pair", SiteValue(13500, (1, 2))),
        # the middle of three, whichever round it was
        (1200, 1500, 1450, "median", SiteValue(14500, (3,))),
        (1200, 1500, 1100, "median", SiteValue(12000, (1,))),
        (1200, 1500, 1700, "median", SiteValue(15000, (2,))),
        # the two closest of three
        (1200, 1500, 1450, "closest-pair", SiteValue(14750, (2, 3))),
        (1200, 1500, 1100, "closest-pair", SiteValue(11500, (1, 3))),
        (1500, 1200, 1450, "closest-pair", SiteValue(14750, (1, 3))),
        # the two first stay the closest though they lie apart
        (1200, 1401, 1900, "closest-pair", SiteValue(13005, (1, 2))),
        # equal gaps: the middle one
        (1200, 1500, 1350, "closest-pair", SiteValue(13500, (3,))),
        (1200, 1500, 1800, "closest-pair", SiteValue(15000, (2,))),
        (1500, 1200, 1800, "closest-pair", SiteValue(15000, (1,))),
        # the third equals one of the two
        (1200, 1500, 1500, "median", SiteValue(15000, (2,))),
        (1200, 1500, 1500, "closest-pair", SiteValue(15000, (2, 3))),
        (1200, 1500, 1200, "closest-pair", SiteValue(12000, (1, 3))),
        # fewer than the first two
        (None, None, None, "median", None),
        (1200, None, None, "median", None),
        (None, 1200, None, "median", None),
        (1200, None, 1300, "median", None),
        (None, 1200, 1300, "closest-pair", None),
    ],
)
def test_site_value_from_two_and_three_readings(
    first: int | None, second: int | None, third: int | None, rule: str, expected: SiteValue | None
) -> None:
    assert site_value(first, second, third, TWO, rule) == expected


@pytest.mark.parametrize(
    ("first", "second", "third", "expected"),
    [
        (1050, 950, 2000, SiteValue(10000, (1, 2))),  # exactly 10 per cent
        (1051, 950, 2000, SiteValue(10510, (1,))),
    ],
)
def test_site_value_with_a_tolerance_in_per_cent(
    first: int, second: int, third: int, expected: SiteValue
) -> None:
    assert site_value(first, second, third, TEN_PERCENT) == expected


@pytest.mark.parametrize("rule", ["mean", "", "Median", "closest pair"])
def test_site_value_refuses_an_unknown_rule(rule: str) -> None:
    with pytest.raises(ValueError, match="median, closest-pair"):
        site_value(1200, 1300, None, TWO, rule)


def test_site_value_in_millimetres() -> None:
    assert SiteValue(14755, (1, 2)).millimetres == 14.755


@given(readings, readings, st.none() | readings, tolerances, st.sampled_from(SITE_RULES))
def test_site_value_lies_between_the_kept_readings(
    first: int, second: int, third: int | None, tolerance: Tolerance, rule: str
) -> None:
    value = site_value(first, second, third, tolerance, rule)
    assert value is not None
    kept = [(first, second, third)[number - 1] for number in value.kept_rounds]
    present = [reading for reading in kept if reading is not None]
    assert len(present) == len(kept)
    assert min(present) * 10 <= value.thousandths <= max(present) * 10
    assert value.thousandths * len(present) == sum(present) * 10


@given(st.lists(readings, min_size=3, max_size=3), tolerances)
def test_median_of_three_does_not_depend_on_the_order(values: list[int], tolerance: Tolerance) -> None:
    orders = [order for order in permutations(values) if exceeds(order[0], order[1], tolerance)]
    for order in orders:
        value = site_value(*order, tolerance, "median")
        assert value is not None
        assert value.thousandths == sorted(values)[1] * 10


@given(readings, readings, readings, tolerances)
def test_closest_pair_keeps_the_smallest_gap(
    first: int, second: int, third: int, tolerance: Tolerance
) -> None:
    assume(exceeds(first, second, tolerance))
    value = site_value(first, second, third, tolerance, "closest-pair")
    assert value is not None
    by_round = {1: first, 2: second, 3: third}
    gaps = {pair: abs(by_round[pair[0]] - by_round[pair[1]]) for pair in combinations((1, 2, 3), 2)}
    closest = [pair for pair, gap in gaps.items() if gap == min(gaps.values())]
    if len(closest) == 1:
        assert value.kept_rounds == closest[0]
    else:
        assert value.kept_rounds == tuple(set(closest[0]) & set(closest[1]))
        assert value.thousandths == sorted(by_round.values())[1] * 10


@pytest.mark.parametrize(
    ("first", "second", "third", "expected"),
    [
        (1000, 1300, 1600, True),
        (1000, 1201, 1402, True),
        (1000, 1201, 1401, False),  # second and third exactly within
        (1000, 1300, 800, False),  # first and third exactly within
        (1000, 1300, 799, True),
        (1000, 1200, 5000, False),  # no third was needed
        (1000, 1300, None, False),
        (1000, None, 1600, False),
        (None, 1300, 1600, False),
    ],
)
def test_measure_again_with_a_tolerance_of_two(
    first: int | None, second: int | None, third: int | None, expected: bool
) -> None:
    assert measure_again(first, second, third, TWO) is expected


def test_measure_again_with_a_tolerance_in_per_cent() -> None:
    assert measure_again(1000, 1200, 1400, TEN_PERCENT) is True
    assert measure_again(1000, 1200, 1300, TEN_PERCENT) is False


@given(readings, readings, readings, tolerances)
def test_measure_again_does_not_depend_on_the_order(
    first: int, second: int, third: int, tolerance: Tolerance
) -> None:
    answers = {measure_again(*order, tolerance) for order in permutations((first, second, third))}
    assert len(answers) == 1


def test_midpoint_of_landmark_distances() -> None:
    """Common practice: half the distance, in either unit."""
    cases = rows("midpoints")
    assert [midpoint(float(row["length"])) for row in cases] == [20.0, 21.0]
    assert [float(row["midpoint"]) for row in cases] == [20.0, 21.0]


def test_midpoint_of_a_distance_in_metres() -> None:
    assert midpoint(0.4) == 0.2


@pytest.mark.parametrize("length", [0, -40, float("nan"), float("inf")])
def test_midpoint_refuses_a_length_not_above_nought(length: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        midpoint(length)
