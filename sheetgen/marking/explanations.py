"""Which known slips explain a line that is not right, and which of them the other lines leave standing."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from sheetgen.marking.carry_forward import Ground, Interval, Step, corners, widened, within
from sheetgen.marking.scheme import SlipFit
from sheetgen.marking.slips import SLIPS, Line


def explained(ground: Ground, step: Step, extra: float = 0.0) -> tuple[tuple[SlipFit, ...], bool]:
    """Return the slips that explain a line which is not right. extra : what the scheme allows beyond the
    rounding. Every slip that fits equally well, by the line above if one does, else by the chain behind it;
    and whether only slips fit that lead to the same value as no slip, so that nobody can tell."""
    allowed = step.half_unit + extra
    cannot_tell = False
    for inputs in step.inputs:
        fits: dict[SlipFit, bool] = {}
        apart = False
        for fit, exactly, told_apart in _fits(ground, step, inputs, allowed):
            fits[fit] = fits.get(fit, False) or exactly
            apart, cannot_tell = apart or told_apart, cannot_tell or not told_apart
        if apart:
            return tuple(fit for fit, exactly in fits.items() if exactly) or tuple(fits), False
    return (), cannot_tell


def not_contradicted(
    ground: Ground, steps: Sequence[Step], fits: Mapping[str, Sequence[SlipFit]], extra: float = 0.0
) -> dict[str, tuple[SlipFit, ...]]:
    """Return the slips of each line that the other lines of its group leave standing. steps : of one group.
    fits : what explains each of them that is wrong, by its name. extra : what the scheme allows beyond the
    rounding. A way of working is named only where more lines show it than could show it and do not. Of
    several slips that explain a line, those stay that explain the most lines."""
    shown = Counter(word for line in fits.values() for word in {fit.word for fit in line})

    def stands(word: str) -> bool:
        against = sum(
            _would_show(ground, step, word, extra)
            for step in steps
            if step.yours is not None and word not in {fit.word for fit in fits.get(step.step, ())}
        )
        return shown[word] > against or not any(one.throughout for one in SLIPS if one.word == word)

    standing = {word for word in shown if stands(word)}
    found = {}
    for name, line in fits.items():
        most = max((shown[fit.word] for fit in line if fit.word in standing), default=0)
        found[name] = tuple(fit for fit in line if fit.word in standing and shown[fit.word] == most)
    return found


def _would_show(ground: Ground, step: Step, word: str, extra: float) -> bool:
    """Whether a line would be another one with a slip in it."""
    allowed = step.half_unit + extra
    for known in SLIPS if step.inputs else ():
        if known.word == word and step.group in known.groups:
            line = Line(ground, step, step.yours or 0.0, corners(step.inputs[0])[1])
            for value, _ in known.values(line):
                if value is not None and not _overlaps(widened((value, value), allowed), step, allowed):
                    return True
    return False


def _fits(
    ground: Ground, step: Step, inputs: tuple[Interval, ...], allowed: float
) -> Iterator[tuple[SlipFit, bool, bool]]:
    """(slip, whether it fits without rounding of the line above, whether it differs from a right value)."""
    yours = step.yours
    for known in SLIPS:
        if yours is None or step.group not in known.groups:
            continue
        low, middle, high = (
            list(known.values(Line(ground, step, yours, above))) for above in corners(inputs)
        )
        if known.match == "exact":
            for at, (value, detail) in enumerate((*middle, *low, *high)):
                if value is not None and within(yours, (value, value)):
                    yield SlipFit(known.word, detail), at < len(middle), True
            continue
        for found in zip(low, middle, high, strict=False):
            values = [value for value, _ in found if value is not None]
            if len(values) == len(found):
                each = [widened((value, value), allowed) for value in values]
                bands = [widened((min(values), max(values)), allowed)] if known.match == "band" else each
                if any(within(yours, band) for band in bands):
                    told_apart = not _overlaps(bands[len(bands) // 2], step, allowed)
                    yield SlipFit(known.word, found[1][1]), within(yours, each[1]), told_apart


def _overlaps(band: Interval, step: Step, allowed: float) -> bool:
    right = (widened(expected, allowed) for expected in step.expected)
    return any(band[0] < high and low < band[1] for low, high in right)
