"""Several files of one copy: which of them counts."""

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from msgspec import Struct

from sheetgen.class_folder.records import Person
from sheetgen.finding import Finding, Values, listed
from sheetgen.protocols.recalculation import is_ready
from sheetgen.returned.attempt import (
    Attempt,
    file_id,
    is_late,
    is_untouched,
    superseded,
    with_findings,
)
from sheetgen.returned.came_back import person_named

_FEWEST_FOLDERS = 3  # Folders beside one another; of two, one may as well be the older version of the other.
_MOST_COPIES = 2
"""Of one person's folder: their own, and another one's that they handed in with it or instead."""
_FILE_ENDING = re.compile(r"\.[A-Za-z]{2,5}$")
"""A step with such an ending is a zip, which a person may send twice under two names."""
_VERSION = re.compile(
    r"(?<![a-z])attempt[ _-]?\d{1,3}(?!\d)|(?<!\d)20\d\d[-_.]?\d\d[-_.]?\d\d(?:[-_ T.]\d\d.*)?"
    r"| ?\(\d{1,3}\)$| ?\[\d{1,3}\]$",
    re.IGNORECASE,
)

_HANDED_OUT = "2000-01-01"
"""Every sheet is handed out with this day as its last saving, so that its bytes are the same each time."""
_APART = 60  # Seconds; files that a download or a copy wrote one after the other are not told apart by it.

_STAMP = re.compile(
    r"(?<!\d)(20\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])"
    r"(?:[-_ T.]{1,3}(?:at )?([01]\d|2[0-3])[-_.:h]?([0-5]\d)(?:[-_.:]?([0-5]\d))?)?(?!\d)"
)
_ATTEMPT = re.compile(r"(?<![a-z])attempt[ _-]?(\d{1,3})(?!\d)", re.IGNORECASE)
_COPY = re.compile(r"(?: ?\((\d{1,3})\)| ?\[(\d{1,3})\]|-(\d{1,2}))(?=(\.[A-Za-z]{2,5})?$)")


class Arrival(Struct, frozen=True):
    """How a file arrived. day : on which it was first read, YYYY-MM-DD; empty where nobody knows. time : when
    it was last changed [s], by the clock of the disk or, in_bundle, of a zip; None: not known."""

    day: str = ""
    time: float | None = None
    in_bundle: bool = False


Arrivals = Mapping[str, Arrival]  # By file.
Reason = tuple[str, Mapping[str, str | float]]  # Case of the finding about it, and its values.


class Choice(Struct, frozen=True):
    """counts : the files that may count; more than one where nothing tells them apart.
    reasons : every other file to what tells that it is older, with what the newest and it say."""

    counts: tuple[str, ...]
    reasons: Mapping[str, Reason]


def newest(attempts: Sequence[Attempt], arrivals: Arrivals) -> Choice:
    """Return which of several files of one copy, with different bytes, counts.

    One with something typed comes before an untouched one, and a complete one before one that is not. Then,
    as far as all that are left say it: when the file says that it was last saved; the day on which it was
    first read; a time or a number in its name; its time on the disk or in the zip. What is known of some of
    them only tells nothing. Of files that nothing tells apart but that hold the same entries the first by
    name counts."""
    left = [(attempt, arrivals.get(attempt.file, Arrival())) for attempt in attempts]
    reasons: dict[str, Reason] = {}
    for case, values_of in _TESTS:
        values = values_of(left) if len(left) > 1 else ()
        if not values or "" in values:
            continue
        best = max(values)
        reasons |= {
            attempt.file: (case, {"best": best, "own": value})
            for (attempt, _), value in zip(left, values, strict=True)
            if value != best
        }
        left = [came for came in left if came[0].file not in reasons]
    counting = [attempt for attempt, _ in left]
    if len(counting) > 1 and _same_entries(counting):
        first = min(counting, key=lambda attempt: (attempt.file, attempt.sha256))
        reasons |= {attempt.file: ("same", {}) for attempt in counting if attempt is not first}
        counting = [first]
    return Choice(tuple(attempt.file for attempt in counting), reasons)


def _same_entries(attempts: Sequence[Attempt]) -> bool:
    """Whether all files hold the same entries, emptied ones left out."""
    filled = [
        {name: value for name, value in attempt.entries.items() if value not in (None, "")}
        for attempt in attempts
    ]
    return all(entries == filled[0] for entries in filled)


_Came = Sequence[tuple[Attempt, Arrival]]
_Told = Sequence[str | float]
"""Of each file, larger where it is newer; empty where one says nothing, or all together do not."""


def _is_complete(attempt: Attempt) -> bool:
    built_with, results = attempt.built_with, attempt.results
    if built_with is None or results is None:
        return False
    return is_ready(built_with.protocol, built_with.settings, attempt.entries, results)


def _moment(text: str, day_seen: str) -> str:
    """The time of saving in words that sort, empty where it says nothing. A clock may be wrong: nothing was
    saved after the day on which it was read here, give or take a day between the zones of the earth."""
    try:
        moment = datetime.fromisoformat(text.strip())
        moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        last = datetime.fromisoformat(day_seen).date() + timedelta(days=1) if day_seen else moment.date()
    except (ValueError, OverflowError):
        return ""
    believed = moment.date().isoformat() > _HANDED_OUT and moment.date() <= last
    return moment.strftime("%Y-%m-%d %H:%M:%S") if believed else ""


def _stamp(name: str) -> str:
    """The last time that stands in a name; a day alone is its beginning."""
    stamps = _STAMP.findall(name)
    return "{}-{}-{} {}:{}:{}".format(*(part or "00" for part in stamps[-1])) if stamps else ""


def _numbered(came: _Came) -> _Told:
    """The number of the attempt that each name gives; one without is the first of those named the same."""
    attempts = [_ATTEMPT.findall(attempt.came_as) for attempt, _ in came]
    if all(attempts):
        return [float(numbers[-1]) for numbers in attempts]
    names = [attempt.came_as.rpartition("/")[2] for attempt, _ in came]
    if len({_COPY.sub("", name).casefold() for name in names}) > 1:
        return []
    copies = [_COPY.search(name) for name in names]
    return [0.0 if copy is None else float(next(filter(None, copy.groups()))) for copy in copies]


def _last_changed(came: _Came) -> _Told:
    times = [arrival.time for _, arrival in came if arrival.time is not None]
    if len(times) < len(came) or len({arrival.in_bundle for _, arrival in came}) > 1:
        return []
    latest = max(times)
    seconds = [latest if latest - time < _APART else time for time in times]
    return [f"{datetime(1970, 1, 1) + timedelta(seconds=second):%Y-%m-%d %H:%M}" for second in seconds]


_TESTS: tuple[tuple[str, Callable[[_Came], _Told]], ...] = (
    ("typed", lambda came: [float(not is_untouched(attempt)) for attempt, _ in came]),
    ("complete", lambda came: [float(_is_complete(attempt)) for attempt, _ in came]),
    ("saved", lambda came: [_moment(attempt.modified, arrival.day) for attempt, arrival in came]),
    ("read", lambda came: [arrival.day for _, arrival in came]),
    ("stamped", lambda came: [_stamp(attempt.came_as) for attempt, _ in came]),
    ("numbered", _numbered),
    ("changed", _last_changed),
)

_Steps = tuple[str, ...]


def senders_of(attempts: Sequence[Attempt]) -> dict[str, str]:
    """Return file to who handed it in, only of files whose names, as they came, tell. A folder is a person's
    where it stands beside others, most of which hold sheets of one copy only, and holds few itself. A prefix
    is a person's where the sheet's own name stands behind it and an underscore between; what comes before the
    first underscore is the person. Attempt numbers and times are left out."""
    records = [(attempt, attempt.record) for attempt in attempts if attempt.record is not None]
    copies: dict[_Steps, set[str]] = defaultdict(set)
    for attempt, record in records:
        for folder in _folders(attempt.came_as):
            copies[folder].add(record.copy_code)
    of_people = _folders_of_people(copies)
    senders = {}
    for attempt, record in records:
        names = [folder[-1] for folder in _folders(attempt.came_as) if folder in of_people][:1]
        own = record.file_name.rpartition(".")[0]
        prefix, found, _ = attempt.came_as.rpartition("/")[2].partition(f"_{own}")
        if own and found:
            names.append(prefix.partition("_")[0])
        people = [_VERSION.sub("", name).strip(" _-").casefold() for name in names]
        senders[attempt.file] = next(filter(None, people), "")
    return {file: sender for file, sender in senders.items() if sender}


def _folders(file: str) -> list[_Steps]:
    """The folders that a file lies in, the outermost first."""
    steps = tuple(file.split("/"))
    return [steps[:depth] for depth in range(1, len(steps))]


def _folders_of_people(copies: Mapping[_Steps, set[str]]) -> set[_Steps]:
    """The folders that are a person's. copies : folder to the copies of which it holds sheets."""
    beside: dict[_Steps, list[_Steps]] = defaultdict(list)
    for folder in copies:
        if not _FILE_ENDING.search(folder[-1]):
            beside[folder[:-1]].append(folder)
    return {
        folder
        for folders in beside.values()
        if len(folders) >= _FEWEST_FOLDERS
        and sum(len(copies[other]) == 1 for other in folders) * 2 > len(folders)
        for folder in folders
        if len(copies[folder]) <= _MOST_COPIES
    }


def told_apart(
    attempts: Sequence[Attempt],
    answers: Mapping[str, bool],
    arrivals: Arrivals,
    people: Sequence[Person] = (),
) -> list[Attempt]:
    """Return the attempts with at most one that counts for each copy.
    answers : file id to whether the teacher said that it counts. people : of the class, for their names.

    The same bytes twice count once. Of different files of one copy the newest complete one counts: of those
    that the teacher said yes to, else of those not said no to that are not late, else of those not said no
    to. The others are superseded, and say why. Where nothing tells which is the newest and they differ in
    what was entered, these are refused, and wait. So are those that came from different people, as far as
    names tell: somebody may have changed a copy of another one's sheet, and time does not tell whose it is.
    But a blank or half-filled copy of somebody else takes nothing from a complete one."""
    different: dict[str, dict[str, Attempt]] = defaultdict(dict)
    told: dict[str, Attempt] = {}
    for attempt in attempts:
        if attempt.record is not None and attempt.status != "refused":
            first = different[attempt.record.copy_code].setdefault(attempt.sha256, attempt)
            if first is not attempt:
                told[attempt.file] = superseded(attempt)
    senders = senders_of(attempts)
    for code, by_digest in different.items():
        of_copy = list(by_digest.values())
        choice = _choice(_that_may_count(of_copy, answers), arrivals, senders, people)
        told |= {attempt.file: _judged(attempt, code, choice, senders) for attempt in of_copy}
    return [told.get(attempt.file, attempt) for attempt in attempts]


def _judged(attempt: Attempt, code: str, choice: Choice, senders: Mapping[str, str]) -> Attempt:
    """One of the files of a copy: it counts, or it is superseded, or it waits with others."""
    if attempt.file not in choice.counts:
        notes = []
        if attempt.file in choice.reasons:
            case, told_by = choice.reasons[attempt.file]
            newer = listed(choice.counts, "or")
            notes = [Finding("identity-newer-counts", {"file": newer, **told_by}, case=case)]
        return superseded(attempt, notes)
    others = tuple(file for file in choice.counts if file != attempt.file)
    if not others:
        return attempt
    # Who sent it stands on the tab Files alone, by the name under which it came.
    values: Values = {"code": code, "others": others}
    twice = Finding("identity-copy-twice", values, case="sender" if attempt.file in senders else "")
    return with_findings(attempt, [twice])


def _choice(
    attempts: Sequence[Attempt], arrivals: Arrivals, senders: Mapping[str, str], people: Sequence[Person]
) -> Choice:
    """The newest one, or the newest one of each sender where there are several and their entries differ."""
    by_sender: dict[str, list[Attempt]] = defaultdict(list)
    for attempt in attempts:
        by_sender[senders.get(attempt.file, "")].append(attempt)
    # A file of which no name tells who sent it may be anybody's.
    counts = {attempt.file for attempt in by_sender.pop("", ())}
    choices = [newest(of_sender, arrivals) for of_sender in by_sender.values()]
    known = {file for choice in choices for file in choice.counts}
    differ = len(choices) > 1 and not _same_entries([one for one in attempts if one.file in known])
    if not differ or _one_has_done_more(attempts, senders, people):
        return newest(attempts, arrivals)
    reasons = {file: reason for choice in choices for file, reason in choice.reasons.items()}
    return Choice(tuple(attempt.file for attempt in attempts if attempt.file in counts | known), reasons)


def _one_has_done_more(
    attempts: Sequence[Attempt], senders: Mapping[str, str], people: Sequence[Person]
) -> bool:
    """Whether one sender alone has a complete sheet, or one in which anything is typed; and whether no other
    sender bears the name of the one whose sheet it is: what a classmate completed is not theirs."""
    done = {attempt.file: 2 * _is_complete(attempt) or 1 - is_untouched(attempt) for attempt in attempts}
    leading = {senders.get(file, file) for file, much in done.items() if much == max(done.values())}
    owners = {
        senders[attempt.file]
        for attempt in attempts
        if attempt.record is not None
        and attempt.file in senders
        and person_named(senders[attempt.file], people) == attempt.record.student_id
    }
    return len(leading) == 1 and owners <= leading


def _that_may_count(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> Sequence[Attempt]:
    chosen = [attempt for attempt in attempts if answers.get(file_id(attempt)) is True]
    left = [attempt for attempt in attempts if answers.get(file_id(attempt)) is not False] or attempts
    return chosen or [attempt for attempt in left if not is_late(attempt)] or left
