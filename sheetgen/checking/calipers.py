"""Calipers: a typed zero that is not the registered one, and which caliper reads off against the others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, variance

from sheetgen.checking.precision_between import by_participant
from sheetgen.checking.precision_offsets import (
    Observation,
    OffsetFit,
    connected_groups,
    fit_offsets,
    without_outliers,
)
from sheetgen.checking.precision_sheets import MeasuredSheet, round_mean
from sheetgen.core.distributions import t_quantile
from sheetgen.core.number_policy import hundredths
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.model.settings import Caliper

__all__ = ["CaliperOffset", "CaliperReport", "ZeroDifference", "caliper_report"]

_FALSE_ALARMS = 0.05


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


def caliper_report(sheets: Sequence[MeasuredSheet], register: Sequence[Caliper]) -> CaliperReport:
    """Return what the sheets of one session, the teacher's included, say about the calipers.

    Notes
    -----
    A sheet counts as the mean over its sites of rounds 1 and 2, each site weighted by 1 / variance between
    the sheets about one person. With C calipers in a group each has its own interval at 1 - 0.05 / C
    (Bonferroni), from the class's own differences between measurers: at most 5 % of classes in which no
    caliper is off have one flagged. The clearest is taken out first and the others are judged without it.
    A caliper that one measurer alone used is never called off.
    """
    registered = {caliper.identifier: caliper for caliper in register}
    differences = tuple(one for sheet in sheets for one in _zero_differences(sheet, registered))
    wrong = {one.file for one in differences}
    used = [sheet for sheet in sheets if sheet.caliper_id and sheet.file not in wrong]
    every = _observations(used)
    observations = without_outliers(every)
    offsets: tuple[CaliperOffset, ...] | Undefined = Undefined("calipers-cannot-be-told")
    if observations:
        groups = connected_groups(observations)
        offsets = tuple(one for group in groups for one in _group(group, observations, registered))
    return CaliperReport(differences, offsets, len(sheets) - len(used), len(every) - len(observations))


def _zero_differences(sheet: MeasuredSheet, registered: Mapping[str, Caliper]) -> list[ZeroDifference]:
    found = []
    for identifier, typed in sheet.calipers:
        caliper = registered.get(identifier)
        if caliper is None or typed is None or typed == hundredths(caliper.zero):
            continue
        found.append(
            ZeroDifference(
                sheet.file, sheet.copy_code, sheet.student_id, identifier, typed / 100, caliper.zero
            )
        )
    return found


def _observations(sheets: Sequence[MeasuredSheet]) -> list[Observation]:
    """One observation a sheet about people who were measured with two calipers or more."""
    people = {
        code: own
        for code, own in by_participant(sheets).items()
        if len({sheet.caliper_id for sheet in own}) >= 2
    }
    weights = _weights(list(people.values()))
    observations = []
    for code, own in people.items():
        common = [site for site in weights if all(round_mean(sheet, site) is not None for sheet in own)]
        total = sum(weights[site] for site in common)
        for sheet in own if common else ():
            value = sum(weights[site] * (round_mean(sheet, site) or 0.0) for site in common) / total
            observations.append(Observation(code, sheet.caliper_id, sheet.student_id, value))
    return observations


def _weights(people: Sequence[Sequence[MeasuredSheet]]) -> dict[str, float]:
    """Return 1 / variance between sheets about one person by site, each at most 10 times the smallest."""
    found: dict[str, list[float]] = {}
    for own in people:
        for site in own[0].corrected:
            means = [mean for sheet in own if (mean := round_mean(sheet, site)) is not None]
            if len(means) >= 2:
                found.setdefault(site, []).append(variance(means))
    variances = {site: fmean(values) for site, values in found.items()}
    floor = max([*variances.values(), 1e-6]) / 10
    return {site: 1 / max(value, floor) for site, value in variances.items()}


def _group(
    group: Sequence[str], observations: Sequence[Observation], registered: Mapping[str, Caliper]
) -> list[CaliperOffset]:
    own = [one for one in observations if one.caliper in group]
    fit = fit_offsets(own)
    if isinstance(fit, OffsetFit) and len(group) == 2:
        fit = Undefined("two-calipers-only", (("first", group[0]), ("second", group[1])))
    if isinstance(fit, Undefined):
        return [_offset(caliper, own, None, fit) for caliper in group]
    hands = {caliper: len({one.measurer for one in own if one.caliper == caliper}) for caliper in group}
    off = _off(fit, [hands[caliper] for caliper in fit.calipers])
    found = []
    for number, caliper in enumerate(fit.calipers):
        others = [one for one in range(len(group)) if one != number and one not in off]
        estimate = (*fit.contrast(number, others), fit.degrees_of_freedom, len(group))
        found.append(_offset(caliper, own, registered.get(caliper), estimate))
    return found


def _off(fit: OffsetFit, hands: Sequence[int]) -> set[int]:
    """The calipers beyond chance, taken out one by one, the clearest first; two at least are left.

    One in a single measurer's hands is never called off: it may be the measurer.
    """
    off: set[int] = set()
    quantile = t_quantile(1 - _FALSE_ALARMS / (2 * len(fit.calipers)), fit.degrees_of_freedom)
    while len(fit.calipers) - len(off) > 2:
        left = [one for one in range(len(fit.calipers)) if one not in off]
        ratios = {}
        for one in left:
            offset, error = fit.contrast(one, [other for other in left if other != one])
            ratios[one] = abs(offset) / error if error > 0 and hands[one] > 1 else 0.0
        clearest = max(ratios, key=lambda one: ratios[one])
        if ratios[clearest] <= quantile:
            break
        off.add(clearest)
    return off


def _offset(
    identifier: str,
    observations: Sequence[Observation],
    caliper: Caliper | None,
    estimate: tuple[float, float, int, int] | Undefined,
) -> CaliperOffset:
    own = [one for one in observations if one.caliper == identifier]
    sheets, people = len(own), len({one.person for one in own})
    measurers = len({one.measurer for one in own})
    if isinstance(estimate, Undefined):
        return CaliperOffset(identifier, sheets, people, measurers, estimate, estimate, False, False, None)
    offset, error, degrees, count = estimate
    confidence = 1 - _FALSE_ALARMS / count
    reach = t_quantile((1 + confidence) / 2, degrees) * error
    beyond = abs(offset) > reach and measurers > 1
    near = _near(offset, t_quantile(0.975, degrees) * error, caliper) if beyond else None
    interval = Interval(offset - reach, offset + reach, confidence)
    return CaliperOffset(
        identifier, sheets, people, measurers, offset, interval, beyond, near is not None, near
    )


def _near(offset: float, reach: float, caliper: Caliper | None) -> float | None:
    """The registered zero with either sign, else a whole division: the nearest to the offset within reach."""
    if caliper is None or caliper.division <= 0:
        return None
    zeros = [zero for zero in (caliper.zero, -caliper.zero) if zero and abs(offset - zero) <= reach]
    steps = round(offset / caliper.division) or (1 if offset > 0 else -1)
    whole = [value for value in (steps * caliper.division,) if abs(offset - value) <= reach]
    return next(iter(sorted(zeros, key=lambda zero: abs(offset - zero)) or whole), None)
