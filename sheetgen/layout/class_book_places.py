"""Where the cells of the class book are, as its formulas write them."""

from collections.abc import Mapping
from dataclasses import dataclass

from sheetgen.layout.address import absolute, in_tab
from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.class_book_settings import FIRST_ROW, SETTINGS, TABLES

__all__ = ["HIDDEN", "HIDDEN_AT", "Places", "block", "is_word"]

HIDDEN = {
    "ids": ("roster", "id"),
    "names": ("roster", "name"),
    "codes": ("roster", "code"),
    # The codes given out are read back from these two, so they stay where they are.
    "coded_ids": ("roster", "coded id"),
    "given_codes": ("roster", "coded"),
    "issued": ("calipers", "in service"),
    "pair_keys": ("pairs", "pair"),
    "protocols": ("protocols", "protocol"),
    "given_names": ("roster", "given name"),
    # `left`, `measures-only` or nothing.
    "states": ("roster", "state"),
    # The ids to be kept apart from, each between blanks.
    "aparts": ("roster", "apart"),
    "issued_numbers": ("calipers", "which in service"),
    "pair_numbers": ("pairs", "which pair"),
    # On which line of the roster a pair's people stand, 0 where on none.
    "measurers_at": ("pairs", "measurer at"),
    "participants_at": ("pairs", "participant at"),
    # A pair's caliper, the next in turn where none is named, nothing where someone left; and its turn there.
    "stations": ("pairs", "station"),
    "waves": ("pairs", "wave"),
    "site_counts": ("protocols", "sites"),
}
"""Columns of the hidden tab in their order: the table that each follows, and its heading."""
HIDDEN_AT = {key: column for column, key in enumerate(HIDDEN)}


@dataclass(frozen=True, slots=True)
class Places:
    """The addresses of a class book.

    texts : with the titles of the tabs. rows : table to how many lines it has, `protocols` among them.
    """

    texts: Mapping[str, str]
    rows: Mapping[str, int]

    def column(self, key: str, inside: bool = False) -> str:
        """Return the address of a column of the hidden tab, as seen from another tab or from inside."""
        lines = block(self.rows[HIDDEN[key][0]], HIDDEN_AT[key])
        return lines if inside else in_tab(self.texts["book_tab.calculator"], lines)

    def hidden(self, key: str, index: int) -> str:
        """Return the address of a line, from 0, of a column of the hidden tab."""
        return in_tab(self.texts["book_tab.calculator"], absolute(FIRST_ROW + index, HIDDEN_AT[key]))

    def nth(self, key: str, index: int) -> str:
        """Return a formula for a line, from 0, of a column of the hidden tab."""
        return f"INDEX({self.column(key)},{index + 1})"

    def setting(self, key: str) -> str:
        """Return a formula for a setting of the tab Class; one that was cut from there changes nothing."""
        entries = in_tab(self.texts["book_tab.class"], block(len(SETTINGS), 1))
        return f"INDEX({entries},{[setting.key for setting in SETTINGS].index(key) + 1})"

    def value(self, tab: str, index: int, key: str) -> str:
        """Return a formula for what stands on a line, from 0, of a table, a number as a number.

        It names a place, so that an entry cut from there changes nothing.
        """
        table = TABLES[tab]
        address = in_tab(self.texts[f"book_tab.{tab}"], block(self.rows[tab], 0, table.width - 1))
        return f"INDEX({address},{index + 1},{table.at(key) + 1})"

    def typed(self, tab: str, index: int, key: str) -> str:
        """Return a formula for what stands on a line of a table, as text."""
        return f"TRIM({self.value(tab, index, key)})"

    def name_of(self, identifier: str) -> str:
        """Return a formula for the name that an id stands for; empty where it stands for nobody."""
        at = f"MATCH({identifier},{self.column('ids')},0)"
        return f'IF({identifier}="","",IF(ISNUMBER({at}),INDEX({self.column("names")},{at}),""))'


def block(rows: int, column: int, last_column: int | None = None) -> str:
    """Return the address of the lines of a table, one column or several."""
    last = column if last_column is None else last_column
    return f"{absolute(FIRST_ROW, column)}:{absolute(FIRST_ROW + rows - 1, last)}"


def is_word(texts: Mapping[str, str], typed: str, code: str) -> str:
    """Return a formula that holds where a text is a word of a list, as the list shows it or the code word."""
    shown = quoted(texts[f"book_word.{code}"])
    plain = f'{typed}="{code}"'
    return plain if shown == f'"{code}"' else f"OR({typed}={shown},{plain})"
