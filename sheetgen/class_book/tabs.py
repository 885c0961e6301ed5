"""The Layout of the class book: its visible tabs drawn from the rows of class_book_settings, with what may be
typed into each cell, the message before and the message after."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from sheetgen.class_book.hidden_tab import (
    calculator_tab,
    caliper_check,
    check_again,
    check_again_by,
    first_caliper_check,
    first_pair_check,
    full_name,
    pair_check,
    roster_check,
)
from sheetgen.class_book.pairing import make_pairs
from sheetgen.class_book.stations import stations_tab
from sheetgen.class_book.table import (
    CALIPERS,
    DIVISIONS,
    FIRST_ROW,
    HEADING_ROW,
    PAIRS,
    PRINTED_SPARE,
    ROSTER,
    SETTINGS,
    TABLES,
    Entry,
    Places,
    Table,
    block,
    setting_values,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Person
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
    entry,
    formula,
    heading_row,
    height_for,
    label,
    lines_needed,
    number_rule,
    text_rule,
    words_rule,
)
from sheetgen.workbook.layout import Cell, Emphasis, Layout, Rule, Tab, Value

_WORDS = "book_word"
"""Section of the texts that show the code words of lists."""
_SETTING_WIDTHS = (29, 30, 110)

Choices = Mapping[str, tuple[str, ...]]
"""What may be chosen in a class: `protocol`, `conversion` and `language`."""
Row = Mapping[str, object]
"""Column to what stands there on one line of a table."""
Shown = Mapping[str, tuple[str, Value]]
"""Column to the formula of one line and its first result."""


@dataclass(frozen=True, slots=True)
class _Drawing:
    """What every tab is drawn from."""

    texts: Mapping[str, str]
    book: ClassBook
    places: Places
    choices: Choices


def default_settings(protocol: Protocol, language: str, caliper_build: str) -> SheetSettings:
    """Return the settings of a class that has changed none: median, 2 mm, one caliper of 0.5 mm steps."""
    return SheetSettings(
        protocol_id=protocol.identifier,
        language=language,
        site_rule="median",
        tolerance_kind="mm",
        tolerance=2.0,
        conversion=protocol.default_conversion,
        show_results="after-working",
        calipers=(Caliper("C1", caliper_build, 0.5, 60.0, 0.0),),
    )


def default_class_book(
    class_code: str, title: str, settings: SheetSettings, people: Sequence[Person]
) -> ClassBook:
    """Return the book of a new class, with pairs in roster order."""
    pairings = make_pairs(people, settings.calipers).pairings
    return ClassBook(class_code, title, settings, tuple(people), pairings)


def class_book_layout(
    texts: Mapping[str, str],
    book: ClassBook,
    protocols: Sequence[Protocol],
    languages: Sequence[str] = ("en",),
) -> Layout:
    """Return the Layout of a class book with spare rows, everything of `book` filled in.

    Parameters
    ----------
    texts : those of a language, and those of its class book with them.
    book : without errors; first results are what follows from it. Pairings of people who left may be among
        its own: they stay on the tab Pairs and are said to be left out.
    protocols, languages : those that the class may choose from.
    """
    filled = {"roster": book.people, "calipers": book.settings.calipers, "pairs": book.pairings}
    rows = {key: len(filled[key]) + table.spare for key, table in TABLES.items()}
    places = Places(texts, {**rows, "protocols": len(protocols)})
    drawing = _Drawing(texts, book, places, _choices(protocols, languages))
    return Layout(
        title=texts["book.title"],
        subject=texts["book.subject"],
        language=book.settings.language,
        page_text=texts["sheet.page"],
        tabs=(
            _class_tab(drawing),
            _roster_tab(drawing),
            _calipers_tab(drawing),
            _pairs_tab(drawing),
            stations_tab(places, book, protocols),
            calculator_tab(places, book, protocols),
        ),
    )


def _choices(protocols: Sequence[Protocol], languages: Sequence[str]) -> Choices:
    conversions = (each.identifier for protocol in protocols for each in protocol.conversions)
    return {
        "protocol": tuple(protocol.identifier for protocol in protocols),
        "conversion": tuple(dict.fromkeys(conversions)),
        "language": tuple(languages),
    }


def _rule(
    column: Entry, section: str, texts: Mapping[str, str], choices: Choices, condition: str = ""
) -> Rule:
    """The rule of a cell. condition : formula, for a kind that no plain rule can say."""
    title = texts[f"book_{section}.{column.key}"]
    prompt = texts[
        f"book_hint.{column.key}" if section == "setting" else f"book_{section}.{column.key}_prompt"
    ]
    if column.kind in ("word", "flag"):
        return words_rule(texts, column.words, title, prompt, _WORDS)
    if column.kind == "choice":
        return words_rule(texts, choices[column.key], title, prompt)
    if column.kind in ("number", "block", "whole"):
        kind = "whole" if column.kind == "whole" else "decimal"
        return number_rule(texts, kind, column.least, column.most, title, prompt.rstrip("."))
    if condition:
        error = texts[f"book_{section}.{column.kind}_error"]
        return Rule("custom", title, prompt, error, formula=f"={condition}")
    return text_rule(texts, int(column.most), title, prompt)


def _condition(places: Places, table: Table, column: Entry, row: int) -> str:
    """What a custom rule asks for; empty where the kind has a plain rule."""
    cell = absolute(row, table.at(column.key))
    if column.kind in ("id", "label"):
        own = block(places.rows[table.key], table.at(column.key))
        # A comma would end the word in the list of calipers on a student's sheet.
        plain = f',ISERROR(FIND(",",{cell})),ISERROR(FIND(CHAR(34),{cell}))' if column.kind == "label" else ""
        return f'AND(LEN({cell})<={column.most:g},SUMPRODUCT(--({own}&""={cell}&""))=1{plain})'
    if column.kind == "step":
        # Not a list: where a comma is the decimal sign, choosing 0.5 from one would enter a text or a date.
        return f"OR({','.join(f'{cell}={step:g}' for step in DIVISIONS)})"
    if column.kind == "caliper":
        return f"ISNUMBER(MATCH(TRIM({cell}),{places.column('issued')},0))"
    if column.kind == "person":
        other = absolute(row, table.at("participant" if column.key == "measurer" else "measurer"))
        return f"AND(ISNUMBER(MATCH(TRIM({cell}),{places.column('ids')},0)),TRIM({cell})<>TRIM({other}))"
    return ""


def _shown(texts: Mapping[str, str], column: Entry, value: object) -> Value:
    """A value as it stands in its cell; None where nothing does."""
    if column.kind == "flag" and value is not None:
        value = "yes" if value else "no"
    if isinstance(value, tuple):
        groups = (", ".join(each) if isinstance(each, tuple) else str(each) for each in value)
        value = "; ".join(groups)
    if value in (None, ""):
        return None
    if column.kind in ("word", "flag"):
        return texts[f"{_WORDS}.{value}"]
    return value if isinstance(value, float | int) else str(value)


def _class_tab(drawing: _Drawing) -> Tab:
    """One setting a line, with what it does, and below them the code of the class."""
    texts, book, places = drawing.texts, drawing.book, drawing.places
    values = setting_values(book)
    cells = [
        *_head(texts, "class"),
        *_counted(places, 2, "people", "ids", len(book.people)),
        *_counted(places, 3, "pairs", "pair_keys", len(book.pairings)),
        *heading_row(HEADING_ROW, [texts[f"book_setting.{word}"] for word in ("what", "entry", "hint")]),
    ]
    for row, setting in enumerate(SETTINGS, start=FIRST_ROW):
        key, rule = setting.key, _rule(setting, "setting", texts, drawing.choices)
        shape = "entry_number" if setting.numeric else "entry_text"
        cells += [
            label(row, 0, texts[f"book_setting.{key}"], "label"),
            entry(row, 1, key, rule, shape, _shown(texts, setting, values[key])),
            label(row, 2, texts[f"book_hint.{key}"], "hint"),
        ]
    last = FIRST_ROW + len(SETTINGS)
    cells += [
        label(last, 0, texts["book_setting.class_code"], "label"),
        label(last, 1, book.class_code, "text", "class_code", named=True),
        label(last, 2, texts["book_hint.class_code"], "hint"),
    ]
    hints = {cell.row: str(cell.value) for cell in cells if cell.format == "hint"}
    lines = {row: lines_needed(hint, _SETTING_WIDTHS[2], indent=1) for row, hint in hints.items()}
    heights = tuple((row, max(22.0, height_for(count))) for row, count in lines.items())
    tab = _tab("class", texts, cells, _SETTING_WIDTHS)
    return replace(tab, heights=(*tab.heights, *heights), first_entry=(FIRST_ROW, 1))


def _roster_tab(drawing: _Drawing) -> Tab:
    """One person a line, the code that follows from the id, and what is wrong."""
    people, places = drawing.book.people, drawing.places
    lines = [{column.key: getattr(person, column.key) for column in ROSTER.entries} for person in people]
    checks = block(places.rows["roster"], ROSTER.at("check"))
    twice = quoted(drawing.texts["book_check.id_twice"])
    counts = [
        *_counted(places, 2, "people", "ids", len(people)),
        *_count(places, 3, "twice", f"=SUMPRODUCT(--({checks}={twice}))", 0),
    ]

    def shown(index: int) -> Shown:
        code = people[index].participant_code if index < len(people) else ""
        own = places.nth("codes", index)
        return {"participant_code": (f"={own}", code), "check": (roster_check(places, index), "")}

    return _table_tab(drawing, ROSTER, lines, counts, shown)


def _calipers_tab(drawing: _Drawing) -> Tab:
    """The register with the last check of each, one caliper a line."""
    calipers, places = drawing.book.settings.calipers, drawing.places
    known = {check.identifier: check for check in drawing.book.checks}
    checks = [known.get(caliper.identifier, CaliperCheck("")) for caliper in calipers]

    def value(caliper: Caliper, check: CaliperCheck, column: Entry) -> object:
        if column.kind == "block":
            return dict(check.blocks).get(float(column.key.removeprefix("block_")))
        return getattr(check if column.key in ("checked_on", "checked_by") else caliper, column.key)

    lines = [
        {column.key: value(caliper, check, column) for column in CALIPERS.entries}
        for caliper, check in zip(calipers, checks, strict=True)
    ]

    def shown(index: int) -> Shown:
        again = said = ""
        if index < len(calipers):
            again = check_again_by(checks[index])
            said = first_caliper_check(drawing.texts, calipers[index], checks[index])
        return {"again": (check_again(places, index), again), "check": (caliper_check(places, index), said)}

    counts = _counted(places, 2, "in_service", "issued", sum(caliper.in_service for caliper in calipers))
    return _table_tab(drawing, CALIPERS, lines, counts, shown)


def _pairs_tab(drawing: _Drawing) -> Tab:
    """Ids, the names they stand for, caliper and protocol, and what is wrong."""
    book, places = drawing.book, drawing.places
    names = {person.student_id: full_name(person.given_name, person.family_name) for person in book.people}
    said = list(first_pair_check(drawing.texts, book).values())
    lines = [
        {column.key: getattr(pairing, column.field or column.key) for column in PAIRS.entries}
        for pairing in book.pairings
    ]
    checks = block(places.rows["pairs"], PAIRS.at("check"))
    counts = [
        *_counted(places, 2, "pairs", "pair_keys", len(lines)),
        *_count(places, 3, "faults", f'=SUMPRODUCT(--({checks}<>""))', sum(map(bool, said))),
    ]

    def shown(index: int) -> Shown:
        line = lines[index] if index < len(lines) else {}
        formulas: dict[str, tuple[str, Value]] = {}
        for key in ("measurer", "participant"):
            found = places.name_of(places.typed("pairs", index, key))
            formulas[f"{key}_name"] = f"={found}", names.get(line.get(key, ""), "")
        return {**formulas, "check": (pair_check(places, index), said[index] if line else "")}

    return _table_tab(drawing, PAIRS, lines, counts, shown)


def _table_tab(
    drawing: _Drawing, table: Table, lines: Sequence[Row], counts: list[Cell], shown: Callable[[int], Shown]
) -> Tab:
    """A tab with one line a record. counts : above its headings. shown : the formulas of a line."""
    texts, places = drawing.texts, drawing.places
    rule_of = partial(_rule, section=table.line, texts=texts, choices=drawing.choices)
    headings = [texts[f"book_{table.line}.{column.key}"] for column in table.columns]
    cells = [*_head(texts, table.key), *counts, *heading_row(HEADING_ROW, headings)]
    for index in range(places.rows[table.key]):
        row = FIRST_ROW + index
        values = lines[index] if index < len(lines) else {}
        formulas = shown(index)
        for at, column in enumerate(table.columns):
            if column.kind == "formula":
                cells.append(formula(row, at, *formulas[column.key], "words"))
                continue
            # Known by its name to the program, but no defined name for each of a thousand.
            name = f"{table.line}_{index + 1}_{column.key}"
            shape = "entry_number" if column.numeric else "entry_text"
            rule = rule_of(column, condition=_condition(places, table, column, row))
            value = _shown(texts, column, values.get(column.key))
            cells.append(Cell(row, at, "entry", value, name=name, format=shape, rule=rule))
    last, check = FIRST_ROW + places.rows[table.key] - 1, table.at("check")
    # The row goes along with the cell, the column does not.
    column_letter, _, row_number = absolute(FIRST_ROW, check).rpartition("$")
    emphasis = Emphasis(FIRST_ROW, check, last, check, f'={column_letter}{row_number}<>""', "wanted")
    printed = 0 if table is CALIPERS else FIRST_ROW + len(lines) + PRINTED_SPARE
    widths = tuple(column.width for column in table.columns)
    return replace(_tab(table.key, texts, cells, widths), emphases=(emphasis,), printed_rows=printed)


def _head(texts: Mapping[str, str], key: str) -> list[Cell]:
    return [label(0, 0, texts[f"book_tab.{key}"], "title"), label(1, 0, texts[f"book_line.{key}"], "step")]


def _count(places: Places, row: int, word: str, counted: str, first: float) -> list[Cell]:
    text = places.texts[f"book_count.{word}"]
    return [label(row, 0, text, "label"), formula(row, 1, counted, first, "words")]


def _counted(places: Places, row: int, word: str, column: str, first: float) -> list[Cell]:
    return _count(places, row, word, f'=SUMPRODUCT(--({places.column(column)}<>""))', first)


def _tab(key: str, texts: Mapping[str, str], cells: Sequence[Cell], widths: tuple[float, ...]) -> Tab:
    return Tab(
        key,
        texts[f"book_tab.{key}"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths,
        heights=((HEADING_ROW, 32.0),),
        freeze=(FIRST_ROW, 0),
        landscape=True,
        first_entry=(FIRST_ROW, 0),
        repeat=HEADING_ROW,
    )
