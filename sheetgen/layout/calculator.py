"""The hidden tab: identity, the class's register, coefficients, a mirror of every entry, every live result.

Entries are mirrored by fixed place, INDEX over a whole block, which a cut or drag inside the block does
not move. Column A names a line, column B holds it; tables stand to the right.
"""

from collections.abc import Mapping
from dataclasses import replace

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.calculator_estimate import EQUATION_FIELDS
from sheetgen.layout.calculator_results import result_lines
from sheetgen.layout.calculator_slips import NOTES, slip_lines
from sheetgen.layout.cells import formula, identity, label
from sheetgen.layout.lines import Line
from sheetgen.layout.practice import practice_names
from sheetgen.layout.vocabulary import (
    STEPS,
    TEXT_ENTRIES,
    change_words,
    entry_names,
    listed_words,
    live_names,
)
from sheetgen.model.layout import Cell, Place, Tab
from sheetgen.model.protocol import FORMS, Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["EQUATION_COLUMNS", "REGISTER_COLUMNS", "calculator_tab"]

KEY = "calculator"
IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
    "class_code", "issued_caliper",
)  # fmt: skip
_UNNAMED = ("issued_caliper",)

REGISTER_COLUMNS = {"identifier": 3, "division": 4, "opening": 5, "zero": 6}
CHANGE_COLUMN = 8
STEP_COLUMNS = (10, 11)
NOTE_COLUMNS = (12, 13)
EQUATION_COLUMNS = {field: 15 + at for at, field in enumerate(EQUATION_FIELDS)}
FIRST_TABLE_ROW = 2
_COEFFICIENTS = {name for names in FORMS.values() for name in names}


def calculator_tab(
    protocol: Protocol,
    settings: SheetSettings,
    settings_text: str,
    texts: Mapping[str, str],
    blocks: Mapping[str, str],
    entries: Mapping[str, Place],
) -> Tab:
    """Return the hidden tab, its formulas still with names in braces.

    Parameters
    ----------
    settings_text : the settings as one line of text, printed so that a sheet tells what it was built with.
    blocks : tab key to the address of the block that holds its entries.
    entries : entry name to its place on a visible tab.
    """
    cells: list[Cell] = [label(0, 0, texts["calculator.title"], "title")]
    row = FIRST_TABLE_ROW
    for name in (*IDENTITY, *practice_names(protocol)):
        named_cell = name in IDENTITY and name not in _UNNAMED
        cells += [label(row, 0, name), identity(row, 1, name, named=named_cell)]
        row += 1
    cells += [label(row, 0, "settings"), label(row, 1, settings_text, name="settings", named=True)]
    row += 1
    named = set(live_names(protocol))
    typed = {name: _typed(name, blocks, entries) for name in entry_names(protocol)}
    lines = [
        *_mirror_lines(typed, texts),
        *result_lines(protocol, settings),
        *slip_lines(protocol, settings, texts, typed),
    ]
    for line in lines:
        cells.append(label(row, 0, line.name))
        value = (
            label(row, 1, line.first, name=line.name)
            if not line.formula
            else formula(row, 1, line.formula, line.first, name=line.name, named=line.name in named)
        )
        mirrored = line.name.removeprefix("in_")
        if mirrored != line.name and _translated(mirrored, texts):
            value = replace(value, named=True, defined=mirrored)
        cells.append(value)
        row += 1
    cells += _register_table(settings) + _change_table(protocol) + _equation_table(protocol)
    cells += _word_table("step", STEPS, STEP_COLUMNS, texts) + _word_table("note", NOTES, NOTE_COLUMNS, texts)
    return Tab(KEY, texts["tab.calculator"], tuple(cells), widths=(34, 24), hidden=True)


def _typed(name: str, blocks: Mapping[str, str], entries: Mapping[str, Place]) -> str:
    """The cell of an entry, by its place in a block."""
    tab, row, column = entries[name]
    return f"INDEX({blocks[tab]},{row + 1},{column + 1})"


def _translated(name: str, texts: Mapping[str, str]) -> dict[str, str]:
    """The words of an entry's list that are not code words, each with the code word it stands for."""
    shown = {texts[f"word.{code}"]: code for code in listed_words(name)}
    return {word: code for word, code in shown.items() if word != code}


def _mirror_lines(typed: Mapping[str, str], texts: Mapping[str, str]) -> list[Line]:
    lines = []
    for name, cell in typed.items():
        if name in TEXT_ENTRIES or name.startswith(("not_taken_", "answer_")):
            found = f'TRIM({cell}&"")'
            for word, code in _translated(name, texts).items():
                found = f'IF(TRIM({cell}&"")={quoted(word)},"{code}",{found})'
            text = f'=IF(OR(ISTEXT({cell}),ISNUMBER({cell})),{found},"")'
        elif name == "age_years":
            # In whole years, as people count an age: 17.996 is 17.
            text = f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,INT({cell}),""),"")'
        elif name.startswith("own_"):
            text = f'=IF(ISNUMBER({cell}),{cell},"")'
        else:
            # No entry of this trade reaches a million; the recalculation leaves such numbers out as well.
            text = f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,ROUND({cell},2),""),"")'
        first = {"data_source": "measured", "side": "right"}.get(name, "")
        lines.append(Line(f"in_{name}", text, first))
    return lines


def _register_table(settings: SheetSettings) -> list[Cell]:
    """The class's calipers; names register_FIELD_first and _last bound each column."""
    cells = [label(1, column, field, "heading") for field, column in REGISTER_COLUMNS.items()]
    last = len(settings.calipers) - 1
    for index, caliper in enumerate(settings.calipers):
        for field, column in REGISTER_COLUMNS.items():
            name = _bound(f"register_{field}", index, last)
            cells.append(label(FIRST_TABLE_ROW + index, column, getattr(caliper, field), name=name))
    return cells + _last_bounds(cells, "register", REGISTER_COLUMNS)


def _change_table(protocol: Protocol) -> list[Cell]:
    words = change_words(protocol)
    cells = [label(1, CHANGE_COLUMN, "changed_from", "heading")]
    for index, word in enumerate(words):
        name = _bound("change", index, len(words) - 1)
        cells.append(label(FIRST_TABLE_ROW + index, CHANGE_COLUMN, word, name=name))
    return cells


def _word_table(
    prefix: str, words: tuple[str, ...], columns: tuple[int, int], texts: Mapping[str, str]
) -> list[Cell]:
    """Code words with what a person reads beside each."""
    cells = []
    for index, word in enumerate(words):
        row, last = FIRST_TABLE_ROW + index, len(words) - 1
        cells += [
            label(row, columns[0], word, name=_bound(f"{prefix}_word", index, last)),
            label(row, columns[1], texts[f"{prefix}.{word}"], name=_bound(f"{prefix}_text", index, last)),
        ]
    return cells


def _equation_table(protocol: Protocol) -> list[Cell]:
    if not protocol.equations:
        return []
    cells = [label(1, column, field, "heading") for field, column in EQUATION_COLUMNS.items()]
    last = len(protocol.equations) - 1
    for index, equation in enumerate(protocol.equations):
        coefficients = dict(equation.coefficients)
        for field, column in EQUATION_COLUMNS.items():
            value = coefficients.get(field, 0.0) if field in _COEFFICIENTS else getattr(equation, field)
            # A blank cell would come out of INDEX as 0, and a limit of 0 shuts out every sum.
            value = "none" if value is None else value
            name = _bound(f"equation_{field}", index, last)
            cells.append(label(FIRST_TABLE_ROW + index, column, value, name=name))
    return cells + _last_bounds(cells, "equation", EQUATION_COLUMNS)


def _bound(prefix: str, index: int, last: int) -> str:
    if index == 0:
        return f"{prefix}_first"
    return f"{prefix}_last" if index == last else ""


def _last_bounds(cells: list[Cell], prefix: str, columns: Mapping[str, int]) -> list[Cell]:
    """Where a table has one row only, an empty row below it closes the range."""
    present = {cell.name for cell in cells}
    return [
        label(FIRST_TABLE_ROW + 1, column, None, name=f"{prefix}_{field}_last")
        for field, column in columns.items()
        if f"{prefix}_{field}_last" not in present
    ]
