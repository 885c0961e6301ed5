import importlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.core.agreement import Agreement, agreement
from sheetgen.core.outcome import Interval, Undefined
from tests.reference_values import rows

PEAK_FLOW = [(float(row["first"]), float(row["second"])) for row in rows("peak_flow")]

readings = st.integers(1, 900).map(lambda tenths: tenths / 10)
pair_tables = st.lists(st.tuples(readings, readings), min_size=2, max_size=30)


def found(result: Agreement | Undefined) -> Agreement:
    assert isinstance(result, Agreement)
    return result


def ends(interval: Interval | Undefined) -> tuple[float, float]:
    assert isinstance(interval, Interval)
    return interval.lower, interval.upper


@pytest.mark.parametrize(
    "row", rows("peak_flow_agreement"), ids=lambda row: f"{row['quantity']}-{row['multiplier']}"
)
def test_agreement_of_two_meters(row: dict[str, str]) -> None:
    """Bland & Altman 1986."""
    result = found(agreement(PEAK_FLOW, float(row["multiplier"])))
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


def test_agreement_against_pingouin() -> None:
    """The lines and bands it draws of its own data; its bands of the limits have 3/n as in 1986."""
    pingouin = importlib.import_module("pingouin")
    figure = importlib.import_module("matplotlib.figure").Figure()
    data = pingouin.read_dataset("blandaltman")
    axes = pingouin.plot_blandaltman(data["A"], data["B"], ax=figure.add_subplot())
    zero, mean, upper, lower = (line.get_ydata()[0] for line in axes.lines)
    bands = [(band.get_y(), band.get_y() + band.get_height()) for band in axes.patches]
    pairs = data.dropna()[["A", "B"]].to_numpy().tolist()
    result = found(agreement(pairs))
    assert zero == 0
    assert (result.mean_difference, result.upper_limit, result.lower_limit) == pytest.approx(
        (mean, upper, lower), rel=1e-12
    )
    assert ends(result.mean_interval) == pytest.approx(bands[0], rel=1e-10)
    count = len(pairs)
    ratio = math.sqrt((1 / count + 1.96**2 / (2 * (count - 1))) / (3 / count))
    for interval, centre, band in ((result.upper_interval, upper, 1), (result.lower_interval, lower, 2)):
        expected = [centre + ratio * (end - centre) for end in bands[band]]
        assert ends(interval) == pytest.approx(expected, rel=1e-10)


def test_agreement_against_statsmodels() -> None:
    """The limits drawn by statsmodels for the same 17 people."""
    plots = importlib.import_module("statsmodels.graphics.agreement")
    axes = importlib.import_module("matplotlib.figure").Figure().add_subplot()
    first, second = (importlib.import_module("numpy").array(side) for side in zip(*PEAK_FLOW, strict=True))
    plots.mean_diff_plot(first, second, ax=axes, sd_limit=1.96)
    drawn = sorted(line.get_ydata()[0] for line in axes.lines)
    # statsmodels divides by n where the paper, and this project, divide by n - 1.
    widths = [(value - drawn[1]) * math.sqrt(17 / 16) for value in drawn]
    result = found(agreement(PEAK_FLOW))
    limits = [result.lower_limit, result.mean_difference, result.upper_limit]
    assert limits == pytest.approx([drawn[1] + width for width in widths])


def test_agreement_intervals_name_their_confidence() -> None:
    """All three of the same agreement, each with the confidence asked for."""
    result = found(agreement(PEAK_FLOW, confidence=0.9))
    intervals = (result.mean_interval, result.lower_interval, result.upper_interval)
    assert [getattr(interval, "confidence", None) for interval in intervals] == [0.9, 0.9, 0.9]


def test_agreement_leaves_out_people_without_both_readings() -> None:
    result = found(agreement([(10, 9), (None, 9), (12, 12), (15, None), (15, 13)], 2))
    assert (result.pairs, result.left_out, result.mean_difference) == (3, 2, 1.0)


@given(pair_tables, st.floats(0, 3), st.floats(0.5, 0.99))
def test_limits_lie_evenly_about_the_mean_difference(
    pairs: list[tuple[float, float]], multiplier: float, confidence: float
) -> None:
    result = found(agreement(pairs, multiplier, confidence))
    middle = (result.lower_limit + result.upper_limit) / 2
    assert middle == pytest.approx(result.mean_difference, abs=1e-9)
    if result.standard_deviation > 1e-6:
        low, high = ends(result.lower_interval), ends(result.upper_interval)
        assert low[0] + high[1] == pytest.approx(2 * result.mean_difference, abs=1e-7)
        assert low[1] + high[0] == pytest.approx(2 * result.mean_difference, abs=1e-7)


@given(pair_tables)
def test_agreement_the_other_way_round(pairs: list[tuple[float, float]]) -> None:
    result, turned = found(agreement(pairs)), found(agreement([(second, first) for first, second in pairs]))
    assert turned.mean_difference == pytest.approx(-result.mean_difference)
    assert turned.lower_limit == pytest.approx(-result.upper_limit)
    assert turned.standard_deviation == pytest.approx(result.standard_deviation)


def test_agreement_of_differences_all_alike() -> None:
    result = found(agreement([(11, 10), (13, 12), (21, 20)]))
    assert (result.mean_difference, result.lower_limit, result.upper_limit) == (1, 1, 1)
    for interval in (result.mean_interval, result.lower_interval, result.upper_interval):
        assert interval == Undefined("differences-alike")


@pytest.mark.parametrize("pairs", [[], [(1.0, 2.0)], [(1.0, 2.0), (None, 2.0)]])
def test_agreement_of_too_few_people(pairs: list[tuple[float | None, float | None]]) -> None:
    assert agreement(pairs) == Undefined("agreement-two-people")


@pytest.mark.parametrize(
    ("pairs", "multiplier", "confidence", "message"),
    [
        ([(1, math.nan), (2, 3)], 1.96, 0.95, "a reading must be"),
        ([(1, 2), (2, 3)], -1, 0.95, "a multiplier must be"),
        ([(1, 2), (2, 3)], 1.96, 0, "a confidence must lie"),
    ],
)
def test_agreement_refuses_a_bad_argument(
    pairs: list[tuple[float, float]], multiplier: float, confidence: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        agreement(pairs, multiplier, confidence)
