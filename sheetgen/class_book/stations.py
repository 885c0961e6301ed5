"""Who is at which caliper when: the plan, and the tab Stations that works out the same live.

The tab is printed for the wall: ids and given names, no readings, no family names.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from sheetgen.class_book.table import LEFT, PRINTED_SPARE, Places
from sheetgen.class_folder.records import ClassBook, Pairing
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import SECONDS_A_READING
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.cells import formula, heading_row, label
from sheetgen.workbook.layout import Cell, Tab

_ROUNDS = 2
_THIRD_READINGS = 1.3
"""Third readings take about 30 per cent more. Common practice, no standard."""

_HEADING_ROW = 8
STATIONS_FIRST_ROW = 9
_ROW_HEIGHT = 24.0
"""To be read on a wall [pt]."""
_WIDTHS = {
    "station": 24, "wave": 10, "from": 12, "to": 12, "measurer": 18, "measurer_name": 24,
    "participant_name": 24,
}  # fmt: skip


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
    return ceil(round(readings * _ROUNDS * seconds_a_reading * _THIRD_READINGS / 60, 6))


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


def pairings_that_go(book: ClassBook) -> list[Pairing]:
    """Return the pairings of a book of which nobody has left."""
    left = {person.student_id for person in book.people if person.status == LEFT}
    return [pairing for pairing in book.pairings if not {pairing.measurer, pairing.participant} & left]


def stations_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the tab Stations: how many waves and minutes it takes, then one line a pair in their order."""
    texts = places.texts
    sites = {protocol.identifier: len(protocol.sites) for protocol in protocols}
    readings = sites.get(book.settings.protocol_id, 0)
    going = pairings_that_go(book)
    plan = stations_plan(going, readings, book.seconds_a_reading)
    in_service = sum(caliper.in_service for caliper in book.settings.calipers)
    summary = (
        ("in_service", f'=SUMPRODUCT(--({places.column("issued")}<>""))', in_service),
        ("pairs", f'=SUMPRODUCT(--({places.column("stations")}<>""))', len(going)),
        ("waves", f"=MAX({places.column('waves')})", plan.waves),
        ("minutes_a_wave", _minutes(places, readings), plan.minutes_a_wave),
        ("minutes", f"={absolute(4, 1)}*{absolute(5, 1)}", plan.minutes),
    )
    cells = [
        label(0, 0, texts["book_tab.stations"], "title"),
        label(1, 0, texts["book_line.stations"], "step"),
    ]
    for row, (name, counted, first) in enumerate(summary, start=2):
        cells.append(label(row, 0, texts[f"book_count.{name}"], "label"))
        cells.append(formula(row, 1, counted, first, "words"))
    cells += heading_row(_HEADING_ROW, [texts[f"book_station.{name}"] for name in _WIDTHS])
    cells += _lines(places, book, dict(zip(going, plan.lines, strict=True)))
    rows = range(STATIONS_FIRST_ROW, STATIONS_FIRST_ROW + places.rows["pairs"])
    return Tab(
        "stations",
        texts["book_tab.stations"],
        tuple(cells),
        tuple(_WIDTHS.values()),
        heights=((_HEADING_ROW, 32.0), *((row, _ROW_HEIGHT) for row in rows)),
        freeze=(STATIONS_FIRST_ROW, 0),
        first_entry=(0, 0),
        repeat=_HEADING_ROW,
        printed_rows=STATIONS_FIRST_ROW + len(book.pairings) + PRINTED_SPARE,
    )


def _minutes(places: Places, readings: int) -> str:
    """The formula of minutes_of_a_wave; readings where the tab Class names no protocol."""
    seconds = places.setting("seconds_a_reading")
    at = f"MATCH(TRIM({places.setting('protocol')}),{places.column('protocols')},0)"
    taken = f"IF(ISNUMBER({at}),INDEX({places.column('site_counts')},{at}),{readings})"
    lasting = f"IF(ISNUMBER({seconds}),{seconds},{SECONDS_A_READING:g})"
    return f"=ROUNDUP(ROUND({taken}*{_ROUNDS}*{lasting}*{_THIRD_READINGS:g}/60,6),0)"


def _lines(places: Places, book: ClassBook, turns: dict[Pairing, StationLine]) -> list[Cell]:
    given_names = {person.student_id: " ".join(person.given_name.split()) for person in book.people}
    ids, names, minutes = places.column("ids"), places.column("given_names"), absolute(5, 1)
    cells: list[Cell] = []
    for index in range(places.rows["pairs"]):
        station, wave, measurer_at, participant_at = (
            places.hidden(key, index) for key in ("stations", "waves", "measurers_at", "participants_at")
        )
        shown = (
            wave, f"({wave}-1)*{minutes}", f"{wave}*{minutes}", f"INDEX({ids},{measurer_at})",
            f"INDEX({names},{measurer_at})", f"INDEX({names},{participant_at})",
        )  # fmt: skip
        formulas = (f"={station}", *(f'=IF({station}="","",{text})' for text in shown))
        firsts: tuple[str | float, ...] = ("",) * len(formulas)
        pairing = book.pairings[index] if index < len(book.pairings) else None
        if pairing in turns:
            turn = turns[pairing]
            people = (pairing.measurer, given_names[pairing.measurer], given_names[pairing.participant])
            firsts = (turn.station, turn.wave, turn.from_minute, turn.to_minute, *people)
        cells += [
            formula(STATIONS_FIRST_ROW + index, column, text, first, "words")
            for column, (text, first) in enumerate(zip(formulas, firsts, strict=True))
        ]
    return cells
