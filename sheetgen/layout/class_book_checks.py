"""The live checks of the class book in words, and what they say of a book that is written out.

There is no clock in them: whether a caliper's check is old is said when the class book is read; beside it
stands the day by which to check again.
"""

from collections.abc import Mapping

from sheetgen.core.number_policy import hundredths
from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.class_book_calculator import (
    APARTS,
    IDS,
    ISSUED,
    MEASURERS_AT,
    PAIR_KEYS,
    PARTICIPANTS_AT,
    PROTOCOLS,
    STATES,
    calculated,
    line_in_calculator,
    mirrored,
    nth,
    place_in_table,
    state_of,
)
from sheetgen.layout.class_book_words import (
    BLOCKS,
    CALIPER_COLUMNS,
    CHECK_COLUMNS,
    LEFT,
    PAIR_AT,
    PAIR_COLUMNS,
    ROSTER_COLUMNS,
    TAKES_PART,
    WISH_COLUMNS,
    ZERO_LIMIT,
)
from sheetgen.layout.pairing import kept_apart
from sheetgen.model.settings import Caliper, CaliperCheck, ClassBook, Pairing

__all__ = [
    "blocks_off",
    "caliper_check",
    "check_again",
    "check_again_by",
    "first_caliper_check",
    "first_pair_check",
    "pair_check",
    "roster_check",
    "zero_is_large",
]

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]


def roster_check(texts: Texts, row_counts: RowCounts, index: int) -> str:
    """Return the formula of what is wrong with a line of the roster."""
    ids = calculated(texts, row_counts, IDS)
    own = nth(ids, index)
    columns = (*ROSTER_COLUMNS, *WISH_COLUMNS)
    rest = "&".join(mirrored(texts, row_counts, "roster", index, column) for column in range(1, 4))
    partner = mirrored(texts, row_counts, "roster", index, columns.index("partner"))
    missing, twice, unknown = (
        quoted(texts[f"book_check.{word}"]) for word in ("id_missing", "id_twice", "partner_unknown")
    )
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


def first_caliper_check(texts: Texts, caliper: Caliper, check: CaliperCheck) -> str:
    """Return what the live check says of a caliper: the first of what is wrong."""
    if not caliper.in_service:
        return ""
    if zero_is_large(caliper):
        return texts["book_check.zero_large"]
    if blocks_off(caliper, check):
        return texts["book_check.block_off"]
    return "" if check.checked_on else texts["book_check.unchecked"]


def caliper_check(texts: Texts, row_counts: RowCounts, index: int) -> str:
    """Return the formula of what is wrong with a caliper in service."""
    columns = (*CALIPER_COLUMNS, *CHECK_COLUMNS)
    at = {
        name: place_in_table(texts, row_counts, "calipers", index, column)
        for column, name in enumerate(columns)
    }
    zero, step = at["zero"], at["division"]
    off = "+".join(
        f"IF(ISNUMBER({at[f'block_{block:g}']}),"
        f"IF(ROUND(ABS({at[f'block_{block:g}']}-N({zero})-{block:g}),2)>{step},1,0),0)"
        for block in BLOCKS
    )
    zero_large, block_off, unchecked = (
        quoted(texts[f"book_check.{word}"]) for word in ("zero_large", "block_off", "unchecked")
    )
    rest = f'IF({off}>0,{block_off},IF({at["checked_on"]}="",{unchecked},""))'
    own = line_in_calculator(texts, ISSUED, index)
    return f'=IF({own}="","",IF(ROUND(ABS(N({zero})),2)>{ZERO_LIMIT:g},{zero_large},{rest}))'


def check_again(texts: Texts, row_counts: RowCounts, index: int) -> str:
    """Return the formula of the day by which to check a caliper again: from a day typed as 2027-03-31."""
    column = len(CALIPER_COLUMNS) + CHECK_COLUMNS.index("checked_on")
    day = mirrored(texts, row_counts, "calipers", index, column)
    year = f"VALUE(LEFT({day},4))"
    return f'=IF(LEN({day})=10,IF(ISNUMBER({year}),({year}+1)&MID({day},5,6),""),"")'


def first_pair_check(texts: Texts, book: ClassBook) -> dict[Pairing, str]:
    """Return what the live check says of each pairing of a book without errors."""
    states = {person.student_id: state_of(person) for person in book.people}
    apart = kept_apart(book.people)
    words: dict[Pairing, str] = {}
    for pairing in book.pairings:
        left = LEFT in (states[pairing.measurer], states[pairing.participant])
        together = pairing.participant in apart.get(pairing.measurer, ())
        words[pairing] = texts["book_check.left"] if left else texts["book_check.apart"] if together else ""
    return words


def pair_check(texts: Texts, row_counts: RowCounts, index: int) -> str:
    """Return the formula of what is wrong with a line of the pairs: the first of it."""
    measurer, participant, caliper, protocol, spare = (
        mirrored(texts, row_counts, "pairs", index, PAIR_AT[name]) for name in PAIR_COLUMNS
    )
    keys, issued, known, states, aparts = (
        calculated(texts, row_counts, column) for column in (PAIR_KEYS, ISSUED, PROTOCOLS, STATES, APARTS)
    )
    at_1, at_2 = (line_in_calculator(texts, column, index) for column in (MEASURERS_AT, PARTICIPANTS_AT))
    state_1, state_2 = f"INDEX({states},{at_1})", f"INDEX({states},{at_2})"
    faults = {
        "measurer_unknown": f"{at_1}=0",
        "participant_unknown": f"{at_2}=0",
        "self": f"{measurer}={participant}",
        "twice": f"MATCH({nth(keys, index)},{keys},0)<{index + 1}",
        "left": f'OR({state_1}="{LEFT}",{state_2}="{LEFT}")',
        "measures_only": f'{state_2}="{TAKES_PART[1]}"',
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
        text = f"IF({fault},{quoted(texts[f'book_check.{word}'])},{text})"
    return f'=IF({measurer}&{participant}&{caliper}&{protocol}&{spare}="","",{text})'
