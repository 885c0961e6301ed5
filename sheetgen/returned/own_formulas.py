"""Own lines whose formula takes a result of the sheet: no working, however it points there.

Constants, what was typed, and own lines above are the student's own and count. What the sheet works out does
not, nor a way there that cannot be followed: a reference made from a text, another file, a name of nothing.
"""

import re
from collections.abc import Iterator, Mapping

from msgspec import Struct

from sheetgen.workbook.addresses import column_number
from sheetgen.workbook.layout import Layout
from sheetgen.workbook.snapshot import Block, Snapshot, TabState

_MAKERS = frozenset(("INDIRECT", "OFFSET", "CELL", "ADDRESS", "GETPIVOTDATA", "EVALUATE", "CALL", "DDE"))
"""Functions that find a cell which does not stand in the formula, or ask another program."""
_MOST_LOOKED_AT = 200_000  # Cells for one line; what leads further is not followed.
_LAST_ROW, _LAST_COLUMN = 1_048_575, 16_383

_TEXT_OR_ERROR = re.compile(r'"(?:[^"]|"")*"|#[A-Z]+[A-Z0-9/]*[!?]?')
_BRACKETS = re.compile(r"\[([^\[\]:]*)(?::([^\[\]]*))?\]")
_CELL = r"\$?[A-Za-z]{1,3}\$?[0-9]+"
_POINTER = re.compile(
    rf"""(?<![\w.$\\])(?:
      (?P<function>[^\W\d][\w.]*)\s*\(
      | (?:(?P<tab>'(?:[^']|'')+'|[^\W\d][\w.]*)!)?
        (?P<area>{_CELL}:{_CELL}|{_CELL}|\$?[A-Za-z]{{1,3}}:\$?[A-Za-z]{{1,3}}|\$?[0-9]+:\$?[0-9]+)(?![\w.(!:])
      | (?P<name>[^\W\d][\w.\\]*|[\[\]!'])
    )""",
    re.VERBOSE,
)
_SPACE = re.compile(r"\s*([:(!])\s*")
_MADE_END = re.compile(r"\):|:[^\W\d][\w.]*\(")  # An area of which one end is what a function finds.
_END = re.compile(r"\$?([A-Za-z]*)\$?([0-9]*)")

_Place = tuple[str, int, int]  # Title of a tab in lower case, row, column.


class _Sheet(Struct, frozen=True):
    """A returned sheet; tabs by title in lower case.
    results : what the sheet works out. lines : own lines, by their number in the order of working.
    formulas : of every cell that holds one. names : defined name to what it stands for."""

    results: Mapping[str, frozenset[tuple[int, int]]]
    lines: Mapping[_Place, int]
    formulas: Mapping[str, Mapping[tuple[int, int], str]]
    names: Mapping[str, str]


def lines_that_take_a_result(
    layout: Layout, snapshot: Snapshot, tabs: Mapping[str, TabState]
) -> frozenset[str]:
    """Return the own lines whose formula takes a result of the sheet. tabs : by key, as they came back."""
    known = [(tab, tabs[tab.key].title.casefold()) for tab in layout.tabs if tab.key in tabs]
    names: dict[_Place, str] = {
        (title, cell.row, cell.column): cell.name
        for tab, title in known
        for cell in tab.cells
        if cell.role == "entry" and cell.name.startswith("own_")
    }
    sheet = _Sheet(
        {title: frozenset((cell.row, cell.column) for cell in tab.cells if cell.role == "formula")
         for tab, title in known},
        {place: number for number, place in enumerate(names)},
        {state.title.casefold(): {place: cell.formula for place, cell in state.cells.items() if cell.formula}
         for state in snapshot.tabs},
        {name.casefold(): target for name, target in snapshot.names.items()},
    )  # fmt: skip
    return frozenset(name for place, name in names.items() if _takes_a_result(sheet, place))


def _takes_a_result(sheet: _Sheet, line: _Place) -> bool:
    """Follow the formula of a line through every cell but the own lines above it."""
    tab, *at = line
    waiting = [(sheet.formulas[tab].get((at[0], at[1]), ""), tab)]
    followed, looked_at = {line}, 0
    while waiting:
        formula, tab = waiting.pop()
        for title, (top, left, bottom, right) in _areas(sheet, formula, tab):
            formulas, results = sheet.formulas.get(title), sheet.results.get(title, frozenset())
            if formulas is None:
                return True
            looked_at += len(formulas) + len(results)
            within = [(row, column) for row, column in (*results, *formulas)
                      if top <= row <= bottom and left <= column <= right]  # fmt: skip
            if looked_at > _MOST_LOOKED_AT or not results.isdisjoint(within):
                return True
            for row, column in within:
                place = title, row, column
                is_above = sheet.lines.get(place, len(sheet.lines)) < sheet.lines[line]
                if place not in followed and not is_above:
                    followed.add(place)
                    waiting.append((formulas[row, column], title))
    return False


_NOWHERE: tuple[str, Block] = ("", (0, 0, 0, 0))  # No tab has an empty title.


def _areas(sheet: _Sheet, formula: str, tab: str, depth: int = 0) -> Iterator[tuple[str, Block]]:
    """The areas that a formula points at, each with its tab; _NOWHERE for what cannot be followed."""
    text = _SPACE.sub(r"\1", _TEXT_OR_ERROR.sub("", _BRACKETS.sub(_plain, formula)))
    if _MADE_END.search(text):
        yield _NOWHERE
    for pointer in _POINTER.finditer(text):
        function, name = pointer["function"], pointer["name"]
        if function is not None:
            if function.upper().rpartition("XLFN.")[2] in _MAKERS:
                yield _NOWHERE
        elif name is not None:
            target = sheet.names.get(name.casefold(), "")
            if target and depth < 3:
                yield from _areas(sheet, target, tab, depth + 1)
            elif name.upper() not in ("TRUE", "FALSE"):
                yield _NOWHERE
        else:
            title = (pointer["tab"] or tab).casefold()
            if title.startswith("'"):
                title = title[1:-1].replace("''", "'")
            yield title, _block(pointer["area"])


def _plain(brackets: re.Match[str]) -> str:
    """A reference of the open document kind, `[$Tab.B9:.C9]`, as the other kind has it; others stay."""
    tab, point, first = brackets[1].rpartition(".")
    last = (brackets[2] or "").rpartition(".")[2]
    if not point or "#" in tab:
        return brackets[0]
    return f"{tab.removeprefix('$')}{'!' if tab else ''}{first}{':' if last else ''}{last}"


def _block(area: str) -> Block:
    """Rows and columns of an area such as `B9`, `B8:C14`, `B:C` or `8:14`."""
    first, _, last = area.partition(":")
    ends = [_END.fullmatch(end) for end in (first, last or first)]
    rows = [int(end[2]) - 1 for end in ends if end and end[2]] or [0, _LAST_ROW]
    columns = [column_number(end[1]) for end in ends if end and end[1]] or [0, _LAST_COLUMN]
    return min(rows), min(columns), max(rows), max(columns)
