"""How well rounds 1 and 2 repeat, by site over the class and by student; how measurers of a person agree.

A class has a technical error of measurement; one student's few sites have a repeat difference, which is no
certificate of anything. The teacher's own sheets are the criterion and are left out of the class.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from operator import itemgetter
from typing import TYPE_CHECKING, ClassVar

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.protocols.names import ROUNDS
from sheetgen.statistics.readings_frame import LEAST_DEGREES, LEAST_PEOPLE, SMALL_CELL
from sheetgen.statistics.repeatability import (
    Agreement,
    Comparison,
    Interval,
    IntraclassCorrelation,
    TechnicalError,
    Undefined,
    acceptable_limit,
    agreement,
    intraclass_correlation,
    relative_interval,
    relative_technical_error,
    technical_error,
    technical_error_interval,
    total_technical_error,
)

if TYPE_CHECKING:
    from pandas import DataFrame

_FALSE_ALARMS = 0.05
_MOST_UNSETTLED = 0.1
"""Share of the pairs of a site without a settled third up to which an interval is given. Our choice."""


class Precision(Struct, frozen=True):
    """The technical error of one site, and what follows from it. people : different participants behind it.
    error : TEM [mm], or why there is none. unsettled : why no interval is given with it, if none is."""

    site: str
    people: int
    error: TechnicalError | Undefined
    unsettled: Undefined | None = None
    comparison: ClassVar[Comparison] = "within"

    @property
    def interval(self) -> Interval | Undefined:
        """95 %, of the TEM [mm]."""
        return self.unsettled or technical_error_interval(self.error)

    @property
    def relative(self) -> float | Undefined:
        """100 TEM / mean [%]."""
        return relative_technical_error(self.error)

    @property
    def relative_interval(self) -> Interval | Undefined:
        """Of the relative TEM, the mean taken as known [%]."""
        return relative_interval(self.error, self.interval)

    @property
    def judgement(self) -> str:
        """Of `judged`; empty without a relative TEM."""
        if isinstance(self.relative, Undefined):
            return ""
        return judged(self.relative_interval, self.people, self.comparison)


class SitePrecision(Precision, frozen=True, kw_only=True):
    """One site over the class, within a measurer. sheets : with both rounds. left_out : readings entered that
    do not count. whole : TEM with the pairs that are left out as flagged, far apart, unsettled or in question
    [mm]. kept_from : the day these figures were worked out, where their files are gone since."""

    sheets: int
    left_out: int = 0
    whole: float | None = None
    kept_from: str = ""


class ObserverPrecision(Precision, frozen=True, kw_only=True):
    """One site between students who measured the same person; people : measured by two students or more.
    total : total TEM [mm], within and between. correlation : ICC(1,1): the measurers differ from person to
    person; of the people with the most common number of measurers."""

    total: float | Undefined
    correlation: IntraclassCorrelation | Undefined
    comparison = "between"


class WorstSite(Struct, frozen=True):
    """The site with the largest relative TEM. stands_out : by more than chance."""

    site: str
    relative: float
    stands_out: bool


class RepeatDifference(Struct, frozen=True):
    """Your repeat difference: how far rounds 1 and 2 of one student lie apart, over all their sheets.
    pairs : of readings. mean_mm : over all pairs; None where there is none. largest_site : the first of them.
    """

    student_id: str
    is_teacher: bool
    copy_codes: tuple[str, ...]
    pairs: int
    mean_mm: float | None
    largest_site: str


class CriterionAgreement(Struct, frozen=True):
    """One site against the teacher's measure. people : measured by the teacher and by a student."""

    site: str
    people: int
    agreement: Agreement | Undefined


def site_precision(
    rounds: "DataFrame", left_out: Mapping[str, int] | None = None
) -> tuple[SitePrecision, ...]:
    """Return the precision of every site over the students' sheets of one session, in circuit order.
    left_out : readings by site that do not count."""
    return tuple(
        replace(_site(site, own), left_out=(left_out or {}).get(site, 0))
        for site, own in rounds[~rounds["is_teacher"]].groupby("site", sort=False)
    )


def _people(rows: "DataFrame") -> int:
    """How many people were measured; of a sheet that does not say whom, one more."""
    unknown = rows["participant_code"] == ""
    return int(rows["participant_code"].mask(unknown, "sheet " + rows["copy_code"]).nunique())


def too_few(people: int) -> Undefined | None:
    """Return why a statistic of so many people is not given, None where it may be."""
    values = (("people", people), ("needed", SMALL_CELL))
    return Undefined("small-cell", values) if people < SMALL_CELL else None


def _site(site: str, own: "DataFrame") -> SitePrecision:
    both, whole = own.dropna(subset="gap"), own["whole_gap"].dropna() / 100
    pairs, people = len(both), _people(both)
    reason = too_few(people)
    if pairs < LEAST_DEGREES:
        reason = Undefined("few-pairs", (("pairs", pairs), ("needed", LEAST_DEGREES)))
    if reason is not None:
        return SitePrecision(site, people, reason, sheets=pairs)
    error = technical_error((both[["first", "second"]] / 100).to_numpy().tolist())
    count, why = int((own["why"] == "third-unsettled").sum()), None
    if count > _MOST_UNSETTLED * (pairs + count):
        # Without its widest pairs the error reads too small, and no interval round it would hold.
        why = Undefined("many-unsettled", (("count", count), ("pairs", pairs + count)))
    every = math.sqrt(float((whole**2).mean()) / 2)
    return SitePrecision(site, people, error, why, sheets=pairs, whole=every)


def judged(relative: Interval | Undefined, people: int, comparison: Comparison = "within") -> str:
    """Return how a relative TEM stands against the published limits. `skilled`, `beginner` : the whole
    interval is within that limit; `above` : it is above a beginner's; `close-skilled`, `close-beginner` : a
    limit lies inside it; `few-people` or `unsettled` where none is held against them. relative : its interval
    [%]; one that cannot be given says why: `unsettled`, or all repeat exactly.

    >>> judged(Interval(3.0, 4.9), 24), judged(Interval(3.9, 5.9), 24), judged(Interval(8.0, 9.9), 24)
    ('skilled', 'close-skilled', 'above')
    """
    if people < LEAST_PEOPLE:
        return "few-people"
    if isinstance(relative, Undefined):
        return "skilled" if relative.reason == "all-repeat-exactly" else "unsettled"
    skilled, beginner = (acceptable_limit(comparison, who) for who in ("skilled", "beginner"))
    if relative.lower > beginner:
        return "above"
    if relative.upper > beginner:
        return "close-beginner"
    if relative.upper <= skilled:
        return "skilled"
    return "close-skilled" if relative.lower <= skilled else "beginner"


class LeftOut(Struct, frozen=True):
    """What is left out of the class's error for one reason. count : pairs of readings; of the reasons
    `practice` and `in-question` sheets. copy_codes : theirs."""

    reason: str
    count: int
    copy_codes: tuple[str, ...]


class FarApart(Struct, frozen=True):
    """Two rounds further apart than the class's own differences allow: a slip. apart, limit : [mm]."""

    copy_code: str
    site: str
    apart: float
    limit: float


LEFT_OUT_TOLD = ("in-question", "beyond-opening", "off-scale", "far-apart", "third-unsettled", "practice")


def left_out(readings: "DataFrame") -> tuple[LeftOut, ...]:
    """Return what is left out of the error of one session and told, by reason; students' sheets only."""
    found = []
    for reason in LEFT_OUT_TOLD:
        rows = readings[(readings["left_out_because"] == reason) & ~readings["is_teacher"]]
        unit = ["sheet"] if reason in ("practice", "in-question") else ["sheet", "site"]
        codes = tuple(sorted(set(rows["copy_code"])))
        if codes:
            found.append(LeftOut(reason, len(rows.drop_duplicates(unit)), codes))
    return tuple(found)


def far_apart(rounds: "DataFrame") -> tuple[FarApart, ...]:
    """Return the pairs that are slips, by copy code, but those with a third reading missing, a finding."""
    rows = rounds[(rounds["why"] == "far-apart") & (rounds["rounds"] == len(ROUNDS))]
    rows = rows.sort_values("copy_code", kind="stable")
    return tuple(
        FarApart(row.copy_code, row.site, abs(row.whole_gap) / 100, row.far_limit / 100)
        for row in rows.itertuples()
    )


def slip_sites(rounds: "DataFrame") -> dict[str, tuple[str, ...]]:
    """Return by copy code the sites where one of the two rounds looks mistyped; their student is told."""
    flagged = (rounds["why"] == "off-scale") & (rounds["third_needed"] == "yes")
    rows = rounds[flagged | rounds["why"].isin(["far-apart", "beyond-opening"])]
    return dict(rows.groupby("copy_code")["site"].agg(tuple))


def class_errors(sites: Sequence[SitePrecision]) -> dict[str, float]:
    """Return the TEM [mm] of every site that has one."""
    return {site.site: site.error.value for site in sites if isinstance(site.error, TechnicalError)}


def worst_site(sites: Sequence[SitePrecision]) -> WorstSite | Undefined:
    """Return the site that repeats worst for its thickness. It stands out where the square of its relative
    TEM, over that of the other sites pooled, is beyond F at 0.05 divided by the number of sites: in a class
    where all sites are alike 5 % of reports name one. Validity: normal errors that grow with the fold."""
    from scipy.special import fdtri

    known = [
        (site.relative, site.error.degrees_of_freedom, site.site)
        for site in sites
        if isinstance(site.error, TechnicalError) and isinstance(site.relative, float)
    ]
    if len(known) < 2:
        return Undefined("few-sites")
    relative, degrees, word = worst = max(known, key=itemgetter(0))
    others = [site for site in known if site is not worst]
    below = sum(degrees for _, degrees, _ in others)
    pooled = sum(relative**2 * degrees for relative, degrees, _ in others) / below
    limit = float(fdtri(degrees, below, 1 - _FALSE_ALARMS / len(known)))
    return WorstSite(word, relative, relative**2 > limit * pooled)


def repeat_differences(rounds: "DataFrame") -> tuple[RepeatDifference, ...]:
    """Return the repeat difference of every measurer, by student_id; slips are left out."""
    apart = rounds["own_gap"].abs()
    of_student = apart.groupby(rounds["student_id"]).agg(["count", "mean"])
    by_site = apart.groupby([rounds["student_id"], rounds["site"]], sort=False).mean().dropna()
    largest = dict(by_site.groupby("student_id", sort=False).idxmax().tolist())
    sheets = rounds.drop_duplicates("sheet").groupby("student_id")
    sheets = sheets.agg({"is_teacher": "first", "copy_code": tuple}).join(of_student)
    return tuple(
        RepeatDifference(who, teacher, codes, pairs, mean / 100 if pairs else None, largest.get(who, ""))
        for who, teacher, codes, pairs, mean in sheets.itertuples()
    )


def third_readings(rounds: "DataFrame") -> list[tuple[str, int, int]]:
    """Return site, pairs that count, and those of them that ask for a third, of the students' sheets."""
    both = rounds[~rounds["is_teacher"]].assign(pairs=rounds["gap"].notna())
    both = both.assign(needed=both["pairs"] & (both["third_needed"] == "yes"))
    return list(both.groupby("site", sort=False)[["pairs", "needed"]].sum().itertuples(name=None))


def first_goes(rounds: "DataFrame") -> "DataFrame":
    """Return the rows about known participants, by participant; of two sheets by one measurer the first."""
    known = rounds[rounds["participant_code"] != ""]
    first = known.groupby(["participant_code", "student_id"])["sheet"].transform("min")
    return known[known["sheet"] == first].sort_values("participant_code", kind="stable")


def between_students(rounds: "DataFrame", within: Mapping[str, float]) -> tuple[ObserverPrecision, ...]:
    """Return the precision between students of every site; within : TEM within a measurer by site [mm]."""
    people = first_goes(rounds[~rounds["is_teacher"]])
    return tuple(
        _observers(people[people["site"] == site], site, within.get(site)) for site in rounds["site"].unique()
    )


def _observers(own: "DataFrame", site: str, within: float | None) -> ObserverPrecision:
    by_person = own.dropna(subset="mean_mm").groupby("participant_code")["mean_mm"].agg(list)
    rows = [means for means in by_person if len(means) >= 2]
    counted, people = sum(map(len, rows)), len(rows)
    why = too_few(people)
    if counted - people < LEAST_DEGREES:
        few = Undefined("few-between", (("people", people), ("students", counted)))
        why = few if rows else Undefined("no-two-students")
    if why is not None:
        return ObserverPrecision(site, people, why, total=why, correlation=why)
    error = technical_error(rows)
    total = Undefined("within-unknown") if within is None else total_technical_error(within, error.value)
    return ObserverPrecision(site, people, error, total=total, correlation=_correlation(rows))


def _correlation(rows: Sequence[Sequence[float]]) -> IntraclassCorrelation | Undefined:
    sizes = Counter(map(len, rows))
    size = max(sizes, key=lambda size: (sizes[size], size))
    if sizes[size] < LEAST_DEGREES:
        values = (("people", sizes[size]), ("measurers", size), ("needed", LEAST_DEGREES))
        return Undefined("few-with-measurers", values)
    return intraclass_correlation([row for row in rows if len(row) == size])


def with_teacher(rounds: "DataFrame") -> tuple[CriterionAgreement, ...] | Undefined:
    """Return the agreement of students with the teacher by site, student less teacher. Of several sheets of
    teachers about a person the first copy code counts. Where students share a person, their differences share
    the teacher's error too: the intervals would be too narrow and are not given. Undefined: of no site."""
    if first_goes(rounds[rounds["is_teacher"]]).empty:
        return Undefined("no-teacher-sheet")
    both = beside_teacher(rounds)
    found = tuple(_criterion(both[both["site"] == site], site) for site in rounds["site"].unique())
    reasons = [one.agreement for one in found if isinstance(one.agreement, Undefined)]
    return reasons[0] if reasons and len(reasons) == len(found) else found


def beside_teacher(rounds: "DataFrame") -> "DataFrame":
    """Return the students' rows about people whom the teacher measured too, with the `difference` [mm]."""
    people = first_goes(rounds)
    by_teacher = people[people["is_teacher"]]
    first = by_teacher.groupby("participant_code")["sheet"].transform("min")
    criterion = by_teacher[by_teacher["sheet"] == first].set_index(["participant_code", "site"])["mean_mm"]
    both = people[~people["is_teacher"]].join(criterion.rename("teacher"), on=criterion.index.names)
    return both.assign(difference=both["mean_mm"] - both["teacher"]).dropna(subset="difference")


def _criterion(own: "DataFrame", site: str) -> CriterionAgreement:
    differences, people = own["difference"].tolist(), int(own["participant_code"].nunique())
    why = too_few(people)
    if len(differences) < LEAST_DEGREES:
        why = Undefined("few-beside-teacher", (("sheets", len(differences)), ("needed", LEAST_DEGREES)))
    if why is not None:
        return CriterionAgreement(site, people, why)
    found = agreement(differences)
    if people < len(differences):
        shared = Undefined("shared-person")
        found = replace(found, mean_interval=shared, lower_interval=shared, upper_interval=shared)
    return CriterionAgreement(site, people, found)


_KEPT = (
    "session", "site", "sheets", "people", "tem_mm", "mean_mm", "degrees_of_freedom", "left_out",
    "worked_out_on",
)  # fmt: skip


def load_precision(folder: ClassFolder) -> tuple[tuple[int, SitePrecision], ...]:
    """Return session and precision of every site in keep/precision.csv, each with its day; it outlives the
    files it was worked out from. FolderError where it cannot be read or understood: its line is named."""
    return kept_rows(folder.kept_precision, _KEPT, _kept_site)


def _kept_site(cells: list[str]) -> tuple[int, SitePrecision]:
    session, site, sheets, people, error, mean, degrees, left_out, day = cells
    technical = TechnicalError(float(error), float(mean), int(sheets), int(degrees))
    if not math.isfinite(technical.value + technical.mean):
        raise ValueError(error)
    found = SitePrecision(site, int(people), technical, sheets=int(sheets), kept_from=day)
    return int(session), replace(found, left_out=int(left_out))


def with_kept(
    now: Sequence[SitePrecision], kept: Sequence[SitePrecision], files_gone: bool
) -> tuple[SitePrecision, ...]:
    """Return the precision of every site: the kept one where files are gone and fewer sheets are left."""
    sites = {site.site: site for site in kept} if files_gone else {}
    fuller = {one.site: one for one in now if one.site not in sites or one.sheets >= sites[one.site].sheets}
    return tuple((sites | fuller).values())


def _figures(site: SitePrecision) -> tuple[object, ...]:
    """What is written of a site but its day."""
    return site.site, site.sheets, site.people, site.error, site.left_out


def save_precision(folder: ClassFolder, session: int, sites: Sequence[SitePrecision], today: str) -> None:
    """Keep the precision of a session in place of the one kept before; what has not changed keeps its day.
    sites : as `with_kept` gives them; of those with fewer than SMALL_CELL nothing is kept.
    today : YYYY-MM-DD. FolderError where it cannot be written."""
    every = load_precision(folder)
    days = {_figures(site): site.kept_from for number, site in every if number == session}
    lines = [(number, site) for number, site in every if number != session]
    lines += [
        (session, replace(site, kept_from=site.kept_from or days.get(_figures(site), today)))
        for site in sites
        if site.people >= SMALL_CELL and isinstance(site.error, TechnicalError)
    ]
    rows = [
        (number, site.site, site.sheets, site.people, error.value, error.mean, error.degrees_of_freedom,
         site.left_out, site.kept_from)
        for number, site in sorted(lines, key=lambda line: line[0])
        if isinstance(error := site.error, TechnicalError)
    ]  # fmt: skip
    if lines or every:
        keep_rows(folder.kept_precision, _KEPT, rows)
