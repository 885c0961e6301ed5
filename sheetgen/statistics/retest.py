"""Two sessions side by side: what is more than measurement error, and how the measurers have come on."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sheetgen.statistics.agreement import acceptable_limit, minimal_detectable_change
from sheetgen.statistics.precision import RepeatDifference, repeat_differences
from sheetgen.statistics.readings_frame import LEAST_DEGREES, rounds_of
from sheetgen.statistics.repeatability import Undefined

if TYPE_CHECKING:
    from pandas import DataFrame


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


def retest(readings: "DataFrame", first: int = 1, second: int = 2) -> RetestReport:
    """Return the change of every participant measured in both sessions, and the progress of the measurers.

    Parameters
    ----------
    readings : of `readings_frame`, of both sessions. first, second : their numbers.

    Notes
    -----
    Band of a site: 1.96 sqrt(2) TEM / sqrt(2), for the mean of two readings; of the sum likewise over its
    sites. TEM: of the class, both sessions pooled; at a site with too few pairs the published limit of 7.5 %
    for a beginner (Gore et al. 2000, from memory) of the two values' mean. Sites compared: those with a
    value in both sessions; the sum only where they are all the sites of the sheet.
    """
    rounds = rounds_of(readings[readings["session"].isin([first, second])])
    errors = _pooled_errors(rounds)
    values = {sheet: own.set_index("site")["site_mm"].to_dict() for sheet, own in rounds.groupby("sheet")}
    # Of several sheets of one measurer about a person the first copy code.
    sheets = rounds.drop_duplicates(["session", "printed_participant", "student_id"])
    then, now = (sheets[sheets["session"] == session] for session in (first, second))
    both = then.merge(now, on="printed_participant", suffixes=("_then", "_now"))
    # Who was measured twice by nobody has one row, of the first two measurers, to say so.
    both = both.assign(another=both["student_id_then"] != both["student_id_now"])
    both = both.sort_values("another", kind="stable")
    chosen = both[~both["another"] | ~both.duplicated("printed_participant")]
    chosen = chosen.sort_values(["printed_participant", "student_id_then"])
    facts = {sheet.sheet: sheet for sheet in sheets.itertuples()}
    return RetestReport(
        tuple(
            _row(facts[one], facts[other], values, errors)
            for one, other in zip(chosen["sheet_then"], chosen["sheet_now"], strict=True)
        ),
        _progress(rounds, first, second),
        tuple(sorted(set(then["printed_participant"]) ^ set(now["printed_participant"]))),
        _source(errors, list(rounds["site"].unique())),
    )


def _pooled_errors(rounds: "DataFrame") -> dict[str, float]:
    squares = (rounds.loc[~rounds["is_teacher"], "gap"] / 100) ** 2
    by_site = squares.groupby(rounds["site"]).agg(["sum", "count"])
    known = by_site[(by_site["count"] >= LEAST_DEGREES) & (by_site["sum"] > 0)]
    return {site: math.sqrt(total / (2 * count)) for site, total, count in known.itertuples()}


def _source(errors: Mapping[str, float], sites: Sequence[str]) -> BandSource:
    missing = tuple(site for site in sites if site not in errors)
    if not missing:
        return BandSource("class")
    return BandSource("published") if len(missing) == len(sites) else BandSource("both", missing)


def _reasons(one: Any, other: Any) -> Iterator[Undefined]:
    if one.other_participant or other.other_participant:
        yield Undefined("someone-else")
    if one.student_id != other.student_id:
        yield Undefined("another-measurer")
    if not one.caliper or not other.caliper:
        yield Undefined("caliper-not-one")
    elif one.caliper != other.caliper:
        yield _then("another-caliper", one.caliper, other.caliper)
    if one.protocol != other.protocol:
        yield _then("another-protocol", one.protocol, other.protocol)
    if one.side != other.side:
        yield _then("other-side", one.side, other.side)


def _then(reason: str, first: str, then: str) -> Undefined:
    return Undefined(reason, (("first", first), ("then", then)))


def _row(
    one: Any, other: Any, values: Mapping[int, Mapping[str, float]], errors: Mapping[str, float]
) -> RetestRow:
    reasons = tuple(_reasons(one, other))
    before, after = (
        {site: value for site, value in values[sheet.sheet].items() if value == value}
        for sheet in (one, other)
    )
    codes = (one.printed_participant, one.copy_code, other.copy_code)
    # Values of someone else than printed are not shown under this code.
    shown = ({} if one.other_participant else before, {} if other.other_participant else after)
    if reasons:
        return RetestRow(*codes, *shown, reasons, Undefined("no-change-score"), ())
    published = acceptable_limit("within", "beginner").percent / 100
    tems = {
        site: errors.get(site, published * (before[site] + after[site]) / 2)
        for site in before
        if site in after
    }
    changes = tuple(_change(site, before, after, {site: tem}) for site, tem in tems.items())
    total: Change | Undefined = Undefined("no-sum")
    if tems and len(tems) == len(values[one.sheet]):
        total = _change("sum", before, after, tems)
    return RetestRow(*codes, *shown, (), total, changes)


def _change(
    what: str, before: Mapping[str, float], after: Mapping[str, float], errors: Mapping[str, float]
) -> Change:
    """Of the sum over the sites that have an error."""
    first, then = (math.fsum(values[site] for site in errors) for values in (before, after))
    band = minimal_detectable_change(list(errors.values()), readings=2)
    return Change(what, first, then, then - first, band, abs(then - first) > band)


def _progress(rounds: "DataFrame", first: int, second: int) -> tuple[Progress, ...]:
    keys = ["session", "student_id"]
    findings = rounds.drop_duplicates("sheet").groupby(keys)["findings"].sum()
    squares = rounds.assign(square=rounds["gap"] ** 2).groupby(keys)["square"].agg(["mean", "count"])
    then, now = (
        {repeat.student_id: repeat for repeat in repeat_differences(rounds[rounds["session"] == session])}
        for session in (first, second)
    )
    return tuple(
        Progress(
            student,
            then[student],
            now[student],
            int(findings[first, student]),
            int(findings[second, student]),
            _verdict(*squares.loc[(first, student)], *squares.loc[(second, student)]),
        )
        for student in sorted(then.keys() & now.keys())
    )


def _verdict(before: float, pairs_before: float, after: float, pairs_after: float) -> str:
    """From mean squares of the gaps, and how many there are: variance ratio test at 5 %, both sides.

    Normal errors of one size are assumed at all sites.
    """
    from scipy.special import fdtri

    if not pairs_before or not pairs_after:
        return "no-pairs"
    if before == after:
        return "as-before"
    (smaller, fewer), (larger, more) = sorted(((before, pairs_before), (after, pairs_after)))
    word = "closer" if after < before else "less-closely"
    if smaller > 0:
        return word if larger / smaller > fdtri(more, fewer, 0.975) else f"{word}-by-chance"
    return word if min(pairs_before, pairs_after) >= 5 else "few-pairs"
