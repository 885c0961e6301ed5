"""The library of known slips, and which of them explain a line of own working.

To add one: a line in SLIPS, a function of what the line would be in slips_values.VALUES, its two texts in
templates/text/marking.*.toml, and a case in the tests.
"""

from collections.abc import Iterator

from sheetgen.checking.carry_forward import Ground, Interval, Step, corners, range_of, widened, within
from sheetgen.checking.slips_values import VALUES
from sheetgen.layout.vocabulary import OWN_DECIMALS
from sheetgen.model.marking import Slip, SlipFit

__all__ = ["SLIPS", "explained", "slip"]

_ALL = tuple(OWN_DECIMALS)
_FOLDS = ("sites", "sum")

SLIPS = (
    Slip("zero-left-in", _FOLDS, "sites", "zero"),
    Slip("zero-twice", _FOLDS, "sites", "zero"),
    Slip("zero-wrong-sign", _FOLDS, "sites", "zero"),
    Slip("zero-once-from-sum", ("sum",), "sites", "zero"),
    Slip("third-left-out", ("sites",)),
    Slip("mean-of-three", ("sites",)),
    Slip("site-left-out", ("sum",)),
    Slip("site-twice", ("sum",)),
    Slip("other-sex", ("density", "fat-percent")),
    Slip("other-age-band", ("density",)),
    Slip("age-misread", ("density",)),
    Slip("age-left-out", ("density",)),
    Slip("natural-log", ("density",)),
    Slip("square-dropped", ("density",)),
    Slip("square-sign", ("density",)),
    Slip("density-rounded-2", ("density",), match="exact"),
    Slip("density-rounded-3", ("density",), match="exact"),
    Slip("density-rounded-2", ("fat-percent",), "density", match="each"),
    Slip("density-rounded-3", ("fat-percent",), "density", match="each"),
    Slip("other-conversion", ("fat-percent",)),
    Slip("density-multiplied", ("fat-percent",)),
    Slip("percent-as-fraction", ("fat-percent",)),
    Slip("pounds", ("fat-mass", "fat-free-mass"), family="pounds"),
    Slip("inches", ("midpoints", *_FOLDS), family="inches"),
    Slip("centimetres", _FOLDS, family="centimetres"),
    Slip("decimal-slip", _ALL),
    Slip("digits-swapped", _ALL, match="exact"),
)
"""A slip that shows in another way in another line has a line for each. Density rounded to four places is no
slip: that is what the sheet asks for."""


def slip(word: str, group: str) -> Slip:
    """Return a slip by its word and the group of the line it was found in.

    Raises
    ------
    KeyError : there is no such slip in such a line.
    """
    for one in SLIPS:
        if one.word == word and group in one.groups:
            return one
    raise KeyError((word, group))


def explained(ground: Ground, step: Step, extra: float = 0.0) -> tuple[tuple[SlipFit, ...], bool]:
    """Return the slips that explain a line which is not right.

    Parameters
    ----------
    extra : what the scheme allows beyond the rounding.

    Returns
    -------
    Every slip that fits equally well, by the line above if one does, else by the chain behind it; and whether
    only slips fit that lead to the same value as no slip, so that nobody can tell.
    """
    allowed = step.half_unit + extra
    cannot_tell = False
    for inputs, _ in step.ways:
        fits: list[tuple[SlipFit, bool]] = []
        for fit, exactly, told_apart in _fits(ground, step, inputs, allowed):
            if told_apart and all(fit != known for known, _ in fits):
                fits.append((fit, exactly))
            cannot_tell = cannot_tell or not told_apart
        if fits:
            best = [fit for fit, exactly in fits if exactly] or [fit for fit, _ in fits]
            return tuple(best), False
    return (), cannot_tell


def _fits(
    ground: Ground, step: Step, inputs: tuple[Interval, ...], allowed: float
) -> Iterator[tuple[SlipFit, bool, bool]]:
    """(slip, whether it fits without rounding of the line above, whether it differs from a right value)."""
    yours = step.yours
    if yours is None:
        return
    for one in SLIPS:
        if step.group not in one.groups:
            continue
        low, middle, high = (list(VALUES[one.word](ground, step, values)) for values in corners(inputs))
        if one.match == "exact":
            for value, detail in (*middle, *low, *high):
                if value is not None and within(yours, (value, value)):
                    yield SlipFit(one.word, detail), True, True
            continue
        for (at_low, _), (at_middle, detail), (at_high, _) in zip(low, middle, high, strict=False):
            values = [at_low, at_middle, at_high]
            whole = range_of(values)
            if whole is None or at_middle is None:
                continue
            bands = [widened((value, value), allowed) for value in values if value is not None]
            band = widened(whole, allowed) if one.match == "band" else None
            if within(yours, band) if band else any(within(yours, each) for each in bands):
                told_apart = not _overlaps(band or bands[1], step, allowed)
                yield SlipFit(one.word, detail), within(yours, bands[1]), told_apart


def _overlaps(band: Interval, step: Step, allowed: float) -> bool:
    right = [widened(expected, allowed) for expected in step.expected]
    return any(band[0] < high and low < band[1] for low, high in right)
