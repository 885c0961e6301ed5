"""Work that is done once for each Layout or tab, not for each file compared with it."""

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

__all__ = ["once_for_each"]

T = TypeVar("T")
R = TypeVar("R")

_MOST_KEPT = 128


def once_for_each(function: Callable[[T], R]) -> Callable[[T], R]:
    """Return a function of one unchanging object that keeps its result for that very object.

    Equal objects count as different: to find a Layout of a thousand cells by its value would take longer than
    the work saved. Results are shared and must not be changed.
    """
    kept: dict[int, tuple[T, R]] = {}

    @wraps(function)
    def recalled(subject: T) -> R:
        # The subject is kept beside its result, so that no other object can get its number meanwhile.
        found = kept.get(id(subject))
        if found is None:
            found = (subject, function(subject))
            if len(kept) >= _MOST_KEPT:
                del kept[next(iter(kept))]
            kept[id(subject)] = found
        return found[1]

    return recalled
