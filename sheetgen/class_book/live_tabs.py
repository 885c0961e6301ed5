"""What the class book works out by itself: the hidden tab, the tab Stations, and checks in words.

Entries are mirrored on the hidden tab by fixed place, as text, and every check reads the mirror: what is cut,
sorted or pasted on a visible tab breaks no formula. There is no clock in a formula: whether a caliper's check
is old is said when the class book is read; beside it stands the day by which to check again. The tab Stations
is printed for the wall: ids and given names, no readings, no family names.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain, repeat
from operator import attrgetter
from typing import TypeVar

from sheetgen.class_book.pairing import (
    ROUNDS,
    THIRD_READINGS,
    kept_apart,
    pairings_that_go,
    state_of,
    stations_plan,
)
from sheetgen.class_book.table import (
    BLOCKS,
    FIRST_ROW,
    HEADING_ROW,
    HIDDEN,
    HIDDEN_AT,
    LEFT,
    MEASURES_ONLY,
    PAIRS,
    PRINTED_SPARE,
    ROSTER,
    ZERO_LIMIT,
    Places,
    is_word,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing, Person
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import SECONDS_A_READING, Caliper
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import chain as first_that_holds
from sheetgen.workbook.cells import formula, heading_row, label
from sheetgen.workbook.layout import Cell, Tab, Value

STATIONS_FIRST_ROW = 9
_STATIONS_HEADING_ROW = 8
_STATION_HEIGHT = 24.0
"""To be read on a wall [pt]."""
_STATION_WIDTHS = {
    "station": 24, "wave": 10, "from": 12, "to": 12, "measurer": 18, "measurer_name": 24,
    "participant_name": 24,
}  # fmt: skip
_NOBODY, _NO_CALIPER, _NO_PAIR = (
    Person("", "", ""),
    Caliper("", "", 0.5, 0.0, 0.0, False),
    Pairing("", "", ""),
)

Line = Mapping[str, tuple[str, Value]]
"""Column to the formula of one line and its first result."""
Record = TypeVar("Record")


def tab_head(places: Places, key: str, counts: Line) -> list[Cell]:
    """Return what stands on top of a tab: its title, what it is for, and counts below each other."""
    texts = places.texts
    cells = [label(0, 0, texts[f"book_tab.{key}"], "title"), label(1, 0, texts[f"book_line.{key}"], "step")]
    for row, (word, (text, first)) in enumerate(counts.items(), start=2):
        cells += [label(row, 0, texts[f"book_count.{word}"], "label"), formula(row, 1, text, first, "words")]
    return cells


def calculator_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the hidden tab: entries by fixed place, as text, the codes given out, and the protocols."""
    title = places.texts["book_tab.calculator"]
    coded = [person for person in book.people if person.participant_code]
    fixed: dict[str, list[str | float]] = {
        "coded_ids": [person.student_id for person in coded],
        "given_codes": [person.participant_code for person in coded],
        "protocols": [protocol.identifier for protocol in protocols],
        "site_counts": [len(protocol.sites) for protocol in protocols],
    }
    cells = [label(0, 0, title, "title"), *heading_row(HEADING_ROW, [word for _, word in HIDDEN.values()])]
    for lines in (_people(places, book), _calipers(places, book), _pairs(places, book)):
        for row, line in enumerate(lines, start=FIRST_ROW):
            cells += [formula(row, HIDDEN_AT[key], text, first) for key, (text, first) in line.items()]
    for key, values in fixed.items():
        cells += [label(row, HIDDEN_AT[key], value) for row, value in enumerate(values, start=FIRST_ROW)]
    return Tab("calculator", title, tuple(sorted(cells, key=attrgetter("row", "column"))), hidden=True)


def _with_spare(
    places: Places, table: str, records: Sequence[Record], nothing: Record
) -> Iterable[tuple[int, Record]]:
    """Every line of a table, from 0, with its record."""
    return zip(range(places.rows[table]), chain(records, repeat(nothing)), strict=False)


def _people(places: Places, book: ClassBook) -> Iterator[Line]:
    coded_ids, codes = (places.column(key, inside=True) for key in ("coded_ids", "given_codes"))
    for index, person in _with_spare(places, "roster", book.people, _NOBODY):
        typed = {entry.key: places.typed("roster", index, entry.key) for entry in ROSTER.entries}
        own = absolute(FIRST_ROW + index, HIDDEN_AT["ids"])
        at = f"MATCH({own},{coded_ids},0)"
        is_left = is_word(places.texts, typed["status"], LEFT)
        is_only = is_word(places.texts, typed["takes_part"], MEASURES_ONLY)
        apart = f'SUBSTITUTE(SUBSTITUTE({typed["apart"]},";"," "),","," ")'
        between = "; ".join(person.apart).lower().replace(";", " ").replace(",", " ")
        name = f'=TRIM({typed["given_name"]}&" "&{typed["family_name"]})'
        code = f'=IF({own}="","",IF(ISNUMBER({at}),INDEX({codes},{at}),""))'
        state = f'=IF({is_left},"{LEFT}",IF({is_only},"{MEASURES_ONLY}",""))'
        apart = f'=IF({typed["apart"]}="",""," "&LOWER({apart})&" ")'
        yield {
            "ids": (f"={typed['student_id']}", person.student_id),
            "names": (name, full_name(person.given_name, person.family_name)),
            "codes": (code, person.participant_code),
            "given_names": (f"={typed['given_name']}", full_name(person.given_name)),
            "states": (state, state_of(person)),
            "aparts": (apart, f" {between} " if person.apart else ""),
        }


def _calipers(places: Places, book: ClassBook) -> Iterator[Line]:
    count = 0
    for index, caliper in _with_spare(places, "calipers", book.settings.calipers, _NO_CALIPER):
        count += caliper.in_service
        own, top = (absolute(row, HIDDEN_AT["issued"]) for row in (FIRST_ROW + index, FIRST_ROW))
        out = is_word(places.texts, places.typed("calipers", index, "in_service"), "no")
        issued = f'=IF({out},"",{places.typed("calipers", index, "identifier")})'
        number = f'=IF({own}="","",SUMPRODUCT(--({top}:{own}<>"")))'
        yield {
            "issued": (issued, caliper.identifier if caliper.in_service else ""),
            "issued_numbers": (number, count if caliper.in_service else ""),
        }


def _pairs(places: Places, book: ClassBook) -> Iterator[Line]:
    lines = {person.student_id: line for line, person in enumerate(book.people, start=1)}
    going = pairings_that_go(book)
    turns = dict(zip(going, stations_plan(going, 0, 0.0).lines, strict=True))
    ids, states, issued, numbers = (
        places.column(key, inside=True) for key in ("ids", "states", "issued", "issued_numbers")
    )
    for index, pair in _with_spare(places, "pairs", book.pairings, _NO_PAIR):
        row, turn = FIRST_ROW + index, turns.get(pair)
        measurer, participant, caliper = (
            places.typed("pairs", index, key) for key in ("measurer", "participant", "caliper")
        )
        key, number, station, at_1, at_2 = (
            absolute(row, HIDDEN_AT[column])
            for column in ("pair_keys", "pair_numbers", "stations", "measurers_at", "participants_at")
        )
        above = f"{absolute(row - 1, HIDDEN_AT['pair_numbers'])}+" if index else ""
        next_in_turn = f"MATCH(MOD({number}-1,MAX({numbers}))+1,{numbers},0)"
        left = f'OR(INDEX({states},{at_1})="{LEFT}",INDEX({states},{at_2})="{LEFT}")'
        up_to_here = f"{absolute(FIRST_ROW, HIDDEN_AT['stations'])}:{station}"
        found_1, found_2 = f"MATCH({measurer},{ids},0)", f"MATCH({participant},{ids},0)"
        pair_key = f'=IF({measurer}&{participant}="","",{measurer}&"/"&{participant})'
        own_station = (
            f'=IF(OR({at_1}=0,{at_2}=0),"",IF({left},"",IF({caliper}<>"",{caliper},'
            f'IF(MAX({numbers})=0,"",INDEX({issued},{next_in_turn})))))'
        )
        wave = f'=IF({station}="","",SUMPRODUCT(--({up_to_here}={station})))'
        yield {
            "pair_keys": (pair_key, f"{pair.measurer}/{pair.participant}" if pair.measurer else ""),
            "pair_numbers": (f'={above}IF({key}="",0,1)', min(index + 1, len(book.pairings))),
            "measurers_at": (
                f'=IF({measurer}="",0,IF(ISNUMBER({found_1}),{found_1},0))', lines.get(pair.measurer, 0),
            ),
            "participants_at": (
                f'=IF({participant}="",0,IF(ISNUMBER({found_2}),{found_2},0))',
                lines.get(pair.participant, 0),
            ),
            "stations": (own_station, turn.station if turn else ""),
            "waves": (wave, turn.wave if turn else ""),
        }  # fmt: skip


def stations_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the tab Stations: how many waves and minutes it takes, then one line a pair in their order."""
    sites = {protocol.identifier: len(protocol.sites) for protocol in protocols}
    readings = sites.get(book.settings.protocol_id, 0)
    going = pairings_that_go(book)
    plan = stations_plan(going, readings, book.seconds_a_reading)
    summary: Line = {
        "in_service": (places.filled("issued"), sum(each.in_service for each in book.settings.calipers)),
        "pairs": (places.filled("stations"), len(going)),
        "waves": (f"=MAX({places.column('waves')})", plan.waves),
        "minutes_a_wave": (_minutes(places, readings), plan.minutes_a_wave),
        "minutes": (f"={absolute(4, 1)}*{absolute(5, 1)}", plan.minutes),
    }
    headings = [places.texts[f"book_station.{name}"] for name in _STATION_WIDTHS]
    cells = [*tab_head(places, "stations", summary), *heading_row(_STATIONS_HEADING_ROW, headings)]
    given = {person.student_id: full_name(person.given_name) for person in book.people}
    turns = dict(zip(going, plan.lines, strict=True))
    ids, names, minutes = places.column("ids"), places.column("given_names"), absolute(5, 1)
    for index, pair in _with_spare(places, "pairs", book.pairings, _NO_PAIR):
        station, wave, measurer_at, participant_at = (
            places.hidden(key, index) for key in ("stations", "waves", "measurers_at", "participants_at")
        )
        shown = (
            wave, f"({wave}-1)*{minutes}", f"{wave}*{minutes}", f"INDEX({ids},{measurer_at})",
            f"INDEX({names},{measurer_at})", f"INDEX({names},{participant_at})",
        )  # fmt: skip
        formulas = (f"={station}", *(f'=IF({station}="","",{text})' for text in shown))
        firsts: Iterable[Value] = repeat("")
        if pair in turns:
            turn, people = turns[pair], (pair.measurer, given[pair.measurer], given[pair.participant])
            firsts = (turn.station, turn.wave, turn.from_minute, turn.to_minute, *people)
        cells += [
            formula(STATIONS_FIRST_ROW + index, column, text, first, "words")
            for column, (text, first) in enumerate(zip(formulas, firsts, strict=False))
        ]
    rows = range(STATIONS_FIRST_ROW, STATIONS_FIRST_ROW + places.rows["pairs"])
    return Tab(
        "stations",
        places.texts["book_tab.stations"],
        tuple(cells),
        tuple(_STATION_WIDTHS.values()),
        heights=((_STATIONS_HEADING_ROW, 32.0), *((row, _STATION_HEIGHT) for row in rows)),
        freeze=(STATIONS_FIRST_ROW, 0),
        first_entry=(0, 0),
        repeat=_STATIONS_HEADING_ROW,
        printed_rows=STATIONS_FIRST_ROW + len(book.pairings) + PRINTED_SPARE,
    )


def _minutes(places: Places, readings: int) -> str:
    """The formula of minutes_of_a_wave; readings where the tab Class names no protocol."""
    seconds = places.setting("seconds_a_reading")
    at = f"MATCH(TRIM({places.setting('protocol')}),{places.column('protocols')},0)"
    taken = f"IF(ISNUMBER({at}),INDEX({places.column('site_counts')},{at}),{readings})"
    lasting = f"IF(ISNUMBER({seconds}),{seconds},{SECONDS_A_READING:g})"
    return f"=ROUNDUP(ROUND({taken}*{ROUNDS}*{lasting}*{THIRD_READINGS:g}/60,6),0)"


def full_name(*names: str) -> str:
    """Return a name as TRIM leaves it."""
    return " ".join(" ".join(names).split())


def roster_lines(places: Places, book: ClassBook) -> Iterator[Line]:
    """Yield what stands beside the entries of the tab Roster."""
    for index, person in _with_spare(places, "roster", book.people, _NOBODY):
        code = f"={places.nth('codes', index)}", person.participant_code
        yield {"participant_code": code, "check": (roster_check(places, index), "")}


def roster_check(places: Places, index: int) -> str:
    """Return the formula of what is wrong with a line of the roster."""
    ids, own = places.column("ids"), places.nth("ids", index)
    rest = "&".join(places.typed("roster", index, key) for key in ("given_name", "family_name", "email"))
    partner = places.typed("roster", index, "partner")
    missing, twice, unknown = _words(places, "id_missing", "id_twice", "partner_unknown")
    stray = f'IF({partner}="","",IF(OR({partner}={own},ISNA(MATCH({partner},{ids},0))),{unknown},""))'
    return f'=IF({own}="",IF({rest}="","",{missing}),IF(SUMPRODUCT(--({ids}={own}))>1,{twice},{stray}))'


def caliper_lines(places: Places, book: ClassBook) -> Iterator[Line]:
    """Yield what stands beside the entries of the tab Calipers."""
    checks = {check.identifier: check for check in book.checks}
    for index, caliper in _with_spare(places, "calipers", book.settings.calipers, _NO_CALIPER):
        check = checks.get(caliper.identifier, CaliperCheck(""))
        said = first_caliper_check(places.texts, caliper, check)
        again = check_again(places, index), check_again_by(check)
        yield {"again": again, "check": (caliper_check(places, index), said)}


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


def caliper_check(places: Places, index: int) -> str:
    """Return the formula of what is wrong with a caliper in service."""
    zero, step, day = (places.value("calipers", index, key) for key in ("zero", "division", "checked_on"))
    reads = {block: places.value("calipers", index, f"block_{block:g}") for block in BLOCKS}
    off = "+".join(
        f"IF(ISNUMBER({at}),IF(ROUND(ABS({at}-N({zero})-{block:g}),2)>{step},1,0),0)"
        for block, at in reads.items()
    )
    tests = (
        f'{places.hidden("issued", index)}=""', f"ROUND(ABS(N({zero})),2)>{ZERO_LIMIT:g}", f"{off}>0",
        f'{day}=""',
    )  # fmt: skip
    said = ('""', *_words(places, "zero_large", "block_off", "unchecked"))
    return f"={first_that_holds(list(zip(tests, said, strict=True)))}"


def check_again(places: Places, index: int) -> str:
    """Return the formula of the day by which to check a caliper again: from a day typed as 2027-03-31."""
    day = places.typed("calipers", index, "checked_on")
    year = f"VALUE(LEFT({day},4))"
    return f'=IF(LEN({day})=10,IF(ISNUMBER({year}),({year}+1)&MID({day},5,6),""),"")'


def pair_lines(places: Places, book: ClassBook) -> Iterator[Line]:
    """Yield what stands beside the entries of the tab Pairs: the names that ids stand for, and the check."""
    names = {person.student_id: full_name(person.given_name, person.family_name) for person in book.people}
    said = first_pair_check(places.texts, book)
    for index, pair in _with_spare(places, "pairs", book.pairings, _NO_PAIR):
        line: dict[str, tuple[str, Value]] = {"check": (pair_check(places, index), said.get(pair, ""))}
        for key, person in (("measurer", pair.measurer), ("participant", pair.participant)):
            found = places.name_of(places.typed("pairs", index, key))
            line[f"{key}_name"] = f"={found}", names.get(person, "")
        yield line


def first_pair_check(texts: Mapping[str, str], book: ClassBook) -> dict[Pairing, str]:
    """Return what the live check says of each pairing of a book without errors."""
    apart = kept_apart(book.people)
    said = {
        pair: texts["book_check.apart"] if pair.participant in apart.get(pair.measurer, ()) else ""
        for pair in pairings_that_go(book)
    }
    return {pair: said.get(pair, texts["book_check.left"]) for pair in book.pairings}


def pair_check(places: Places, index: int) -> str:
    """Return the formula of what is wrong with a line of the pairs: the first of it."""
    measurer, participant, caliper, protocol, spare = (
        places.typed("pairs", index, entry.key) for entry in PAIRS.entries
    )
    keys, issued, known, states, aparts = (
        places.column(key) for key in ("pair_keys", "issued", "protocols", "states", "aparts")
    )
    at_1, at_2 = (places.hidden(key, index) for key in ("measurers_at", "participants_at"))
    state_1, state_2 = f"INDEX({states},{at_1})", f"INDEX({states},{at_2})"
    faults = {
        "measurer_unknown": f"{at_1}=0",
        "participant_unknown": f"{at_2}=0",
        "self": f"{measurer}={participant}",
        "twice": f"MATCH({places.nth('pair_keys', index)},{keys},0)<{index + 1}",
        "left": f'OR({state_1}="{LEFT}",{state_2}="{LEFT}")',
        "measures_only": f'{state_2}="{MEASURES_ONLY}"',
        "caliper_unknown": f'AND({caliper}<>"",NOT(ISNUMBER(MATCH({caliper},{issued},0))))',
        "protocol_unknown": f'AND({protocol}<>"",NOT(ISNUMBER(MATCH({protocol},{known},0))))',
        "spare_malformed": f'AND({spare}<>"",LEN(SUBSTITUTE(SUBSTITUTE({spare},"-","")," ",""))<>8)',
        "apart": (
            f'OR(ISNUMBER(FIND(" "&LOWER({participant})&" ",INDEX({aparts},{at_1}))),'
            f'ISNUMBER(FIND(" "&LOWER({measurer})&" ",INDEX({aparts},{at_2}))))'
        ),
    }
    text = first_that_holds(list(zip(faults.values(), _words(places, *faults), strict=True)))
    return f'=IF({measurer}&{participant}&{caliper}&{protocol}&{spare}="","",{text})'


def _words(places: Places, *keys: str) -> list[str]:
    return [quoted(places.texts[f"book_check.{key}"]) for key in keys]
