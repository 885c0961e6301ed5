import math

import pytest

from sheetgen.statistics.outcome import checked_number, complete_rows, upper_tail


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1.1e9, True, "12", None])
def test_checked_number_refuses_what_is_no_finite_number(value: object) -> None:
    with pytest.raises(ValueError, match="a reading must be a finite number, at most 1e9 in size, not"):
        checked_number(value, "a reading")  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [1e9, -1e9, 0])
def test_checked_number_at_its_ends(value: float) -> None:
    assert checked_number(value, "a reading") == value


def test_checked_number_refuses_a_number_below_the_lowest() -> None:
    with pytest.raises(ValueError, match=r"an error must be a finite number, from 0 to 1e9, not -0\.1"):
        checked_number(-0.1, "an error", lowest=0)


def test_complete_rows_leaves_out_rows_with_a_gap() -> None:
    assert complete_rows([(1, 2), (None, 2), (3, 4), (None, None)]) == (((1.0, 2.0), (3.0, 4.0)), 2)


def test_complete_rows_refuses_a_bad_value_beside_a_gap() -> None:
    with pytest.raises(ValueError, match="a reading"):
        complete_rows([(math.nan, None)])


@pytest.mark.parametrize("confidence", [0, 1, -0.5, 95, math.nan])
def test_upper_tail_refuses_a_confidence_out_of_range(confidence: float) -> None:
    with pytest.raises(ValueError, match="a confidence must lie between 0 and 1"):
        upper_tail(confidence)
