"""What a statistic comes to: a number, an interval, or the reason why it cannot be given."""

from collections.abc import Sequence
from dataclasses import dataclass

_LARGEST = 1e9


@dataclass(frozen=True, slots=True)
class Undefined:
    """A result that cannot be given.

    reason : why, a code word that the texts have a sentence for. values : what fills the places of that.
    """

    reason: str
    values: tuple[tuple[str, str | int | float], ...] = ()


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval. confidence : share of such intervals that hold the true value, from 0 to 1."""

    lower: float
    upper: float
    confidence: float


def checked_number(value: float, name: str, *, lowest: float = -_LARGEST) -> float:
    """Return a number that is finite, at least `lowest` and at most 1e9.

    Raises
    ------
    ValueError : it is not, or it is True, False or no number at all.

    Examples
    --------
    >>> checked_number(2, "a reading")
    2.0
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not lowest <= value <= _LARGEST:
        floor = "at most 1e9 in size" if lowest == -_LARGEST else f"from {lowest:g} to 1e9"
        raise ValueError(f"{name} must be a finite number, {floor}, not {value!r}")
    return float(value)


def complete_rows(
    table: Sequence[Sequence[float | None]],
) -> tuple[tuple[tuple[float, ...], ...], int]:
    """Return the rows of a table that have no gap, and how many were left out.

    Raises
    ------
    ValueError : a value is not finite.

    Examples
    --------
    >>> complete_rows([(12.0, 12.5), (9.0, None)])
    (((12.0, 12.5),), 1)
    """
    rows: list[tuple[float, ...]] = []
    for row in table:
        present = tuple(checked_number(value, "a reading") for value in row if value is not None)
        if len(present) == len(row):
            rows.append(present)
    return tuple(rows), len(table) - len(rows)


def upper_tail(confidence: float) -> float:
    """Return the probability above a two-sided interval: (1 - confidence) / 2.

    Raises
    ------
    ValueError : the confidence does not lie between 0 and 1.

    Examples
    --------
    >>> upper_tail(0.5)
    0.25
    """
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence must lie between 0 and 1, not {confidence!r}")
    return (1 - confidence) / 2
