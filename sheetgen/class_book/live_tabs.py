"""What the class book works out by itself: the hidden tab, the tab Stations, and checks in words. Entries are
mirrored on the hidden tab by fixed place, as text, and every check reads the mirror: what is cut, sorted or
pasted on a visible tab breaks no formula. There is no clock in a formula: whether a caliper's check is old is
said when the class book is read; beside it stands the day by which to check again. The tab Stations holds ids
and given names, no readings, no family names."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, count, repeat
from operator import attrgetter

from msgspec.structs import astuple, fields, replace

from sheetgen.class_book import lesson
from sheetgen.class_book.pairing import kept_apart
from sheetgen.class_book.table import (
    FIRST_ROW,
    HEADING_ROW,
    HIDDEN,
    HIDDEN_AT,
    PRINTED_SPARE,
    ZERO_LIMIT,
    Places,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.cells import BAR_HEIGHTS, formula, heading_row, label, title_bar
from sheetgen.workbook.layout import Cell, Tab, Value

STATIONS_FIRST_ROW = 11
_STATIONS_HEADING_ROW = 10
_STATION_HEIGHT = 24.0
"""To be read from a few steps away [pt]."""
_MINUTES, _IN_A_LESSON = absolute(5, 1), f"MAX(1,{absolute(7, 1)})"
_FROM = f"MOD({{own waves}}-1,{_IN_A_LESSON})*{_MINUTES}"
_STATION_COLUMNS: dict[str, tuple[float, str]] = {
    "station": (24, "{own stations}"),
    "lesson": (10, f"INT(({{own waves}}-1)/{_IN_A_LESSON})+1"),
    "wave": (10, "{own waves}"),
    "from": (12, _FROM),
    "to": (12, f"{_FROM}+{_MINUTES}"),
    "measurer": (18, "INDEX({all ids},{own measurers_at})"),
    "measurer_name": (24, "INDEX({all given_names},{own measurers_at})"),
    "participant_name": (24, "INDEX({all given_names},{own participants_at})"),
}
"""Heading to width and formula; where there is no station, nothing is shown."""

_ROLES = ("measurer", "participant")

Firsts = Mapping[str, Value]
"""Column to the first result of a formula of one line."""
Counts = Mapping[str, tuple[str, Value]]
"""What is counted to its formula and first result."""


def headed_tab(
    places: Places,
    key: str,
    counts: Counts,
    headings: Sequence[str],
    widths: Sequence[float],
    cells: Sequence[Cell],
    heading_at: int = HEADING_ROW,
) -> Tab:
    """Return a tab with its title, what it is for, counts below each other, headings and their cells."""
    texts, below = places.texts, heading_at + 1
    title = texts[f"book_tab.{key}"]
    head = [*title_bar(title, texts[f"book_line.{key}"], len(widths)), *heading_row(heading_at, headings)]
    for row, (word, (text, first)) in enumerate(counts.items(), start=2):
        head += [label(row, 0, texts[f"book_count.{word}"], "label"), formula(row, 1, text, first, "words")]
    in_order = tuple(sorted([*head, *cells], key=attrgetter("row", "column")))
    heights = (*BAR_HEIGHTS, (heading_at, 34.0))
    return Tab(
        key, title, in_order, tuple(widths), heights, freeze=(below, 0), landscape=True,
        first_entry=(below, 0), repeat=heading_at,
    )  # fmt: skip


def calculator_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the hidden tab: entries by fixed place, as text, the codes given out, and the protocols."""
    title = places.texts["book_tab.calculator"]
    coded = [person for person in book.people if person.participant_code]
    fixed: dict[str, list[str | float]] = {
        "coded_ids": [person.student_id for person in coded],
        "given_codes": [person.participant_code for person in coded],
        "protocols": [protocol.identifier for protocol in protocols],
        "site_counts": [len(protocol.sites) for protocol in protocols],
        "drawings": [book.drawings],
    }
    empty_pair = {"pair_numbers": len(book.pairings), "measurers_at": 0, "participants_at": 0}
    lines = {
        "roster": chain(_people(book), repeat({})),
        "calipers": chain(_calipers(book), repeat({})),
        "pairs": chain(_pairs(book), repeat(empty_pair)),
    }
    cells = [label(0, 0, title, "title"), *heading_row(HEADING_ROW, [word for _, word, _ in HIDDEN.values()])]
    for table, firsts in lines.items():
        columns = {key: text for key, (of, _, text) in HIDDEN.items() if of == table and text}
        for index, first in zip(range(places.rows[table]), firsts, strict=False):
            for key, text in columns.items():
                shown = places.formula(text, table, index, True)
                cells.append(formula(FIRST_ROW + index, HIDDEN_AT[key], shown, first.get(key, "")))
    for key, values in fixed.items():
        cells += [label(row, HIDDEN_AT[key], value) for row, value in enumerate(values, start=FIRST_ROW)]
    return Tab("calculator", title, tuple(sorted(cells, key=attrgetter("row", "column"))), hidden=True)


def _people(book: ClassBook) -> Iterator[Firsts]:
    for person in book.people:
        apart = "; ".join(person.apart).lower().replace(";", " ").replace(",", " ")
        yield {
            "ids": person.student_id,
            "names": full_name(person.given_name, person.family_name),
            "codes": person.participant_code,
            "given_names": full_name(person.given_name),
            "states": person.status or ("teacher" if person.role == "teacher" else ""),
            "aparts": f" {apart} " if person.apart else "",
        }


def _calipers(book: ClassBook) -> Iterator[Firsts]:
    numbers = count(1)
    for caliper in book.settings.calipers:
        issued = caliper.in_service
        yield {"issued": caliper.identifier, "issued_numbers": next(numbers)} if issued else {}


def _pairs(book: ClassBook) -> Iterator[Firsts]:
    lines = {person.student_id: line for line, person in enumerate(book.people, start=1)}
    waves = _waves(book)
    for number, pair in enumerate(book.pairings, start=1):
        yield {
            "pair_keys": f"{pair.measurer}/{pair.participant}",
            "pair_numbers": number,
            "measurers_at": lines[pair.measurer],
            "participants_at": lines[pair.participant],
            "stations": pair.caliper_id if pair in waves else "",
            "waves": waves.get(pair, ""),
        }


def _waves(book: ClassBook) -> dict[Pairing, int]:
    going = lesson.pairs_in_turn(book)
    stations = (pair.caliper_id for pair in going)
    return dict(zip(going, lesson.waves_of(stations, bool(book.demonstration)), strict=True))


def stations_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the tab Stations: how many waves, minutes and lessons it takes, then one line a pair in their
    order; the teacher's pairs stand in no wave."""
    sites = {protocol.identifier: len(protocol.sites) for protocol in protocols}
    readings = sites.get(book.settings.protocol_id, 0)
    going, plan = lesson.pairs_in_turn(book), lesson.lesson_plan(lesson.lesson_frame(book, readings))
    room = f"MAX(0,{_number(places, 'lesson_minutes')}-{lesson.OPENING + lesson.CLOSING})"
    summary: Counts = {
        "in_service": (places.filled("issued"), sum(each.in_service for each in book.settings.calipers)),
        "pairs": (places.filled("stations"), len(going)),
        "waves": (f"=MAX({places.column('waves')})", plan.waves),
        "minutes_a_wave": (_minutes(places, readings), plan.minutes_a_wave),
        "minutes": (f"={absolute(4, 1)}*{_MINUTES}", plan.minutes),
        "waves_a_lesson": (f"=INT({room}/MAX(1,{_MINUTES}))", plan.waves_a_lesson),
        "lessons": (f"=ROUNDUP({absolute(4, 1)}/{_IN_A_LESSON},0)", plan.lessons),
    }
    cells: list[Cell] = []
    given = {person.student_id: full_name(person.given_name) for person in book.people}
    firsts: dict[int, tuple[Value, ...]] = {}
    for pair, turn in zip(going, plan.turns, strict=True):
        people = (pair.measurer, given[pair.measurer], given[pair.participant])
        firsts[book.pairings.index(pair)] = (*astuple(turn)[:5], *people)
    for index in range(places.rows["pairs"]):
        first = firsts.get(index, ("",) * len(_STATION_COLUMNS))
        for column, (_, text) in enumerate(_STATION_COLUMNS.values()):
            shown = f'IF({{own stations}}="","",{text})' if column else text
            shown = places.formula(shown, "pairs", index)
            cells.append(formula(STATIONS_FIRST_ROW + index, column, shown, first[column], "words"))
    headings = [places.texts[f"book_station.{name}"] for name in _STATION_COLUMNS]
    widths = [width for width, _ in _STATION_COLUMNS.values()]
    tab = headed_tab(places, "stations", summary, headings, widths, cells, _STATIONS_HEADING_ROW)
    rows = range(STATIONS_FIRST_ROW, STATIONS_FIRST_ROW + places.rows["pairs"])
    heights = (*tab.heights, *((row, _STATION_HEIGHT) for row in rows))
    printed = STATIONS_FIRST_ROW + len(book.pairings) + PRINTED_SPARE
    return replace(tab, heights=heights, landscape=False, first_entry=(0, 0), printed_rows=printed)


def _minutes(places: Places, readings: int) -> str:
    """The formula of minutes_of_a_wave; readings where the tab Class names no protocol."""
    asked = "seconds_a_reading", "marking_minutes", "changing_minutes"
    seconds, *besides = (_number(places, key) for key in asked)
    at = f"MATCH(TRIM({places.setting('protocol')}),{places.column('protocols')},0)"
    taken = f"IF(ISNUMBER({at}),INDEX({places.column('site_counts')},{at}),{readings})"
    reading = f"{taken}*{lesson.ROUNDS}*{seconds}*{lesson.THIRD_READINGS:g}/60"
    return f"=ROUNDUP(ROUND({'+'.join([reading, *besides])},6),0)"


def _number(places: Places, key: str) -> str:
    """A formula for a setting that is a number; where nothing is typed, as a new class has it."""
    typed, usual = places.setting(key), next(one.default for one in fields(ClassBook) if one.name == key)
    return f"IF(ISNUMBER({typed}),{typed},{usual:g})"


def full_name(*names: str) -> str:
    """Return a name as TRIM leaves it."""
    return " ".join(" ".join(names).split())


def zero_is_large(caliper: Caliper) -> bool:
    """Tell whether a caliper's zero leaves it for practice only."""
    return abs(hundredths(caliper.zero)) > hundredths(ZERO_LIMIT)


def blocks_off(caliper: Caliper, check: CaliperCheck) -> tuple[tuple[float, float], ...]:
    """Return block and reading [mm] where a caliper reads wrong by more than one step, its zero deducted."""
    zero, step = hundredths(caliper.zero), hundredths(caliper.division)
    return tuple(
        (block, reading)
        for block, reading in check.blocks
        if abs(hundredths(reading) - zero - hundredths(block)) > step
    )


def check_again_by(check: CaliperCheck) -> str:
    """Return the day twelve months after a check, empty where no day is known.

    Examples
    --------
    >>> check_again_by(CaliperCheck("C1", checked_on="2027-03-31"))
    '2028-03-31'
    """
    return f"{int(check.checked_on[:4]) + 1:04}{check.checked_on[4:]}" if check.checked_on else ""


def first_caliper_check(texts: Mapping[str, str], caliper: Caliper, check: CaliperCheck) -> str:
    """Return what the live check says of a caliper: the first of what is wrong."""
    faults = {
        "zero_large": zero_is_large(caliper),
        "block_off": bool(blocks_off(caliper, check)),
        "unchecked": not check.checked_on,
    }
    said = (texts[f"book_check.{word}"] for word, holds in faults.items() if holds and caliper.in_service)
    return next(said, "")


def first_pair_check(texts: Mapping[str, str], book: ClassBook) -> dict[Pairing, str]:
    """Return what the live check says of each pairing of a book without errors."""
    apart, waves = kept_apart(book.people), {} if book.demonstration else _waves(book)
    lines = Counter((wave, one) for pair, wave in waves.items() for one in (pair.measurer, pair.participant))
    said = {}
    for pair in lesson.pairings_that_go(book):
        twice = any(lines[waves.get(pair, 0), one] > 1 for one in (pair.measurer, pair.participant))
        faults = {"apart": pair.participant in apart.get(pair.measurer, ()), "two_places": twice}
        said[pair] = next((texts[f"book_check.{word}"] for word, holds in faults.items() if holds), "")
    return {pair: said.get(pair, texts["book_check.left"]) for pair in book.pairings}


def first_roster_check(texts: Mapping[str, str], book: ClassBook) -> dict[str, str]:
    """Return what the live check says of each person of a book without errors, by student_id."""
    measurers, participants = ({getattr(pair, role) for pair in book.pairings} for role in _ROLES)
    said = dict.fromkeys((person.student_id for person in book.people), "")
    for student in (person.student_id for person in book.people if lesson.takes_turns(person)):
        if student not in measurers:
            said[student] = texts["book_check.measures_nobody"]
        elif student not in participants and not book.demonstration:
            said[student] = texts["book_check.measured_by_nobody"]
    return said
