"""The hidden tab of the class book, and the live checks in words that stand on its visible tabs.

Entries are mirrored here by fixed place, as text, and every check reads the mirror: what is cut, sorted or
pasted on a visible tab breaks no formula. There is no clock in a formula: whether a caliper's check is old is
said when the class book is read; beside it stands the day by which to check again.
"""

from collections.abc import Iterator, Mapping, Sequence

from sheetgen.class_book.pairing import kept_apart
from sheetgen.class_book.stations import pairings_that_go, stations_plan
from sheetgen.class_book.table import (
    BLOCKS,
    FIRST_ROW,
    HEADING_ROW,
    HIDDEN,
    HIDDEN_AT,
    LEFT,
    MEASURES_ONLY,
    PAIRS,
    ROSTER,
    ZERO_LIMIT,
    Places,
    is_word,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing, Person
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import formula, heading_row, label
from sheetgen.workbook.layout import Tab, Value

Line = Mapping[str, tuple[str, Value]]
"""Column of the hidden tab to the formula of one line and its first result."""


def calculator_tab(places: Places, book: ClassBook, protocols: Sequence[Protocol]) -> Tab:
    """Return the hidden tab: entries by fixed place, as text, the codes given out, and the protocols."""
    title = places.texts["book_tab.calculator"]
    cells = [label(0, 0, title, "title"), *heading_row(HEADING_ROW, [word for _, word in HIDDEN.values()])]
    for lines in (_people(places, book), _calipers(places, book), _pairs(places, book)):
        for row, line in enumerate(lines, start=FIRST_ROW):
            cells += [formula(row, HIDDEN_AT[key], text, first) for key, (text, first) in line.items()]
    coded = [person for person in book.people if person.participant_code]
    for number, person in enumerate(coded, start=1):
        row, name = FIRST_ROW + number - 1, f"coded_{number}"
        cells.append(label(row, HIDDEN_AT["coded_ids"], person.student_id, name=f"{name}_student_id"))
        cells.append(label(row, HIDDEN_AT["given_codes"], person.participant_code, name=f"{name}_code"))
    for number, protocol in enumerate(protocols, start=1):
        row = FIRST_ROW + number - 1
        cells.append(label(row, HIDDEN_AT["protocols"], protocol.identifier, name=f"protocol_{number}"))
        cells.append(label(row, HIDDEN_AT["site_counts"], len(protocol.sites)))
    cells.sort(key=lambda cell: (cell.row, cell.column))
    return Tab("calculator", title, tuple(cells), hidden=True)


def _people(places: Places, book: ClassBook) -> Iterator[Line]:
    for index in range(places.rows["roster"]):
        person = book.people[index] if index < len(book.people) else Person("", "", "")
        typed = {entry.key: places.typed("roster", index, entry.key) for entry in ROSTER.entries}
        own = absolute(FIRST_ROW + index, HIDDEN_AT["ids"])
        coded_ids, codes = (places.column(key, inside=True) for key in ("coded_ids", "given_codes"))
        at = f"MATCH({own},{coded_ids},0)"
        is_left = is_word(places.texts, typed["status"], LEFT)
        is_only = is_word(places.texts, typed["takes_part"], MEASURES_ONLY)
        apart = f'SUBSTITUTE(SUBSTITUTE({typed["apart"]},";"," "),","," ")'
        between = "; ".join(person.apart).lower().replace(";", " ").replace(",", " ")
        yield {
            "ids": (f"={typed['student_id']}", person.student_id),
            "names": (
                f'=TRIM({typed["given_name"]}&" "&{typed["family_name"]})',
                full_name(person.given_name, person.family_name),
            ),
            "codes": (
                f'=IF({own}="","",IF(ISNUMBER({at}),INDEX({codes},{at}),""))', person.participant_code,
            ),
            "given_names": (f"={typed['given_name']}", " ".join(person.given_name.split())),
            "states": (
                f'=IF({is_left},"{LEFT}",IF({is_only},"{MEASURES_ONLY}",""))', state_of(person),
            ),
            "aparts": (
                f'=IF({typed["apart"]}="",""," "&LOWER({apart})&" ")', f" {between} " if person.apart else "",
            ),
        }  # fmt: skip


def _calipers(places: Places, book: ClassBook) -> Iterator[Line]:
    calipers = book.settings.calipers
    issued = [caliper.identifier if caliper.in_service else "" for caliper in calipers]
    for index in range(places.rows["calipers"]):
        first = issued[index] if index < len(issued) else ""
        number = sum(map(bool, issued[: index + 1])) if first else ""
        own, top = (absolute(row, HIDDEN_AT["issued"]) for row in (FIRST_ROW + index, FIRST_ROW))
        out = is_word(places.texts, places.typed("calipers", index, "in_service"), "no")
        yield {
            "issued": (f'=IF({out},"",{places.typed("calipers", index, "identifier")})', first),
            "issued_numbers": (f'=IF({own}="","",SUMPRODUCT(--({top}:{own}<>"")))', number),
        }


def _pairs(places: Places, book: ClassBook) -> Iterator[Line]:
    lines = {person.student_id: line for line, person in enumerate(book.people, start=1)}
    going = pairings_that_go(book)
    turns = dict(zip(going, stations_plan(going, 0, 0.0).lines, strict=True))
    ids, states, issued, numbers = (
        places.column(key, inside=True) for key in ("ids", "states", "issued", "issued_numbers")
    )
    for index in range(places.rows["pairs"]):
        row = FIRST_ROW + index
        pairing = book.pairings[index] if index < len(book.pairings) else None
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
        turn = turns.get(pairing) if pairing is not None else None
        yield {
            "pair_keys": (
                f'=IF({measurer}&{participant}="","",{measurer}&"/"&{participant})',
                f"{pairing.measurer}/{pairing.participant}" if pairing else "",
            ),
            "pair_numbers": (f'={above}IF({key}="",0,1)', min(index + 1, len(book.pairings))),
            "measurers_at": (
                f'=IF({measurer}="",0,IF(ISNUMBER({found_1}),{found_1},0))',
                lines[pairing.measurer] if pairing else 0,
            ),
            "participants_at": (
                f'=IF({participant}="",0,IF(ISNUMBER({found_2}),{found_2},0))',
                lines[pairing.participant] if pairing else 0,
            ),
            "stations": (
                f'=IF(OR({at_1}=0,{at_2}=0),"",IF({left},"",IF({caliper}<>"",{caliper},'
                f'IF(MAX({numbers})=0,"",INDEX({issued},{next_in_turn})))))',
                turn.station if turn else "",
            ),
            "waves": (
                f'=IF({station}="","",SUMPRODUCT(--({up_to_here}={station})))', turn.wave if turn else "",
            ),
        }  # fmt: skip


def state_of(person: Person) -> str:
    """Return what keeps a person from being measured: `left`, `measures-only`, or nothing."""
    return person.status or (MEASURES_ONLY if person.takes_part == MEASURES_ONLY else "")


def full_name(given: str, family: str) -> str:
    """Return a name as TRIM leaves it."""
    return " ".join(f"{given} {family}".split())


def roster_check(places: Places, index: int) -> str:
    """Return the formula of what is wrong with a line of the roster."""
    ids, own = places.column("ids"), places.nth("ids", index)
    rest = "&".join(places.typed("roster", index, key) for key in ("given_name", "family_name", "email"))
    partner = places.typed("roster", index, "partner")
    missing, twice, unknown = _words(places, "id_missing", "id_twice", "partner_unknown")
    stray = f'IF({partner}="","",IF(OR({partner}={own},ISNA(MATCH({partner},{ids},0))),{unknown},""))'
    return f'=IF({own}="",IF({rest}="","",{missing}),IF(SUMPRODUCT(--({ids}={own}))>1,{twice},{stray}))'


def zero_is_large(caliper: Caliper) -> bool:
    """Tell whether a caliper's zero leaves it for practice only."""
    return abs(hundredths(caliper.zero)) > hundredths(ZERO_LIMIT)


def blocks_off(caliper: Caliper, check: CaliperCheck) -> tuple[tuple[float, float], ...]:
    """Return the blocks on which a caliper reads wrong by more than one step of its scale, zero deducted.

    Returns
    -------
    Block and reading [mm], as they were read.
    """
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
    if not caliper.in_service:
        return ""
    if zero_is_large(caliper):
        return texts["book_check.zero_large"]
    if blocks_off(caliper, check):
        return texts["book_check.block_off"]
    return "" if check.checked_on else texts["book_check.unchecked"]


def caliper_check(places: Places, index: int) -> str:
    """Return the formula of what is wrong with a caliper in service."""
    zero, step, day = (places.value("calipers", index, key) for key in ("zero", "division", "checked_on"))
    reads = {block: places.value("calipers", index, f"block_{block:g}") for block in BLOCKS}
    off = "+".join(
        f"IF(ISNUMBER({at}),IF(ROUND(ABS({at}-N({zero})-{block:g}),2)>{step},1,0),0)"
        for block, at in reads.items()
    )
    zero_large, block_off, unchecked = _words(places, "zero_large", "block_off", "unchecked")
    rest = f'IF({off}>0,{block_off},IF({day}="",{unchecked},""))'
    own = places.hidden("issued", index)
    return f'=IF({own}="","",IF(ROUND(ABS(N({zero})),2)>{ZERO_LIMIT:g},{zero_large},{rest}))'


def check_again(places: Places, index: int) -> str:
    """Return the formula of the day by which to check a caliper again: from a day typed as 2027-03-31."""
    day = places.typed("calipers", index, "checked_on")
    year = f"VALUE(LEFT({day},4))"
    return f'=IF(LEN({day})=10,IF(ISNUMBER({year}),({year}+1)&MID({day},5,6),""),"")'


def first_pair_check(texts: Mapping[str, str], book: ClassBook) -> dict[Pairing, str]:
    """Return what the live check says of each pairing of a book without errors."""
    going, apart = set(pairings_that_go(book)), kept_apart(book.people)
    words: dict[Pairing, str] = {}
    for pairing in book.pairings:
        together = pairing.participant in apart.get(pairing.measurer, ())
        key = "left" if pairing not in going else "apart" if together else ""
        words[pairing] = texts[f"book_check.{key}"] if key else ""
    return words


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
    text = '""'
    for word, fault in reversed(faults.items()):
        text = f"IF({fault},{quoted(places.texts[f'book_check.{word}'])},{text})"
    return f'=IF({measurer}&{participant}&{caliper}&{protocol}&{spare}="","",{text})'


def _words(places: Places, *keys: str) -> list[str]:
    return [quoted(places.texts[f"book_check.{key}"]) for key in keys]
