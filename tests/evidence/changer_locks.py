"""Locks of cells and formats, and the protection of tabs and of the workbook."""

import copy
import random
from collections.abc import Callable

from lxml import etree

from tests.evidence.changer_book import (
    MAIN,
    STYLES,
    WORKBOOK,
    Book,
    Change,
    Draft,
    Maker,
    Spot,
    chosen,
    parent,
)


def _unlocked(kind: str, wanted: Callable[[Spot], bool]) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        spot = chosen(dice, [one for one in book.spots if one.locked and wanted(one)])
        if spot is None:
            return None
        draft = Draft(book)
        cell = draft.cell(spot)
        cell.set("s", str(_style_with(draft, int(cell.get("s", "0")), "0")))
        return draft.change(kind, spot)

    return make


def _style_with(draft: Draft, style: int, locked: str) -> int:
    """A format that differs from another one only in its lock."""
    formats = draft.tree(STYLES).find(f"{MAIN}cellXfs")
    assert formats is not None
    new = copy.deepcopy(formats[style])
    for old in new.findall(f"{MAIN}protection"):
        new.remove(old)
    etree.SubElement(new, f"{MAIN}protection", locked=locked)
    new.set("applyProtection", "1")
    formats.append(new)
    formats.set("count", str(len(formats)))
    return len(formats) - 1


def _entry_locked(book: Book, dice: random.Random) -> Change | None:
    spot = chosen(dice, [one for one in book.spots if not one.locked])
    if spot is None:
        return None
    draft = Draft(book)
    cell = draft.cell(spot)
    cell.set("s", str(_style_with(draft, int(cell.get("s", "0")), "1")))
    return draft.change("entry-locked", spot)


def _format_unlocked(book: Book, dice: random.Random) -> Change | None:
    """The format itself opened, so every cell that has it."""
    spot = chosen(dice, book.some())
    if spot is None:
        return None
    draft = Draft(book)
    style = draft.cell(spot).get("s", "0")
    del draft.trees[spot.part]
    formats = draft.tree(STYLES).find(f"{MAIN}cellXfs")
    assert formats is not None
    for old in formats[int(style)].findall(f"{MAIN}protection"):
        formats[int(style)].remove(old)
    etree.SubElement(formats[int(style)], f"{MAIN}protection", locked="0")
    return Change("format-unlocked", draft.parts(), spot.title)


def _protection_off(book: Book, dice: random.Random) -> Change | None:
    part = dice.choice(list(book.titles))
    draft = Draft(book)
    (found,) = draft.tree(part).iter(f"{MAIN}sheetProtection")
    way = dice.randrange(3)
    if way == 0:
        parent(found).remove(found)
    elif way == 1:
        found.set("sheet", "0")
    else:
        del found.attrib["sheet"]
    return Change("protection-off", draft.parts(), book.titles[part])


def _structure_off(book: Book, dice: random.Random) -> Change | None:
    draft = Draft(book)
    for found in list(draft.tree(WORKBOOK).iter(f"{MAIN}workbookProtection")):
        if dice.random() < 0.5:
            parent(found).remove(found)
        else:
            found.set("lockStructure", "0")
        return Change("structure-off", draft.parts())
    return None


LOCK_KINDS: dict[str, Maker] = {
    "cell-unlocked": _unlocked("cell-unlocked", lambda one: bool(one.formula or one.kind)),
    "empty-cell-unlocked": _unlocked("empty-cell-unlocked", lambda one: not one.formula and not one.kind),
    "format-unlocked": _format_unlocked,
    "entry-locked": _entry_locked,
    "protection-off": _protection_off,
    "structure-off": _structure_off,
}
"""Kind of change to what makes one; None where the pick did not come to one."""
