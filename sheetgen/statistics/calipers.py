"""Calipers: a typed zero that is not the registered one, and which caliper reads off against the others.

Model: sheet = person + offset of the caliper + habit of the measurer + error, by least squares. A caliper can
only be told apart from the others through people measured with both, and from its measurers only where
several used it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.settings import Caliper
from sheetgen.statistics.outcome import Interval, Undefined
from sheetgen.statistics.precision import first_goes
from sheetgen.statistics.readings_frame import sheet_count

if TYPE_CHECKING:
    from pandas import DataFrame

_FALSE_ALARMS = 0.05
_OUTLIER = 5.0
"""Residuals beyond this many robust standard deviations, 1.4826 x median |residual|, are no reading error."""
_ROUNDING = 1e-9
"""[mm] Residuals below are nought but for rounding."""


@dataclass(frozen=True, slots=True)
class ZeroDifference:
    """A typed zero that is not the registered one: exact, whatever the readings. Both [mm]."""

    file: str
    copy_code: str
    student_id: str
    caliper_id: str
    typed_mm: float
    registered_mm: float


@dataclass(frozen=True, slots=True)
class CaliperOffset:
    """One caliper against the others used on the same people.

    sheets, people, measurers : with this caliper, of people measured with another one too.
    offset : reads higher by [mm], against the mean of the calipers that are not off. interval : of it, 95 %
        for all calipers of the group together. beyond_chance : the interval does not hold 0, and two
        measurers or more used it.
    near_mm : the zero that the offset looks like, None where there is none.
    """

    caliper_id: str
    sheets: int
    people: int
    measurers: int
    offset: float | Undefined
    interval: Interval | Undefined
    beyond_chance: bool
    zero_looks_forgotten: bool
    near_mm: float | None


@dataclass(frozen=True, slots=True)
class CaliperReport:
    """What the class says about its calipers.

    zero_differences : exact. offsets : by caliper, or why none can be told.
    left_out : sheets with two calipers, one not registered, or a zero that is not the registered one.
    far_off : sheets too far from the others about their person to be reading error; left out as well.
    """

    zero_differences: tuple[ZeroDifference, ...]
    offsets: tuple[CaliperOffset, ...] | Undefined
    left_out: int
    far_off: int


@dataclass(frozen=True, slots=True)
class OffsetFit:
    """Offsets that add up to nought and their covariance, in the order of `calipers`.

    degrees_of_freedom : measurers less calipers.
    error, habit : standard deviations of a sheet, and of a measurer over all sheets [mm].
    """

    calipers: tuple[str, ...]
    offsets: Sequence[float]
    covariance: Sequence[Sequence[float]]
    degrees_of_freedom: int
    error: float
    habit: float

    def contrast(self, caliper: int, others: Sequence[int]) -> tuple[float, float]:
        """Return a caliper's offset against the mean of others and its standard error [mm]."""
        import numpy

        weights = numpy.zeros(len(self.calipers))
        weights[caliper] = 1.0
        weights[list(others)] = -1 / len(others)
        variance = float(weights @ numpy.asarray(self.covariance) @ weights)
        return float(weights @ numpy.asarray(self.offsets)), math.sqrt(max(variance, 0.0))


def caliper_report(readings: "DataFrame", rounds: "DataFrame", register: Sequence[Caliper]) -> CaliperReport:
    """Return what the sheets of one session, the teacher's included, say about the calipers.

    Parameters
    ----------
    readings : of `readings_frame`, for the zeros. rounds : of `rounds_of`, for the same sheets.

    Notes
    -----
    A sheet counts as the mean over its sites of rounds 1 and 2, each site weighted by 1 / variance between
    the sheets about one person. With C calipers in a group each has its own interval at 1 - 0.05 / C
    (Bonferroni), from the class's own differences between measurers: at most 5 % of classes in which no
    caliper is off have one flagged. The clearest is taken out first and the others are judged without it.
    A caliper that one measurer alone used is never called off.
    """
    registered = {caliper.identifier: caliper for caliper in register}
    of_sheets = readings[readings["sheet"].isin(rounds["sheet"])]
    differences = tuple(_zero_differences(of_sheets, registered))
    wrong = [difference.file for difference in differences]
    used = rounds[(rounds["caliper"] != "") & ~rounds["file"].isin(wrong)]
    every = _observations(used)
    observations = without_outliers(every)
    offsets: tuple[CaliperOffset, ...] | Undefined = Undefined("calipers-cannot-be-told")
    if len(observations):
        groups = connected_groups(observations)
        offsets = tuple(one for group in groups for one in _group(group, observations, registered))
    left_out = sheet_count(rounds) - sheet_count(used)
    return CaliperReport(differences, offsets, left_out, len(every) - len(observations))


def connected_groups(observations: "DataFrame") -> tuple[tuple[str, ...], ...]:
    """Return the groups of calipers that can be compared, through people measured with more than one."""
    groups: list[set[str]] = []
    for calipers in observations.groupby("person")["caliper"].agg(set):
        joined = [group for group in groups if group & calipers]
        groups = [group for group in groups if not group & calipers] + [calipers.union(*joined)]
    return tuple(sorted(tuple(sorted(group)) for group in groups))


def without_outliers(observations: "DataFrame") -> "DataFrame":
    """Return the sheets without those that lie far from the others about their person, worst first.

    A sheet about someone else, or copied from one, would hide every caliper. With only two sheets about a
    person it is not known which is wrong: both are left out. Offsets of calipers are taken off before.
    """
    import numpy

    kept = observations
    while len(kept):
        design, values = _about_people(kept, "caliper"), _centred(kept["value"], kept["person"])
        size = numpy.abs(values - design @ numpy.linalg.lstsq(design, values)[0])
        worst, scale = int(size.argmax()), 1.4826 * float(numpy.median(size))
        if scale < _ROUNDING or size[worst] <= _OUTLIER * scale:
            break
        own = kept["person"] == kept["person"].iloc[worst]
        kept = kept[~own] if own.sum() == 2 else kept.drop(kept.index[worst])
    return kept


def fit_offsets(observations: "DataFrame") -> OffsetFit | Undefined:
    """Fit the offsets of one connected group of calipers.

    Parameters
    ----------
    observations : one row a sheet: person, caliper, measurer, and value, its mean over the sites [mm] that
        all sheets about this person have.

    Notes
    -----
    X: sheets by calipers, Z: sheets by measurers, both and y less the mean of each person.
    offsets: the shortest least squares solution, which adds up to nought; r = y - X offsets;
    A+ the pseudo-inverse of X'X; R = 1 - X A+ X'. The two variances follow from
    E[r'r] = error^2 df + habit^2 tr(Z'RZ) and E[(Z'r)'(Z'r)] = error^2 tr(Z'RZ) + habit^2 |Z'RZ|^2,
    habit^2 from 0 up. Covariance: error^2 A+ + habit^2 A+ X'Z Z'X A+.
    """
    import numpy

    units = observations["measurer"] + "\n" + observations["caliper"]
    c, u = observations["caliper"].nunique(), units.nunique()
    if c < 2:
        return Undefined("no-two-calipers")
    if u - c < 1:
        return Undefined("caliper-or-measurer")
    sheets_df = len(observations) - observations["person"].nunique() - c + 1
    if sheets_df < 1:
        return Undefined("few-two-calipers")
    x, z = _about_people(observations, "caliper"), _about_people(observations.assign(unit=units), "unit")
    y = _centred(observations["value"], observations["person"])
    offsets = numpy.linalg.lstsq(x, y)[0]
    # Offsets are told but for one constant; rounding leaves that direction a little above numpy's own limit.
    inverse = numpy.linalg.pinv(x.T @ x, rcond=1e-9, hermitian=True)
    weights = z.T @ x @ inverse
    residual = y - x @ offsets
    spread = z.T @ z - weights @ (x.T @ z)
    error, habit = _variances(
        float(residual @ residual),
        float(((z.T @ residual) ** 2).sum()),
        sheets_df,
        float(spread.trace()),
        float((spread**2).sum()),
    )
    covariance = error * inverse + habit * weights.T @ weights
    calipers = tuple(sorted(observations["caliper"].unique()))
    return OffsetFit(
        calipers, offsets.tolist(), covariance.tolist(), u - c, math.sqrt(error), math.sqrt(habit)
    )


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


def _about_people(observations: "DataFrame", column: str) -> Any:
    """Sheets by the sorted words of a column: 1 where it is that word, less the mean of each person."""
    import pandas

    return _centred(pandas.get_dummies(observations[column], dtype=float), observations["person"])


def _zero_differences(readings: "DataFrame", registered: Mapping[str, Caliper]) -> list[ZeroDifference]:
    """By sheet and caliper, in the order of use."""
    typed = readings[(readings["registered"] != "") & readings["zero"].notna()]
    found = []
    for row in typed.drop_duplicates(["sheet", "registered", "zero"]).itertuples():
        zero = registered[row.registered].zero
        if row.zero != hundredths(zero):
            found.append(
                ZeroDifference(row.file, row.copy_code, row.student_id, row.registered, row.zero / 100, zero)
            )
    return found


def _observations(rounds: "DataFrame") -> "DataFrame":
    """One observation a sheet about people who were measured with two calipers or more."""
    rows = first_goes(rounds)
    of_person = rows.groupby("participant_code")
    rows = rows[of_person["caliper"].transform("nunique") >= 2]
    rows = rows.assign(weight=rows["site"].map(_weights(rows)))
    whole = rows["mean_mm"].notna()
    in_common = whole.groupby([rows["participant_code"], rows["site"]]).transform("sum") == rows.groupby(
        "participant_code"
    )["sheet"].transform("nunique")
    rows = rows[in_common]
    rows = rows.assign(product=rows["weight"] * rows["mean_mm"])
    keys = ["participant_code", "sheet", "caliper", "student_id"]
    sums = rows.groupby(keys, as_index=False)[["product", "weight"]].sum()
    sums["value"] = sums["product"] / sums["weight"]
    sums = sums.rename(columns={"participant_code": "person", "student_id": "measurer"})
    return sums[["person", "caliper", "measurer", "value"]]


def _weights(rows: "DataFrame") -> Any:
    """Return 1 / variance between sheets about one person by site, each at most 10 times the smallest."""
    variances = rows.groupby(["participant_code", "site"])["mean_mm"].var().groupby(level="site").mean()
    floor = max([*variances.dropna(), 1e-6]) / 10
    return 1 / variances.dropna().clip(lower=floor)


def _group(
    group: Sequence[str], observations: "DataFrame", registered: Mapping[str, Caliper]
) -> list[CaliperOffset]:
    own = observations[observations["caliper"].isin(list(group))]
    fit = fit_offsets(own)
    if isinstance(fit, OffsetFit) and len(group) == 2:
        fit = Undefined("two-calipers-only", (("first", group[0]), ("second", group[1])))
    of_caliper = own.groupby("caliper")
    measurers = of_caliper["measurer"].nunique()
    off = set() if isinstance(fit, Undefined) else _off(fit, measurers.tolist())
    found = []
    for number, (caliper, sheets) in enumerate(of_caliper):
        counts = (caliper, len(sheets), int(sheets["person"].nunique()), int(measurers[caliper]))
        if isinstance(fit, Undefined):
            found.append(CaliperOffset(*counts, fit, fit, False, False, None))
            continue
        others = [other for other in range(len(group)) if other != number and other not in off]
        offset, error = fit.contrast(number, others)
        confidence = 1 - _FALSE_ALARMS / len(group)
        reach = _quantile((1 + confidence) / 2, fit) * error
        beyond = abs(offset) > reach and counts[-1] > 1
        near = _near(offset, _quantile(0.975, fit) * error, registered.get(caliper)) if beyond else None
        interval = Interval(offset - reach, offset + reach, confidence)
        found.append(CaliperOffset(*counts, offset, interval, beyond, near is not None, near))
    return found


def _quantile(probability: float, fit: OffsetFit) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(fit.degrees_of_freedom, probability))


def _off(fit: OffsetFit, measurers: Sequence[int]) -> set[int]:
    """The calipers beyond chance, taken out one by one, the clearest first; two at least are left.

    One in a single measurer's hands is never called off: it may be the measurer.
    """
    off: set[int] = set()
    quantile = _quantile(1 - _FALSE_ALARMS / (2 * len(fit.calipers)), fit)
    while len(fit.calipers) - len(off) > 2:
        left = [caliper for caliper in range(len(fit.calipers)) if caliper not in off]
        ratios = {}
        for caliper in left:
            offset, error = fit.contrast(caliper, [other for other in left if other != caliper])
            ratios[caliper] = abs(offset) / error if error > 0 and measurers[caliper] > 1 else 0.0
        clearest = max(ratios, key=lambda caliper: ratios[caliper])
        if ratios[clearest] <= quantile:
            break
        off.add(clearest)
    return off


def _near(offset: float, reach: float, caliper: Caliper | None) -> float | None:
    """The registered zero with either sign, else a whole division: the nearest to the offset within reach."""
    if caliper is None or caliper.division <= 0:
        return None
    zeros = [zero for zero in (caliper.zero, -caliper.zero) if zero and abs(offset - zero) <= reach]
    steps = round(offset / caliper.division) or (1 if offset > 0 else -1)
    whole = [value for value in (steps * caliper.division,) if abs(offset - value) <= reach]
    return next(iter(sorted(zeros, key=lambda zero: abs(offset - zero)) or whole), None)
