"""The visible tabs of the class book."""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import absolute
from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import entry, formula, heading_row, label
from sheetgen.layout.class_book_calculator import (
    CODES,
    IDS,
    ISSUED,
    PAIR_KEYS,
    PAIR_WIDTH,
    PROTOCOLS,
    block,
    calculated,
    full_name,
    looked_up,
    mirrored,
    nth,
)
from sheetgen.layout.class_book_rules import caliper_rule, pair_rule, roster_rule, setting_rule
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    FIRST_ROW,
    HEADING_ROW,
    PAIR_AT,
    PAIR_COLUMNS,
    RANGES,
    ROSTER_COLUMNS,
    SETTINGS,
    YES_NO,
)
from sheetgen.model.layout import Cell, Emphasis, Rule, Tab, Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook

__all__ = ["calipers_tab", "class_tab", "pairs_tab", "roster_tab"]

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]


def class_tab(texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts) -> Tab:
    """Return the tab Class: one setting a line."""
    settings = book.settings
    values: dict[str, Value] = {
        "class_title": book.title,
        "protocol": settings.protocol_id,
        "site_rule": settings.site_rule,
        "tolerance_kind": settings.tolerance_kind,
        "tolerance": settings.tolerance,
        "conversion": settings.conversion,
        "show_results": settings.show_results,
        "minors": book.minors,
        "estimates": settings.estimates,
        "youth_estimate": settings.youth_estimate,
        "due_date": book.due_date or None,
        "feedback_given": book.feedback_given or None,
        "declared": "; ".join(", ".join(group) for group in book.declared) or None,
    }
    ids = calculated(texts, row_counts, IDS)
    keys = calculated(texts, row_counts, PAIR_KEYS)
    cells = [
        *_head(texts, "class"),
        *_count(2, texts["book_count.people"], f'=SUMPRODUCT(--({ids}<>""))', len(book.people)),
        *_count(3, texts["book_count.pairs"], f'=SUMPRODUCT(--({keys}<>""))', len(book.pairings)),
        *heading_row(HEADING_ROW, [texts[f"book_setting.{word}"] for word in ("what", "entry", "hint")]),
    ]
    for row, name in enumerate(SETTINGS, start=FIRST_ROW):
        shape = "entry_number" if name in RANGES else "entry_text"
        cells += [
            label(row, 0, texts[f"book_setting.{name}"], "label"),
            entry(row, 1, name, setting_rule(name, texts, protocols), shape, values[name]),
            label(row, 2, texts[f"book_hint.{name}"], "hint"),
        ]
    last = FIRST_ROW + len(SETTINGS)
    cells += [
        label(last, 0, texts["book_setting.class_code"], "label"),
        label(last, 1, book.class_code, "text", "class_code", named=True),
        label(last, 2, texts["book_hint.class_code"], "hint"),
    ]
    heights = tuple((row, 30.0) for row in range(FIRST_ROW, last + 1))
    return _tab("class", texts, cells, (24, 30, 74), first_column=1, heights=heights)


def roster_tab(texts: Texts, book: ClassBook, row_counts: RowCounts) -> Tab:
    """Return the tab Roster: one person a line, the code that follows from the id, and what is wrong."""
    ids = calculated(texts, row_counts, IDS)
    codes = calculated(texts, row_counts, CODES)
    own_ids = block(row_counts["roster"], 0)
    check_column = len(ROSTER_COLUMNS) + 1
    checks = block(row_counts["roster"], check_column)
    headings = (*ROSTER_COLUMNS, "participant_code", "check")
    cells = [
        *_head(texts, "roster"),
        *_count(2, texts["book_count.people"], f'=SUMPRODUCT(--({ids}<>""))', len(book.people)),
        *_count(
            3, texts["book_count.twice"],
            f"=SUMPRODUCT(--({checks}={quoted(texts['book_check.id_twice'])}))", 0,
        ),
        *heading_row(HEADING_ROW, [texts[f"book_roster.{name}"] for name in headings]),
    ]  # fmt: skip
    for index in range(row_counts["roster"]):
        row = FIRST_ROW + index
        person = book.people[index] if index < len(book.people) else None
        for column, name in enumerate(ROSTER_COLUMNS):
            rule = roster_rule(name, texts, own_ids, absolute(row, column))
            value = getattr(person, name) if person is not None else None
            cells.append(_entry(row, column, f"roster_{index + 1}_{name}", rule, "entry_text", value))
        own = nth(codes, index)
        code = person.participant_code if person is not None else ""
        cells.append(formula(row, check_column - 1, f"={own}", code, "words"))
        cells.append(formula(row, check_column, _roster_check(texts, row_counts, ids, index), "", "words"))
    emphasis = _emphasis(row_counts, "roster", check_column)
    return _tab("roster", texts, cells, (18, 20, 22, 32, 14, 11, 11, 10, 16), emphases=(emphasis,))


def calipers_tab(texts: Texts, book: ClassBook, row_counts: RowCounts) -> Tab:
    """Return the tab Calipers: the register, one caliper a line."""
    calipers = book.settings.calipers
    issued = calculated(texts, row_counts, ISSUED)
    in_service = sum(caliper.in_service for caliper in calipers)
    cells = [
        *_head(texts, "calipers"),
        *_count(2, texts["book_count.in_service"], f'=SUMPRODUCT(--({issued}<>""))', in_service),
        *heading_row(HEADING_ROW, [texts[f"book_caliper.{name}"] for name in CALIPER_COLUMNS]),
    ]
    own_ids = block(row_counts["calipers"], 0)
    for index in range(row_counts["calipers"]):
        row = FIRST_ROW + index
        caliper = calipers[index] if index < len(calipers) else None
        for column, name in enumerate(CALIPER_COLUMNS):
            value = getattr(caliper, name) if caliper is not None else None
            if isinstance(value, bool):
                value = YES_NO[0] if value else YES_NO[1]
            rule = caliper_rule(name, texts, own_ids, absolute(row, column))
            shape = "entry_number" if name in ("division", "opening", "zero") else "entry_text"
            cells.append(_entry(row, column, f"caliper_{index + 1}_{name}", rule, shape, value))
    return _tab("calipers", texts, cells, (18, 34, 16, 16, 16, 16))


def pairs_tab(texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts) -> Tab:
    """Return the tab Pairs: ids, the names they stand for, caliper and protocol, and what is wrong."""
    keys = calculated(texts, row_counts, PAIR_KEYS)
    check_column = PAIR_WIDTH
    checks = block(row_counts["pairs"], check_column)
    headings = (
        "measurer", "measurer_name", "participant", "participant_name", "caliper", "protocol", "check",
    )  # fmt: skip
    cells = [
        *_head(texts, "pairs"),
        *_count(2, texts["book_count.pairs"], f'=SUMPRODUCT(--({keys}<>""))', len(book.pairings)),
        *_count(3, texts["book_count.faults"], f'=SUMPRODUCT(--({checks}<>""))', 0),
        *heading_row(HEADING_ROW, [texts[f"book_pair.{name}"] for name in headings]),
    ]
    names = {person.student_id: full_name(person.given_name, person.family_name) for person in book.people}
    for index in range(row_counts["pairs"]):
        row = FIRST_ROW + index
        pairing = book.pairings[index] if index < len(book.pairings) else None
        values = ("", "", "", "")
        if pairing is not None:
            values = (pairing.measurer, pairing.participant, pairing.caliper_id, pairing.protocol_id)
        for name, value in zip(PAIR_COLUMNS, values, strict=True):
            rule = pair_rule(name, texts, protocols, row_counts, row)
            cells.append(
                _entry(row, PAIR_AT[name], f"pair_{index + 1}_{name}", rule, "entry_text", value or None)
            )
        for column, value in ((1, values[0]), (3, values[1])):
            found = looked_up(texts, row_counts, mirrored(texts, row_counts, "pairs", index, column - 1))
            cells.append(formula(row, column, f"={found}", names.get(value, ""), "words"))
        cells.append(formula(row, check_column, _pair_check(texts, row_counts, index), "", "words"))
    emphasis = _emphasis(row_counts, "pairs", check_column)
    return _tab("pairs", texts, cells, (18, 28, 18, 28, 12, 18, 30), emphases=(emphasis,))


def _head(texts: Texts, key: str) -> list[Cell]:
    return [label(0, 0, texts[f"book_tab.{key}"], "title"), label(1, 0, texts[f"book_line.{key}"], "step")]


def _count(row: int, text: str, counted: str, first: float) -> list[Cell]:
    return [label(row, 0, text, "label"), formula(row, 1, counted, first, "words")]


def _entry(row: int, column: int, name: str, rule: Rule, shape: str, value: Value) -> Cell:
    """An entry in a table: known by its name to the program, but no defined name for each of a thousand."""
    return Cell(row, column, "entry", value, name=name, format=shape, rule=rule)


def _tab(
    key: str,
    texts: Texts,
    cells: list[Cell],
    widths: tuple[float, ...],
    first_column: int = 0,
    heights: tuple[tuple[int, float], ...] = (),
    emphases: tuple[Emphasis, ...] = (),
) -> Tab:
    return Tab(
        key, texts[f"book_tab.{key}"], _sorted(cells), widths, heights, emphases,
        freeze=(FIRST_ROW, 0), landscape=True, first_entry=(FIRST_ROW, first_column),
    )  # fmt: skip


def _sorted(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    return tuple(sorted(cells, key=lambda cell: (cell.row, cell.column)))


def _emphasis(row_counts: RowCounts, key: str, check_column: int) -> Emphasis:
    last = FIRST_ROW + row_counts[key] - 1
    # The row goes along with the cell, the column does not.
    first = absolute(FIRST_ROW, check_column).rpartition("$")
    return Emphasis(FIRST_ROW, check_column, last, check_column, f'={first[0]}{first[2]}<>""', "wanted")


def _roster_check(texts: Texts, row_counts: RowCounts, ids: str, index: int) -> str:
    own = nth(ids, index)
    rest = "&".join(mirrored(texts, row_counts, "roster", index, column) for column in range(1, 4))
    missing, twice = (quoted(texts[f"book_check.{word}"]) for word in ("id_missing", "id_twice"))
    return f'=IF({own}="",IF({rest}="","",{missing}),IF(SUMPRODUCT(--({ids}={own}))>1,{twice},""))'


def _pair_check(texts: Texts, row_counts: RowCounts, index: int) -> str:
    measurer, participant, caliper, protocol = (
        mirrored(texts, row_counts, "pairs", index, PAIR_AT[name]) for name in PAIR_COLUMNS
    )
    ids = calculated(texts, row_counts, IDS)
    keys = calculated(texts, row_counts, PAIR_KEYS)
    issued = calculated(texts, row_counts, ISSUED)
    known = calculated(texts, row_counts, PROTOCOLS)
    faults = {
        "measurer_unknown": f'OR({measurer}="",ISNA(MATCH({measurer},{ids},0)))',
        "participant_unknown": f'OR({participant}="",ISNA(MATCH({participant},{ids},0)))',
        "self": f"{measurer}={participant}",
        "twice": f"MATCH({nth(keys, index)},{keys},0)<{index + 1}",
        "caliper_unknown": f'AND({caliper}<>"",NOT(ISNUMBER(MATCH({caliper},{issued},0))))',
        "protocol_unknown": f'AND({protocol}<>"",NOT(ISNUMBER(MATCH({protocol},{known},0))))',
    }
    text = '""'
    for word, fault in reversed(faults.items()):
        text = f"IF({fault},{quoted(texts[f'book_check.{word}'])},{text})"
    return f'=IF({measurer}&{participant}&{caliper}&{protocol}="","",{text})'
