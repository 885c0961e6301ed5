"""Every way of saving by hand, alone and four of them one after the other."""

import random
import zipfile

from tests.evidence.honest_cells import CELL_WAYS
from tests.evidence.honest_packages import PACKAGE_WAYS
from tests.evidence.honest_saved import ByHand, Saved
from tests.evidence.twins import Twin, parts_of, zipped

BY_HAND: dict[str, ByHand] = {**CELL_WAYS, **PACKAGE_WAYS}
"""A way of saving to the parts, or the whole package, that it makes."""

_ONE_OF = (
    "prefixed names",
    "strict names",
    "two bytes a sign",
    "stored and in another order",
    "packed again by hand",
)


_LATE = ("shared formulas", "cells without reference", "texts in cells", "byte-order mark", *_ONE_OF)
"""In this order: a formula that others share must not be respelt, nor a cell be sought by its reference."""


def saved_by_hand(twin: Twin, way: str, dice: random.Random, base: bytes | None = None) -> Saved:
    """Return a sheet as one of BY_HAND makes it; base : the file it starts from, else the twin's own."""
    made = BY_HAND[way](parts_of(base or twin.data), dice)
    return Saved(way, made if isinstance(made, bytes) else zipped(made, zipfile.ZIP_DEFLATED))


def mixed(twin: Twin, dice: random.Random) -> Saved:
    """Four ways of BY_HAND one after the other, of those that spoil the next one's view at most the last."""
    free = [way for way in BY_HAND if way not in _ONE_OF]
    ways = [*dice.sample(free, 3), dice.choice(_ONE_OF)]
    ways.sort(key=lambda way: _LATE.index(way) if way in _LATE else -1)
    data = twin.data
    for way in ways:
        data = saved_by_hand(twin, way, dice, data).data
    return Saved("mixed", data)
