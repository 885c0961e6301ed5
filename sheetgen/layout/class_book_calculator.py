"""The hidden tab of the class book, and the addresses that the visible tabs reach it by.

Entries are mirrored here by fixed place, as text, and every check reads the mirror: what is cut, sorted or
pasted on a visible tab breaks no formula.
"""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import absolute, in_tab
from sheetgen.layout.cells import formula, heading_row, label
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    FIRST_ROW,
    HEADING_ROW,
    ROSTER_COLUMNS,
    YES_NO,
)
from sheetgen.model.layout import Cell, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook

__all__ = [
    "CODES",
    "IDS",
    "ISSUED",
    "PAIR_KEYS",
    "PAIR_WIDTH",
    "PROTOCOLS",
    "block",
    "calculated",
    "calculator_tab",
    "full_name",
    "looked_up",
    "mirrored",
    "nth",
]

IDS, NAMES, CODES, CODED_IDS, GIVEN_CODES, ISSUED, PAIR_KEYS, PROTOCOLS = range(8)
"""Columns of the hidden tab."""

PAIR_WIDTH = 6
"""Four entries with a name beside two of them."""

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]
"""Tab key to how many lines its table has."""

_WIDTHS = {"roster": len(ROSTER_COLUMNS), "calipers": len(CALIPER_COLUMNS), "pairs": PAIR_WIDTH}


def calculator_tab(
    texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts
) -> Tab:
    """Return the hidden tab: entries by fixed place, as text, the codes given out, and the protocols."""
    cells: list[Cell] = []
    people, calipers = book.people, book.settings.calipers
    coded = [person for person in people if person.participant_code]
    for index in range(row_counts["roster"]):
        row = FIRST_ROW + index
        person = people[index] if index < len(people) else None
        given, family = (mirrored(texts, row_counts, "roster", index, column) for column in (1, 2))
        own = absolute(row, IDS)
        coded_ids, codes = (block(row_counts["roster"], column) for column in (CODED_IDS, GIVEN_CODES))
        at = f"MATCH({own},{coded_ids},0)"
        code = f'=IF({own}="","",IF(ISNUMBER({at}),INDEX({codes},{at}),""))'
        cells += [
            formula(row, IDS, f"={mirrored(texts, row_counts, 'roster', index, 0)}",
                    person.student_id if person else ""),
            formula(row, NAMES, f'=TRIM({given}&" "&{family})',
                    full_name(person.given_name, person.family_name) if person else ""),
            formula(row, CODES, code, person.participant_code if person else ""),
        ]  # fmt: skip
        if index < len(coded):
            cells.append(label(row, CODED_IDS, coded[index].student_id, name=f"coded_{index + 1}_student_id"))
            cells.append(
                label(row, GIVEN_CODES, coded[index].participant_code, name=f"coded_{index + 1}_code")
            )
    for index in range(row_counts["calipers"]):
        caliper = calipers[index] if index < len(calipers) else None
        identifier = mirrored(texts, row_counts, "calipers", index, 0)
        state = mirrored(texts, row_counts, "calipers", index, len(CALIPER_COLUMNS) - 1)
        issued = caliper.identifier if caliper is not None and caliper.in_service else ""
        text = f'=IF({state}="{YES_NO[1]}","",{identifier})'
        cells.append(formula(FIRST_ROW + index, ISSUED, text, issued))
    for index in range(row_counts["pairs"]):
        pairing = book.pairings[index] if index < len(book.pairings) else None
        measurer, participant = (mirrored(texts, row_counts, "pairs", index, column) for column in (0, 2))
        text = f'=IF({measurer}&{participant}="","",{measurer}&"/"&{participant})'
        key = f"{pairing.measurer}/{pairing.participant}" if pairing is not None else ""
        cells.append(formula(FIRST_ROW + index, PAIR_KEYS, text, key))
    cells += [
        label(FIRST_ROW + index, PROTOCOLS, protocol.identifier, name=f"protocol_{index + 1}")
        for index, protocol in enumerate(protocols)
    ]
    words = ["id", "name", "code", "coded id", "coded", "in service", "pair", "protocol"]
    headings = heading_row(HEADING_ROW, words)
    title = label(0, 0, texts["book_tab.calculator"], "title")
    return Tab(
        "calculator",
        texts["book_tab.calculator"],
        tuple(sorted([title, *headings, *cells], key=lambda cell: (cell.row, cell.column))),
        hidden=True,
    )


def full_name(given: str, family: str) -> str:
    """Return a name as TRIM leaves it."""
    return " ".join(f"{given} {family}".split())


def block(rows: int, column: int, last_column: int | None = None) -> str:
    """Return the address of the lines of a table, one column or several."""
    last = column if last_column is None else last_column
    return f"{absolute(FIRST_ROW, column)}:{absolute(FIRST_ROW + rows - 1, last)}"


def calculated(texts: Texts, row_counts: RowCounts, column: int) -> str:
    """Return the address of a column of the hidden tab."""
    key = {ISSUED: "calipers", PAIR_KEYS: "pairs", PROTOCOLS: "protocols"}.get(column, "roster")
    return in_tab(texts["book_tab.calculator"], block(row_counts[key], column))


def nth(column: str, index: int) -> str:
    """Return a formula for a line of a column, from 0."""
    return f"INDEX({column},{index + 1})"


def mirrored(texts: Texts, row_counts: RowCounts, key: str, index: int, column: int) -> str:
    """Return a formula for what stands at a place of a table, as text; entries cut from there change nothing.

    index : line of the table, column : of its tab, both from 0.
    """
    table = in_tab(texts[f"book_tab.{key}"], block(row_counts[key], 0, _WIDTHS[key] - 1))
    return f"TRIM(INDEX({table},{index + 1},{column + 1}))"


def looked_up(texts: Texts, row_counts: RowCounts, identifier: str) -> str:
    """Return a formula for the name that an id stands for; empty where it stands for nobody."""
    ids, names = (calculated(texts, row_counts, column) for column in (IDS, NAMES))
    at = f"MATCH({identifier},{ids},0)"
    return f'IF({identifier}="","",IF(ISNUMBER({at}),INDEX({names},{at}),""))'
