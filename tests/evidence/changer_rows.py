"""Rows gone or moved up, and cells merged over what they held."""

import random
import re

from lxml import etree
from openpyxl.utils import coordinate_to_tuple, get_column_letter

from tests.evidence.changer_book import MAIN, Book, Change, Draft, Maker, chosen, parent, put, shown


def _row_gone(kind: str, shift: bool) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        part = dice.choice(list(book.titles))
        filled = {
            int(re.sub(r"\D", "", one.reference))
            for one in book.spots
            if one.part == part and one.locked and (one.formula or (one.kind and shown(book, one).strip()))
        }
        number = dice.choice(sorted(filled))
        draft = Draft(book)
        cells: set[str] = set()
        for row in list(draft.tree(part).iter(f"{MAIN}row")):
            at = int(row.get("r", "0"))
            if at == number:
                cells |= {str(cell.get("r")) for cell in row}
                parent(row).remove(row)
            elif shift and at > number:
                cells |= {str(cell.get("r")) for cell in row}
                row.set("r", str(at - 1))
                for cell in row:
                    cell.set("r", re.sub(r"\d+", str(at - 1), str(cell.get("r"))))
                cells |= {str(cell.get("r")) for cell in row}
        # What was left of a tab may be too little to be told as that tab: then the tab is named.
        return Change(kind, draft.parts(), book.titles[part], frozenset(cells))

    return make


def _merged(book: Book, dice: random.Random) -> Change | None:
    """A block merged as programs do it: all but its first cell lose what they held."""
    spots = [one for one in book.some() if one.formula or one.kind]
    spot = chosen(dice, spots)
    if spot is None or (not spot.formula and not shown(book, spot).strip()):
        return None
    row, column = coordinate_to_tuple(spot.reference)
    if row < 2:
        return None
    draft = Draft(book)
    put(draft.cell(spot), None)
    root = draft.tree(spot.part)
    merges = root.find(f"{MAIN}mergeCells")
    if merges is None:
        merges = etree.Element(f"{MAIN}mergeCells")
        data = root.find(f"{MAIN}sheetData")
        assert data is not None
        data.addnext(merges)
    block = f"{get_column_letter(column)}{row - 1}:{spot.reference}"
    etree.SubElement(merges, f"{MAIN}mergeCell", ref=block)
    return draft.change("cells-merged", spot)


ROW_KINDS: dict[str, Maker] = {
    "row-emptied": _row_gone("row-emptied", shift=False),
    "row-deleted": _row_gone("row-deleted", shift=True),
    "cells-merged": _merged,
}
"""Kind of change to what makes one; None where the pick did not come to one."""
