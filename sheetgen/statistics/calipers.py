"""Calipers: a typed zero that is not the registered one, and which caliper reads off against the others.

Model: sheet = person + offset of the caliper + habit of the measurer + error, by least squares. A caliper can
only be told apart from the others through people measured with both, and from its measurers only where
several used it.
"""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from sheetgen.class_folder.records import EXERCISES
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.settings import Caliper
from sheetgen.statistics.precision import first_goes, too_few
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Agreement, Interval, Undefined, agreement

if TYPE_CHECKING:
    from pandas import DataFrame

_FALSE_ALARMS = 0.05
_OUTLIER = 5.0
"""Residuals beyond this many robust standard deviations, 1.4826 x median |residual|, are no reading error."""
_ROUNDING = 1e-9
"""[mm] Residuals below are nought but for rounding."""


class ZeroDifference(Struct, frozen=True):
    """A typed zero that is not the registered one: exact, whatever the readings. Both [mm]."""

    copy_code: str
    caliper_id: str
    typed_mm: float
    registered_mm: float


class CaliperOffset(Struct, frozen=True):
    """One caliper against the others used on the same people.
    sheets, people, measurers : with this caliper, of people measured with another one too. offset : reads
    higher by [mm], against the mean of the calipers that are not off. interval : of it, 95 % for all calipers
    of the group together. beyond_chance : the interval does not hold 0, and two measurers or more used it.
    near_mm : the forgotten zero that the offset looks like, None where there is none."""

    caliper_id: str
    sheets: int
    people: int
    measurers: int
    offset: float | Undefined
    interval: Interval | Undefined
    beyond_chance: bool = False
    near_mm: float | None = None


class CaliperReport(Struct, frozen=True):
    """What the class says about its calipers. zero_differences : exact. offsets : by caliper, or why none can
    be told. left_out : sheets with two calipers, one not registered, or a zero that is not the registered
    one. far_off : sheets too far from the others about their person to be reading error; left out as well."""

    zero_differences: tuple[ZeroDifference, ...]
    offsets: tuple[CaliperOffset, ...] | Undefined
    left_out: int
    far_off: int


class OffsetFit(Struct, frozen=True):
    """Offsets that add up to nought and their covariance, in the order of the sorted calipers, as arrays.
    degrees_of_freedom : measurers less calipers. error, habit : deviations of a sheet, of a measurer [mm]."""

    offsets: Any
    covariance: Any
    degrees_of_freedom: int
    error: float
    habit: float

    def contrast(self, caliper: int, others: Sequence[int]) -> tuple[float, float]:
        """Return a caliper's offset against the mean of others and its standard error [mm]."""
        import numpy

        weights = numpy.zeros(len(self.offsets))
        weights[caliper] = 1.0
        weights[list(others)] = -1 / len(others)
        variance = float(weights @ self.covariance @ weights)
        return float(weights @ self.offsets), math.sqrt(max(variance, 0.0))

    def quantile(self, confidence: float) -> float:
        """Return how many standard errors an interval reaches to both sides, by Student's t."""
        from scipy.special import stdtrit

        return float(stdtrit(self.degrees_of_freedom, (1 + confidence) / 2))


class SideBySide(Struct, frozen=True):
    """Two calipers in the same hands on the same people, second less first [mm]. site : empty: the mean over
    the sites of each person. people : a difference each."""

    first: str
    second: str
    site: str
    people: int
    agreement: Agreement | Undefined


def in_one_hand(rounds: "DataFrame") -> tuple[SideBySide, ...]:
    """Return by how much two calipers read apart, over all sites and by site, each two that were compared.
    rounds : of `rounds_of`, sheets of the circuit and of the second caliper. A sheet counts as the mean of
    rounds 1 and 2 at each site. Of somebody measured so by several the mean of their differences counts,
    since the interval asks for one difference a person; of fewer than five people nothing is given."""
    import numpy

    known = rounds[(rounds["caliper"] != "") & (rounds["participant_code"] != "") & ~rounds["in_question"]]
    known = known.dropna(subset="mean_mm")
    circuit, second = (known[known["exercise"] == exercise] for exercise in EXERCISES)
    both = circuit.merge(second, on=["student_id", "participant_code", "site"])
    both = both[both["caliper_x"] != both["caliper_y"]]
    turned = both["caliper_x"] > both["caliper_y"]
    both["apart"] = (both["mean_mm_y"] - both["mean_mm_x"]) * numpy.where(turned, -1, 1)
    both["first"] = both["caliper_x"].where(~turned, both["caliper_y"])
    both["second"] = both["caliper_y"].where(~turned, both["caliper_x"])
    found = []
    for (one, other), own in both.groupby(["first", "second"]):
        for site in ("", *own["site"].unique()):
            rows = own[own["site"] == site] if site else own
            apart = rows.groupby("participant_code")["apart"].mean().tolist()
            people = len(apart)
            found.append(SideBySide(one, other, site, people, too_few(people) or agreement(apart)))
    return tuple(found)


def caliper_report(readings: "DataFrame", rounds: "DataFrame", register: Sequence[Caliper]) -> CaliperReport:
    """Return what the sheets of one session, the teacher's included, say about the calipers.

    Readings are those of `readings_frame`, for the zeros; rounds those of `rounds_of`, for the same sheets.
    A sheet counts as the mean over its sites of rounds 1 and 2, each site weighted by 1 / variance between
    the sheets about one person. With C calipers in a group each has its own interval at 1 - 0.05 / C
    (Bonferroni), from the class's own differences between measurers: at most 5 % of classes in which no
    caliper is off have one flagged. The clearest is taken out first and the others are judged without it.
    A caliper that one measurer alone used is never called off."""
    registered = {caliper.identifier: caliper for caliper in register}
    zeros = {caliper.identifier: hundredths(caliper.zero) for caliper in register}
    typed = readings[readings["sheet"].isin(rounds["sheet"]) & (readings["registered"] != "")]
    typed = typed.dropna(subset="zero").drop_duplicates(["sheet", "registered", "zero"])
    wrong = typed[typed["zero"] != typed["registered"].map(zeros)]
    differences = tuple(
        ZeroDifference(row.copy_code, row.registered, row.zero / 100, registered[row.registered].zero)
        for row in wrong.itertuples()
    )
    used = rounds[(rounds["caliper"] != "") & ~rounds["sheet"].isin(wrong["sheet"])]
    every = _observations(used)
    kept = without_outliers(every)
    offsets: tuple[CaliperOffset, ...] | Undefined = Undefined("calipers-cannot-be-told")
    if len(kept):
        groups = [kept[kept["caliper"].isin(group)] for group in connected_groups(kept)]
        offsets = tuple(one for group in groups for one in _offsets(group, registered))
    left_out = sheet_count(rounds) - sheet_count(used)
    return CaliperReport(differences, offsets, left_out, len(every) - len(kept))


def _observations(rounds: "DataFrame") -> "DataFrame":
    """One observation a sheet about people who were measured with two calipers or more: its mean over the
    sites that all sheets about this person have, a site weighted by 1 / variance between sheets about one
    person, at most 10 times the smallest weight."""
    rows = first_goes(rounds)
    rows = rows[rows.groupby("participant_code")["caliper"].transform("nunique") >= 2]
    rows = rows.rename(columns={"participant_code": "person", "student_id": "measurer"})
    means = rows.pivot(index=["person", "sheet", "caliper", "measurer"], columns="site", values="mean_mm")
    variances = means.groupby("person").var().mean().dropna()
    weights = 1 / variances.clip(lower=max([*variances, 1e-6]) / 10)
    in_common = means.notna().groupby("person").transform("all")
    weighted = in_common * weights
    values = (means * weighted).sum(axis=1) / weighted.sum(axis=1)
    return values.dropna().rename("value").reset_index()


def connected_groups(observations: "DataFrame") -> tuple[tuple[str, ...], ...]:
    """Return the groups of calipers that can be compared, through people measured with more than one."""
    groups: list[set[str]] = []
    for calipers in observations.groupby("person")["caliper"].agg(set):
        joined = [group for group in groups if group & calipers]
        groups = [group for group in groups if not group & calipers] + [calipers.union(*joined)]
    return tuple(sorted(tuple(sorted(group)) for group in groups))


def without_outliers(observations: "DataFrame") -> "DataFrame":
    """Return the sheets without those that lie far from the others about their person, worst first. A sheet
    about someone else, or copied from one, would hide every caliper. With only two sheets about a person it
    is not known which is wrong: both are left out. Offsets of calipers are taken off before."""
    import numpy

    kept = observations
    while len(kept):
        design, values = _shares(kept["caliper"], kept["person"]), _centred(kept["value"], kept["person"])
        size = numpy.abs(values - design @ numpy.linalg.lstsq(design, values)[0])
        worst, scale = int(size.argmax()), 1.4826 * float(numpy.median(size))
        if scale < _ROUNDING or size[worst] <= _OUTLIER * scale:
            break
        own = kept["person"] == kept["person"].iloc[worst]
        kept = kept[~own] if own.sum() == 2 else kept.drop(kept.index[worst])
    return kept


def fit_offsets(observations: "DataFrame") -> OffsetFit | Undefined:
    """Fit the offsets of one connected group of calipers.
    observations : one row a sheet: person, caliper, measurer, and value, its mean over the sites [mm] that
    all sheets about this person have.

    X: sheets by calipers, Z: sheets by measurers, both and y less the mean of each person.
    offsets: the shortest least squares solution, which adds up to nought; r = y - X offsets;
    A+ the pseudo-inverse of X'X; R = 1 - X A+ X'. The two variances follow from
    E[r'r] = error^2 df + habit^2 tr(Z'RZ) and E[(Z'r)'(Z'r)] = error^2 tr(Z'RZ) + habit^2 |Z'RZ|^2,
    habit^2 from 0 up. Covariance: error^2 A+ + habit^2 A+ X'Z Z'X A+."""
    import numpy

    people, calipers = observations["person"], observations["caliper"]
    units = observations["measurer"] + "\n" + calipers
    c, u = calipers.nunique(), units.nunique()
    if c < 2:
        return Undefined("no-two-calipers")
    if u - c < 1:
        return Undefined("caliper-or-measurer")
    sheets_df = len(observations) - people.nunique() - c + 1
    if sheets_df < 1:
        return Undefined("few-two-calipers")
    x, z, y = _shares(calipers, people), _shares(units, people), _centred(observations["value"], people)
    offsets = numpy.linalg.lstsq(x, y)[0]
    # Offsets are told but for one constant; rounding leaves that direction a little above numpy's own limit.
    inverse = numpy.linalg.pinv(x.T @ x, rcond=1e-9, hermitian=True)
    weights = z.T @ x @ inverse
    residual = y - x @ offsets
    spread = z.T @ z - weights @ (x.T @ z)
    squares = float(residual @ residual), float(((z.T @ residual) ** 2).sum())
    error, habit = _variances(*squares, sheets_df, float(spread.trace()), float((spread**2).sum()))
    covariance = error * inverse + habit * weights.T @ weights
    return OffsetFit(offsets, covariance, u - c, math.sqrt(error), math.sqrt(habit))


def _variances(
    squares: float, unit_squares: float, degrees: int, trace: float, norm: float
) -> tuple[float, float]:
    """Return the variances of error and habit from the two mean squares, neither below 0."""
    determinant = degrees * norm - trace * trace
    if determinant > 1e-9 * max(degrees * norm, 1.0):
        habit = (degrees * unit_squares - trace * squares) / determinant
        error = (squares - habit * trace) / degrees
        if habit > 0 and error > 0:
            return error, habit
        if habit > 0:
            return 0.0, unit_squares / norm
    return squares / degrees, 0.0


def _centred(values: Any, people: Any) -> Any:
    """What values differ by from the mean of their person, as an array."""
    return (values - values.groupby(people).transform("mean")).to_numpy(float)


def _shares(words: Any, people: Any) -> Any:
    """Sheets by the sorted words of a column: 1 where it is that word, less the mean of each person."""
    import pandas

    return _centred(pandas.get_dummies(words, dtype=float), people)


def _offsets(group: "DataFrame", registered: Mapping[str, Caliper]) -> list[CaliperOffset]:
    """The offsets of one connected group of calipers."""
    counts = group.groupby("caliper").agg({"sheet": "size", "person": "nunique", "measurer": "nunique"})
    calipers: list[tuple[str, int, int, int]] = list(counts.itertuples(name=None))
    fit = fit_offsets(group)
    if isinstance(fit, OffsetFit) and len(calipers) == 2:
        fit = Undefined("two-calipers-only", (("first", calipers[0][0]), ("second", calipers[1][0])))
    if isinstance(fit, Undefined):
        return [CaliperOffset(*caliper, fit, fit) for caliper in calipers]
    judged, found = _not_off(fit, counts["measurer"].tolist()), []
    confidence = 1 - _FALSE_ALARMS / len(calipers)
    for number, caliper in enumerate(calipers):
        offset, error = fit.contrast(number, sorted(judged - {number}))
        reach = fit.quantile(confidence) * error
        beyond = abs(offset) > reach and caliper[-1] > 1
        near = _near(offset, fit.quantile(0.95) * error, registered[caliper[0]]) if beyond else None
        interval = Interval(offset - reach, offset + reach, confidence)
        found.append(CaliperOffset(*caliper, offset, interval, beyond, near))
    return found


def _not_off(fit: OffsetFit, measurers: Sequence[int]) -> set[int]:
    """The calipers but those beyond chance, taken out one by one, the clearest first; two at least are left.
    One in a single measurer's hands is never called off: it may be the measurer."""
    left = set(range(len(measurers)))
    quantile = fit.quantile(1 - _FALSE_ALARMS / len(measurers))
    while len(left) > 2:
        ratios = {}
        for caliper in left:
            offset, error = fit.contrast(caliper, sorted(left - {caliper}))
            ratios[caliper] = abs(offset) / error if error > 0 and measurers[caliper] > 1 else 0.0
        clearest = max(ratios, key=lambda caliper: ratios[caliper])
        if ratios[clearest] <= quantile:
            break
        left.remove(clearest)
    return left


def _near(offset: float, reach: float, caliper: Caliper) -> float | None:
    """The registered zero with either sign, else a whole division: the nearest to the offset within reach."""
    steps = round(offset / caliper.division) or math.copysign(1, offset)
    zeros = sorted((caliper.zero, -caliper.zero), key=lambda zero: abs(offset - zero))
    looks = (*(zero for zero in zeros if zero), steps * caliper.division)
    return next((zero for zero in looks if abs(offset - zero) <= reach), None)
