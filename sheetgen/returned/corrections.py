"""What decisions do: corrected entries, points for answers, marks that replace a score, files that count."""

import re
from collections.abc import Iterable, Mapping, Sequence

from sheetgen.class_folder.decisions import EMPTY_WORD, FILE_WORDS, Decision, current
from sheetgen.finding import Finding, Shown, Values, measured, term, written
from sheetgen.protocols.names import listed_words
from sheetgen.protocols.recalculation import Entries
from sheetgen.returned.entries import is_number_entry
from sheetgen.texts.languages import Words, code_word
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Cell, Layout

_NUMBER = re.compile(r"[+\-−]?[0-9]{1,6}(?:[.,][0-9]{1,6})?")


def number_in(text: str) -> float | None:
    """Return a number typed with a point or a comma, None where it is none.

    Examples
    --------
    >>> number_in("12,5"), number_in("-0.4"), number_in("12 points")
    (12.5, -0.4, None)
    """
    if not _NUMBER.fullmatch(text.strip()):
        return None
    return float(text.strip().replace(",", ".").replace("−", "-"))


def corrections_of(decisions: Iterable[Decision], copy_code: str) -> tuple[Decision, ...]:
    """Return the corrections of one sheet that hold."""
    return tuple(
        one
        for (subject, kind, _), one in current(decisions).items()
        if kind == "correction" and subject == copy_code and one.value
    )


def corrected_entries(
    entries: Entries, corrections: Sequence[Decision], layout: Layout, words: Words | None = None
) -> tuple[Entries, tuple[Finding, ...]]:
    """Return the entries of a sheet with corrections applied, and a finding for each.

    Parameters
    ----------
    entries : as they were meant. corrections : of this sheet; one that was taken back does nothing.
    layout : of this sheet; a correction of anything but an entry is not applied.
    words : of the lists, in every language; None: code words only.
    """
    if not corrections:
        return entries, ()
    cells = {
        cell.name: (tab.title, cell) for tab in layout.tabs for cell in tab.cells if cell.role == "entry"
    }
    changed = dict(entries)
    findings: list[Finding] = []
    for one in current(corrections).values():
        if one.kind != "correction" or not one.value:
            continue
        if one.name not in cells:
            findings.append(
                Finding("entry-correction-unusable", {"name": written(one.name, 111)}, case="name")
            )
            continue
        title, cell = cells[one.name]
        place = (title, absolute(cell.row, cell.column).replace("$", ""))
        usable, value = _value(cell, one.value)
        if isinstance(value, str) and words:
            value = code_word(value, listed_words(one.name), words) or value
        if not usable:
            unusable: Values = {"name": one.name, "value": written(one.value, 90)}
            findings.append(Finding("entry-correction-unusable", unusable, *place))
            continue
        before = entries.get(one.name)
        changed.pop(one.name, None)
        if value is not None:
            changed[one.name] = value
        values = {"before": _as_was(before), "value": written(one.value), "reason": written(one.reason)}
        case = "reason" if one.reason else ""
        findings.append(Finding("entry-corrected", values, *place, case=case))
    return changed, tuple(findings)


def files_answered(decisions: Iterable[Decision]) -> Mapping[str, bool]:
    """Return the id of each file that the teacher decided about to whether it counts."""
    latest = {one.name: one.value for (_, kind, _), one in current(decisions).items() if kind == "which-file"}
    return {name: value == FILE_WORDS[0] for name, value in latest.items() if value in FILE_WORDS}


def _value(cell: Cell, text: str) -> tuple[bool, str | float | None]:
    """Whether a text can stand in an entry, and as what."""
    if text.casefold() == EMPTY_WORD:
        return True, None
    if not is_number_entry(cell):
        return True, text
    number = number_in(text)
    return number is not None, number


def _as_was(before: str | float | None) -> Shown:
    if before is None:
        return term("nothing")
    return measured(before) if isinstance(before, float) else written(str(before), 60)
