"""The Layout of the class book: its visible tabs drawn from the table of settings and columns, with what may
be typed into each cell, the message before and the message after."""

from collections.abc import Mapping, Sequence
from itertools import chain, repeat
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict, replace

from sheetgen.class_book import live_tabs
from sheetgen.class_book.table import (
    DIVISIONS,
    FIRST_ROW,
    PRINTED_SPARE,
    SETTINGS,
    TABLES,
    Entry,
    Places,
    Table,
    block,
    choices_of,
    setting_values,
)
from sheetgen.class_folder.records import CaliperCheck, ClassBook
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.languages import Texts
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
    entry,
    formula,
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
_LINE_HEIGHT = 20.0
"""Of a line of a table [points]."""


class _Drawing(Struct, frozen=True):
    """What every tab is drawn from. lines : table to what stands on each of its lines, by field of the
    record, first results among them. choices : what may be chosen, by key of the setting or column."""

    places: Places
    book: ClassBook
    lines: Mapping[str, Sequence[Mapping[str, Any]]]
    choices: Mapping[str, tuple[str, ...]]


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
        reading_drill=True,
    )


def class_book_layout(
    texts: Texts, book: ClassBook, protocols: Sequence[Protocol], languages: Sequence[str] = ("en",)
) -> Layout:
    """Return the Layout of a class book with spare rows, everything of `book` filled in. texts : those of a
    language, and those of its class book with them. book : without errors; first results are what follows
    from it. Pairings of people who left may be among its own: they stay on the tab Pairs and are said to be
    left out. protocols, languages : those that the class may choose from."""
    lines = _lines(texts, book)
    rows = {key: len(lines[key]) + table.spare for key, table in TABLES.items()}
    places = Places(texts, {**rows, "protocols": len(protocols)})
    drawing = _Drawing(places, book, lines, choices_of(protocols, languages))
    tabs = (
        _class_tab(drawing),
        *(_table_tab(drawing, table) for table in TABLES.values()),
        live_tabs.stations_tab(places, book, protocols),
        live_tabs.calculator_tab(places, book, protocols),
    )
    title, language = texts["book.title"], book.settings.language
    return Layout(title, texts["book.subject"], language, tabs, page_text=texts["sheet.page"])


def _lines(texts: Texts, book: ClassBook) -> dict[str, list[dict[str, Any]]]:
    checks = {check.identifier: check for check in book.checks}
    calipers = []
    for caliper in book.settings.calipers:
        check = checks.get(caliper.identifier, CaliperCheck(""))
        blocks = {f"block_{block:g}": reading for block, reading in check.blocks}
        live = {
            "again": live_tabs.check_again_by(check),
            "check": live_tabs.first_caliper_check(texts, caliper, check),
        }
        calipers.append({**asdict(check), **blocks, **asdict(caliper), **live})
    names = {
        person.student_id: live_tabs.full_name(person.given_name, person.family_name)
        for person in book.people
    }
    pairs = []
    for pair, said in live_tabs.first_pair_check(texts, book).items():
        live = {"measurer_name": names[pair.measurer], "participant_name": names[pair.participant]}
        pairs.append({**asdict(pair), **live, "check": said})
    checked = live_tabs.first_roster_check(texts, book)
    people = [{**asdict(person), "check": checked[person.student_id]} for person in book.people]
    return {"roster": people, "calipers": calipers, "pairs": pairs}


def _rule(drawing: _Drawing, column: Entry, section: str, condition: str = "") -> Rule:
    """The rule of a cell. condition : formula, for a kind that no plain rule can say."""
    texts, key = drawing.places.texts, column.key
    title = texts[f"book_{section}.{key}"]
    prompt = texts[f"book_hint.{key}" if section == "setting" else f"book_{section}.{key}_prompt"]
    if column.kind in ("word", "flag"):
        return words_rule(texts, column.words, title, prompt, _WORDS)
    if column.kind == "choice":
        return words_rule(texts, drawing.choices[key], title, prompt)
    if column.kind in ("number", "block", "whole"):
        kind = "whole" if column.kind == "whole" else "decimal"
        return number_rule(texts, kind, column.least, column.most, title, prompt.rstrip("."))
    source = {"person": "ids", "caliper": "issued"}.get("person" if key == "partner" else column.kind)
    if source:
        # A partner who joins later may be typed already.
        error = texts["book_pair.caliper_error" if source == "issued" else "book_pair.person_error"]
        listed = f"={drawing.places.column(source)}"
        return Rule("list", title, prompt, error, formula=listed, refuses=key != "partner")
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
    return ""


def _shown(texts: Texts, column: Entry, value: Any) -> Value:
    """A value as it stands in its cell; None where nothing does."""
    if value is None or value in ("", ()):
        return None
    if column.kind == "flag":
        value = "yes" if value else "no"
    if column.kind in ("word", "flag"):
        return texts[f"{_WORDS}.{value}"]
    if isinstance(value, tuple):
        return "; ".join(", ".join(each) if isinstance(each, tuple) else each for each in value)
    return value if isinstance(value, float | int) else str(value)


def _class_tab(drawing: _Drawing) -> Tab:
    """One setting a line, with what it does, and below them the code of the class."""
    texts, book = drawing.places.texts, drawing.book
    values = setting_values(book)
    cells: list[Cell] = []
    heights: list[tuple[int, float]] = []
    for row, key in enumerate([*values, "class_code"], start=FIRST_ROW):
        hint = texts[f"book_hint.{key}"]
        cells += [label(row, 0, texts[f"book_setting.{key}"], "label"), label(row, 2, hint, "hint")]
        heights.append((row, max(22.0, height_for(lines_needed(hint, _SETTING_WIDTHS[2], indent=1)))))
    for row, setting in enumerate(SETTINGS, start=FIRST_ROW):
        shape = "entry_number" if setting.numeric else "entry_text"
        value = _shown(texts, setting, values[setting.key])
        cells.append(entry(row, 1, setting.key, _rule(drawing, setting, "setting"), shape, value))
    cells.append(Cell(FIRST_ROW + len(SETTINGS), 1, "label", book.class_code, "class_code", named=True))
    headings = [texts[f"book_setting.{word}"] for word in ("what", "entry", "hint")]
    counts = _counts(drawing)["class"]
    tab = live_tabs.headed_tab(drawing.places, "class", counts, headings, _SETTING_WIDTHS, cells)
    return replace(tab, heights=(*tab.heights, *heights), first_entry=(FIRST_ROW, 1))


def _table_tab(drawing: _Drawing, table: Table) -> Tab:
    """A tab with one line a record."""
    places = drawing.places
    lines, rows, check = drawing.lines[table.key], places.rows[table.key], table.at("check")
    lined = len(lines) + PRINTED_SPARE
    cells: list[Cell] = []
    for index, values in zip(range(rows), chain(lines, repeat({})), strict=False):
        row = FIRST_ROW + index
        for at, column in enumerate(table.columns):
            if column.kind == "formula":
                text = places.formula(column.formula, table.key, index)
                cells.append(formula(row, at, text, values.get(column.key, ""), "words"))
                continue
            # Known by its name to the program, but no defined name for each of a thousand.
            name = f"{table.line}_{index + 1}_{column.key}"
            rule = _rule(drawing, column, table.line, _condition(places, table, column, row))
            value = _shown(places.texts, column, values.get(column.field or column.key))
            shape = ("entry_line" if index < lined else "open") + ("_number" if column.numeric else "_text")
            cells.append(Cell(row, at, "entry", value, name=name, format=shape, rule=rule))
    # The row goes along with the cell, the column does not.
    column_letter, _, row_number = absolute(FIRST_ROW, check).rpartition("$")
    wanted = f'={column_letter}{row_number}<>""'
    emphasis = Emphasis(FIRST_ROW, check, FIRST_ROW + rows - 1, check, wanted, "wanted")
    headings = [places.texts[f"book_{table.line}.{column.key}"] for column in table.columns]
    widths, counts = [column.width for column in table.columns], _counts(drawing)[table.key]
    tab = live_tabs.headed_tab(places, table.key, counts, headings, widths, cells)
    # A longer list that is pasted gets its grid at once, and ten lines below it.
    first, last = FIRST_ROW + lined, FIRST_ROW + rows - 1
    below = f"=COUNTA($A{first - PRINTED_SPARE + 1}:$A${last + 1})>0"
    grid = Emphasis(first, 0, last, table.width - 1, below, "grid")
    heights = ((row, _LINE_HEIGHT) for row in range(FIRST_ROW, last + 1))
    return replace(
        tab, heights=(*tab.heights, *heights), emphases=(emphasis, grid), printed_rows=FIRST_ROW + lined
    )


def _counts(drawing: _Drawing) -> dict[str, live_tabs.Counts]:
    """What is counted on top of each tab."""
    places, book = drawing.places, drawing.book
    checks = {key: block(places.rows[key], table.at("check")) for key, table in TABLES.items()}
    twice = quoted(places.texts["book_check.id_twice"])
    in_service = sum(caliper.in_service for caliper in book.settings.calipers)
    wrong = sum(bool(line["check"]) for line in drawing.lines["pairs"])
    people: live_tabs.Counts = {"people": (places.filled("ids"), len(book.people))}
    pairs: live_tabs.Counts = {"pairs": (places.filled("pair_keys"), len(book.pairings))}
    return {
        "class": {**people, **pairs},
        "roster": {**people, "twice": (f"=SUMPRODUCT(--({checks['roster']}={twice}))", 0)},
        "calipers": {"in_service": (places.filled("issued"), in_service)},
        "pairs": {**pairs, "faults": (f'=SUMPRODUCT(--({checks["pairs"]}<>""))', wrong)},
    }
