"""Two sessions side by side: what is more than measurement error."""

import math
from collections.abc import Collection, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from sheetgen.statistics.readings_frame import FLAGGED, LEAST_DEGREES, rounds_of
from sheetgen.statistics.repeatability import Undefined, acceptable_limit, minimal_detectable_change

if TYPE_CHECKING:
    from pandas import DataFrame, Series


class Change(Struct, frozen=True):
    """One change [mm]. what : a site, or `sum`. band : minimal detectable change. beyond : it is larger."""

    what: str
    before: float
    after: float
    change: float
    band: float
    beyond: bool


class RetestRow(Struct, frozen=True):
    """One participant measured by one measurer in both sessions, or why there is no change score. copy_codes,
    first_values, second_values : of the two sheets. reasons : empty where the changes are given."""

    participant_code: str
    copy_codes: tuple[str, str]
    first_values: Mapping[str, float]
    second_values: Mapping[str, float]
    reasons: tuple[Undefined, ...]
    total: Change | Undefined
    sites: tuple[Change, ...]


class RetestReport(Struct, frozen=True):
    """rows : by participant. missing : participants of one session only. source : of the errors behind the
    bands. `class`: its own, both sessions; `published`: the limit for a beginner, since the class has too few
    pairs; `both`: that limit at some sites only, `limited`."""

    rows: tuple[RetestRow, ...]
    missing: tuple[str, ...]
    source: str
    limited: tuple[str, ...] = ()


class ErrorModel(Struct, frozen=True):
    """How the class's error within a measurer grows with the fold: TEM = scale x fold^exponent [mm].
    scales : by site; a site with too few pairs has none. pairs : of readings behind each scale.
    exponent : from 0, the same for thin and thick folds, to 1, in proportion to the fold."""

    scales: Mapping[str, float]
    pairs: Mapping[str, int]
    exponent: float

    def at(self, site: str, fold: float) -> tuple[float, float]:
        """Return the TEM at a fold [mm] and its degrees of freedom; the published limit for one not known."""
        if site not in self.scales:
            return acceptable_limit("within", "beginner") / 100 * fold, math.inf
        return self.scales[site] * fold**self.exponent, self.pairs[site]


def error_model(rounds: "DataFrame") -> ErrorModel:
    """Return how the students' errors grow with the fold, from the pairs of rounds that count.

    Differences d of normal readings at folds m: the exponent of greatest likelihood on a grid of 0.05, one
    for all sites, log L(p) = - sum over sites of n/2 log(sum d^2 / m^2p) - p sum log m; then
    scale^2 = sum (d / m^p)^2 / 2n. With 20 pairs at each of seven sites the band of a site is crossed without
    a change in 4 to 6.5 % of cases in every fifth of thickness, for exponents 0, 0.5 and 1 (simulated)."""
    import numpy

    used = rounds[~rounds["is_teacher"]].dropna(subset="gap")
    of_site = used["site"]
    squares, folds = (used["gap"] / 100) ** 2, numpy.log(used["mean_mm"])
    known = squares.groupby(of_site).agg(["sum", "count"])
    known = known[(known["count"] >= LEAST_DEGREES) & (known["sum"] > 0)]
    kept = of_site.isin(known.index)
    squares, folds, of_site = squares[kept], folds[kept], of_site[kept]

    def sums(exponent: float) -> "Series":
        return (squares * numpy.exp(-2 * exponent * folds)).groupby(of_site).sum().reindex(known.index)

    def likelihood(exponent: float) -> float:
        return -float((known["count"] / 2 * numpy.log(sums(exponent))).sum() + exponent * folds.sum())

    likelihoods = {step / 20: likelihood(step / 20) for step in range(21)}
    # Where the folds of a site are all alike every exponent does.
    exponent = next(one for one, found in likelihoods.items() if found > max(likelihoods.values()) - 1e-6)
    scales = numpy.sqrt(sums(exponent) / (2 * known["count"]))
    return ErrorModel(scales.to_dict(), known["count"].to_dict(), exponent)


def retest(
    readings: "DataFrame", first: int = 1, second: int = 2, copied: Collection[str] = ()
) -> RetestReport:
    """Return the change of every participant measured in both sessions.
    readings : of `readings_frame`, of both sessions. first, second : their numbers. copied : copy codes of
    sheets that hold the same numbers as another; no change is claimed from one, nor from a sheet with a
    flagged reading or a slip, or that waits for the teacher's word.

    Band of a site: t sqrt(2) TEM / sqrt(2), for the mean of two readings; of the sum likewise over its sites.
    TEM: of the class at the mean of the two values, both sessions pooled, see `error_model`, t by its pairs;
    at a site with too few pairs the published limit of 7.5 % for a beginner (Gore et al. 2000, from memory)
    and 1.96. Sites compared: those with a value in both sessions; the sum only where they are all the sites
    of the sheet."""
    rounds = rounds_of(readings[readings["session"].isin([first, second])])
    errors = error_model(rounds)
    doubts = _doubts(rounds, copied)
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
    sites = list(rounds["site"].unique())
    limited = tuple(site for site in sites if site not in errors.scales)
    source = "class" if not limited else "published" if len(limited) == len(sites) else "both"
    rows = tuple(
        _row(facts[one], facts[other], values, errors, doubts)
        for one, other in zip(chosen["sheet_then"], chosen["sheet_now"], strict=True)
    )
    once = sorted(set(then["printed_participant"]) ^ set(now["printed_participant"]))
    return RetestReport(rows, tuple(once), source, limited)


def _doubts(rounds: "DataFrame", copied: Collection[str]) -> dict[int, Undefined]:
    """Why no change is claimed from a sheet, by its number; of several reasons the last."""
    found = {}
    for row in rounds.itertuples():
        code = (("code", row.copy_code),)
        if row.copy_code in copied:
            found[row.sheet] = Undefined("copied-sheet", code)
        elif row.in_question:
            found[row.sheet] = Undefined("waiting-sheet", code)
        elif row.why in FLAGGED:
            found[row.sheet] = Undefined("flagged-sheet", code)
    return found


def _reasons(one: Any, other: Any) -> Iterator[Undefined]:
    if one.other_participant or other.other_participant:
        yield Undefined("someone-else")
    if one.student_id != other.student_id:
        yield Undefined("another-measurer")
    known = one.caliper and other.caliper
    if not known:
        yield Undefined("caliper-not-one")
    others = {"caliper": "another-caliper", "protocol": "another-protocol", "side": "other-side"}
    for name, reason in others.items():
        first, then = getattr(one, name), getattr(other, name)
        if first != then and (known or name != "caliper"):
            yield Undefined(reason, (("first", first), ("then", then)))


def _row(
    one: Any,
    other: Any,
    values: Mapping[int, Mapping[str, float]],
    errors: ErrorModel,
    doubts: Mapping[int, Undefined],
) -> RetestRow:
    doubtful = (doubts[sheet.sheet] for sheet in (one, other) if sheet.sheet in doubts)
    reasons = (*_reasons(one, other), *doubtful)
    before, after = (
        {site: value for site, value in values[sheet.sheet].items() if value == value}
        for sheet in (one, other)
    )
    codes = (one.printed_participant, (one.copy_code, other.copy_code))
    # Values of someone else than printed are not shown under this code.
    shown = ({} if one.other_participant else before, {} if other.other_participant else after)
    if reasons:
        return RetestRow(*codes, *shown, reasons, Undefined("no-change-score"), ())
    tems = {site: errors.at(site, (before[site] + after[site]) / 2) for site in before if site in after}
    changes = tuple(_change(site, before, after, {site: tem}) for site, tem in tems.items())
    total: Change | Undefined = Undefined("no-sum")
    if tems and len(tems) == len(values[one.sheet]):
        total = _change("sum", before, after, tems)
    return RetestRow(*codes, *shown, (), total, changes)


def _change(
    what: str,
    before: Mapping[str, float],
    after: Mapping[str, float],
    errors: Mapping[str, tuple[float, float]],
) -> Change:
    """Of the sum over the sites that have an error."""
    first, then = (math.fsum(values[site] for site in errors) for values in (before, after))
    tems, degrees = zip(*errors.values(), strict=True)
    band = minimal_detectable_change(tems, readings=2, degrees=degrees)
    return Change(what, first, then, then - first, band, abs(then - first) > band)
