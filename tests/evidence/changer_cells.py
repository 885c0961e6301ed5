"""What a locked cell holds: typed over, emptied, reworded, or something put where nothing was."""

import random
from collections.abc import Callable

from lxml import etree
from openpyxl.utils import coordinate_to_tuple, get_column_letter

from tests.evidence.changer_book import MAIN, Book, Change, Draft, Maker, Spot, chosen, parent, put, shown


def _typed(kind: str, wanted: Callable[[Spot], bool], value: Callable[[random.Random], float | str]) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        spot = chosen(dice, [one for one in book.spots if one.locked and wanted(one)])
        if spot is None:
            return None
        draft, new = Draft(book), value(dice)
        put(draft.cell(spot), new)
        return draft.change(kind, spot, repr(new))

    return make


def _some_number(dice: random.Random) -> float:
    return dice.choice((0, 1, 12.5, 1.05, -3, 25, 1e6, round(dice.uniform(1, 60), 2)))


def _some_text(dice: random.Random) -> str:
    return dice.choice(("yes", "no", "ok", "done", "12,5", "x" * dice.randint(1, 9), "measure again"))


def _stored_as_value(book: Book, dice: random.Random) -> Change | None:
    """A formula pasted over by its own result."""
    spot = chosen(dice, [one for one in book.spots if one.locked and one.formula])
    if spot is None:
        return None
    draft = Draft(book)
    cell = draft.cell(spot)
    (inner,) = cell.iter(f"{MAIN}f")
    cell.remove(inner)
    return draft.change("formula-as-its-value", spot)


def _emptied(kind: str, formula: bool) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        spots = [one for one in book.spots if one.locked and bool(one.formula) == formula and one.kind]
        spot = chosen(dice, spots)
        if spot is None or (not formula and not shown(book, spot).strip()):
            return None
        draft = Draft(book)
        cell = draft.cell(spot)
        if dice.random() < 0.5:
            put(cell, None)
        else:
            parent(cell).remove(cell)
        return draft.change(kind, spot)

    return make


def _label_text(book: Book, dice: random.Random, only: frozenset[str] | None = None) -> Change | None:
    spots = [one for one in book.some(kind="text", formula="") if only is None or one.part in only]
    spot = chosen(dice, spots)
    if spot is None:
        return None
    old = shown(book, spot)
    if not old.strip():
        return None
    at = dice.randrange(len(old))
    words = old.split()
    new = dice.choice(
        (
            old[:at] + dice.choice("abcxyz0189.,") + old[at + 1 :],
            old[:at] + old[at + 1 :],
            " ".join(words[1:]) or "-",
            old + " or not",
            old.swapcase(),
        )
    )
    if new.split() == words:
        return None
    draft = Draft(book)
    put(draft.cell(spot), new)
    return draft.change("label-text" if only is None else "list-word", spot, f"{old[:40]} > {new[:40]}")


def _list_word(book: Book, dice: random.Random) -> Change | None:
    return _label_text(book, dice, book.hidden)


def _shared_text(book: Book, dice: random.Random) -> Change | None:
    """One text retyped in the part that all cells share, so wherever it stands."""
    spots = [one for one in book.some(kind="text", formula="") if shown(book, one).strip()]
    spot = chosen(dice, spots)
    if spot is None:
        return None
    draft = Draft(book)
    cell = draft.cell(spot)
    if cell.get("t") != "s":
        return None
    number = int(cell.findtext(f"{MAIN}v") or 0)
    item = list(draft.tree("xl/sharedStrings.xml").iterchildren(f"{MAIN}si"))[number]
    texts = list(item.iter(f"{MAIN}t"))
    texts[0].text = (texts[0].text or "") + "!"
    del draft.trees[spot.part]
    # The code on every tab may be this text: then it is the whole file.
    return Change("shared-text", draft.parts(), told=texts[0].text[:60])


def _coefficient(book: Book, dice: random.Random) -> Change | None:
    spot = chosen(dice, [one for one in book.some(kind="number", formula="") if one.part in book.hidden])
    if spot is None:
        return None
    draft = Draft(book)
    cell = draft.cell(spot)
    old = float(cell.findtext(f"{MAIN}v") or 0)
    new = dice.choice((-old, old * 1.01, old * 1.000001, old + 1, old * 10, 0.0, old + 1e-7))
    if new == old or abs(new - old) <= 1e-11 * abs(old):
        return None
    put(cell, new)
    return draft.change("coefficient", spot, f"{old!r} > {new!r}")


def _content_added(book: Book, dice: random.Random) -> Change | None:
    """Something in a locked cell that was empty, also one that no file mentions."""
    part = dice.choice(list(book.titles))
    rows = {int(row.get("r", "0")): row for row in book.trees[part].iter(f"{MAIN}row")}
    row = dice.choice(list(rows))
    column = dice.randint(1, 30)
    reference = f"{get_column_letter(column)}{row}"
    there = {str(cell.get("r")): cell for cell in rows[row]}
    if reference in there:
        return None
    draft = Draft(book)
    (at,) = (one for one in draft.tree(part).iter(f"{MAIN}row") if one.get("r") == str(row))
    cell = etree.Element(f"{MAIN}c", r=reference)
    after = [one for one in at if coordinate_to_tuple(str(one.get("r")))[1] > column]
    at.insert(at.index(after[0]) if after else len(at), cell)
    if dice.random() < 0.3:
        etree.SubElement(cell, f"{MAIN}f").text = "1+1"
    else:
        put(cell, dice.choice((_some_number(dice), _some_text(dice))))
    return Change("content-added", draft.parts(), book.titles[part], frozenset({reference}))


CELL_KINDS: dict[str, Maker] = {
    "formula-as-its-value": _stored_as_value,
    "formula-emptied": _emptied("formula-emptied", True),
    "number-over-formula": _typed("number-over-formula", lambda one: bool(one.formula), _some_number),
    "text-over-formula": _typed("text-over-formula", lambda one: bool(one.formula), _some_text),
    "number-over-label": _typed(
        "number-over-label", lambda one: not one.formula and one.kind == "text", _some_number
    ),
    "label-text": _label_text,
    "label-emptied": _emptied("label-emptied", False),
    "shared-text": _shared_text,
    "list-word": _list_word,
    "coefficient": _coefficient,
    "content-added": _content_added,
}
"""Kind of change to what makes one; None where the pick did not come to one."""
