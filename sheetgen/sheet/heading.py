"""What every tab of a sheet has in common: the heading with codes, the line of steps, the next step and the
way to the next tab; and how its entries look."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sheetgen.protocols.names import START_ENTRIES
from sheetgen.protocols.protocol import Protocol
from sheetgen.sheet.next_steps import first_step_line
from sheetgen.texts.languages import Texts, unaccented
from sheetgen.workbook.addresses import column_letters
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import entry, formula, identity, label, lines_needed, number_rule
from sheetgen.workbook.layout import Cell, Emphasis, Rule, Tab

TABS = ("care", "start", "sites", "drill", "readings", "working", "results", "about")
"""The visible tabs in the order of the work; Drill where the class has it."""

HEAD_HEIGHTS = ((0, 30.0), (1, 22.5), (2, 33.0))
"""Of the heading [points]: 114 px together."""
COLUMN_HEADINGS = 3
"""The row of the column headings, and the last that stays when the others scroll."""
HEADING_HEIGHT = 34.0
"""Two lines."""
_WIDER_COLUMNS = 1.18
"""A wide typeface makes columns wider too, since they count in its digits: by 1.21 for the widest stand-in.
In the typeface asked for, columns are as they are and text is narrower by 1.2."""


def head(
    tab: str,
    columns: int,
    codes_at: int,
    protocol: Protocol,
    texts: Texts,
    counted: bool = True,
    after: str = "",
) -> list[Cell]:
    """Return the heading of a tab.
    columns : how many the tab shows; the heading runs across them. codes_at : the column of the codes.
    counted : whether the tab is wide enough to count the readings behind the steps. after : the tab that
    comes next, where it is not the next of TABS."""
    line = "={counted_step_line}" if counted else "={step_line}"
    after = after or TABS[(TABS.index(tab) + 1) % len(TABS)]
    link = f"{texts[f'tab.{after}']} ▸" if tab != TABS[-1] else f"◂ {texts[f'tab.{after}']}"
    # The tab of the next step on every other tab: on Drill, too, one types what a scale shows.
    here = f'OR({{next_tab}}="",{{next_tab}}={quoted(texts[f"tab.{tab}"])})'
    text = f'="▶  "&IF({here},"",{{next_tab}}&" ▸ ")&{{next_step}}'
    first_tab = "" if tab == TABS[0] else f"{texts[f'tab.{TABS[0]}']} ▸ "
    begun = f"▶  {first_tab}{texts['ask.cautions_confirmed']}"
    cells = [
        label(0, 0, texts[f"{tab}.title"], "bar_title"),
        identity(0, codes_at, "sheet_line", "bar"),
        Cell(1, columns - 1, "label", link, format="steps_link", link=after),
        formula(1, 0, line, first_step_line(texts, protocol if counted else None), "steps"),
        formula(2, 0, text, begun, "next", f"shown_next_{tab}"),
    ]
    taken = {(cell.row, cell.column) for cell in cells}
    for row, format in enumerate(("bar", "steps", "next")):
        cells += [label(row, column, None, format) for column in range(columns) if (row, column) not in taken]
    return cells


def sheet_tab(
    key: str,
    cells: Iterable[Cell],
    widths: tuple[float, ...],
    heights: Iterable[tuple[int, float]],
    texts: Texts,
    **more: Any,
) -> Tab:
    """Return a tab of a sheet: below the heading, which stays in sight, a text to scroll through and to print
    without the heading; or, where it is lying, a table with its column headings, on one printed page.
    heights : of the rows below the heading. more : what else a Tab has, or has otherwise."""
    table = more.get("landscape", False)
    usual: dict[str, Any] = {"freeze": (COLUMN_HEADINGS + table, 0), "bare": True}
    usual |= {"pages": 1} if table else {"printed_from": COLUMN_HEADINGS}
    fixed = (key, texts[f"tab.{key}"], tuple(cells), widths, (*HEAD_HEIGHTS, *heights))
    return Tab(*fixed, **{**usual, **more})


def wrapped_lines(text: str, width: float, bold: bool = False, indent: int = 0, points: float = 12.0) -> int:
    """Return the lines that a wrapped text takes in a column of so many characters, in either typeface."""
    return lines_needed(text, width * _WIDER_COLUMNS, bold, indent, points)


def column_headings(titles: Sequence[str], row: int = COLUMN_HEADINGS) -> list[Cell]:
    """Return a row of column headings."""
    return [label(row, column, title, "column") for column, title in enumerate(titles)]


def number_entry(row: int, column: int, name: str, title: str, texts: Texts) -> Cell:
    """Return an entry on Care or Start that takes a number in a range."""
    limits = START_ENTRIES[name].limits
    assert limits is not None
    shape = "entry_whole" if limits[0] == "whole" else "entry_reading"
    return entry(row, column, name, number_rule(texts, *limits, title, ""), shape)


def words_entry(
    row: int, column: int, name: str, title: str, shown: Mapping[str, str], texts: Texts, filled_in: str = ""
) -> Cell:
    """Return an entry that takes one word of a list.
    shown : code word to the word shown. filled_in : code word at hand-out. Where the list shows other words
    than the code words, the cell's defined name is `typed_NAME`, and NAME belongs to the cell of the hidden
    tab that holds the code word. A list whose words have accents refuses nothing: the sheet knows them
    without, and names what it does not know."""
    codes, words = tuple(shown), tuple(shown.values())
    error = texts["rule.list"].format(words=", ".join(words))[:255]
    plain = all(unaccented(word) == word for word in words)
    rule = Rule("list", title[:32], "", error, words, codes=() if codes == words else codes, refuses=plain)
    defined = "" if codes == words else f"typed_{name}"
    value = shown.get(filled_in) or None
    return Cell(row, column, "entry", value, name, "", "entry_word", rule, named=True, defined=defined)


def lit(rows: Sequence[int], columns: tuple[int, int], entry_column: int, at: int) -> tuple[Emphasis, ...]:
    """Return the emphases that light the row of the next step, and its entry.
    columns : first and last that light up. at : the hidden column that tells."""
    first, last = min(rows), max(rows)
    test = f"=${column_letters(at)}{first + 1}=1"
    return (
        Emphasis(first, entry_column, last, entry_column, test, "lit_entry"),
        Emphasis(first, columns[0], last, columns[1], test, "lit"),
    )


def next_here(row: int, column: int, name: str) -> Cell:
    """Return the hidden cell that tells, on an entry's own tab, whether it comes next: a conditional format
    looks at its own tab only."""
    text = f"=IF({{next_rank}}=0,0,IF({{rank_{name}}}={{next_rank}},1,0))"
    first = 1 if name == "cautions_confirmed" else 0
    return formula(row, column, text, first, "unseen", f"next_{name}")
