"""The record of each measurer over all sessions, in keep/measurers.csv and keep/observed.csv: it outlives the
files it was worked out from, and `forget`.

It measures the measurer: no participant stands in it and no body value. The repeat error is kept in whole per
cent, since with the digits behind a thickness could be worked back from it.
"""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import groupby
from operator import attrgetter
from statistics import fmean
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import astuple, replace

from sheetgen.class_folder.decisions import CONFIRM_WORDS, OBSERVED_STEPS, Decision, current, is_day
from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.statistics.precision import beside_teacher
from sheetgen.statistics.repeatability import CONFIDENCE, Interval, acceptable_limit

if TYPE_CHECKING:
    from pandas import DataFrame

_ROUNDED_AWAY = 1 / 12
"""Mean square that rounding to whole per cent hides [%^2]; below it no error is told from another."""
_SESSIONS = 2
"""In which a site must be within the limit before somebody is ready there. Common practice, no source."""


class SiteRecord(Struct, frozen=True):
    """A measurer at one site in one session; the fields are the columns of keep/measurers.csv.
    day : it was first worked out, YYYY-MM-DD. pairs : of rounds 1 and 2.
    percent : repeat error, sqrt(mean (d / m)^2 / 2) over pairs with difference d and mean m [whole %].
    thirds : pairs that asked for a third reading.
    from_teacher : mean reading less the teacher's on the same people [mm]; None without the teacher's sheet.
    drill_within, drill_typed : of the drawn scales of this session; None where none was read."""

    session: int
    student_id: str
    site: str
    day: str
    pairs: int
    percent: int
    thirds: int
    from_teacher: float | None = None
    drill_within: int | None = None
    drill_typed: int | None = None


class Observed(Struct, frozen=True):
    """What the teacher saw a measurer do in one session; steps : of OBSERVED_STEPS. signed_off : a day."""

    session: int
    student_id: str
    steps: tuple[str, ...]
    signed_off: str


def site_records(
    rounds: "DataFrame", apart: "DataFrame", day: str, drill: Mapping[str, tuple[int, int]]
) -> list[SiteRecord]:
    """Return what one session says of each student's measuring, by student and site in circuit order. rounds,
    apart : as `ClassAnalysis` has them; slips are left out as they are of the repeat difference. drill : copy
    code to readings of drawn scales that are right, and all of them."""
    students = rounds[~rounds["is_teacher"]]
    own = students[students["own_gap"].notna()]
    own = own.assign(square=(own["own_gap"] / own["mean_mm"]) ** 2 / 2, third=own["third_needed"] == "yes")
    found = own.groupby(["student_id", "site"], sort=False).agg(
        pairs=("square", "size"), square=("square", "mean"), thirds=("third", "sum")
    )
    differences = beside_teacher(apart).groupby(["student_id", "site"])["difference"].mean().round(2)
    read: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for row in students.drop_duplicates("sheet").itertuples():
        read[row.student_id] += [drill[row.copy_code]] if row.copy_code in drill else []
    session = int(rounds["session"].iloc[0]) if len(rounds) else 0
    records = []
    for (who, site), pairs, square, thirds in found.itertuples():
        drilled = [sum(part) for part in zip(*read[who], strict=True)] or [None, None]
        numbers = int(pairs), round(math.sqrt(square)), int(thirds), differences.get((who, site))
        records.append(SiteRecord(session, who, site, day, *numbers, *drilled))
    return records


def load_measurers(folder: ClassFolder) -> tuple[SiteRecord, ...]:
    """Return what is kept of every session; FolderError where the file cannot be read: its line is named."""
    return kept_rows(folder.measurers, SiteRecord.__struct_fields__, _site_record)


def _site_record(cells: list[str]) -> SiteRecord:
    session, student, site, day, pairs, percent, thirds, near, *drill = cells
    numbers = int(pairs), int(percent), int(thirds), float(near) if near else None
    within, typed = (int(cell) if cell else None for cell in drill)
    return SiteRecord(int(session), student, site, day, *numbers, within, typed)


def save_measurers(
    folder: ClassFolder, session: int, now: Sequence[SiteRecord], gone: Collection[str]
) -> tuple[SiteRecord, ...]:
    """Keep what a session says in place of what was kept of it, and return all that is kept. gone : students
    of whom a sheet was marked whose file is gone since: without a file what is kept of them stays, and
    whoever was kept before keeps the day. FolderError where it cannot be read or written."""
    every = load_measurers(folder)
    days = {one.student_id: one.day for one in every if one.session == session}
    left = set(gone) - {one.student_id for one in now}
    kept = [one for one in every if one.session != session or one.student_id in left]
    kept += [replace(one, day=days.get(one.student_id, one.day)) for one in now]
    kept.sort(key=attrgetter("student_id"))
    keep_rows(folder.measurers, SiteRecord.__struct_fields__, map(astuple, kept))
    return tuple(kept)


def save_observed(folder: ClassFolder, session: int, decisions: Iterable[Decision]) -> tuple[Observed, ...]:
    """Keep what the teacher saw in a session, and return what is kept of all sessions, by student.
    decisions : of this session. What is kept of somebody stays until another decision about them is made."""
    every = kept_rows(folder.observed, Observed.__struct_fields__, _observed)
    steps: dict[str, list[str]] = defaultdict(list)
    signed: dict[str, str] = {}
    for (student, kind, name), one in current(decisions).items():
        if kind == "observed":
            steps[student] += [name] if one.value in CONFIRM_WORDS else []
        elif kind == "signed-off":
            signed[student] = one.value if is_day(one.value) else ""
    now = []
    for who in dict.fromkeys((*steps, *signed)):
        in_order = tuple(step for step in OBSERVED_STEPS if step in steps[who])
        now.append(Observed(session, who, in_order, signed.get(who, "")))
    told = {one.student_id for one in now}
    kept = [one for one in every if one.session != session or one.student_id not in told]
    kept += [one for one in now if one.steps or one.signed_off]
    kept.sort(key=attrgetter("student_id", "session"))
    rows = ((one.session, one.student_id, " ".join(one.steps), one.signed_off) for one in kept)
    keep_rows(folder.observed, Observed.__struct_fields__, rows)
    return tuple(kept)


def _observed(cells: list[str]) -> Observed:
    session, student, steps, signed_off = cells
    return Observed(int(session), student, tuple(steps.split()), signed_off)


class SessionRecord(Struct, frozen=True):
    """One session of one measurer.
    sites : by site. pairs, thirds : of all of them. square : mean square of the repeat error over all pairs
    [%^2]. from_teacher : mean over the sites of the difference from the teacher's measure [mm], or None.
    drill : readings of drawn scales that are right, and all of them, or None."""

    session: int
    sites: Mapping[str, SiteRecord]
    pairs: int
    thirds: int
    square: float
    from_teacher: float | None
    drill: tuple[int, int] | None

    @property
    def percent(self) -> float:
        """Repeat error over all pairs [%]."""
        return math.sqrt(self.square)

    def within(self, percent: float) -> int:
        """Return at how many sites the repeat error is within a limit [%]."""
        return sum(one.percent <= percent for one in self.sites.values())


def _session_record(session: int, own: Iterable[SiteRecord]) -> SessionRecord:
    sites = {one.site: one for one in own}
    records = list(sites.values())
    pairs, thirds = sum(one.pairs for one in records), sum(one.thirds for one in records)
    square = math.fsum(one.pairs * one.percent**2 for one in records) / pairs
    near = [one.from_teacher for one in records if one.from_teacher is not None]
    within, typed = records[0].drill_within, records[0].drill_typed
    drill = None if within is None or typed is None else (within, typed)
    teacher = fmean(near) if near else None
    return SessionRecord(session, sites, pairs, thirds, max(square, _ROUNDED_AWAY), teacher, drill)


class MeasurerRecord(Struct, frozen=True):
    """One measurer over all sessions, each with a pair at least. ratio : repeat error of the last session
    over that of the first, 95 %; None of one session. within : sites within a beginner's limit in the last
    two sessions. practise : the others. observed : steps ever ticked. signed_off : the last day."""

    student_id: str
    sessions: tuple[SessionRecord, ...]
    ratio: Interval | None
    within: tuple[str, ...]
    practise: tuple[str, ...]
    observed: frozenset[str]
    signed_off: str

    @property
    def trend(self) -> str:
        """`smaller` or `larger` where the whole interval says so, `not-told`; empty of one session."""
        if self.ratio is None:
            return ""
        return "smaller" if self.ratio.upper < 1 else "larger" if self.ratio.lower > 1 else "not-told"

    @property
    def all_observed(self) -> bool:
        """Whether every step was observed: then the measurer is ready at the sites that are within."""
        return self.observed >= set(OBSERVED_STEPS)


def measurer_records(
    kept: Iterable[SiteRecord], observed: Iterable[Observed], session: int
) -> dict[str, MeasurerRecord]:
    """Return the record of each measurer up to a session, by student_id.

    Ratio: sqrt of that of the mean squares, its interval by F with as many degrees of freedom as pairs.
    Validity: errors of pairs are independent, normal, and in proportion to the fold. Ready is judged by the
    error as it was found: of one pair a session it says what was, see tests/statistics/test_measurers.py."""
    by_student: dict[str, list[SiteRecord]] = defaultdict(list)
    for one in kept:
        if one.session <= session:
            by_student[one.student_id].append(one)
    seen = [one for one in observed if one.session <= session]
    limit, found = acceptable_limit("within", "beginner"), {}
    for who, records in sorted(by_student.items()):
        records.sort(key=attrgetter("session"))
        by_session = groupby(records, key=attrgetter("session"))
        sessions = tuple(_session_record(number, own) for number, own in by_session)
        last = {site: [one.percent for one in records if one.site == site][-_SESSIONS:]
                for site in dict.fromkeys(one.site for one in records)}  # fmt: skip
        enough = {site for site, errors in last.items() if len(errors) == _SESSIONS and max(errors) <= limit}
        own_seen = [one for one in seen if one.student_id == who]
        found[who] = MeasurerRecord(
            who, sessions, _ratio(sessions[0], sessions[-1]) if len(sessions) > 1 else None,
            tuple(site for site in last if site in enough),
            tuple(site for site in last if site not in enough),
            frozenset(step for one in own_seen for step in one.steps),
            next((one.signed_off for one in reversed(own_seen) if one.signed_off), ""),
        )  # fmt: skip
    return found


def _ratio(first: SessionRecord, last: SessionRecord) -> Interval:
    from scipy.special import fdtri

    ratio, share = last.square / first.square, (1 + CONFIDENCE) / 2
    lower = ratio / float(fdtri(last.pairs, first.pairs, share))
    upper = ratio * float(fdtri(first.pairs, last.pairs, share))
    return Interval(math.sqrt(lower), math.sqrt(upper))
