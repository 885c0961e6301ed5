"""Tabs shown, titled and traded, defined names, stored results and identities."""

import random

from lxml import etree
from openpyxl.utils import coordinate_to_tuple, get_column_letter

from tests.evidence.changer_book import (
    MAIN,
    WORKBOOK,
    Book,
    Change,
    Draft,
    Maker,
    Spot,
    chosen,
    parent,
    put,
    shown,
)

_IDENTITY = (
    "copy_code",
    "student_id",
    "participant_code",
    "session_number",
    "caliper_zero_mm",
    "protocol_id",
)


def _sheet_state(book: Book, dice: random.Random) -> Change | None:
    draft = Draft(book)
    sheet = dice.choice(list(draft.tree(WORKBOOK).iter(f"{MAIN}sheet")))
    if sheet.get("state", "visible") == "visible":
        sheet.set("state", dice.choice(("hidden", "veryHidden")))
    else:
        del sheet.attrib["state"]
    return Change("tab-visibility", draft.parts(), str(sheet.get("name")))


def _sheet_title(book: Book, dice: random.Random) -> Change | None:
    draft = Draft(book)
    sheet = dice.choice(list(draft.tree(WORKBOOK).iter(f"{MAIN}sheet")))
    old = str(sheet.get("name"))
    sheet.set("name", dice.choice((old + " 2", old[:-1], "Other", old + "s")))
    return Change("tab-title", draft.parts(), old)


def _sheet_gone(book: Book, dice: random.Random) -> Change | None:
    draft = Draft(book)
    sheet = dice.choice(list(draft.tree(WORKBOOK).iter(f"{MAIN}sheet")))
    title = str(sheet.get("name"))
    parent(sheet).remove(sheet)
    return Change("tab-gone", draft.parts(), title)


def _sheets_swapped(book: Book, dice: random.Random) -> Change | None:
    """Two tabs trade their contents, titles stay."""
    one, other = dice.sample(list(book.titles), 2)
    parts = {one: book.parts[other], other: book.parts[one]}
    return Change("tabs-swapped", parts, book.titles[one])


def _name(kind: str, gone: bool) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        name = dice.choice(list(book.names))
        draft = Draft(book)
        (found,) = (one for one in draft.tree(WORKBOOK).iter(f"{MAIN}definedName") if one.get("name") == name)
        if gone:
            parent(found).remove(found)
            return Change(kind, draft.parts(), words=name)
        tab, _, address = book.names[name].rpartition("!")
        row, column = coordinate_to_tuple(address.replace("$", ""))
        row = max(1, row + dice.choice((-2, -1, 1, 5)))
        found.text = f"{tab}!${get_column_letter(column)}${row}"
        if found.text == book.names[name]:
            return None
        return Change(kind, draft.parts(), tab.strip("'"), frozenset({address.replace("$", "")}), told=name)

    return make


def _named_spots(book: Book, names: tuple[str, ...] | None = None) -> list[Spot]:
    wanted = {
        target.replace("$", "").replace("'", "")
        for name, target in book.names.items()
        if names is None or name in names
    }
    return [one for one in book.spots if f"{one.title}!{one.reference}" in wanted]


def _stored_result(book: Book, dice: random.Random) -> Change | None:
    # Nothing depends on what `ready` says in a file that came back, nor on an entry's mirror in other words.
    names = tuple(name for name in book.names if name != "ready" and f"typed_{name}" not in book.names)
    spots = [one for one in _named_spots(book, names) if one.formula and one.part in book.hidden]
    spot = chosen(dice, spots)
    if spot is None:
        return None
    draft = Draft(book)
    cell = draft.cell(spot)
    value = cell.find(f"{MAIN}v")
    old = "" if value is None else value.text or ""
    new: float | str
    try:
        number = float(old)
        new = dice.choice((number + 1, number * 1.01, number * 1.000001, 0, -number, "", "no"))
        if new == number:
            return None
    except ValueError:
        new = dice.choice(("yes", "no", 1, 12.5))
        if new == old:
            return None
    for gone in cell.findall(f"{MAIN}v"):
        cell.remove(gone)
    cell.attrib.pop("t", None)
    if isinstance(new, str):
        cell.set("t", "str")
    etree.SubElement(cell, f"{MAIN}v").text = new if isinstance(new, str) else repr(new)
    return draft.change("stored-result", spot, f"{old} > {new!r}")


def _identity(book: Book, dice: random.Random) -> Change | None:
    """One identity retyped in its named cell."""
    spot = chosen(dice, _named_spots(book, _IDENTITY))
    if spot is None:
        return None
    old, draft = shown(book, spot), Draft(book)
    new = _other_identity(old, dice)
    put(draft.cell(spot), new)
    return draft.change("identity", spot, f"{old} > {new!r}")


def _other_identity(old: str, dice: random.Random) -> float | str:
    try:
        return float(old) + dice.choice((1, -1, 0.5, 2))
    except ValueError:
        at = dice.randrange(len(old))
        return old[:at] + dice.choice([sign for sign in "2345ABCDEF" if sign != old[at]]) + old[at + 1 :]


def _identity_everywhere(book: Book, dice: random.Random) -> Change | None:
    """A code retyped wherever it stands, as somebody would who takes another one's sheet for theirs."""
    spot = chosen(dice, _named_spots(book, ("copy_code", "student_id", "participant_code")))
    if spot is None:
        return None
    old = shown(book, spot)
    new = _other_identity(old, dice)
    parts = {
        name: book.parts[name].replace(old.encode(), str(new).encode())
        for name in ("xl/sharedStrings.xml", *book.titles)
    }
    return Change("identity-everywhere", parts, told=f"{old} > {new}")


NAME_KINDS: dict[str, Maker] = {
    "tab-visibility": _sheet_state,
    "tab-title": _sheet_title,
    "tab-gone": _sheet_gone,
    "tabs-swapped": _sheets_swapped,
    "name-moved": _name("name-moved", gone=False),
    "name-gone": _name("name-gone", gone=True),
    "stored-result": _stored_result,
    "identity": _identity,
    "identity-everywhere": _identity_everywhere,
}
"""Kind of change to what makes one; None where the pick did not come to one."""
