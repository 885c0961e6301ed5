"""A workbook as its parts, for rules that look at what is written and not at what a library makes of it."""

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from lxml import etree
from openpyxl.utils.cell import range_boundaries

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINKS = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
RELATIONS = "{http://schemas.openxmlformats.org/package/2006/relationships}"
TYPES = "{http://schemas.openxmlformats.org/package/2006/content-types}"
PLACES = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
WORKBOOK, STYLES, TEXTS = "xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml"
LAST_COLUMN, LAST_ROW = 16_384, 1_048_576

Element = etree._Element
Block = tuple[int, int, int, int]
"""First column, first row, last column, last row, from 1."""


@dataclass(frozen=True, slots=True)
class Relation:
    """source, target : parts, the source empty for the package; the target as written where external."""

    source: str
    identifier: str
    kind: str
    target: str
    external: bool


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab with its part. number : from 0, in the order of the workbook."""

    number: int
    title: str
    state: str
    root: Element


class Package:
    """Parts by name, and what they say of each other. names : in the order of the zip; one may be twice."""

    def __init__(self, parts: Mapping[str, bytes], names: tuple[str, ...] = ()) -> None:
        self.parts = parts
        self.names = names or tuple(parts)

    @classmethod
    def read(cls, data: bytes) -> "Package":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            return cls({name: archive.read(name) for name in names}, tuple(names))

    @cached_property
    def roots(self) -> Mapping[str, Element]:
        """Every part that is XML and can be read as such."""
        found = {}
        for name, part in self.parts.items():
            if name.endswith((".xml", ".rels")):
                try:
                    found[name] = etree.fromstring(part)
                except etree.XMLSyntaxError:
                    continue
        return found

    @cached_property
    def relations(self) -> tuple[Relation, ...]:
        return tuple(
            Relation(
                source,
                str(one.get("Id")),
                str(one.get("Type")).rpartition("/")[2],
                target if external else posixpath.normpath(posixpath.join(folder, target)).lstrip("/"),
                external,
            )
            for name, root in self.roots.items()
            if name.endswith(".rels")
            for source in [source_of(name)]
            for folder in ["/" + posixpath.dirname(source)]
            for one in root.iter(f"{RELATIONS}Relationship")
            for external in [one.get("TargetMode") == "External"]
            for target in [str(one.get("Target"))]
        )

    @cached_property
    def tabs(self) -> tuple[Tab, ...]:
        """In the order of the workbook; those without a readable part are left out."""
        targets = {one.identifier: one.target for one in self.relations if one.source == WORKBOOK}
        return tuple(
            Tab(number, str(one.get("name")), one.get("state", "visible"), self.roots[part])
            for number, one in enumerate(self.roots[WORKBOOK].iter(f"{MAIN}sheet"))
            for part in [targets.get(str(one.get(f"{LINKS}id")), "")]
            if part in self.roots
        )

    def count(self, part: str, path: str) -> int:
        """How many elements of a part there are below a path of names such as `cellXfs/xf`."""
        return len(self.roots[part].findall("/".join(f"{MAIN}{step}" for step in path.split("/"))))


def source_of(relations_part: str) -> str:
    """The part that a part of relations is about.

    >>> source_of("xl/worksheets/_rels/sheet1.xml.rels"), source_of("_rels/.rels")
    ('xl/worksheets/sheet1.xml', '')
    """
    folder, name = posixpath.split(relations_part)
    return posixpath.join(posixpath.dirname(folder), name.removesuffix(".rels"))


def blocks(addresses: str) -> list[Block]:
    """Blocks of cells of a list such as `A1 B2:C3`; ValueError where one is none.

    >>> blocks("A1 B2:C3")
    [(1, 1, 1, 1), (2, 2, 3, 3)]
    """
    found = []
    for address in addresses.split():
        left, top, right, bottom = range_boundaries(address.replace("$", ""))
        found.append((left or 1, top or 1, right or LAST_COLUMN, bottom or LAST_ROW))
    return found


def overlap(one: Block, other: Block) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def overlapping(found: list[Block]) -> Iterator[tuple[Block, Block]]:
    """Pairs of blocks that have a cell in common."""
    ordered = sorted(found, key=lambda block: (block[1], block[0]))
    for place, one in enumerate(ordered):
        for other in ordered[place + 1 :]:
            if other[1] > one[3]:
                break
            if overlap(one, other):
                yield one, other


def local(element: Element) -> str:
    return etree.QName(element).localname


_QUOTED = re.compile(r'"(?:[^"]|"")*"')
_TITLE = re.compile(r"'((?:[^']|'')+)'!|([\w.]+)!")


def without_texts(formula: str) -> str:
    """A formula with its texts emptied.

    >>> without_texts('=IF(A1="(","",1)')
    '=IF(A1="","",1)'
    """
    return _QUOTED.sub('""', formula)


def titles_in(formula: str) -> list[str]:
    """Titles of tabs that a formula names.

    >>> titles_in("Calculator!B2+'Class''s list'!A1")
    ['Calculator', "Class's list"]
    """
    return [
        quoted.replace("''", "'") if quoted else plain
        for quoted, plain in _TITLE.findall(without_texts(formula))
    ]
