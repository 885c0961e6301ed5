"""A package of the Open XML kind as a Snapshot, each part read once."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lxml import etree

from sheetgen.model.finding import amount, quoted
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from sheetgen.workbook.package import Package
from sheetgen.workbook.refusal import Refusal, RefusedError, too_large, unreadable
from sheetgen.workbook.seen_cells import read_seen_tab
from sheetgen.workbook.seen_texts import read_seen_texts
from sheetgen.workbook.sheet_rules import RuledPlaces, read_rules
from sheetgen.workbook.sheet_xml import BookContext, read_cells
from sheetgen.workbook.xml_parts import (
    LARGEST_REMEMBERED,
    Relation,
    attribute_true,
    defined_names,
    namespace_of,
    parse_bytes,
    part_bytes,
    read_properties,
    read_relations,
    read_shared_strings,
    read_styles,
    remembered,
    unescape,
)

__all__ = ["snapshot"]

_MOST_CELLS = 200_000

# A row takes memory without a cell. Only the first 5,000 are read, and the most that a part of the size that
# is read without the XML parser can hold is 50,000 (`<row/>`), so both ways of reading refuse the same.
_MOST_ROWS = 60_000
_ROW = re.compile(rb"[<:]row[\s/>]")


@dataclass(frozen=True, slots=True)
class _ListedTab:
    """One tab as the workbook part lists it."""

    title: str
    visibility: str
    relation_key: str


@dataclass(frozen=True, slots=True)
class _WholeBook:
    """What the workbook part says."""

    tabs: tuple[_ListedTab, ...]
    names: Mapping[str, str]
    structure_protected: bool
    starts_1904: bool


def snapshot(package: Package, remember: bool = True) -> Snapshot | Refusal:
    """Return what a workbook holds; nothing about its contents raises.

    Numbers are floats; a date is its serial number counted from 1900, whatever the workbook counts from.
    Cells beyond row 5,000 or column 256 are left out, but count towards the bound of 200,000; a tab may have
    60,000 rows.

    Parameters
    ----------
    remember : whether what earlier workbooks held may be taken from memory; the outcome is the same.
    """
    try:
        return _read_workbook(package, remember)
    except RefusedError as refused:
        return refused.refusal


def _read_workbook(package: Package, remember: bool) -> Snapshot:
    own = read_relations(package, "")
    part = _target(own, "officedocument", "xl/workbook.xml")
    data = part_bytes(package, part)
    if data is None:
        raise RefusedError(unreadable("no-workbook"))
    whole = _whole_book(data, part)
    relations = read_relations(package, part)
    folder = part.rpartition("/")[0]
    style_part = _target(relations, "styles", f"{folder}/styles.xml")
    text_part = _target(relations, "sharedstrings", f"{folder}/sharedstrings.xml")
    book = BookContext(
        _shared_strings(package, text_part, remember),
        read_styles(package, style_part),
        whole.starts_1904,
        part_bytes(package, style_part) or b"",
    )
    # Custom properties last: they are the ones that a sheet handed out relies on.
    properties = (
        _target(own, "extendedproperties", "docprops/app.xml"),
        _target(own, "coreproperties", "docprops/core.xml"),
        _target(own, "customproperties", "docprops/custom.xml"),
    )
    return Snapshot(
        _read_tabs(package, whole.tabs, relations, book, remember),
        whole.names,
        read_properties(package, properties),
        whole.structure_protected,
    )


@remembered
def _whole_book(data: bytes, part: str) -> _WholeBook:
    root = parse_bytes(data, part)
    namespace = namespace_of(root, part)
    return _WholeBook(
        tuple(
            _ListedTab(unescape(sheet.get("name", "")), sheet.get("state", "visible"), _relation_key(sheet))
            for sheet in root.iterfind(f"{namespace}sheets/{namespace}sheet")
        ),
        defined_names(root, namespace),
        attribute_true(root.find(f"{namespace}workbookProtection"), "lockStructure"),
        attribute_true(root.find(f"{namespace}workbookPr"), "date1904"),
    )


def _shared_strings(package: Package, part: str, remember: bool) -> Mapping[str, str]:
    data = part_bytes(package, part) if remember else None
    texts = None if data is None else read_seen_texts(data, part)
    return read_shared_strings(package, part) if texts is None else texts


def _target(relations: Sequence[Relation], kind: str, default: str) -> str:
    return next((relation.target for relation in relations if relation.kind == kind), default)


def _read_tabs(
    package: Package,
    listed: Sequence[_ListedTab],
    relations: Sequence[Relation],
    book: BookContext,
    remember: bool,
) -> tuple[TabState, ...]:
    by_key = {relation.key: relation for relation in relations}
    tabs: list[TabState] = []
    parts_read: set[str] = set()
    room = _MOST_CELLS
    for one in listed:
        title = one.title
        relation = by_key.get(one.relation_key)
        if relation is None:
            raise RefusedError(unreadable("empty-tab", title=quoted(title[:80])))
        if relation.kind != "worksheet":
            # Chart tabs and the like hold no cells.
            tabs.append(TabState(title, {}, False, one.visibility))
            continue
        if relation.target in parts_read:
            raise RefusedError(unreadable("shared-tab", title=quoted(title[:80])))
        parts_read.add(relation.target)
        tab, count = _read_tab(package, relation.target, one, book, room, remember)
        room -= count
        tabs.append(tab)
    if not tabs:
        raise RefusedError(unreadable("no-tabs"))
    return tuple(tabs)


def _relation_key(sheet: etree._Element) -> str:
    return next((str(text) for name, text in sheet.items() if name.endswith("relationships}id")), "")


def _read_tab(
    package: Package, part: str, listed: _ListedTab, book: BookContext, room: int, remember: bool
) -> tuple[TabState, int]:
    """Return a tab and how many cells its part has, kept or not; more than `room` are refused."""
    data = part_bytes(package, part)
    if data is None:
        raise RefusedError(unreadable("lost-tab", title=quoted(listed.title[:80])))
    seen = read_seen_tab(data, part, book) if remember else None
    if seen is not None and seen.count <= room:
        return _tab_state(listed, seen.cells, seen.protected, seen.rules), seen.count
    _check_rows(data)
    root = parse_bytes(data, part)
    namespace = namespace_of(root, part)
    protected = attribute_true(root.find(f"{namespace}sheetProtection"), "sheet")
    sheet_data = root.find(f"{namespace}sheetData")
    if sheet_data is None:
        return TabState(listed.title, {}, protected, listed.visibility), 0
    count = sum(map(len, sheet_data))
    if count > room:
        raise RefusedError(too_large("cells", most=amount(_MOST_CELLS)))
    rules = read_rules(root, namespace)
    return _tab_state(listed, read_cells(sheet_data, namespace, book, rules), protected, rules), count


def _tab_state(
    listed: _ListedTab, cells: dict[tuple[int, int], CellState], protected: bool, rules: RuledPlaces
) -> TabState:
    return TabState(listed.title, cells, protected, listed.visibility, rules.rules, rules.wide_rules)


def _check_rows(data: bytes) -> None:
    """Refuse a part with far too many rows before its tree is made, under any prefix and of any width."""
    if len(data) <= LARGEST_REMEMBERED:
        return
    # Of an encoding of two or four bytes a sign the bytes between are zeros.
    rows = sum(1 for _ in _ROW.finditer(data.replace(b"\0", b"")))
    if rows > _MOST_ROWS:
        raise RefusedError(too_large("rows", most=amount(_MOST_ROWS)))
