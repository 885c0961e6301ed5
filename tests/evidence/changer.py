"""One random change to a locked part of a filled sheet, made on the file itself.

It knows the zip, the XML and the named cells that are public; it knows neither how a sheet is laid out nor
how changes are looked for.

What counts as a change of a locked part, and what does not
-----------------------------------------------------------
A formula, a printed text or number, a lock, protection, a rule of an entry and what it lets through, whether
and under which title a tab is shown, a defined name, the stored result of a live result, and an identity are
locked parts.

Left out, since the meaning stays:

- a formula that has the same tokens but for spacing, case outside texts, `$`, `_xlfn.`, quotes round a tab
  title and how a number is written (1.0 for 1);
- a number that is the same to 12 figures, and a text that differs only in spaces;
- how a thing looks: fonts, colours, widths, number and conditional formats, pictures, charts, a merge of
  cells that empties none, rows and columns out of view, print settings;
- "hidden" for "very hidden" (programs do that on saving), messages of a rule, which tab is in front;
- the stored result of a formula that is no live result: nothing is taken from it, and any program works it
  out anew;
- a least length of a text below 0 for one of 0;
- finer rights of a protected tab (to sort, to format), which open no cell;
- entries: they are open, and other findings speak of them.
"""

import random

from tests.evidence.changer_book import Book, Change, Maker
from tests.evidence.changer_cells import CELL_KINDS
from tests.evidence.changer_formulas import FORMULA_KINDS
from tests.evidence.changer_locks import LOCK_KINDS
from tests.evidence.changer_names import NAME_KINDS
from tests.evidence.changer_rows import ROW_KINDS
from tests.evidence.changer_rules import RULE_KINDS
from tests.evidence.twins import zipped

KINDS: dict[str, Maker] = {
    **FORMULA_KINDS,
    **CELL_KINDS,
    **LOCK_KINDS,
    **RULE_KINDS,
    **NAME_KINDS,
    **ROW_KINDS,
}
"""Every kind of change to a locked part, in one order; each seed makes the same changes."""


def changed(book: Book, kind: str, dice: random.Random) -> Change | None:
    """Return one random change of a kind; None where this file has nothing of that kind."""
    for _ in range(50):
        change = KINDS[kind](book, dice)
        if change is not None:
            return change
    return None


def with_change(book: Book, change: Change) -> bytes:
    """Return the file with a change."""
    return zipped({name: part for name, part in {**book.parts, **change.parts}.items() if part != b"-"})
