"""Rules about a package: names and types of parts, relations, drawings."""

from collections import Counter
from collections.abc import Iterator

from tests.audit.package import (
    CHART,
    LAST_COLUMN,
    LAST_ROW,
    LINKS,
    PLACES,
    TYPES,
    Package,
    blocks,
    local,
    source_of,
    titles_in,
)

_TYPES_PART = "[Content_Types].xml"
# beginning of a part's name, ending of its content type
_TYPE_OF = (
    ("xl/workbook.xml", "spreadsheetml.sheet.main+xml"),
    ("xl/worksheets/sheet", "spreadsheetml.worksheet+xml"),
    ("xl/styles.xml", "spreadsheetml.styles+xml"),
    ("xl/sharedStrings.xml", "spreadsheetml.sharedStrings+xml"),
    ("xl/theme/", "officedocument.theme+xml"),
    ("xl/drawings/drawing", "officedocument.drawing+xml"),
    ("xl/charts/chart", "officedocument.drawingml.chart+xml"),
    ("xl/media/", "image/png"),
    ("docProps/app.xml", "officedocument.extended-properties+xml"),
    ("docProps/core.xml", "package.core-properties+xml"),
    ("docProps/custom.xml", "officedocument.custom-properties+xml"),
)
# Found by their kind, and named nowhere in the part that has them.
_BY_KIND = {
    "officeDocument", "core-properties", "extended-properties", "custom-properties", "styles", "theme",
    "sharedStrings",
}  # fmt: skip


def well_formed(package: Package) -> Iterator[str]:
    for name, part in package.parts.items():
        if name.endswith((".xml", ".rels")):
            if name not in package.roots:
                yield f"{name}: no XML"
            if b"<!DOCTYPE" in part:
                yield f"{name}: declares a document type"


def part_names(package: Package) -> Iterator[str]:
    """There once, whatever the case of letters; without a place to climb to."""
    counted = Counter(name.casefold() for name in package.names)
    yield from (f"{name}: there {count} times" for name, count in counted.items() if count > 1)
    yield from (
        f"{name}: no name of a part" for name in package.names if ".." in name or name.startswith("/")
    )


def content_types(package: Package) -> Iterator[str]:
    root = package.roots[_TYPES_PART]
    parts = [(str(one.get("PartName")), str(one.get("ContentType"))) for one in root.iter(f"{TYPES}Override")]
    endings = [
        (str(one.get("Extension")), str(one.get("ContentType"))) for one in root.iter(f"{TYPES}Default")
    ]
    for told in (parts, endings):
        counted = Counter(name.casefold() for name, _ in told)
        yield from (f"{name}: its type is told {count} times" for name, count in counted.items() if count > 1)
    types, by_ending = dict(parts), dict(endings)
    yield from (f"{name}: no such part" for name in types if name.removeprefix("/") not in package.parts)
    for name in package.parts:
        if name == _TYPES_PART:
            continue
        found = types.get(f"/{name}", by_ending.get(name.rpartition(".")[2], ""))
        if not found:
            yield f"{name}: no type"
        expected = next((kind for beginning, kind in _TYPE_OF if name.startswith(beginning)), "")
        if not found.endswith(expected):
            yield f"{name}: {found}, expected {expected}"


def relations(package: Package) -> Iterator[str]:
    """Every one leads to a part, every identifier is used and defined, every part can be reached."""
    for name in package.parts:
        if name.endswith(".rels") and source_of(name) not in (*package.parts, ""):
            yield f"{name}: about a part that is not there"
    counted = Counter((one.source, one.identifier) for one in package.relations)
    yield from (f"{source}: {name} is there {n} times" for (source, name), n in counted.items() if n > 1)
    for one in package.relations:
        if not one.external and one.target not in package.parts:
            yield f"{one.source}: {one.identifier} leads to {one.target}, which is not there"
    sources = {one.source for one in package.relations} | set(package.roots)
    for source in sources - {""}:
        known = {one.identifier: one.kind for one in package.relations if one.source == source}
        used = {
            value
            for element in package.roots[source].iter()
            for name, value in element.attrib.items()
            if name.startswith(LINKS)
        }
        yield from (f"{source}: {name} is used and not defined" for name in used - set(known))
        unused = {name for name in set(known) - used if known[name] not in _BY_KIND}
        yield from (f"{source}: {name} is defined and not used" for name in unused)
    reached = {one.target for one in package.relations if not one.external}
    for name in package.parts:
        if not name.endswith(".rels") and name not in (*reached, _TYPES_PART):
            yield f"{name}: nothing leads there"


def drawings(package: Package) -> Iterator[str]:
    """Within the sheet, the end not before the beginning, each with a number of its own and words for those
    who do not see it."""
    for name, root in package.roots.items():
        if not name.startswith("xl/drawings/drawing"):
            continue
        for anchor in root:
            corners = [
                tuple(int(corner.findtext(f"{PLACES}{what}", "-1")) for what in ("col", "row"))
                for corner in anchor
                if local(corner) in ("from", "to")
            ]
            for column, row in corners:
                if not (0 <= column < LAST_COLUMN and 0 <= row < LAST_ROW):
                    yield f"{name}: an anchor at column {column}, row {row}"
            if len(corners) == 2 and not (corners[0][0] <= corners[1][0] and corners[0][1] <= corners[1][1]):
                yield f"{name}: an anchor that ends before it begins"
            yield from (
                f"{name}: {local(one)} of {one.text}"
                for one in anchor.iter()
                if _negative_offset(one.tag, one.text)
            )
        shapes = list(root.iter(f"{PLACES}cNvPr"))
        counted = Counter(shape.get("id") for shape in shapes)
        yield from (
            f"{name}: {count} shapes have the number {one}" for one, count in counted.items() if count > 1
        )
        yield from (f"{name}: {shape.get('name')} has no words" for shape in shapes if not shape.get("descr"))


def _negative_offset(tag: str, text: str | None) -> bool:
    return tag in (f"{PLACES}colOff", f"{PLACES}rowOff") and int(text or -1) < 0


def charts(package: Package) -> Iterator[str]:
    """Their series stand on tabs that are there."""
    titles = {tab.title for tab in package.tabs}
    for name, root in package.roots.items():
        for formula in root.iter(f"{CHART}f"):
            text = formula.text or ""
            named = titles_in(text)
            if len(named) != 1 or named[0] not in titles:
                yield f"{name}: {text} is on no tab"
            try:
                blocks(text.rpartition("!")[2])
            except ValueError:
                yield f"{name}: {text} is no range"


def pictures(package: Package) -> Iterator[str]:
    for name, part in package.parts.items():
        if name.startswith("xl/media/") and not (
            name.endswith(".png") and part.startswith(b"\x89PNG\r\n\x1a\n")
        ):
            yield f"{name}: no PNG"
