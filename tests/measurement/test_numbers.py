import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.measurement.numbers import (
    fifteen_digits,
    hundredths,
    millimetres,
    number_in_text,
    without_invisible,
)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0, 0),
        (-0.0, 0),
        (5, 500),
        (12.4, 1240),
        (12.34, 1234),
        (-0.5, -50),
        (1e-7, 0),
        (2.5e-3, 0),
        (0.004999999, 0),
        (0.005, 1),
        (-0.005, -1),
        (12.345, 1235),
        (10.025, 1003),
        (1e9, 100_000_000_000),
        (-1e9, -100_000_000_000),
    ],
)
def test_hundredths_of_plain_values(value: float, expected: int) -> None:
    assert hundredths(value) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [(2.675, 268), (-2.675, -268), (1.005, 101), (0.285, 29), (0.125, 13)],
)
def test_hundredths_of_near_ties_follow_the_decimal_text(value: float, expected: int) -> None:
    """Python's round gives another answer for each: it sees the binary value, or rounds half to even."""
    assert hundredths(value) == expected
    assert round(value, 2) != expected / 100


@pytest.mark.parametrize(("larger", "smaller"), [(12.4, 10.4), (4.1, 2.1), (32.3, 30.3), (2.3, 0.3)])
def test_hundredths_differ_by_exactly_two_millimetres(larger: float, smaller: float) -> None:
    assert hundredths(larger) - hundredths(smaller) == 200


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf"), 1.1e9, -1.1e9, 10**12])
def test_hundredths_refuses_what_is_no_length(value: float) -> None:
    with pytest.raises(ValueError, match="finite and at most 1e9"):
        hundredths(value)


def test_hundredths_refuses_true_after_the_1_that_equals_it() -> None:
    """What was worked out is kept, and a mapping takes True and 1 for the same."""
    assert (hundredths(1), hundredths(1.0)) == (100, 100)
    with pytest.raises(ValueError, match="not True"):
        hundredths(True)


@given(digits=st.integers(-(10**9), 10**9), places=st.integers(0, 6))
def test_hundredths_equal_half_away_from_zero_of_the_text(digits: int, places: int) -> None:
    """The expected value is worked out in whole numbers, from the digits of the text alone."""
    whole, part = divmod(abs(digits), 10**places)
    text = f"{'-' if digits < 0 else ''}{whole}.{part:0{places}d}" if places else str(digits)
    size = (2 * 100 * abs(digits) + 10**places) // (2 * 10**places)
    assert hundredths(float(text)) == (-size if digits < 0 else size)


@given(st.floats(-1e9, 1e9))
def test_hundredths_are_symmetric_in_sign(value: float) -> None:
    assert hundredths(-value) == -hundredths(value)


@given(st.floats(-1e6, 1e6))
def test_hundredths_lie_within_half_a_hundredth(value: float) -> None:
    assert abs(hundredths(value) / 100 - value) <= 0.005 + 1e-9


@pytest.mark.parametrize(("whole", "expected"), [(1240, 12.4), (0, 0.0), (-50, -0.5), (1, 0.01)])
def test_millimetres_of_hundredths(whole: int, expected: float) -> None:
    assert millimetres(whole) == expected


@given(st.integers(-(10**11), 10**11))
def test_millimetres_and_back_is_the_same(whole: int) -> None:
    assert hundredths(millimetres(whole)) == whole


# typed, number, unit
@pytest.mark.parametrize(
    ("typed", "number", "unit"),
    [
        ("12", 12.0, ""),
        ("12.", 12.0, ""),
        (",5", 0.5, ""),
        ("12,5mm", 12.5, "mm"),
        ("12.5  MM", 12.5, "mm"),
        ("\ufeff12.5\u2060", 12.5, ""),
        ("１２．５ｍｍ", 12.5, "mm"),
        ("１２。５", 12.5, ""),
        ("१२.५", 12.5, ""),
        ("12‧5", 12.5, ""),
        ("–0.5", -0.5, ""),
        ("＋3", 3.0, ""),
        ("15 ㎜", 15.0, "mm"),
        ("1.05 g/cm³", 1.05, "g/cm³"),
        ("17.99999999999999", 18.0, ""),
    ],
)
def test_number_in_text_of_any_script_and_unit(typed: str, number: float, unit: str) -> None:
    found = number_in_text(typed)
    assert found is not None
    assert (found.in_unit(unit), found.unit) == (number, unit)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "twelve",
        "~12",
        "12?",
        "12 13",
        "12.5.1",
        "1,234.5",
        "1234567",
        "12²",
        "½",
        "12 apples",
        "1e3",
        "--1",
        ".",
    ],
)
def test_number_in_text_of_what_cannot_be_read(typed: str) -> None:
    assert number_in_text(typed) is None


# typed, the unit asked for, the number in it
@pytest.mark.parametrize(
    ("typed", "unit", "number"),
    [
        # metric prefixes
        ("1.5 cm", "mm", 15.0),
        ("350 mm", "cm", 35.0),
        ("0.35 m", "cm", 35.0),
        ("61500 g", "kg", 61.5),
        ("1050 kg/m3", "g/ml", 1.05),
        # an inch is 25.4 mm and a pound 0.45359237 kg, both exactly: yard and pound agreement, 1959
        ("2 in", "mm", 50.8),
        ("10 inches", "cm", 25.4),
        ("150 lb", "kg", 68.0388555),
        # without a unit it is the one that is asked for
        ("12", "mm", 12.0),
        ("61.5", "kg", 61.5),
    ],
)
def test_number_in_text_in_the_unit_that_is_asked_for(typed: str, unit: str, number: float) -> None:
    found = number_in_text(typed)
    assert found is not None
    assert found.in_unit(unit) == number


def test_a_unit_of_another_kind_cannot_be_turned_into_one() -> None:
    found = number_in_text("43 kg")
    assert found is not None
    assert (found.in_unit("cm"), found.in_unit("kg")) == (None, 43.0)


def test_without_invisible_keeps_what_shows() -> None:
    assert without_invisible("\u00a0 a b\u200d\u3000") == "a b"
    assert without_invisible("\u200b") == ""


@pytest.mark.parametrize(
    ("value", "kept"), [(17.99999999999999, 18.0), (17.9999999999999, 17.9999999999999), (0.1 + 0.2, 0.3)]
)
def test_fifteen_digits_are_kept(value: float, kept: float) -> None:
    """What a spreadsheet program shows and compares with."""
    assert fifteen_digits(value) == kept
