"""The hidden tab of the class book, and the addresses that the visible tabs reach it by.

Entries are mirrored here by fixed place, as text, and every check reads the mirror: what is cut, sorted or
pasted on a visible tab breaks no formula.
"""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import absolute, in_tab
from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import formula, heading_row, label
from sheetgen.layout.class_book_plan import stations_plan
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    CHECK_COLUMNS,
    FIRST_ROW,
    HEADING_ROW,
    LEFT,
    PAIR_AT,
    ROSTER_COLUMNS,
    SETTINGS,
    TAKES_PART,
    WISH_COLUMNS,
    YES_NO,
)
from sheetgen.model.layout import Cell, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook, Person

__all__ = [
    "APARTS",
    "CODES",
    "GIVEN_NAMES",
    "IDS",
    "ISSUED",
    "MEASURERS_AT",
    "PAIR_KEYS",
    "PAIR_WIDTH",
    "PARTICIPANTS_AT",
    "PROTOCOLS",
    "SITE_COUNTS",
    "STATES",
    "STATIONS",
    "WAVES",
    "block",
    "calculated",
    "calculator_tab",
    "full_name",
    "is_word",
    "line_in_calculator",
    "looked_up",
    "mirrored",
    "nth",
    "place_in_table",
    "setting",
    "state_of",
]

IDS, NAMES, CODES, CODED_IDS, GIVEN_CODES, ISSUED, PAIR_KEYS, PROTOCOLS = range(8)
"""Columns of the hidden tab. The codes given out are read back from theirs, so these stay where they are."""
GIVEN_NAMES, STATES, APARTS, ISSUED_NUMBERS, PAIR_NUMBERS, MEASURERS_AT, PARTICIPANTS_AT = range(8, 15)
"""Of a person: given name; `left`, `measures-only` or nothing; the ids to be kept apart from, each between
blanks. Of a caliper in service: which it is of those. Of a pair: which of the lines it is, and on which line
of the roster its people stand, 0 where on none."""
STATIONS, WAVES, SITE_COUNTS = range(15, 18)
"""Of a pair: its caliper, the next in turn where none is named, nothing where someone left; its turn there.
Of a protocol: how many sites."""

PAIR_WIDTH = 7
"""Five entries with a name beside two of them."""

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]
"""Tab key to how many lines its table has."""

_WIDTHS = {
    "roster": len(ROSTER_COLUMNS) + len(WISH_COLUMNS),
    "calipers": len(CALIPER_COLUMNS) + len(CHECK_COLUMNS),
    "pairs": PAIR_WIDTH,
}
_HEADINGS = (
    "id", "name", "code", "coded id", "coded", "in service", "pair", "protocol", "given name", "state",
    "apart", "which in service", "which pair", "measurer at", "participant at", "station", "wave", "sites",
)  # fmt: skip


def calculator_tab(
    texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts
) -> Tab:
    """Return the hidden tab: entries by fixed place, as text, the codes given out, and the protocols."""
    cells = [
        *_of_people(texts, book, row_counts),
        *_of_calipers(texts, book, row_counts),
        *_of_pairs(texts, book, row_counts),
    ]
    for index, protocol in enumerate(protocols):
        row = FIRST_ROW + index
        cells.append(label(row, PROTOCOLS, protocol.identifier, name=f"protocol_{index + 1}"))
        cells.append(label(row, SITE_COUNTS, len(protocol.sites)))
    headings = heading_row(HEADING_ROW, list(_HEADINGS))
    title = label(0, 0, texts["book_tab.calculator"], "title")
    return Tab(
        "calculator",
        texts["book_tab.calculator"],
        tuple(sorted([title, *headings, *cells], key=lambda cell: (cell.row, cell.column))),
        hidden=True,
    )


def _of_people(texts: Texts, book: ClassBook, row_counts: RowCounts) -> list[Cell]:
    cells: list[Cell] = []
    coded = [person for person in book.people if person.participant_code]
    columns = (*ROSTER_COLUMNS, *WISH_COLUMNS)
    for index in range(row_counts["roster"]):
        row = FIRST_ROW + index
        person = book.people[index] if index < len(book.people) else Person("", "", "")
        entry = {
            name: mirrored(texts, row_counts, "roster", index, column) for column, name in enumerate(columns)
        }
        own = absolute(row, IDS)
        coded_ids, codes = (block(row_counts["roster"], column) for column in (CODED_IDS, GIVEN_CODES))
        at = f"MATCH({own},{coded_ids},0)"
        code = f'=IF({own}="","",IF(ISNUMBER({at}),INDEX({codes},{at}),""))'
        left, only = LEFT, TAKES_PART[1]
        is_left, is_only = is_word(texts, entry["status"], left), is_word(texts, entry["takes_part"], only)
        state = f'=IF({is_left},"{left}",IF({is_only},"{only}",""))'
        apart = f'SUBSTITUTE(SUBSTITUTE({entry["apart"]},";"," "),","," ")'
        cells += [
            formula(row, IDS, f"={entry['student_id']}", person.student_id),
            formula(row, NAMES, f'=TRIM({entry["given_name"]}&" "&{entry["family_name"]})',
                    full_name(person.given_name, person.family_name)),
            formula(row, CODES, code, person.participant_code),
            formula(row, GIVEN_NAMES, f"={entry['given_name']}", " ".join(person.given_name.split())),
            formula(row, STATES, state, state_of(person)),
            formula(row, APARTS, f'=IF({entry["apart"]}="",""," "&LOWER({apart})&" ")', _apart_text(person)),
        ]  # fmt: skip
        if index < len(coded):
            cells.append(label(row, CODED_IDS, coded[index].student_id, name=f"coded_{index + 1}_student_id"))
            cells.append(
                label(row, GIVEN_CODES, coded[index].participant_code, name=f"coded_{index + 1}_code")
            )
    return cells


def state_of(person: Person) -> str:
    """Return what keeps a person from being measured: `left`, `measures-only`, or nothing."""
    if person.status:
        return person.status
    return person.takes_part if person.takes_part == TAKES_PART[1] else ""


def _apart_text(person: Person) -> str:
    between = "; ".join(person.apart).lower().replace(";", " ").replace(",", " ")
    return f" {between} " if person.apart else ""


def _of_calipers(texts: Texts, book: ClassBook, row_counts: RowCounts) -> list[Cell]:
    cells: list[Cell] = []
    calipers = book.settings.calipers
    number = 0
    for index in range(row_counts["calipers"]):
        row = FIRST_ROW + index
        caliper = calipers[index] if index < len(calipers) else None
        identifier = mirrored(texts, row_counts, "calipers", index, 0)
        state = mirrored(texts, row_counts, "calipers", index, CALIPER_COLUMNS.index("in_service"))
        issued = caliper.identifier if caliper is not None and caliper.in_service else ""
        number += bool(issued)
        own = absolute(row, ISSUED)
        count = f'=IF({own}="","",SUMPRODUCT(--({absolute(FIRST_ROW, ISSUED)}:{own}<>"")))'
        cells += [
            formula(row, ISSUED, f'=IF({is_word(texts, state, YES_NO[1])},"",{identifier})', issued),
            formula(row, ISSUED_NUMBERS, count, number if issued else ""),
        ]
    return cells


def _of_pairs(texts: Texts, book: ClassBook, row_counts: RowCounts) -> list[Cell]:
    cells: list[Cell] = []
    people = {person.student_id: (at, state_of(person)) for at, person in enumerate(book.people, start=1)}
    going = [
        pairing
        for pairing in book.pairings
        if LEFT not in (people[pairing.measurer][1], people[pairing.participant][1])
    ]
    turns = dict(zip(going, stations_plan(going, 0, 0.0).lines, strict=True))
    ids, states = (block(row_counts["roster"], column) for column in (IDS, STATES))
    issued, numbers = (block(row_counts["calipers"], column) for column in (ISSUED, ISSUED_NUMBERS))
    for index in range(row_counts["pairs"]):
        row = FIRST_ROW + index
        pairing = book.pairings[index] if index < len(book.pairings) else None
        measurer, participant, caliper = (
            mirrored(texts, row_counts, "pairs", index, PAIR_AT[name])
            for name in ("measurer", "participant", "caliper")
        )
        own_key, own_number, own_station, at_1, at_2 = (
            absolute(row, column)
            for column in (PAIR_KEYS, PAIR_NUMBERS, STATIONS, MEASURERS_AT, PARTICIPANTS_AT)
        )
        above = f"{absolute(row - 1, PAIR_NUMBERS)}+" if index else ""
        turn = f"MATCH(MOD({own_number}-1,MAX({numbers}))+1,{numbers},0)"
        left = f'OR(INDEX({states},{at_1})="{LEFT}",INDEX({states},{at_2})="{LEFT}")'
        station = (
            f'=IF(OR({at_1}=0,{at_2}=0),"",IF({left},"",IF({caliper}<>"",{caliper},'
            f'IF(MAX({numbers})=0,"",INDEX({issued},{turn})))))'
        )
        up_to_here = f"{absolute(FIRST_ROW, STATIONS)}:{own_station}"
        wave = f'=IF({own_station}="","",SUMPRODUCT(--({up_to_here}={own_station})))'
        found = [f"MATCH({one},{ids},0)" for one in (measurer, participant)]
        line = turns.get(pairing) if pairing is not None else None
        cells += [
            formula(row, PAIR_KEYS, f'=IF({measurer}&{participant}="","",{measurer}&"/"&{participant})',
                    f"{pairing.measurer}/{pairing.participant}" if pairing else ""),
            formula(row, PAIR_NUMBERS, f'={above}IF({own_key}="",0,1)', min(index + 1, len(book.pairings))),
            formula(row, MEASURERS_AT, f'=IF({measurer}="",0,IF(ISNUMBER({found[0]}),{found[0]},0))',
                    people[pairing.measurer][0] if pairing else 0),
            formula(row, PARTICIPANTS_AT, f'=IF({participant}="",0,IF(ISNUMBER({found[1]}),{found[1]},0))',
                    people[pairing.participant][0] if pairing else 0),
            formula(row, STATIONS, station, line.station if line else ""),
            formula(row, WAVES, wave, line.wave if line else ""),
        ]  # fmt: skip
    return cells


def is_word(texts: Texts, typed: str, code: str) -> str:
    """Return a formula that holds where a text is a word of a list, as the list shows it or the code word."""
    shown = quoted(texts[f"book_word.{code}"])
    plain = f'{typed}="{code}"'
    return plain if shown == f'"{code}"' else f"OR({typed}={shown},{plain})"


def full_name(given: str, family: str) -> str:
    """Return a name as TRIM leaves it."""
    return " ".join(f"{given} {family}".split())


def block(rows: int, column: int, last_column: int | None = None) -> str:
    """Return the address of the lines of a table, one column or several."""
    last = column if last_column is None else last_column
    return f"{absolute(FIRST_ROW, column)}:{absolute(FIRST_ROW + rows - 1, last)}"


def calculated(texts: Texts, row_counts: RowCounts, column: int) -> str:
    """Return the address of a column of the hidden tab."""
    of_pairs = (PAIR_KEYS, PAIR_NUMBERS, MEASURERS_AT, PARTICIPANTS_AT, STATIONS, WAVES)
    key = {ISSUED: "calipers", PROTOCOLS: "protocols", SITE_COUNTS: "protocols"}.get(
        column, "pairs" if column in of_pairs else "roster"
    )
    return in_tab(texts["book_tab.calculator"], block(row_counts[key], column))


def line_in_calculator(texts: Texts, column: int, index: int) -> str:
    """Return the address of a line, from 0, of a column of the hidden tab."""
    return in_tab(texts["book_tab.calculator"], absolute(FIRST_ROW + index, column))


def setting(texts: Texts, name: str) -> str:
    """Return a formula for a setting of the tab Class; a setting cut from there changes nothing."""
    entries = in_tab(texts["book_tab.class"], block(len(SETTINGS), 1))
    return f"INDEX({entries},{SETTINGS.index(name) + 1})"


def nth(column: str, index: int) -> str:
    """Return a formula for a line of a column, from 0."""
    return f"INDEX({column},{index + 1})"


def mirrored(texts: Texts, row_counts: RowCounts, key: str, index: int, column: int) -> str:
    """Return a formula for what stands at a place of a table, as text; entries cut from there change nothing.

    index : line of the table, column : of its tab, both from 0.
    """
    return f"TRIM({place_in_table(texts, row_counts, key, index, column)})"


def place_in_table(texts: Texts, row_counts: RowCounts, key: str, index: int, column: int) -> str:
    """Return a formula for what stands at a place of a table, a number as a number."""
    table = in_tab(texts[f"book_tab.{key}"], block(row_counts[key], 0, _WIDTHS[key] - 1))
    return f"INDEX({table},{index + 1},{column + 1})"


def looked_up(texts: Texts, row_counts: RowCounts, identifier: str) -> str:
    """Return a formula for the name that an id stands for; empty where it stands for nobody."""
    ids, names = (calculated(texts, row_counts, column) for column in (IDS, NAMES))
    at = f"MATCH({identifier},{ids},0)"
    return f'IF({identifier}="","",IF(ISNUMBER({at}),INDEX({names},{at}),""))'
