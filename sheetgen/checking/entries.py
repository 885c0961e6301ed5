"""What was typed: every entry of a Snapshot as the sheet saw it, and as a person meant it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from sheetgen.checking.list_words import Words, code_word, shown_word
from sheetgen.layout.address import absolute
from sheetgen.layout.vocabulary import listed_words
from sheetgen.model.attempt import Entries
from sheetgen.model.finding import Finding, Values, typed
from sheetgen.model.layout import Cell, Layout
from sheetgen.model.snapshot import CellState, TabState

__all__ = ["ReadEntries", "entries_of", "is_number_entry"]

_NUMBER = re.compile(r"^([+\-−]?\d{1,6}(?:[.,]\d+)?)\s*(mm|cm|kg|g/ml|g/cm3|%|years|y)?$", re.IGNORECASE)

_TEXT = re.compile(r'"(?:[^"]|"")*"')
_POINTS_AWAY = re.compile(r"\$?[A-Za-z]{1,3}\$?\d+|[A-Za-z_][\w.]*(?![\w.(])")
"""An address, or a name that is no function."""

_NUMBER_FORMAT = "entry_number"


@dataclass(frozen=True, slots=True)
class ReadEntries:
    """seen : as the sheet's formulas saw them. meant : with numbers typed as text understood, and list words
    of every language as their code words.

    formula_names : entries whose formula points at another cell; 12+0.5 is no such formula.

    An empty entry is absent. One that holds something of no use is None, and has a finding.
    """

    seen: Entries
    meant: Entries
    findings: tuple[Finding, ...]
    formula_names: tuple[str, ...]


def is_number_entry(cell: Cell) -> bool:
    """Tell whether an entry cell takes a number."""
    return cell.format == _NUMBER_FORMAT


def entries_of(layout: Layout, tabs: Mapping[str, TabState], words: Words | None = None) -> ReadEntries:
    """Return the entries by their fixed places.

    Parameters
    ----------
    tabs : tab key to the tab as it came back; entries of a tab that is missing are empty.
    words : of the lists, in every language; None: code words only.
    """
    seen: dict[str, str | float | None] = {}
    meant: dict[str, str | float | None] = {}
    findings: list[Finding] = []
    formula_names: list[str] = []
    entry_cells = ((tab, cell) for tab in layout.tabs for cell in tab.cells if cell.role == "entry")
    for tab, cell in entry_cells:
        state = tabs.get(tab.key)
        if state is None:
            continue
        found = state.cells.get((cell.row, cell.column))
        if found is None or (_is_blank(found.value) and not found.formula):
            continue
        if found.formula and _POINTS_AWAY.search(_TEXT.sub("", found.formula)):
            formula_names.append(cell.name)
        typed, understood, trouble = _one_entry(cell, found)
        seen[cell.name], meant[cell.name] = _coded(cell.name, typed, understood, layout.language, words)
        if trouble:
            place = (tab.title, absolute(cell.row, cell.column).replace("$", ""))
            findings += [_finding(code, found, cell, place) for code in trouble]
    return ReadEntries(seen, meant, tuple(findings), tuple(formula_names))


def _one_entry(cell: Cell, found: CellState) -> tuple[str | float | None, str | float | None, list[str]]:
    """(as the sheet saw it, as it was meant, codes of findings)."""
    value = found.value
    trouble = ["entry-formula"] if found.formula else []
    if found.is_error or isinstance(value, bool):
        return None, None, [*trouble, "entry-not-a-number" if is_number_entry(cell) else "entry-not-a-text"]
    if _is_blank(value):
        return None, None, trouble
    if not is_number_entry(cell):
        return value, value.strip() if isinstance(value, str) else value, trouble
    if isinstance(value, str):
        match = _NUMBER.match(value.strip())
        if match is None:
            return None, None, [*trouble, "entry-not-a-number"]
        number = float(match.group(1).replace(",", ".").replace("−", "-"))
        return None, number, [*trouble, "entry-number-as-text"]
    if found.is_date:
        return value, None, [*trouble, "entry-date"]
    return value, value, trouble


def _coded(
    name: str, seen: str | float | None, meant: str | float | None, language: str, words: Words | None
) -> tuple[str | float | None, str | float | None]:
    """A word of a list as its code word: as the sheet's own formulas take it, and in any language."""
    codes = listed_words(name) if words else ()
    if not codes or not isinstance(seen, str) or not isinstance(meant, str) or meant.casefold() in codes:
        return seen, meant
    of_sheet = shown_word(seen, codes, (words or {}).get(language, {}))
    return of_sheet, code_word(meant, codes, words or {}) or meant


def _is_blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip(" "))


def _finding(code: str, found: CellState, cell: Cell, place: tuple[str, str]) -> Finding:
    values: Values = {"typed": typed(found.formula or str(found.value)), "name": cell.name}
    return Finding(code, values, *place, case="" if is_number_entry(cell) else "word")
