"""The plan of the stations: who is at which caliper when. The tab Stations works out the same live."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from sheetgen.model.settings import Pairing

__all__ = ["ROUNDS", "THIRD_READINGS", "StationLine", "StationsPlan", "minutes_of_a_wave", "stations_plan"]

ROUNDS = 2
THIRD_READINGS = 1.3
"""Third readings take about 30 per cent more. Common practice, no standard."""


@dataclass(frozen=True, slots=True)
class StationLine:
    """One pairing's turn: station is a caliper, wave counts from 1, the minutes from the beginning."""

    station: str
    wave: int
    from_minute: int
    to_minute: int


@dataclass(frozen=True, slots=True)
class StationsPlan:
    """Every turn in the order of the pairings, how many waves there are, and minutes for one and for all."""

    lines: tuple[StationLine, ...]
    waves: int
    minutes_a_wave: int
    minutes: int


def minutes_of_a_wave(readings: int, seconds_a_reading: float) -> int:
    """Return whole minutes, rounded up, for one measurer to take every reading.

    Parameters
    ----------
    readings : of one circuit; there are two, and third readings on top. seconds_a_reading : [s].

    Examples
    --------
    >>> minutes_of_a_wave(7, 45)
    14
    """
    return ceil(round(readings * ROUNDS * seconds_a_reading * THIRD_READINGS / 60, 6))


def stations_plan(pairings: Sequence[Pairing], readings: int, seconds_a_reading: float) -> StationsPlan:
    """Return the turns: each caliper is a station, and those who share it follow each other in their order.

    So who measure each other swap roles from one wave to the next. Stations work side by side.

    Parameters
    ----------
    pairings : each with its caliper. readings : of one circuit. seconds_a_reading : [s].
    """
    minutes = minutes_of_a_wave(readings, seconds_a_reading)
    turns: Counter[str] = Counter()
    lines: list[StationLine] = []
    for pairing in pairings:
        turns[pairing.caliper_id] += 1
        wave = turns[pairing.caliper_id]
        lines.append(StationLine(pairing.caliper_id, wave, (wave - 1) * minutes, wave * minutes))
    waves = max(turns.values(), default=0)
    return StationsPlan(tuple(lines), waves, minutes, waves * minutes)
