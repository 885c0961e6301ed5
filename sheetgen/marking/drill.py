"""What a measurer read of the ten drawn scales of a sheet: which were misread, and which way."""

from msgspec import Struct

from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import DRILL, DRILL_SLIPS
from sheetgen.protocols.recalculation import number_of
from sheetgen.returned.attempt import Attempt
from sheetgen.sheet.drill_tab import scales_of


class ScaleRead(Struct, frozen=True):
    """One drawn scale and what was typed of it. division : between two marks. zero : what the closed caliper
    reads. shown : where the pointer stands. read : None where nothing was typed, or no number. All in mm.
    slip : one of DRILL_SLIPS, `right`, or empty where nothing was read."""

    division: float
    zero: float
    shown: float
    read: float | None
    slip: str

    @property
    def off(self) -> float | None:
        """How far the reading lies above what it should be, in marks of the scale; None without one."""
        if self.read is None:
            return None
        return hundredths(self.read - (self.shown - self.zero)) / hundredths(self.division)


class DrillResult(Struct, frozen=True):
    """The drill of one sheet. within : readings at most half a mark off. typed : readings there are.
    lean : the slip made most often, at least twice; empty where there is none."""

    copy_code: str
    scales: tuple[ScaleRead, ...]
    within: int
    typed: int
    lean: str


def drill_result(attempt: Attempt) -> DrillResult | None:
    """Return what was read of the scales of a sheet; None where it has none, or nothing was typed there. What
    each pointer shows is what the copy was handed out with."""
    if attempt.record is None or attempt.built_with is None:
        return None
    given, scales = attempt.record.identity, []
    for scale, name in zip(scales_of(attempt.built_with.settings.calipers), DRILL, strict=True):
        shown, zero = (given.get(f"drill_{what}_{scale.number}") for what in ("shown", "zero"))
        if not isinstance(shown, int | float) or not isinstance(zero, int | float):
            return None
        read = number_of(attempt.entries, name)
        slip = "" if read is None else slip_of(scale.division, zero, shown, read)
        scales.append(ScaleRead(scale.division, zero, shown, read, slip))
    typed = [scale for scale in scales if scale.read is not None]
    if not typed:
        return None
    slips = [scale.slip for scale in scales]
    often = max(DRILL_SLIPS, key=slips.count)
    within = sum(abs(scale.off or 0.0) <= 0.5 for scale in typed)
    lean = often if slips.count(often) > 1 else ""
    return DrillResult(attempt.record.copy_code, tuple(scales), within, len(typed), lean)


def slip_of(division: float, zero: float, shown: float, read: float) -> str:
    """Return what is wrong with a reading, all in mm; `right` within half a mark.

    >>> [slip_of(0.5, 1.0, 12.5, read) for read in (11.5, 12.5, 13.5, 12.0, 11.3, 16.5)]
    ['right', 'zero', 'zero', 'mark', 'between', 'other']
    """
    step, right, typed = hundredths(division), hundredths(shown) - hundredths(zero), hundredths(read)
    if typed % step:
        return "between"
    if 2 * abs(typed - right) <= step:
        return "right"
    if zero and typed - right in (hundredths(zero), 2 * hundredths(zero)):
        return "zero"
    return "mark" if abs(typed - right) == step else "other"
