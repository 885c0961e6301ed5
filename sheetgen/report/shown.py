"""Statistics as cells: a number, or nothing where there is only a reason in words."""

from collections.abc import Mapping, Sequence

from sheetgen.core.outcome import Interval, Undefined
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Value

__all__ = ["ends", "said_once", "short", "shown", "span", "student_codes"]


def shown(value: float | Undefined | None) -> float | None:
    """Return the number, None where there is none."""
    return None if isinstance(value, Undefined) else value


def ends(interval: Interval | Undefined) -> tuple[Value, Value]:
    """Return both ends of an interval, (None, None) where there is none."""
    return (None, None) if isinstance(interval, Undefined) else (interval.lower, interval.upper)


def span(interval: Interval | Undefined) -> str:
    """Return an interval in one cell, empty where there is none.

    Examples
    --------
    >>> span(Interval(-0.5, 1.25, 0.95))
    '-0.50 to 1.25'
    """
    return "" if isinstance(interval, Undefined) else f"{interval.lower:.2f} to {interval.upper:.2f}"


def said_once(reasons: Sequence[str]) -> tuple[str, ...]:
    """Return the sentence that stands for a reason which is the same at every site, none where it is not.

    Examples
    --------
    >>> said_once(["too few people"] * 2), said_once(["too few people", ""])
    (('At every site: too few people.',), ())
    """
    alike = len(set(reasons)) == 1 and reasons[0] != ""
    return (f"At every site: {reasons[0]}.",) if alike else ()


def short(value: float | Undefined) -> str:
    """Return a small number with two digits, however small, or the reason why there is none.

    Examples
    --------
    >>> short(0.00042), short(1.25)
    ('0.00042', '1.2')
    """
    return value.reason if isinstance(value, Undefined) else f"{value:.2g}"


def student_codes(book: ClassBook) -> Mapping[str, str]:
    """Return the code that stands for each student_id; nobody without a code is in it."""
    return {one.student_id: one.participant_code for one in book.people if one.participant_code}
