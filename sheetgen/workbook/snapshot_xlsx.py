"""A package of the Open XML kind as a Snapshot, each part read once."""

from collections.abc import Sequence

from lxml import etree

from sheetgen.model.snapshot import Snapshot, TabState
from sheetgen.workbook.package import Package
from sheetgen.workbook.refusal import Refusal, RefusedError, too_large, unreadable
from sheetgen.workbook.sheet_rules import read_rules
from sheetgen.workbook.sheet_xml import BookContext, read_cells
from sheetgen.workbook.xml_parts import (
    Relation,
    attribute_true,
    defined_names,
    namespace_of,
    parse_part,
    read_properties,
    read_relations,
    read_shared_strings,
    read_styles,
    unescape,
)

__all__ = ["snapshot"]

_MOST_CELLS = 200_000


def snapshot(package: Package) -> Snapshot | Refusal:
    """Return what a workbook holds; nothing about its contents raises.

    Numbers are floats; a date is its serial number counted from 1900, whatever the workbook counts from.
    Cells beyond row 5,000 or column 256 are left out, but count towards the bound of 200,000.
    """
    try:
        return _read_workbook(package)
    except RefusedError as refused:
        return refused.refusal


def _read_workbook(package: Package) -> Snapshot:
    own = read_relations(package, "")
    part = _target(own, "officedocument", "xl/workbook.xml")
    root = parse_part(package, part)
    if root is None:
        raise RefusedError(unreadable("a package without its workbook part"))
    namespace = namespace_of(root, part)
    relations = read_relations(package, part)
    folder = part.rpartition("/")[0]
    book = BookContext(
        read_shared_strings(package, _target(relations, "sharedstrings", f"{folder}/sharedstrings.xml")),
        read_styles(package, _target(relations, "styles", f"{folder}/styles.xml")),
        attribute_true(root.find(f"{namespace}workbookPr"), "date1904"),
    )
    # Custom properties last: they are the ones that a sheet handed out relies on.
    properties = (
        _target(own, "extendedproperties", "docprops/app.xml"),
        _target(own, "coreproperties", "docprops/core.xml"),
        _target(own, "customproperties", "docprops/custom.xml"),
    )
    return Snapshot(
        _read_tabs(package, root, namespace, relations, book),
        defined_names(root, namespace),
        read_properties(package, properties),
        attribute_true(root.find(f"{namespace}workbookProtection"), "lockStructure"),
    )


def _target(relations: Sequence[Relation], kind: str, default: str) -> str:
    return next((relation.target for relation in relations if relation.kind == kind), default)


def _read_tabs(
    package: Package,
    root: etree._Element,
    namespace: str,
    relations: Sequence[Relation],
    book: BookContext,
) -> tuple[TabState, ...]:
    by_key = {relation.key: relation for relation in relations}
    tabs: list[TabState] = []
    parts_read: set[str] = set()
    room = _MOST_CELLS
    for sheet in root.iterfind(f"{namespace}sheets/{namespace}sheet"):
        title = unescape(sheet.get("name", ""))
        visibility = sheet.get("state", "visible")
        relation = by_key.get(_relation_key(sheet))
        if relation is None:
            raise RefusedError(unreadable(f"a tab {title[:80]!r} without contents"))
        if relation.kind != "worksheet":
            # Chart tabs and the like hold no cells.
            tabs.append(TabState(title, {}, False, visibility))
            continue
        if relation.target in parts_read:
            raise RefusedError(unreadable(f"a tab {title[:80]!r} that shares its contents with another"))
        parts_read.add(relation.target)
        tab, count = _read_tab(package, relation.target, title, visibility, book, room)
        room -= count
        tabs.append(tab)
    if not tabs:
        raise RefusedError(unreadable("a workbook without tabs"))
    return tuple(tabs)


def _relation_key(sheet: etree._Element) -> str:
    return next((str(text) for name, text in sheet.items() if name.endswith("relationships}id")), "")


def _read_tab(
    package: Package, part: str, title: str, visibility: str, book: BookContext, room: int
) -> tuple[TabState, int]:
    """Return a tab and how many cells its part has, kept or not; more than `room` are refused."""
    root = parse_part(package, part)
    if root is None:
        raise RefusedError(unreadable(f"a tab {title[:80]!r} whose part is missing"))
    namespace = namespace_of(root, part)
    protected = attribute_true(root.find(f"{namespace}sheetProtection"), "sheet")
    sheet_data = root.find(f"{namespace}sheetData")
    if sheet_data is None:
        return TabState(title, {}, protected, visibility), 0
    count = sum(map(len, sheet_data))
    if count > room:
        raise RefusedError(too_large("too many cells", f"at most {_MOST_CELLS:,} cells"))
    cells = read_cells(sheet_data, namespace, book, read_rules(root, namespace))
    return TabState(title, cells, protected, visibility), count
