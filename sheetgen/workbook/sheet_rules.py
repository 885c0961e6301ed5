"""Where validation covers a tab: the blocks of its rules, without spreading out whole columns."""

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from lxml import etree

from sheetgen.layout.address import column_number
from sheetgen.workbook.refusal import RefusedError, too_large
from sheetgen.workbook.xml_parts import local_name

__all__ = ["COLUMN_LIMIT", "ROW_LIMIT", "RuledPlaces", "place_of", "read_rules"]

ROW_LIMIT = 5_000
COLUMN_LIMIT = 256

_LARGEST_SPREAD_BLOCK = 2_000
_MOST_SPREAD_PLACES = 200_000
_MOST_WIDE_BLOCKS = 200

_REFERENCE = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,9})")
_EXTENSION_RULE = "{http://schemas.microsoft.com/office/spreadsheetml/2009/9/main}dataValidation"

Block = tuple[int, int, int, int]
"""First row, first column, last row, last column, from 0."""


@dataclass(frozen=True, slots=True)
class RuledPlaces:
    """Places that a validation covers: small blocks place by place, wide ones as blocks."""

    places: frozenset[tuple[int, int]]
    wide: tuple[Block, ...]

    def covers(self, place: tuple[int, int]) -> bool:
        """Say whether any validation covers a place."""
        if place in self.places:
            return True
        row, column = place
        return any(top <= row <= bottom and left <= column <= right for top, left, bottom, right in self.wide)


@lru_cache(maxsize=16_384)
def place_of(reference: str) -> tuple[int, int] | None:
    """Return row and column of a cell reference, from 0; None where it is not one.

    Examples
    --------
    >>> place_of("B9"), place_of("9B")
    ((8, 1), None)
    """
    match = _REFERENCE.fullmatch(reference)
    return None if match is None else (int(match[2]) - 1, column_number(match[1]))


def read_rules(root: etree._Element, namespace: str) -> RuledPlaces:
    """Return the places that a tab's validation covers, those in the extension list included.

    A validation of type `none` only shows a message and refuses nothing, so it does not count.
    """
    places: set[tuple[int, int]] = set()
    wide: list[Block] = []
    for text in _block_texts(root, namespace):
        if ":" not in text:
            place = place_of(text)
            if place is not None and place[0] < ROW_LIMIT and place[1] < COLUMN_LIMIT:
                places.add(place)
            continue
        block = _block_of(text)
        if block is None:
            continue
        top, left, bottom, right = block
        if (bottom - top + 1) * (right - left + 1) > _LARGEST_SPREAD_BLOCK:
            wide.append(block)
        else:
            places.update(product(range(top, bottom + 1), range(left, right + 1)))
        if len(places) > _MOST_SPREAD_PLACES or len(wide) > _MOST_WIDE_BLOCKS:
            expected = f"at most {_MOST_WIDE_BLOCKS} wide ones"
            raise RefusedError(too_large("too many validation blocks", expected))
    return RuledPlaces(frozenset(places), tuple(dict.fromkeys(wide)))


def _block_texts(root: etree._Element, namespace: str) -> list[str]:
    texts: dict[str, None] = {}
    for container in root.iterchildren(f"{namespace}dataValidations"):
        for rule in container.iterchildren(f"{namespace}dataValidation"):
            if rule.get("type", "none") != "none":
                texts.update(dict.fromkeys(rule.get("sqref", "").split()))
    for extensions in root.iterchildren(f"{namespace}extLst"):
        for rule in extensions.iter(_EXTENSION_RULE):
            if rule.get("type", "none") != "none":
                blocks = [child.text or "" for child in rule if local_name(child) == "sqref"]
                texts.update(dict.fromkeys(" ".join(blocks).split()))
    return list(texts)


def _block_of(text: str) -> Block | None:
    """Return a block cut down to the kept addresses, None where none of it is kept or it is not one."""
    first_text, _, last_text = text.partition(":")
    first, last = place_of(first_text), place_of(last_text)
    if first is None or last is None:
        return None
    top, bottom = sorted((first[0], last[0]))
    left, right = sorted((first[1], last[1]))
    if top >= ROW_LIMIT or left >= COLUMN_LIMIT:
        return None
    return top, left, min(bottom, ROW_LIMIT - 1), min(right, COLUMN_LIMIT - 1)
