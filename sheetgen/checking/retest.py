"""Two sessions side by side: what is more than measurement error, and how the measurers have come on."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.checking.precision import RepeatDifference, repeat_differences
from sheetgen.checking.precision_sheets import LEAST_DEGREES, MeasuredSheet, measured_sheets, sites_of
from sheetgen.core.detectable_change import (
    acceptable_limit,
    minimal_detectable_change,
    minimal_detectable_change_of_sum,
)
from sheetgen.core.distributions import f_quantile
from sheetgen.core.outcome import Undefined
from sheetgen.model.attempt import Attempt
from sheetgen.model.settings import ClassBook

__all__ = ["BandSource", "Change", "Progress", "RetestReport", "RetestRow", "retest"]


@dataclass(frozen=True, slots=True)
class BandSource:
    """Where the errors of the bands come from.

    kind : `class`: its own, both sessions; `published`: the limit for a beginner, since the class has too few
        pairs; `both`: that limit at some sites only. sites : those, of kind `both`.
    """

    kind: str
    sites: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """One change [mm]. what : a site, or `sum`. band : minimal detectable change. beyond : it is larger."""

    what: str
    before: float
    after: float
    change: float
    band: float
    beyond: bool


@dataclass(frozen=True, slots=True)
class RetestRow:
    """One participant measured by one measurer in both sessions, or why there is no change score.

    first_*, second_* : the two sheets. reasons : empty where the changes are given.
    """

    participant_code: str
    first_copy_code: str
    second_copy_code: str
    first_values: Mapping[str, float]
    second_values: Mapping[str, float]
    reasons: tuple[Undefined, ...]
    total: Change | Undefined
    sites: tuple[Change, ...]
    source: BandSource


@dataclass(frozen=True, slots=True)
class Progress:
    """A measurer then and now: repeat difference, and findings, notes left out.

    verdict : `closer` or `less-closely`, by more than chance; the same with `-by-chance`, by no more;
        `as-before`, `few-pairs`, `no-pairs`.
    """

    student_id: str
    before: RepeatDifference
    after: RepeatDifference
    findings_before: int
    findings_after: int
    verdict: str


@dataclass(frozen=True, slots=True)
class RetestReport:
    """rows : by participant. progress : by student_id. missing : participants of one session only."""

    rows: tuple[RetestRow, ...]
    progress: tuple[Progress, ...]
    missing: tuple[str, ...]
    source: BandSource


def retest(attempts: Sequence[Attempt], book: ClassBook, first: int = 1, second: int = 2) -> RetestReport:
    """Return the change of every participant measured in both sessions, and the progress of the measurers.

    Notes
    -----
    Band of a site: 1.96 sqrt(2) TEM / sqrt(2), for the mean of two readings; of the sum likewise over its
    sites. TEM: of the class, both sessions pooled; at a site with too few pairs the published limit of 7.5 %
    for a beginner (Gore et al. 2000, from memory) of the two values' mean. Sites compared: those with a
    value in both sessions; the sum only where they are all the sites of the sheet.
    """
    before, after = measured_sheets(attempts, book, first), measured_sheets(attempts, book, second)
    errors = _pooled_errors(before, after)
    rows: list[RetestRow] = []
    then, now = _by_printed(before), _by_printed(after)
    for code in sorted(then.keys() & now.keys()):
        same = sorted(then[code].keys() & now[code].keys())
        for student in same:
            rows.append(_row(code, then[code][student], now[code][student], errors))
        if not same:
            one, other = next(iter(then[code].values())), next(iter(now[code].values()))
            rows.append(_row(code, one, other, errors))
    return RetestReport(
        tuple(rows),
        _progress(attempts, before, after),
        tuple(sorted(then.keys() ^ now.keys())),
        _source(errors, sites_of([*before, *after])),
    )


def _by_printed(sheets: Sequence[MeasuredSheet]) -> dict[str, dict[str, MeasuredSheet]]:
    """Printed participant, then measurer, to the sheet; the first copy code of several."""
    found: dict[str, dict[str, MeasuredSheet]] = {}
    for sheet in sheets:
        found.setdefault(sheet.printed_participant, {}).setdefault(sheet.student_id, sheet)
    return found


def _pooled_errors(*sessions: Sequence[MeasuredSheet]) -> dict[str, float]:
    squares: dict[str, float] = {}
    degrees: dict[str, int] = {}
    for sheets in sessions:
        for sheet in sheets:
            for site, (one, other) in sheet.corrected.items():
                if not sheet.is_teacher and one is not None and other is not None:
                    squares[site] = squares.get(site, 0.0) + ((one - other) / 100) ** 2
                    degrees[site] = degrees.get(site, 0) + 1
    return {
        site: math.sqrt(squares[site] / (2 * count))
        for site, count in degrees.items()
        if count >= LEAST_DEGREES and squares[site] > 0
    }


def _source(errors: Mapping[str, float], sites: Sequence[str]) -> BandSource:
    missing = tuple(site for site in sites if site not in errors)
    if not missing:
        return BandSource("class")
    return BandSource("published") if len(missing) == len(sites) else BandSource("both", missing)


def _reasons(one: MeasuredSheet, other: MeasuredSheet) -> tuple[Undefined, ...]:
    reasons = []
    if one.other_participant or other.other_participant:
        reasons.append(Undefined("someone-else"))
    if one.student_id != other.student_id:
        reasons.append(Undefined("another-measurer"))
    if not one.caliper_id or not other.caliper_id:
        reasons.append(Undefined("caliper-not-one"))
    elif one.caliper_id != other.caliper_id:
        reasons.append(_then("another-caliper", one.caliper_id, other.caliper_id))
    if one.protocol_id != other.protocol_id:
        reasons.append(_then("another-protocol", one.protocol_id, other.protocol_id))
    if one.side != other.side:
        reasons.append(_then("other-side", one.side, other.side))
    return tuple(reasons)


def _then(reason: str, first: str, then: str) -> Undefined:
    return Undefined(reason, (("first", first), ("then", then)))


def _row(code: str, one: MeasuredSheet, other: MeasuredSheet, errors: Mapping[str, float]) -> RetestRow:
    reasons = _reasons(one, other)
    sites = [site for site in one.raw if site in one.values and site in other.values]
    source = _source(errors, sites)
    codes = (code, one.copy_code, other.copy_code)
    # Values of someone else than printed are not shown under this code.
    values = ({} if one.other_participant else one.values, {} if other.other_participant else other.values)
    if reasons:
        why = Undefined("no-change-score")
        return RetestRow(*codes, *values, reasons, why, (), source)
    tems = {site: errors.get(site, _published((one.values[site] + other.values[site]) / 2)) for site in sites}
    changes = tuple(
        _change(site, one.values[site], other.values[site], minimal_detectable_change(tems[site], 2))
        for site in sites
    )
    total: Change | Undefined = Undefined("no-sum")
    if sites and len(sites) == len(one.raw):
        band = minimal_detectable_change_of_sum(list(tems.values()), 2)
        before, after = (math.fsum(sheet.values[site] for site in sites) for sheet in (one, other))
        total = _change("sum", before, after, band)
    return RetestRow(*codes, *values, (), total, changes, source)


def _published(mean: float) -> float:
    return acceptable_limit("within", "beginner").percent / 100 * mean


def _change(what: str, before: float, after: float, band: float) -> Change:
    change = after - before
    return Change(what, before, after, change, band, abs(change) > band)


def _progress(
    attempts: Sequence[Attempt], before: Sequence[MeasuredSheet], after: Sequence[MeasuredSheet]
) -> tuple[Progress, ...]:
    counts = {
        (attempt.record.copy_code, attempt.file): sum(one.severity != "note" for one in attempt.findings)
        for attempt in attempts
        if attempt.record is not None
    }
    then = {one.student_id: one for one in repeat_differences(before)}
    now = {one.student_id: one for one in repeat_differences(after)}

    def findings(sheets: Sequence[MeasuredSheet], student: str) -> int:
        return sum(counts[sheet.copy_code, sheet.file] for sheet in sheets if sheet.student_id == student)

    return tuple(
        Progress(
            student,
            then[student],
            now[student],
            findings(before, student),
            findings(after, student),
            _verdict(_squares(before, student), _squares(after, student)),
        )
        for student in sorted(then.keys() & now.keys())
    )


def _squares(sheets: Sequence[MeasuredSheet], student: str) -> tuple[float, int]:
    """Mean square of the differences of rounds 1 and 2 [mm^2], and how many there are."""
    pairs = [pair for sheet in sheets if sheet.student_id == student for pair in sheet.corrected.values()]
    gaps = [one - other for one, other in pairs if one is not None and other is not None]
    return (sum(gap * gap for gap in gaps) / len(gaps) / 1e4 if gaps else 0.0), len(gaps)


def _verdict(before: tuple[float, int], after: tuple[float, int]) -> str:
    """Variance ratio test at 5 %, both sides; normal errors of one size are assumed at all sites."""
    if not before[1] or not after[1]:
        return "no-pairs"
    if before[0] == after[0]:
        return "as-before"
    smaller, larger = sorted((before, after))
    word = "closer" if after[0] < before[0] else "less-closely"
    if smaller[0] > 0 and larger[0] / smaller[0] <= f_quantile(0.975, larger[1], smaller[1]):
        return f"{word}-by-chance"
    if smaller[0] == 0 and min(before[1], after[1]) < 5:
        return "few-pairs"
    return word
