"""Shared texts that were seen before: only the new ones of a workbook are given to the XML parser.

Copies of a sheet share all but a few of their texts, under numbers that differ.
"""

import re

from sheetgen.workbook.refusal import RefusedError
from sheetgen.workbook.xml_parts import LARGEST_REMEMBERED, namespace_of, parse_bytes, rich_text

__all__ = ["read_seen_texts"]

# Bytes of items, each with what Python keeps beside it.
_MOST_REMEMBERED = 4_000_000
_BESIDE_AN_ITEM = 300

_OPENING = re.compile(
    rb"""(?:<\?xml\ version=["']1\.0["'](?:\ encoding=["'](?i:utf-8)["'])?(?:\ standalone=["'](?:yes|no)["'])?
    \ ?\?>\s*)?<sst(?:\ (?:xmlns|count|uniqueCount)="[^"<>&]*")*>""",
    re.VERBOSE,
)
_CLOSING = b"</sst>"
_XML_SPACE = b" \t\r\n"
_ITEM = re.compile(rb'<t(?: xml:space="preserve")?>[^<]*</t></si>')
_NUMBERS = tuple(map(str, range(4_000)))


class _Memory:
    """Texts by the bytes of their item."""

    def __init__(self) -> None:
        self.texts: dict[bytes, str] = {}
        self.size = 0


_MEMORY = _Memory()


def read_seen_texts(data: bytes, part: str) -> dict[str, str] | None:
    """Return the shared texts by their number; None where the XML parser has to read them."""
    opening = _OPENING.match(data)
    whole = data.rstrip(_XML_SPACE)
    if opening is None or len(data) > LARGEST_REMEMBERED or not whole.endswith(_CLOSING):
        return None
    first, *items = whole[opening.end() : -len(_CLOSING)].split(b"<si>")
    if first or len(items) > len(_NUMBERS):
        return None
    if _MEMORY.size > _MOST_REMEMBERED:
        _MEMORY.texts.clear()
        _MEMORY.size = 0
    try:
        if not _learnt(opening[0], list(set(items).difference(_MEMORY.texts)), part):
            return None
    except RefusedError:
        return None
    return dict(zip(_NUMBERS, map(_MEMORY.texts.__getitem__, items), strict=False))


def _learnt(opening: bytes, items: list[bytes], part: str) -> bool:
    """Read new items by the XML parser; False where one is not of the plain shape.

    The opening tag is read anew each time, since it holds the numbers of items.
    """
    if not all(map(_ITEM.fullmatch, items)):
        return False
    root = parse_bytes(opening + b"".join(b"<si>" + item for item in items) + _CLOSING, part)
    namespace = namespace_of(root, part)
    texts = (rich_text(element, namespace) for element in root)
    _MEMORY.texts.update(zip(items, texts, strict=True))
    _MEMORY.size += sum(map(len, items)) + _BESIDE_AN_ITEM * len(items)
    return True
