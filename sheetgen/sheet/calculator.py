"""The hidden tab: identity, the class's register, coefficients, a mirror of every entry, every live result,
and what comes next.

Entries are mirrored by fixed place, INDEX into one column of entries from its heading, which a cut or drag
inside the column does not move, and which holds nothing that depends on it. Column A names a line, column B
holds it, column C the rank of a message; tables stand to the right.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from sheetgen.protocols.names import (
    DRILL,
    FILLED_IN,
    LEFT_OUT,
    PRACTISED,
    START_ENTRIES,
    TEXT_ENTRIES,
    change_words,
    entry_names,
    live_names,
    start_entries,
)
from sheetgen.protocols.protocol import TERMS, Equation, Protocol
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.drill_tab import drill_cells, drill_lines
from sheetgen.sheet.live_formulas import EQUATION_FIELDS, result_lines
from sheetgen.sheet.next_steps import NOTES, fault_lines, messages, next_step_lines, note_lines, warning_lines
from sheetgen.sheet.working import equation_text
from sheetgen.texts.languages import Texts, unaccented
from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import Line, chain, formula, identity, label
from sheetgen.workbook.layout import Cell, Tab, Value

_IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
    "class_code",
)  # fmt: skip
_FIRST_TABLE_ROW = 2
_TABLE_COLUMNS = {"register": 4, "change": 9, "note": 11, "equation": 14}
_REGISTER_FIELDS = ("identifier", "division", "opening", "zero")


def calculator_tab(
    protocol: Protocol, settings: SheetSettings, settings_text: str, texts: Texts, visible: Sequence[Tab]
) -> Tab:
    """Return the hidden tab, its formulas still with names in braces.
    settings_text : the settings as one line of text, printed so that a sheet tells what it was built with.
    visible : the other tabs, whose entries it mirrors."""
    cells, row = [label(0, 0, texts["calculator.title"], "plain")], _FIRST_TABLE_ROW
    drilled = DRILL if settings.reading_drill else ()
    of_drill = [name.replace("_", f"_{what}_") for name in drilled for what in ("shown", "zero")]
    for name in (*_IDENTITY, "issued_caliper", *practice_names(protocol), *of_drill):
        cells += [label(row, 0, name, "plain"), identity(row, 1, name, "plain", named=name in _IDENTITY)]
        row += 1
    printed = Cell(row, 1, "label", settings_text, "settings", format="plain", named=True)
    cells += [label(row, 0, "settings", "plain"), printed]
    typed = {cell.name: _typed(tab, cell) for tab in visible for cell in tab.cells if cell.role == "entry"}
    asked, readings = messages(protocol, texts, typed), texts["tab.readings"]
    while_round_2 = 'IF(AND({round_1_complete}="yes",{round_2_complete}="no"),"yes","no")'
    covered = while_round_2 if settings.cover_round_1 else '"no"'
    lines = [
        *(
            Line(f"in_{name}", _mirror(name, typed[name], protocol, texts), FILLED_IN.get(name, ""))
            for name in entry_names(protocol)
        ),
        *result_lines(protocol, settings),
        *fault_lines(protocol, typed),
        *warning_lines(protocol, texts),
        Line("covered", f"={covered}", "no"),
        *note_lines(protocol),
    ]
    if settings.reading_drill:
        lines += [Line(f"in_{name}", _mirror(name, typed[name], protocol, texts)) for name in drilled]
        lines += drill_lines(settings.calipers, texts)
        cells += drill_cells(settings.calipers)
    cells += _lines(lines, row + 1, protocol, texts)
    row += 1 + len(lines)
    for rank, message in enumerate(asked, start=1):
        name, first_rank = f"message_{message.entry}", rank if message.first else ""
        cells += [
            label(row, 0, name, "plain"),
            formula(row, 1, f"={message.formula}", message.first, "plain", name),
            formula(row, 2, f'=IF({{{name}}}="","",{rank})', first_rank, "plain", f"rank_{message.entry}"),
            label(row, 3, texts.get(f"tab.{message.step}", readings), "plain", name=f"tab_{message.entry}"),
        ]
        row += 1
    cells += _lines(next_step_lines(asked, protocol, texts), row, protocol, texts)
    register = [[getattr(caliper, field) for field in _REGISTER_FIELDS] for caliper in settings.calipers]
    cells += _table("register", _REGISTER_FIELDS, register)
    cells += _table("change", ("",), [[site.word] for site in protocol.sites])
    cells += _table("note", ("word", "text"), [[word, texts[f"note.{word}"]] for word in NOTES])
    if protocol.equations:
        rows = [[*_equation_row(each), equation_text(each, texts)] for each in protocol.equations]
        cells += _table("equation", (*EQUATION_FIELDS, "text"), rows)
    return Tab("calculator", texts["tab.calculator"], tuple(cells), widths=(34, 24, 8), hidden=True)


def _lines(lines: Sequence[Line], row: int, protocol: Protocol, texts: Texts) -> list[Cell]:
    named = set(live_names(protocol))
    cells = []
    for at, line in enumerate(lines, start=row):
        if line.formula:
            value = formula(at, 1, line.formula, line.first, "plain", line.name, line.name in named)
        else:
            value = label(at, 1, line.first, "plain", name=line.name)
        mirrored = line.name.removeprefix("in_")
        if mirrored != line.name and _translated(mirrored, protocol, texts):
            value = replace(value, named=True, defined=mirrored)
        cells += [label(at, 0, line.name, "plain"), value]
    return cells


def practice_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the identity names of the practice set: `practice_` and the entry each stands for."""
    asked = start_entries(protocol)
    details = (name for name in PRACTISED if name in asked)
    readings = (f"reading_{word}" for word in change_words(protocol))
    return tuple(f"practice_{name}" for name in (*details, *readings))


def _typed(tab: Tab, cell: Cell) -> str:
    """The cell of an entry, by its place in its column of entries."""
    rows = [other.row for other in tab.cells if other.role == "entry" and other.column == cell.column]
    column = f"{absolute(min(rows) - 1, cell.column)}:{absolute(max(rows), cell.column)}"
    return f"INDEX({in_tab(tab.title, column)},{cell.row - min(rows) + 2})"


def shown_words(name: str, protocol: Protocol, texts: Texts) -> dict[str, str]:
    """Return code word to the word shown of an entry that offers words; nothing for another."""
    if name == "changed_from_site":
        return {site.word: site.title for site in protocol.sites}
    if name.startswith("not_taken_"):
        return {LEFT_OUT: texts[f"word.{LEFT_OUT}"]}
    known = START_ENTRIES.get(name)
    return {} if known is None else {code: texts[f"word.{code}"] for code in known.words}


def _translated(name: str, protocol: Protocol, texts: Texts) -> dict[str, str]:
    """The words of an entry's list that are not written as their code words, with and without their accents,
    each with the code word it stands for. A program takes no notice of case."""
    shown = shown_words(name, protocol, texts)
    return {
        word: code
        for code, text in shown.items()
        for word in dict.fromkeys((text, unaccented(text)))
        if word != code
    }


def _mirror(name: str, cell: str, protocol: Protocol, texts: Texts) -> str:
    """An entry as it counts: a text trimmed, and as its code word; a number to hundredths."""
    if name in TEXT_ENTRIES or name.startswith(("not_taken_", "answer_")):
        found = f'TRIM({cell}&"")'
        codes = _translated(name, protocol, texts)
        words = [(f"{found}={quoted(word)}", f'"{code}"') for word, code in codes.items()]
        return f'=IF(OR(ISTEXT({cell}),ISNUMBER({cell})),{chain(words, found)},"")'
    if name.startswith("own_"):
        return f'=IF(ISNUMBER({cell}),{cell},"")'
    # In whole years, as people count an age: 17.996 is 17.
    counts = f"INT({cell})" if name == "age_years" else f"ROUND({cell},2)"
    # No entry of this trade reaches a million; the recalculation leaves such numbers out as well.
    return f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,{counts},""),"")'


def _table(prefix: str, fields: Sequence[str], rows: Sequence[Sequence[Value]]) -> list[Cell]:
    """A table; names PREFIX_FIELD_first and _last bound each column, an empty row the one of a single row."""
    cells = []
    for column, field in enumerate(fields, start=_TABLE_COLUMNS[prefix]):
        name = f"{prefix}_{field}" if field else prefix
        cells.append(label(1, column, name, "plain"))
        values = [row[column - _TABLE_COLUMNS[prefix]] for row in rows]
        ends = {0: f"{name}_first", max(len(values), 2) - 1: f"{name}_last"}
        for at, value in enumerate([*values, None] if len(values) == 1 else values):
            cells.append(label(_FIRST_TABLE_ROW + at, column, value, "plain", name=ends.get(at, "")))
    return cells


def _equation_row(equation: Equation) -> list[Value]:
    coefficients = dict(equation.coefficients)
    values = [
        coefficients.get(field, 0.0) if field in TERMS else getattr(equation, field)
        for field in EQUATION_FIELDS
    ]
    # A blank cell would come out of INDEX as 0, and a limit of 0 shuts out every sum.
    return ["none" if value is None else value for value in values]
