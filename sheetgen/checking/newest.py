"""Several files of one copy: which is the newest complete one, and what tells so."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sheetgen.checking.progress import next_step
from sheetgen.model.attempt import Attempt

__all__ = ["Arrival", "Choice", "Reason", "newest", "same_entries"]


@dataclass(frozen=True, slots=True)
class Arrival:
    """How a file arrived.

    day : on which it was first read, YYYY-MM-DD; empty where nobody knows.
    time : when it was last changed [s], by the clock of the disk or, in_bundle, of a zip; None: not known.
    """

    day: str = ""
    time: float | None = None
    in_bundle: bool = False


Reason = tuple[str, Mapping[str, str | float]]
"""Case of the finding about it, and its values."""


@dataclass(frozen=True, slots=True)
class Choice:
    """counts : places of the files that may count; more than one where nothing tells them apart.

    reasons : place of every other file to what tells that it is older, with what the newest and it say.
    """

    counts: tuple[int, ...]
    reasons: Mapping[int, Reason]


_Values = list[Any]
"""Of one kind each: numbers or texts that sort."""
_Arrivals = Sequence[Arrival]

_HANDED_OUT = "2000-01-01"
"""Every sheet is handed out with this day as its last saving, so that its bytes are the same each time."""
_APART = 60
"""Seconds; files that a download or a copy wrote one after the other are not told apart by it."""

_STAMP = re.compile(
    r"(?<!\d)(20\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])"
    r"(?:[-_ T.]{1,3}(?:at )?([01]\d|2[0-3])[-_.:h]?([0-5]\d)(?:[-_.:]?([0-5]\d))?)?(?!\d)"
)
_ATTEMPT = re.compile(r"(?<![a-z])attempt[ _-]?(\d{1,3})(?!\d)", re.IGNORECASE)
_COPY = re.compile(r"(?: ?\((\d{1,3})\)| ?\[(\d{1,3})\]|-(\d{1,2}))(?=(\.[A-Za-z]{2,5})?$)")


def newest(attempts: Sequence[Attempt], arrivals: Sequence[Arrival]) -> Choice:
    """Return which of several files of one copy counts.

    Parameters
    ----------
    attempts : of one copy, with different bytes, at least one. arrivals : of each of them.

    Notes
    -----
    A complete file comes before one that is not. Then, as far as all that are left say it: when the file says
    that it was last saved; the day on which it was first read; a time or a number in its name; its time on
    the disk or in the zip. What is known of some of them only tells nothing. Of files that nothing tells
    apart but that hold the same entries the first by name counts.
    """
    left = list(range(len(attempts)))
    reasons: dict[int, Reason] = {}
    for values_of, case in _TESTS:
        if len(left) < 2:
            break
        some = [attempts[place] for place in left]
        values = values_of(some, [arrivals[place] for place in left])
        if values is None:
            continue
        best = max(values)
        for place, value in zip(left, values, strict=True):
            if value != best:
                reasons[place] = case, {"best": best, "own": value}
        left = [place for place in left if place not in reasons]
    if len(left) > 1 and same_entries([attempts[place] for place in left]):
        first = min(left, key=lambda place: (attempts[place].file, attempts[place].sha256))
        reasons |= {place: ("same", {}) for place in left if place != first}
        left = [first]
    return Choice(tuple(left), reasons)


def same_entries(attempts: Sequence[Attempt]) -> bool:
    """Tell whether all files hold the same entries, emptied ones left out."""
    return all(_filled(one) == _filled(attempts[0]) for one in attempts)


def _complete(attempts: Sequence[Attempt], _: _Arrivals) -> _Values:
    return [float(_is_complete(one)) for one in attempts]


def _is_complete(attempt: Attempt) -> bool:
    built_with, results = attempt.built_with, attempt.results
    if built_with is None or results is None:
        return False
    return next_step(built_with.protocol, built_with.settings, attempt.entries, results) == "done"


def _saved(attempts: Sequence[Attempt], arrivals: _Arrivals) -> _Values | None:
    moments = [_moment(one.modified, arrival.day) for one, arrival in zip(attempts, arrivals, strict=True)]
    return moments if "" not in moments else None


def _moment(text: str, day_seen: str) -> str:
    """The time of saving in words that sort, empty where it says nothing.

    A clock may be wrong: nothing was saved after the day on which it was read here, give or take a day
    between the zones of the earth.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        last = datetime.fromisoformat(day_seen).date() + timedelta(days=1) if day_seen else None
    except (ValueError, OverflowError):
        return ""
    if moment.date().isoformat() <= _HANDED_OUT or (last is not None and moment.date() > last):
        return ""
    return moment.strftime("%Y-%m-%d %H:%M:%S")


def _first_read(_: Sequence[Attempt], arrivals: _Arrivals) -> _Values | None:
    days = [one.day for one in arrivals]
    return days if "" not in days else None


def _stamped(attempts: Sequence[Attempt], _: _Arrivals) -> _Values | None:
    """The last time that stands in each name; a day alone is its beginning."""
    found = [list(_STAMP.finditer(one.file)) for one in attempts]
    if not all(found):
        return None
    stamps = [matches[-1].groups(default="00") for matches in found]
    return [
        f"{year}-{month}-{day} {hour}:{minute}:{second}" for year, month, day, hour, minute, second in stamps
    ]


def _numbered(attempts: Sequence[Attempt], _: _Arrivals) -> _Values | None:
    """The number of the attempt that each name gives; one without is the first of those named the same."""
    counted = [_ATTEMPT.findall(one.file) for one in attempts]
    if all(counted):
        return [float(numbers[-1]) for numbers in counted]
    names = [one.file.rpartition("/")[2] for one in attempts]
    if len({_COPY.sub("", name).casefold() for name in names}) > 1:
        return None
    matches = [_COPY.search(name) for name in names]
    return [0.0 if one is None else float(next(filter(None, one.groups()[:3]))) for one in matches]


def _last_changed(_: Sequence[Attempt], arrivals: _Arrivals) -> _Values | None:
    times = [one.time for one in arrivals if one.time is not None]
    if len(times) < len(arrivals) or len({one.in_bundle for one in arrivals}) > 1:
        return None
    latest = max(times)
    return [_clock(latest if latest - time < _APART else time) for time in times]


def _filled(attempt: Attempt) -> dict[str, str | float]:
    return {name: value for name, value in attempt.entries.items() if value not in (None, "")}


def _clock(seconds: float) -> str:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    return moment.strftime("%Y-%m-%d %H:%M")


_TESTS: tuple[tuple[Callable[[Sequence[Attempt], _Arrivals], _Values | None], str], ...] = (
    (_complete, "complete"),
    (_saved, "saved"),
    (_first_read, "read"),
    (_stamped, "stamped"),
    (_numbered, "numbered"),
    (_last_changed, "changed"),
)
