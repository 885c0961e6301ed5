"""Two sessions side by side: what is more than measurement error, and how the measurers have come on."""

import math
from collections.abc import Mapping, Sequence
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
    same = both[both["student_id_then"] == both["student_id_now"]]
    others = both[~both["printed_participant"].isin(same["printed_participant"])]
    chosen = both.loc[[*same.index, *others.drop_duplicates("printed_participant").index]]
    chosen = chosen.sort_values(["printed_participant", "student_id_then"])
    facts = {sheet.sheet: sheet for sheet in sheets.itertuples()}
    people = set(then["printed_participant"]) ^ set(now["printed_participant"])
    return RetestReport(
        tuple(
            _row(facts[one], facts[other], values, errors)
            for one, other in zip(chosen["sheet_then"], chosen["sheet_now"], strict=True)
        ),
        _progress(rounds, first, second),
        tuple(sorted(people)),
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


def _reasons(one: Any, other: Any) -> tuple[Undefined, ...]:
    reasons = []
    if one.other_participant or other.other_participant:
        reasons.append(Undefined("someone-else"))
    if one.student_id != other.student_id:
        reasons.append(Undefined("another-measurer"))
    if not one.caliper or not other.caliper:
        reasons.append(Undefined("caliper-not-one"))
    elif one.caliper != other.caliper:
        reasons.append(_then("another-caliper", one.caliper, other.caliper))
    if one.protocol != other.protocol:
        reasons.append(_then("another-protocol", one.protocol, other.protocol))
    if one.side != other.side:
        reasons.append(_then("other-side", one.side, other.side))
    return tuple(reasons)


def _then(reason: str, first: str, then: str) -> Undefined:
    return Undefined(reason, (("first", first), ("then", then)))


def _row(
    one: Any, other: Any, values: Mapping[int, Mapping[str, float]], errors: Mapping[str, float]
) -> RetestRow:
    reasons = _reasons(one, other)
    before, after = (
        {site: value for site, value in values[sheet.sheet].items() if value == value}
        for sheet in (one, other)
    )
    sites = [site for site in before if site in after]
    source = _source(errors, sites)
    codes = (one.printed_participant, one.copy_code, other.copy_code)
    # Values of someone else than printed are not shown under this code.
    shown = ({} if one.other_participant else before, {} if other.other_participant else after)
    if reasons:
        return RetestRow(*codes, *shown, reasons, Undefined("no-change-score"), (), source)
    tems = {site: errors.get(site, _published((before[site] + after[site]) / 2)) for site in sites}
    changes = tuple(
        _change(site, before[site], after[site], minimal_detectable_change([tems[site]], 2)) for site in sites
    )
    total: Change | Undefined = Undefined("no-sum")
    if sites and len(sites) == len(values[one.sheet]):
        band = minimal_detectable_change(list(tems.values()), 2)
        sum_before, sum_after = (math.fsum(side[site] for site in sites) for side in (before, after))
        total = _change("sum", sum_before, sum_after, band)
    return RetestRow(*codes, *shown, (), total, changes, source)


def _published(mean: float) -> float:
    return acceptable_limit("within", "beginner").percent / 100 * mean


def _change(what: str, before: float, after: float, band: float) -> Change:
    change = after - before
    return Change(what, before, after, change, band, abs(change) > band)


def _progress(rounds: "DataFrame", first: int, second: int) -> tuple[Progress, ...]:
    findings = rounds.drop_duplicates("sheet").groupby(["session", "student_id"])["findings"].sum()
    squares = (rounds["gap"] ** 2).groupby([rounds["session"], rounds["student_id"]])
    means, counts = squares.mean().fillna(0.0), squares.count()
    then, now = (
        {repeat.student_id: repeat for repeat in repeat_differences(rounds[rounds["session"] == session])}
        for session in (first, second)
    )
    progress = []
    for student in sorted(then.keys() & now.keys()):
        keys = (first, student), (second, student)
        before, after = ((float(means[key]), int(counts[key])) for key in keys)
        found_before, found_after = (int(findings[key]) for key in keys)
        verdict = _verdict(before, after)
        progress.append(Progress(student, then[student], now[student], found_before, found_after, verdict))
    return tuple(progress)


def _verdict(before: tuple[float, int], after: tuple[float, int]) -> str:
    """Of mean squares of the gaps, and how many there are: variance ratio test at 5 %, both sides.

    Normal errors of one size are assumed at all sites.
    """
    from scipy.special import fdtri

    if not before[1] or not after[1]:
        return "no-pairs"
    if before[0] == after[0]:
        return "as-before"
    smaller, larger = sorted((before, after))
    word = "closer" if after[0] < before[0] else "less-closely"
    if smaller[0] > 0 and larger[0] / smaller[0] <= fdtri(larger[1], smaller[1], 0.975):
        return f"{word}-by-chance"
    if smaller[0] == 0 and min(before[1], after[1]) < 5:
        return "few-pairs"
    return word
