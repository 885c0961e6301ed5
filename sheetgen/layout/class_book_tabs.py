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
    block,
    calculated,
    full_name,
    looked_up,
    mirrored,
    nth,
)
from sheetgen.layout.class_book_checks import (
    caliper_check,
    check_again,
    check_again_by,
    first_caliper_check,
    first_pair_check,
    pair_check,
    roster_check,
)
from sheetgen.layout.class_book_rules import caliper_rule, pair_rule, roster_rule, setting_rule
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    CHECK_COLUMNS,
    FIRST_ROW,
    HEADING_ROW,
    PAIR_AT,
    PAIR_COLUMNS,
    PRINTED_SPARE,
    RANGES,
    ROSTER_COLUMNS,
    ROSTER_WORDS,
    SETTING_WORDS,
    SETTINGS,
    WISH_COLUMNS,
    YES_NO,
)
from sheetgen.layout.text_size import height_for, lines_needed
from sheetgen.model.layout import Cell, Emphasis, Rule, Tab, Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, CaliperCheck, ClassBook, Person

__all__ = ["calipers_tab", "class_tab", "pairs_tab", "roster_tab"]

_HINT_AT = 2

Texts = Mapping[str, str]
RowCounts = Mapping[str, int]


def class_tab(
    texts: Texts,
    book: ClassBook,
    protocols: Sequence[Protocol],
    row_counts: RowCounts,
    languages: Sequence[str] = ("en",),
) -> Tab:
    """Return the tab Class: one setting a line; languages are those that may be chosen."""
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
        "group_size": book.group_size,
        "demonstration": book.demonstration or None,
        "seconds_a_reading": book.seconds_a_reading,
        "spare_sheets": book.spare_sheets,
        "cover_round_1": YES_NO[0] if settings.cover_round_1 else YES_NO[1],
        "language": settings.language,
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
        value = values[name]
        if name in SETTING_WORDS:
            value = texts[f"book_word.{value}"]
        cells += [
            label(row, 0, texts[f"book_setting.{name}"], "label"),
            entry(row, 1, name, setting_rule(name, texts, protocols, languages), shape, value),
            label(row, 2, texts[f"book_hint.{name}"], "hint"),
        ]
    last = FIRST_ROW + len(SETTINGS)
    cells += [
        label(last, 0, texts["book_setting.class_code"], "label"),
        label(last, 1, book.class_code, "text", "class_code", named=True),
        label(last, 2, texts["book_hint.class_code"], "hint"),
    ]
    hints = {cell.row: str(cell.value) for cell in cells if cell.column == _HINT_AT and cell.row >= FIRST_ROW}
    widths = (29, 30, 110)
    lines = {row: lines_needed(hint, widths[_HINT_AT], indent=1) for row, hint in hints.items()}
    heights = tuple((row, max(22.0, height_for(count))) for row, count in lines.items())
    return _tab("class", texts, cells, widths, first_column=1, heights=heights)


def roster_tab(texts: Texts, book: ClassBook, row_counts: RowCounts) -> Tab:
    """Return the tab Roster: one person a line, the code that follows from the id, and what is wrong."""
    ids = calculated(texts, row_counts, IDS)
    codes = calculated(texts, row_counts, CODES)
    own_ids = block(row_counts["roster"], 0)
    columns = (*ROSTER_COLUMNS, *WISH_COLUMNS)
    check_column = len(columns) + 1
    checks = block(row_counts["roster"], check_column)
    headings = (*columns, "participant_code", "check")
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
        for column, name in enumerate(columns):
            rule = roster_rule(name, texts, own_ids, absolute(row, column))
            value = _of_person(texts, person, name) if person is not None else None
            cells.append(_entry(row, column, f"roster_{index + 1}_{name}", rule, "entry_text", value))
        own = nth(codes, index)
        code = person.participant_code if person is not None else ""
        cells.append(formula(row, check_column - 1, f"={own}", code, "words"))
        cells.append(formula(row, check_column, roster_check(texts, row_counts, index), "", "words"))
    emphasis = _emphasis(row_counts, "roster", check_column)
    widths = (16, 18, 20, 30, 10, 11, 11, 17, 15, 24, 10, 11, 26)
    printed = FIRST_ROW + len(book.people) + PRINTED_SPARE
    return _tab("roster", texts, cells, widths, emphases=(emphasis,), printed_rows=printed)


def _of_person(texts: Texts, person: Person, name: str) -> Value:
    value = getattr(person, name)
    if name in ROSTER_WORDS:
        return texts[f"book_word.{value}"] if value else value
    return "; ".join(value) if name == "apart" else value


def calipers_tab(texts: Texts, book: ClassBook, row_counts: RowCounts) -> Tab:
    """Return the tab Calipers: the register with the last check of each, one caliper a line."""
    calipers = book.settings.calipers
    issued = calculated(texts, row_counts, ISSUED)
    in_service = sum(caliper.in_service for caliper in calipers)
    columns = (*CALIPER_COLUMNS, *CHECK_COLUMNS)
    check_column = len(columns) + 1
    cells = [
        *_head(texts, "calipers"),
        *_count(2, texts["book_count.in_service"], f'=SUMPRODUCT(--({issued}<>""))', in_service),
        *heading_row(HEADING_ROW, [texts[f"book_caliper.{name}"] for name in (*columns, "again", "check")]),
    ]
    own_ids = block(row_counts["calipers"], 0)
    checks = {check.identifier: check for check in book.checks}
    for index in range(row_counts["calipers"]):
        row = FIRST_ROW + index
        caliper = calipers[index] if index < len(calipers) else None
        check = checks.get(caliper.identifier, CaliperCheck("")) if caliper is not None else CaliperCheck("")
        for column, name in enumerate(columns):
            value = _of_caliper(texts, caliper, check, name) if caliper is not None else None
            rule = caliper_rule(name, texts, own_ids, absolute(row, column))
            number = name in ("division", "opening", "zero") or name.startswith("block_")
            shape = "entry_number" if number else "entry_text"
            cells.append(_entry(row, column, f"caliper_{index + 1}_{name}", rule, shape, value))
        said = first_caliper_check(texts, caliper, check) if caliper is not None else ""
        cells += [
            formula(row, check_column - 1, check_again(texts, row_counts, index), check_again_by(check),
                    "words"),
            formula(row, check_column, caliper_check(texts, row_counts, index), said, "words"),
        ]  # fmt: skip
    emphasis = _emphasis(row_counts, "calipers", check_column)
    widths = (19, 30, 11, 11, 10, 10, 11, 11, 11, 11, 14, 18, 15, 44)
    return _tab("calipers", texts, cells, widths, emphases=(emphasis,))


def _of_caliper(texts: Texts, caliper: Caliper, check: CaliperCheck, name: str) -> Value:
    if name.startswith("block_"):
        return dict(check.blocks).get(float(name.removeprefix("block_")))
    if name == "in_service":
        return texts[f"book_word.{YES_NO[0] if caliper.in_service else YES_NO[1]}"]
    value: Value = getattr(check if name in CHECK_COLUMNS else caliper, name)
    return value


def pairs_tab(texts: Texts, book: ClassBook, protocols: Sequence[Protocol], row_counts: RowCounts) -> Tab:
    """Return the tab Pairs: ids, the names they stand for, caliper and protocol, and what is wrong."""
    keys = calculated(texts, row_counts, PAIR_KEYS)
    check_column = PAIR_WIDTH
    checks = block(row_counts["pairs"], check_column)
    headings = (
        "measurer", "measurer_name", "participant", "participant_name", "caliper", "protocol", "spare",
        "check",
    )  # fmt: skip
    said = first_pair_check(texts, book)
    faults = sum(bool(said[pairing]) for pairing in book.pairings)
    cells = [
        *_head(texts, "pairs"),
        *_count(2, texts["book_count.pairs"], f'=SUMPRODUCT(--({keys}<>""))', len(book.pairings)),
        *_count(3, texts["book_count.faults"], f'=SUMPRODUCT(--({checks}<>""))', faults),
        *heading_row(HEADING_ROW, [texts[f"book_pair.{name}"] for name in headings]),
    ]
    names = {person.student_id: full_name(person.given_name, person.family_name) for person in book.people}
    for index in range(row_counts["pairs"]):
        row = FIRST_ROW + index
        pairing = book.pairings[index] if index < len(book.pairings) else None
        values = ("",) * len(PAIR_COLUMNS)
        if pairing is not None:
            values = (
                pairing.measurer, pairing.participant, pairing.caliper_id, pairing.protocol_id, pairing.spare,
            )  # fmt: skip
        for name, value in zip(PAIR_COLUMNS, values, strict=True):
            rule = pair_rule(name, texts, protocols, row_counts, row)
            cells.append(
                _entry(row, PAIR_AT[name], f"pair_{index + 1}_{name}", rule, "entry_text", value or None)
            )
        for column, value in ((1, values[0]), (3, values[1])):
            found = looked_up(texts, row_counts, mirrored(texts, row_counts, "pairs", index, column - 1))
            cells.append(formula(row, column, f"={found}", names.get(value, ""), "words"))
        first = said[pairing] if pairing is not None else ""
        cells.append(formula(row, check_column, pair_check(texts, row_counts, index), first, "words"))
    emphasis = _emphasis(row_counts, "pairs", check_column)
    widths = (18, 26, 18, 26, 12, 18, 15, 40)
    printed = FIRST_ROW + len(book.pairings) + PRINTED_SPARE
    return _tab("pairs", texts, cells, widths, emphases=(emphasis,), printed_rows=printed)


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
    printed_rows: int = 0,
) -> Tab:
    return Tab(
        key, texts[f"book_tab.{key}"], _sorted(cells), widths, ((HEADING_ROW, 32.0), *heights), emphases,
        freeze=(FIRST_ROW, 0), landscape=True, first_entry=(FIRST_ROW, first_column), repeat=HEADING_ROW,
        printed_rows=printed_rows,
    )  # fmt: skip


def _sorted(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    return tuple(sorted(cells, key=lambda cell: (cell.row, cell.column)))


def _emphasis(row_counts: RowCounts, key: str, check_column: int) -> Emphasis:
    last = FIRST_ROW + row_counts[key] - 1
    # The row goes along with the cell, the column does not.
    first = absolute(FIRST_ROW, check_column).rpartition("$")
    return Emphasis(FIRST_ROW, check_column, last, check_column, f'={first[0]}{first[2]}<>""', "wanted")
