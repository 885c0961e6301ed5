"""A file taken apart once, for many changes; and what every kind of change needs of it."""

import copy
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from lxml import etree

from tests.evidence.twins import parts_of

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
WORKBOOK = "xl/workbook.xml"
STYLES = "xl/styles.xml"


@dataclass(frozen=True, slots=True)
class Spot:
    """One cell of a file."""

    part: str
    title: str
    reference: str
    locked: bool
    formula: str
    kind: str
    """What it holds: `text`, `number`, or nothing."""


@dataclass(frozen=True, slots=True)
class Book:
    """A file taken apart once, for many changes."""

    parts: Mapping[str, bytes]
    trees: Mapping[str, etree._Element]
    titles: Mapping[str, str]
    spots: tuple[Spot, ...]
    names: Mapping[str, str]
    hidden: frozenset[str]

    def some(self, **wanted: object) -> list[Spot]:
        """Locked cells with these properties."""
        return [
            spot
            for spot in self.spots
            if spot.locked and all(getattr(spot, name) == value for name, value in wanted.items())
        ]


@dataclass(frozen=True, slots=True)
class Change:
    """One change: the parts as they are then, and where it is.

    cells : of which one must be named by what is found; empty: the tab is place enough. tab : empty where
        it is the whole file. words : that must be named where it is neither a tab nor a cell.
    """

    kind: str
    parts: Mapping[str, bytes]
    tab: str = ""
    cells: frozenset[str] = frozenset()
    words: str = ""
    told: str = ""


@dataclass(slots=True)
class Draft:
    """Parts being changed."""

    book: Book
    trees: dict[str, etree._Element] = field(default_factory=dict)

    def tree(self, part: str) -> etree._Element:
        if part not in self.trees:
            self.trees[part] = copy.deepcopy(self.book.trees[part])
        return self.trees[part]

    def cell(self, spot: Spot) -> etree._Element:
        (found,) = (one for one in self.tree(spot.part).iter(f"{MAIN}c") if one.get("r") == spot.reference)
        return found

    def parts(self) -> dict[str, bytes]:
        return {
            name: etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
            for name, root in self.trees.items()
        }

    def change(self, kind: str, spot: Spot, told: str = "") -> Change:
        return Change(kind, self.parts(), spot.title, frozenset({spot.reference}), told=told)


Maker = Callable[[Book, random.Random], Change | None]


def book_of(data: bytes) -> Book:
    """Take a file apart."""
    parts = parts_of(data)
    trees = {name: etree.fromstring(part) for name, part in parts.items() if name.endswith((".xml", ".rels"))}
    targets = {one.get("Id"): one.get("Target") for one in trees["xl/_rels/workbook.xml.rels"]}
    titles, hidden = {}, set()
    for sheet in trees[WORKBOOK].iter(f"{MAIN}sheet"):
        key = next(value for name, value in sheet.items() if name.endswith("}id"))
        target = str(targets[key])
        part = target[1:] if target.startswith("/") else f"xl/{target}"
        titles[part] = str(sheet.get("name"))
        if sheet.get("state", "visible") != "visible":
            hidden.add(part)
    open_styles = _open_styles(trees[STYLES])
    spots = tuple(_spot(part, title, cell, open_styles) for part, title in titles.items()
                  for cell in trees[part].iter(f"{MAIN}c"))  # fmt: skip
    names = {
        str(one.get("name")): one.text or ""
        for one in trees[WORKBOOK].iter(f"{MAIN}definedName")
        if not str(one.get("name")).startswith("_xlnm")
    }
    return Book(parts, trees, titles, spots, names, frozenset(hidden))


def _spot(part: str, title: str, cell: etree._Element, open_styles: set[int]) -> Spot:
    formula, value = cell.find(f"{MAIN}f"), cell.find(f"{MAIN}v")
    text = cell.get("t") in ("s", "str", "inlineStr")
    kind = "text" if text else "number" if value is not None else ""
    reference = str(cell.get("r"))
    locked = int(cell.get("s", "0")) not in open_styles
    return Spot(part, title, reference, locked, "" if formula is None else formula.text or "", kind)


def _open_styles(styles: etree._Element) -> set[int]:
    formats = styles.find(f"{MAIN}cellXfs")
    assert formats is not None
    return {
        number
        for number, one in enumerate(formats)
        if any(child.get("locked") in ("0", "false") for child in one.iter(f"{MAIN}protection"))
    }


def chosen(dice: random.Random, spots: list[Spot]) -> Spot | None:
    return dice.choice(spots) if spots else None


def put(cell: etree._Element, value: float | str | None) -> None:
    for child in list(cell):
        cell.remove(child)
    cell.attrib.pop("t", None)
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        etree.SubElement(etree.SubElement(cell, f"{MAIN}is"), f"{MAIN}t").text = value
    elif value is not None:
        etree.SubElement(cell, f"{MAIN}v").text = repr(value)


def shown(book: Book, spot: Spot) -> str:
    """The text a cell shows."""
    (cell,) = (one for one in book.trees[spot.part].iter(f"{MAIN}c") if one.get("r") == spot.reference)
    if cell.get("t") == "s":
        number = int(cell.findtext(f"{MAIN}v") or 0)
        inner = list(book.trees["xl/sharedStrings.xml"].iterchildren(f"{MAIN}si"))[number]
        return "".join(one.text or "" for one in inner.iter(f"{MAIN}t"))
    return cell.findtext(f"{MAIN}v") or "".join(one.text or "" for one in cell.iter(f"{MAIN}t"))


def parent(element: etree._Element) -> etree._Element:
    above = element.getparent()
    assert above is not None
    return above
