"""One re-save, and what every way of making one by hand needs."""

import random
from collections.abc import Callable

from lxml import etree
from msgspec import Struct

MAIN_NAME = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
MAIN = f"{{{MAIN_NAME}}}"
WORKBOOK = "xl/workbook.xml"
TEXTS = "xl/sharedStrings.xml"
STYLES = "xl/styles.xml"

Parts = dict[str, bytes]
ByHand = Callable[[Parts, random.Random], Parts | bytes]


class Saved(Struct, frozen=True):
    """One re-save. asked : entries that a person must be asked for, since the file no longer tells them."""

    way: str
    data: bytes
    name: str = "sheet.xlsx"
    asked: frozenset[str] = frozenset()


def for_tabs(change: Callable[[etree._Element, random.Random], None]) -> ByHand:
    def make(parts: Parts, dice: random.Random) -> Parts:
        return {name: rewritten(part, change, dice) if is_tab(name) else part for name, part in parts.items()}

    return make


def rewritten(
    part: bytes, change: Callable[[etree._Element, random.Random], None], dice: random.Random
) -> bytes:
    root = etree.fromstring(part)
    change(root, dice)
    text: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
    return text


def is_tab(name: str) -> bool:
    return name.startswith("xl/worksheets/") and name.endswith(".xml")
