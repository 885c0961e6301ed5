"""The tab Stations: who is at which caliper when, to print for the wall. No readings, no family names."""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import absolute
from sheetgen.layout.cells import formula, heading_row, label
from sheetgen.layout.class_book_calculator import (
    GIVEN_NAMES,
    IDS,
    ISSUED,
    MEASURERS_AT,
    PARTICIPANTS_AT,
    PROTOCOLS,
    SITE_COUNTS,
    STATIONS,
    WAVES,
    calculated,
    line_in_calculator,
    setting,
)
from sheetgen.layout.class_book_plan import ROUNDS, THIRD_READINGS, StationLine, stations_plan
from sheetgen.layout.class_book_words import LEFT, PRINTED_SPARE, SECONDS_A_READING
from sheetgen.model.layout import Cell, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook, Person

__all__ = ["STATIONS_FIRST_ROW", "stations_tab"]

_HEADING_ROW = 8
STATIONS_FIRST_ROW = 9
_ROW_HEIGHT = 24.0
"""To be read on a wall [pt]."""
_COLUMNS = ("station", "wave", "from", "to", "measurer", "measurer_name", "participant_name")

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]


def stations_tab(texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts) -> Tab:
    """Return the tab Stations: how many waves and minutes it takes, then one line a pair in their order.

    A pair's station is its caliper; its wave counts the turns there, so that who measure each other swap
    roles from one wave to the next.
    """
    sites = {protocol.identifier: len(protocol.sites) for protocol in protocols}
    readings = sites.get(book.settings.protocol_id, 0)
    people = {person.student_id: person for person in book.people}
    going = [
        pairing
        for pairing in book.pairings
        if LEFT not in (people[pairing.measurer].status, people[pairing.participant].status)
    ]
    plan = stations_plan(going, readings, book.seconds_a_reading)
    in_service = sum(caliper.in_service for caliper in book.settings.calipers)
    issued, stations, waves = (calculated(texts, row_counts, column) for column in (ISSUED, STATIONS, WAVES))
    summary = (
        ("in_service", f'=SUMPRODUCT(--({issued}<>""))', in_service),
        ("pairs", f'=SUMPRODUCT(--({stations}<>""))', len(going)),
        ("waves", f"=MAX({waves})", plan.waves),
        ("minutes_a_wave", _minutes(texts, row_counts, readings), plan.minutes_a_wave),
        ("minutes", f"={absolute(4, 1)}*{absolute(5, 1)}", plan.minutes),
    )
    cells: list[Cell] = [
        label(0, 0, texts["book_tab.stations"], "title"),
        label(1, 0, texts["book_line.stations"], "step"),
    ]
    for row, (name, counted, first) in enumerate(summary, start=2):
        cells += [
            label(row, 0, texts[f"book_count.{name}"], "label"), formula(row, 1, counted, first, "words"),
        ]  # fmt: skip
    cells += heading_row(_HEADING_ROW, [texts[f"book_station.{name}"] for name in _COLUMNS])
    turns = dict(zip(going, plan.lines, strict=True))
    lines: list[Cell] = []
    for index in range(row_counts["pairs"]):
        pairing = book.pairings[index] if index < len(book.pairings) else None
        first_values: tuple[str | float, ...] = ("",) * len(_COLUMNS)
        if pairing is not None and pairing in turns:
            first_values = _first_values(
                turns[pairing], people[pairing.measurer], people[pairing.participant]
            )
        formulas = _line(texts, row_counts, index)
        lines += [
            formula(STATIONS_FIRST_ROW + index, column, text, first, "words")
            for column, (text, first) in enumerate(zip(formulas, first_values, strict=True))
        ]
    return Tab(
        "stations",
        texts["book_tab.stations"],
        (*cells, *lines),
        (24, 10, 12, 12, 18, 24, 24),
        heights=((_HEADING_ROW, 32.0), *((cell.row, _ROW_HEIGHT) for cell in lines if cell.column == 0)),
        freeze=(STATIONS_FIRST_ROW, 0),
        first_entry=(0, 0),
        repeat=_HEADING_ROW,
        printed_rows=STATIONS_FIRST_ROW + len(book.pairings) + PRINTED_SPARE,
    )


def _first_values(turn: StationLine, measurer: Person, participant: Person) -> tuple[str | float, ...]:
    names = (" ".join(one.given_name.split()) for one in (measurer, participant))
    return (turn.station, turn.wave, turn.from_minute, turn.to_minute, measurer.student_id, *names)


def _minutes(texts: Texts, row_counts: RowCounts, readings: int) -> str:
    """The formula of class_book_plan.minutes_of_a_wave; readings where the tab Class names no protocol."""
    known, counts = (calculated(texts, row_counts, column) for column in (PROTOCOLS, SITE_COUNTS))
    seconds = setting(texts, "seconds_a_reading")
    at = f"MATCH(TRIM({setting(texts, 'protocol')}),{known},0)"
    taken = f"IF(ISNUMBER({at}),INDEX({counts},{at}),{readings})"
    lasting = f"IF(ISNUMBER({seconds}),{seconds},{SECONDS_A_READING:g})"
    return f"=ROUNDUP(ROUND({taken}*{ROUNDS}*{lasting}*{THIRD_READINGS:g}/60,6),0)"


def _line(texts: Texts, row_counts: RowCounts, index: int) -> tuple[str, ...]:
    station, wave, at_1, at_2 = (
        line_in_calculator(texts, column, index)
        for column in (STATIONS, WAVES, MEASURERS_AT, PARTICIPANTS_AT)
    )
    ids, names = (calculated(texts, row_counts, column) for column in (IDS, GIVEN_NAMES))
    minutes = absolute(5, 1)
    shown = (
        wave,
        f"({wave}-1)*{minutes}",
        f"{wave}*{minutes}",
        f"INDEX({ids},{at_1})",
        f"INDEX({names},{at_1})",
        f"INDEX({names},{at_2})",
    )
    return (f"={station}", *(f'=IF({station}="","",{text})' for text in shown))
