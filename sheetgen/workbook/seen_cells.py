"""Cells that were seen before: only what is new in a tab is given to the XML parser.

The sheets of a class come from one Layout and mostly from one program, so nearly all of a tab's bytes are
those of the file before. A tab is cut into its head, its rows' opening tags, its cells and what follows them.
Each piece of a shape that can only be one whole element is read once, by the same code as ever, and
remembered with everything it depends on; a tab of any other shape is left to the XML parser altogether.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from lxml import etree

from sheetgen.model.snapshot import CellState
from sheetgen.workbook.refusal import RefusedError
from sheetgen.workbook.sheet_rules import RuledPlaces, place_of, read_rules
from sheetgen.workbook.sheet_xml import BookContext, add_ruled_places, read_cells, row_index
from sheetgen.workbook.xml_parts import (
    LARGEST_REMEMBERED,
    attribute_true,
    local_name,
    namespace_of,
    parse_bytes,
)

__all__ = ["SeenTab", "read_seen_tab"]

_MOST_TABS = 64
# Bytes of pieces, each with what Python keeps beside it; beyond it everything of the tab is forgotten.
_MOST_REMEMBERED = 1_000_000
_BESIDE_A_PIECE = 400

# Whatever could hide a second meaning (comments, CDATA, other encodings) is not in these shapes.
_OPENING = re.compile(
    rb"""(?:<\?xml\ version=["']1\.0["'](?:\ encoding=["'](?i:utf-8)["'])?(?:\ standalone=["'](?:yes|no)["'])?
    \ ?\?>\s*)?(<worksheet(?:\s[^<>]*)?>)""",
    re.VERBOSE,
)
_ROW_START = re.compile(rb'(?:<row(?: [A-Za-z0-9:]+="[^"<&]*")* ?/>)*<row(?: [A-Za-z0-9:]+="[^"<&]*")*>')
_CELL = re.compile(
    rb"""r="([A-Z]{1,3}[1-9][0-9]{0,6})"(?:\ s="[0-9]{1,6}")?(?:
      \ t="s"><v>(0|[1-9][0-9]{0,8})</v></c>
    | \ t="inlineStr"><is><t(?:\ xml:space="preserve")?>[^<]*</t></is></c>
    | (?:\ t="(?:n|str|b|e|d)")?(?:
        \ ?/>
      | >(?:<f(?:\ aca="(?:true|false|1|0)"|\ t="array"|\ ref="[A-Z0-9:]*"|\ xml:space="preserve")*>[^<]*</f>
            | <f\ ?/>)?
         (?:<v>[^<]*</v> | <v\ ?/>)?</c> ))""",
    re.VERBOSE,
)
# Values that mean the same whatever stands around them; all others are left to the XML parser.
_PLAIN_VALUE = {
    "n": re.compile(rb"-?(?:0|[1-9][0-9]{0,17})(?:\.[0-9]{1,20})?(?:E[+-]?[0-9]{1,2})?"),
    "str": re.compile(rb"[A-Za-z0-9 .,:;()/%+-]{0,200}"),
    "s": re.compile(rb"0|[1-9][0-9]{0,8}"),
}
_VALUE, _VALUE_END = b"<v>", b"</v></c>"
_KIND = re.compile(rb' t="([a-z]+)"')
_NOT_IN_THE_HEAD = {"sheetData", "sheetProtection", "dataValidations", "extLst"}

_Place = tuple[int, int]
_Known = tuple[_Place, CellState | None, str | None]
"""Place, state (None: the cell tells nothing), number of the shared text that is its value."""


@dataclass(frozen=True, slots=True)
class SeenTab:
    """What a tab's part holds; count : of its cells, kept or not."""

    cells: dict[_Place, CellState]
    protected: bool
    count: int
    rules: RuledPlaces


@dataclass(slots=True)
class _Memory:
    """Pieces of tabs that share everything a cell's meaning depends on, but for the shared texts.

    openings : bytes of a cell up to its value, to the kind of value and the cell it was first seen as.
    """

    opening: bytes
    namespace: str
    protected: bool
    rules: RuledPlaces
    cells: dict[bytes, _Known] = field(default_factory=dict)
    openings: dict[bytes, tuple[str, _Known]] = field(default_factory=dict)
    row_starts: set[bytes] = field(default_factory=set)
    size: int = 0


def read_seen_tab(data: bytes, part: str, book: BookContext) -> SeenTab | None:
    """Return what a tab holds; None where the XML parser has to read it whole, or to say what is wrong."""
    if len(data) > LARGEST_REMEMBERED or b"<!" in data or data.find(b"<?", 2) >= 0:
        return None
    start, end = data.find(b"<sheetData>"), data.find(b"</sheetData>")
    opening = _OPENING.match(data, 0, max(start, 0))
    if opening is None or end < start:
        return None
    rows = data[start + len(b"<sheetData>") : end].split(b"</row>")
    if rows.pop():
        return None
    try:
        if not _is_plain_head(data[:start]):
            return None
        memory = _memory(opening[1], data[end:], part, book.style_part, book.starts_1904)
        return _read(rows, memory, book)
    except RefusedError:
        return None


@lru_cache(maxsize=_MOST_TABS)
def _is_plain_head(head: bytes) -> bool:
    root = parse_bytes(head + b"</worksheet>", "")
    return not any(local_name(child) in _NOT_IN_THE_HEAD for child in root)


@lru_cache(maxsize=_MOST_TABS)
def _memory(opening: bytes, tail: bytes, part: str, style_part: bytes, starts_1904: bool) -> _Memory:
    """An empty memory for tabs that open and end so, in workbooks with these formats."""
    root = parse_bytes(opening + b"<sheetData>" + tail, part)
    namespace = namespace_of(root, part)
    protected = attribute_true(root.find(f"{namespace}sheetProtection"), "sheet")
    return _Memory(opening, namespace, protected, read_rules(root, namespace))


def _read(rows: list[bytes], memory: _Memory, book: BookContext) -> SeenTab | None:
    if memory.size > _MOST_REMEMBERED:
        memory.cells.clear()
        memory.openings.clear()
        memory.row_starts.clear()
        memory.size = 0
    starts: list[bytes] = []
    pieces: list[bytes] = []
    for row in rows:
        first, *others = row.split(b"<c ")
        starts.append(first)
        pieces += others
    new_starts = set(starts).difference(memory.row_starts)
    all_known = list(map(memory.cells.get, pieces))
    new_pieces = set()
    for index, known in enumerate(all_known):
        if known is None:
            known = all_known[index] = _with_another_value(pieces[index], memory)
            if known is None:
                new_pieces.add(pieces[index])
    if (new_starts or new_pieces) and not _learnt(new_starts, new_pieces, memory, book):
        return None
    cells: dict[_Place, CellState] = {}
    strings = book.strings
    for index, known in enumerate(all_known):
        place, state, number = known or memory.cells[pieces[index]]
        if state is None:
            continue
        if number is not None:
            text = strings.get(number)
            if text is None:
                return None
            if text != state.value:
                state = CellState(text, "", state.locked, state.has_rule)
        cells[place] = state
    add_ruled_places(cells, memory.rules)
    return SeenTab(cells, memory.protected, len(pieces), memory.rules)


def _with_another_value(piece: bytes, memory: _Memory) -> _Known | None:
    """Return a cell that was seen with another value, which is a plain one; None for every other cell."""
    before, value, after = piece.rpartition(_VALUE)
    opening = memory.openings.get(before)
    if opening is None or not value or not after.endswith(_VALUE_END):
        return None
    kind, (place, state, _) = opening
    text = after[: -len(_VALUE_END)]
    if state is None or not _PLAIN_VALUE[kind].fullmatch(text):
        return None
    if kind == "s":
        return place, state, text.decode("ascii")
    result = float(text) if kind == "n" else text.decode("ascii")
    return place, CellState(result, state.formula, state.locked, state.has_rule), None


def _learnt(starts: Iterable[bytes], pieces: Iterable[bytes], memory: _Memory, book: BookContext) -> bool:
    """Read new pieces by the XML parser, all in one small tab; False where one is not of a known shape."""
    shapes = [(piece, _CELL.fullmatch(piece)) for piece in pieces]
    numbers: dict[bytes, str | None] = {}
    places: dict[bytes, _Place] = {}
    for piece, shape in shapes:
        place = None if shape is None else place_of(shape[1].decode("ascii"))
        if shape is None or place is None:
            return False
        places[piece] = place
        numbers[piece] = shape[2].decode("ascii") if shape[2] else None
    # Two new cells at one place could not be told apart below.
    if len(set(places.values())) < len(places) or not all(map(_ROW_START.fullmatch, starts)):
        return False
    empty_rows = b"".join(start + b"</row>" for start in starts)
    cells = b"".join(b"<c " + piece for piece in places)
    text = b"%b<sheetData>%b<row>%b</row></sheetData></worksheet>" % (memory.opening, empty_rows, cells)
    sheet_data = parse_bytes(text, "")[0]
    if not _rows_are_plain(sheet_data, memory.namespace) or len(sheet_data[-1]) != len(places):
        return False
    del sheet_data[:-1]
    states = read_cells(sheet_data, memory.namespace, book, memory.rules)
    for piece, place in places.items():
        known = memory.cells[piece] = (place, states.get(place), numbers[piece])
        _remember_opening(piece, known, memory)
    memory.row_starts.update(starts)
    memory.size += 2 * len(text) + _BESIDE_A_PIECE * len(places)
    return True


def _remember_opening(piece: bytes, known: _Known, memory: _Memory) -> None:
    before, value, after = piece.rpartition(_VALUE)
    state = known[1]
    # A date depends on more than its number.
    if not value or not after.endswith(_VALUE_END) or state is None or state.is_date:
        return
    shown = _KIND.search(before[: before.index(b">")])
    kind = "n" if shown is None else shown[1].decode("ascii")
    if kind in _PLAIN_VALUE and _PLAIN_VALUE[kind].fullmatch(after[: -len(_VALUE_END)]):
        memory.openings[before] = (kind, known)


def _rows_are_plain(sheet_data: etree._Element, namespace: str) -> bool:
    """Say whether all are rows of this namespace; RefusedError where one is numbered wrongly."""
    for row in sheet_data:
        if row.tag != f"{namespace}row":
            return False
        row_index(row.get("r"), 0)
    return True
