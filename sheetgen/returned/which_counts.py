"""Several files of one copy: which of them counts."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sheetgen.finding import Finding, Shown, Values, listed, quoted, term
from sheetgen.protocols.recalculation import is_ready
from sheetgen.returned.attempt import Attempt, answered, file_id, is_late, superseded, with_findings
from sheetgen.texts.findings import Catalogue

_FEWEST_FOLDERS = 3
"""Folders beside one another; of two, one may as well be the older version of the other."""
_MOST_COPIES = 2
"""Of one person's folder: their own, and another one's that they handed in with it or instead."""
_FILE_ENDING = re.compile(r"\.[A-Za-z]{2,5}$")
"""A step with such an ending is a zip, which a person may send twice under two names."""
_VERSION = re.compile(
    r"(?<![a-z])attempt[ _-]?\d{1,3}(?!\d)|(?<!\d)20\d\d[-_.]?\d\d[-_.]?\d\d(?:[-_ T.]\d\d.*)?"
    r"| ?\(\d{1,3}\)$| ?\[\d{1,3}\]$",
    re.IGNORECASE,
)

_Steps = tuple[str, ...]


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


_Values = list[float] | list[str]
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
    for values_of, case, shown in _TESTS:
        if len(left) < 2:
            break
        some = [attempts[place] for place in left]
        values = values_of(some, [arrivals[place] for place in left])
        if values is None:
            continue
        best = max(values)
        for place, value in zip(left, values, strict=True):
            if value != best:
                reasons[place] = case, {"best": shown(best), "own": shown(value)}
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
    return is_ready(built_with.protocol, built_with.settings, attempt.entries, results)


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
    return [latest if latest - time < _APART else time for time in times]


def _filled(attempt: Attempt) -> dict[str, str | float]:
    return {name: value for name, value in attempt.entries.items() if value not in (None, "")}


def _clock(seconds: float) -> str:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    return moment.strftime("%Y-%m-%d %H:%M")


def _as_it_is(value: str | float) -> str | float:
    return value


_TESTS: tuple[
    tuple[Callable[[Sequence[Attempt], _Arrivals], _Values | None], str, Callable[..., str | float]],
    ...,
] = (
    (_complete, "complete", _as_it_is),
    (_saved, "saved", _as_it_is),
    (_first_read, "read", _as_it_is),
    (_stamped, "stamped", _as_it_is),
    (_numbered, "numbered", _as_it_is),
    (_last_changed, "changed", _clock),
)


def senders_of(attempts: Sequence[Attempt]) -> dict[str, str]:
    """Return file to who handed it in, only of files whose names tell.

    Notes
    -----
    A folder is a person's where it stands beside others, most of which hold sheets of one copy only, and
    holds few itself. A prefix is a person's where the sheet's own name stands behind it and an underscore
    between; what comes before the first underscore is the person. Attempt numbers and times are left out.
    """
    told = [one for one in attempts if one.record is not None]
    copies: dict[_Steps, set[str]] = defaultdict(set)
    for one in told:
        steps = _folders(one.file)
        for depth in range(1, len(steps) + 1):
            copies[steps[:depth]].add(_copy_code(one))
    of_people = _folders_of_people(copies)
    senders = {one.file: _by_folder(one.file, copies, of_people) or _by_prefix(one) for one in told}
    return {file: sender for file, sender in senders.items() if sender}


def _folders_of_people(copies: Mapping[_Steps, set[str]]) -> set[_Steps]:
    """The places below which there is a folder for each person."""
    inside: dict[_Steps, list[int]] = defaultdict(list)
    for steps, codes in copies.items():
        if not _FILE_ENDING.search(steps[-1]):
            inside[steps[:-1]].append(len(codes))
    return {
        place
        for place, counts in inside.items()
        if len(counts) >= _FEWEST_FOLDERS and sum(count == 1 for count in counts) * 2 > len(counts)
    }


def _by_folder(file: str, copies: Mapping[_Steps, set[str]], of_people: Iterable[_Steps]) -> str:
    steps = _folders(file)
    for depth, step in enumerate(steps):
        few = len(copies[steps[: depth + 1]]) <= _MOST_COPIES
        if steps[:depth] in of_people and few and not _FILE_ENDING.search(step):
            return _person(step)
    return ""


def _by_prefix(attempt: Attempt) -> str:
    own = "" if attempt.record is None else attempt.record.file_name.rpartition(".")[0]
    prefix, found, _ = attempt.file.rpartition("/")[2].partition(f"_{own}") if own else ("", "", "")
    return _person(prefix.partition("_")[0]) if found else ""


def _person(words: str) -> str:
    return _VERSION.sub("", words).strip(" _-").casefold()


def _folders(file: str) -> _Steps:
    return tuple(file.split("/")[:-1])


def _copy_code(attempt: Attempt) -> str:
    return "" if attempt.record is None else attempt.record.copy_code


def told_apart(
    attempts: Sequence[Attempt],
    catalogue: Catalogue,
    answers: Mapping[str, bool],
    arrivals: Mapping[str, Arrival] | None = None,
) -> list[Attempt]:
    """Return the attempts with at most one that counts for each copy.

    Parameters
    ----------
    answers : file id to whether the teacher said that it counts.
    arrivals : file to how it arrived.

    Notes
    -----
    The same bytes twice count once. Of different files of one copy the newest complete one counts: of those
    that the teacher said yes to, else of those not said no to that are not late, else of those not said no
    to. The others are superseded, and say why. Where nothing tells which is the newest and they differ in
    what was entered, these are refused, and wait. So are those that came from different people, as far as
    names tell: somebody may have changed a copy of another one's sheet, and time does not tell whose it is.
    """
    by_code: dict[str, list[int]] = defaultdict(list)
    for index, attempt in enumerate(attempts):
        if attempt.record is not None and attempt.status != "refused":
            by_code[attempt.record.copy_code].append(index)
    told = list(attempts)
    senders = senders_of(attempts)
    for code, indexes in by_code.items():
        first_of: dict[str, int] = {}
        for index in indexes:
            if told[index].sha256 in first_of:
                told[index] = superseded(told[index], (), catalogue)
            else:
                first_of[told[index].sha256] = index
        different = list(first_of.values())
        if len(different) > 1:
            of_code = [told[index] for index in different]
            for index, one in zip(
                different, _of_copy(code, of_code, catalogue, answers, arrivals or {}, senders), strict=True
            ):
                told[index] = one
    return told


def _of_copy(
    code: str,
    attempts: Sequence[Attempt],
    catalogue: Catalogue,
    answers: Mapping[str, bool],
    arrivals: Mapping[str, Arrival],
    senders: Mapping[str, str],
) -> list[Attempt]:
    """Different files of one copy: one that counts, or several that wait; the others superseded."""
    places = _that_may_count(attempts, answers)
    some = [attempts[place] for place in places]
    choice = _choice(some, [arrivals.get(one.file, Arrival()) for one in some], senders)
    counting = [places[place] for place in choice.counts]
    reasons = {places[place]: reason for place, reason in choice.reasons.items()}
    told = []
    for place, attempt in enumerate(attempts):
        if place in counting and len(counting) == 1:
            told.append(attempt)
        elif place in counting:
            others = tuple(_named(attempts[other].file, senders) for other in counting if other != place)
            values: Values = {"code": code, "others": others, "sender": quoted(senders.get(attempt.file, ""))}
            twice = Finding("identity-copy-twice", values, case="sender" if attempt.file in senders else "")
            told.append(with_findings(attempt, [twice], catalogue))
        else:
            notes = []
            if place in reasons:
                case, told_by = reasons[place]
                newer = listed(tuple(attempts[other].file for other in counting), "or")
                notes.append(Finding("identity-newer-counts", {"file": newer, **told_by}, case=case))
            told.append(superseded(attempt, notes, catalogue))
    return told


def _choice(attempts: Sequence[Attempt], arrivals: Sequence[Arrival], senders: Mapping[str, str]) -> Choice:
    """The newest one, or the newest one of each sender where there are several and their entries differ."""
    by_sender: dict[str, list[int]] = defaultdict(list)
    for place, one in enumerate(attempts):
        by_sender[senders.get(one.file, "")].append(place)
    known = [places for sender, places in by_sender.items() if sender]
    if len(known) < 2:
        return newest(attempts, arrivals)
    counts: list[int] = []
    reasons: dict[int, Reason] = {}
    for places in known:
        choice = newest([attempts[place] for place in places], [arrivals[place] for place in places])
        counts += [places[place] for place in choice.counts]
        reasons |= {places[place]: reason for place, reason in choice.reasons.items()}
    if same_entries([attempts[place] for place in counts]):
        return newest(attempts, arrivals)
    # A file of which no name tells who sent it may be anybody's.
    return Choice(tuple(sorted((*counts, *by_sender.get("", ())))), reasons)


def _named(file: str, senders: Mapping[str, str]) -> str | Shown:
    return term("sent-by", file=file, sender=quoted(senders[file])) if file in senders else file


def _that_may_count(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> list[int]:
    every = list(range(len(attempts)))
    chosen = [place for place in every if answers.get(file_id(attempts[place])) is True]
    left = [place for place in every if answers.get(file_id(attempts[place])) is not False] or every
    return chosen or [place for place in left if not is_late(attempts[place])] or left


def with_answers(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> list[Attempt]:
    """Return the attempts with the teacher's word on those for review: yes accepts, no refuses."""
    return [
        answered(attempt, answers[file_id(attempt)]) if file_id(attempt) in answers else attempt
        for attempt in attempts
    ]
