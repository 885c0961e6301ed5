"""What decisions do: corrected entries, points for answers, marks that replace a score, files that count."""

from collections.abc import Iterable, Mapping, Sequence

from sheetgen.class_folder.decisions import EMPTY_WORD, FILE_WORDS, Decision, current
from sheetgen.finding import Finding, Shown, Values, measured, term, written
from sheetgen.measurement.numbers import number_in_text
from sheetgen.protocols.recalculation import Entries
from sheetgen.returned.attempt import about_cell, as_code_word, named_cells
from sheetgen.returned.entries import is_number_entry
from sheetgen.workbook.layout import Layout


def number_in(text: str) -> float | None:
    """Return a number typed without a unit, None where it is none."""
    found = number_in_text(text)
    return float(found.number) if found and not found.unit else None


def corrections_of(decisions: Iterable[Decision], copy_code: str = "") -> tuple[Decision, ...]:
    """Return the corrections that hold, of one sheet where its code is given."""
    return tuple(
        one
        for one in current(decisions).values()
        if one.kind == "correction" and one.value and one.subject == (copy_code or one.subject)
    )


def corrected_entries(
    entries: Entries, corrections: Sequence[Decision], layout: Layout
) -> tuple[Entries, tuple[Finding, ...]]:
    """Return the entries of a sheet with corrections applied, and a finding for each.
    entries : as they were meant. corrections : of this sheet; one that was taken back does nothing.
    layout : of this sheet; a correction of anything but an entry is not applied."""
    cells = named_cells(layout)
    changed = dict(entries)
    findings: list[Finding] = []
    for one in corrections_of(corrections):
        if one.name not in cells or cells[one.name][1].role != "entry":
            unknown = {"name": written(one.name, 111)}
            findings.append(Finding("entry-correction-unusable", unknown, case="name"))
            continue
        tab, cell = cells[one.name]
        value: str | float | None
        if one.value.casefold() == EMPTY_WORD:
            value = None
        elif is_number_entry(cell):
            value = number_in(one.value)
            if value is None:
                unusable: Values = {"name": one.name, "value": written(one.value, 90)}
                findings.append(about_cell("entry-correction-unusable", unusable, tab, cell))
                continue
        else:
            value = as_code_word(one.name, one.value)
        before = entries.get(one.name)
        changed.pop(one.name, None)
        if value is not None:
            changed[one.name] = value
        values = {"before": _as_was(before), "value": written(one.value), "reason": written(one.reason)}
        findings.append(about_cell("entry-corrected", values, tab, cell, "reason" if one.reason else ""))
    return changed, tuple(findings)


def files_answered(decisions: Iterable[Decision]) -> Mapping[str, bool]:
    """Return the id of each file that the teacher decided about to whether it counts."""
    latest = {one.name: one.value for (_, kind, _), one in current(decisions).items() if kind == "which-file"}
    return {name: value == FILE_WORDS[0] for name, value in latest.items() if value in FILE_WORDS}


def _as_was(before: str | float | None) -> Shown:
    if before is None:
        return term("nothing")
    return measured(before) if isinstance(before, float) else written(str(before), 60)
