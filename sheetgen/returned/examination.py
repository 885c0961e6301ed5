"""Everything there is to say about one returned workbook, from its Snapshot and what is on record."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from sheetgen.class_folder.decisions import Decision
from sheetgen.finding import Finding, Values, written
from sheetgen.protocols.names import ROUNDS, live_names, reading_name
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, Results, live_values, recalculate, text_of
from sheetgen.protocols.settings import SheetSettings
from sheetgen.returned.comparison import cached_findings, compared
from sheetgen.returned.corrections import corrected_entries
from sheetgen.returned.entries import entries_of, procedure_findings
from sheetgen.returned.whose import matched_tabs
from sheetgen.sheet.student import LAYOUT_VERSION
from sheetgen.texts.languages import Words
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.snapshot import Snapshot


def minor_today_findings(
    layout: Layout, protocol: Protocol, entries: Entries, minors: Collection[str]
) -> tuple[Finding, ...]:
    """Return a finding where trunk sites of someone under 18 were measured on another person's sheet.

    Parameters
    ----------
    minors : participant codes, in lower case, of those who count as under 18.
    """
    today = text_of(entries, "participant_today")
    if today not in minors:
        return ()
    for site in protocol.sites:
        names = [reading_name(number, site.word) for number in ROUNDS]
        if site.trunk and any(name in entries for name in names):
            key, row, column = layout.places()[names[0]]
            cell = absolute(row, column).replace("$", "")
            values = {"site": site.title, "code": today.upper()}
            return (Finding("procedure-minor-today", values, layout.tab(key).title, cell),)
    return ()


LAST_WITHOUT_LIMITS = 2
"""The last form of sheets whose formulas give an estimate whatever it is."""


@dataclass(frozen=True, slots=True)
class Issued:
    """What a returned file is compared with: its Layout, what this copy carried, its protocol and rules.

    words : of the lists, in every language. layout_version : the form of the sheet.
    by_names : its Layout is only what the names of its cells tell.
    """

    layout: Layout
    values: Mapping[str, Value]
    protocol: Protocol
    settings: SheetSettings
    words: Words = field(default_factory=dict)
    layout_version: int = LAYOUT_VERSION
    by_names: bool = False


@dataclass(frozen=True, slots=True)
class Examination:
    """What a returned workbook says.

    entries : as they were meant. results : from those entries. findings : without severity and remedy.
    formula_names : entries that hold a formula pointing at another cell.
    """

    entries: Entries
    results: Results
    findings: tuple[Finding, ...]
    formula_names: tuple[str, ...]


def examined(issued: Issued, snapshot: Snapshot, corrections: Sequence[Decision] = ()) -> Examination:
    """Return entries, results and findings of one returned workbook.

    Parameters
    ----------
    corrections : of entries, by the teacher; applied before anything is worked out.

    Notes
    -----
    Cached results are compared with what follows from the entries as the sheet saw them; the results
    returned follow from the entries as they were meant (a number typed as text is understood).
    """
    layout, protocol, settings = issued.layout, issued.protocol, issued.settings
    tabs = matched_tabs(layout, snapshot)
    entries = entries_of(layout, tabs, issued.words)
    limited = issued.layout_version > LAST_WITHOUT_LIMITS
    as_seen = recalculate(protocol, settings, entries.seen, within_limits=limited)
    live = live_values(as_seen)
    expected = {name: live[name] for name in live_names(protocol) if name in live}
    meant, corrected = corrected_entries(entries.meant, corrections, layout, issued.words)
    results = as_seen if limited and meant == entries.seen else recalculate(protocol, settings, meant)
    known = layout.places()
    expected = {name: value for name, value in expected.items() if name in known}
    findings = (
        *(() if issued.by_names else compared(layout, issued.values, snapshot, tabs)),
        *cached_findings(layout, issued.values, tabs, expected),
        *entries.findings,
        *procedure_findings(layout, protocol, settings, issued.values, meant, results),
        *_participant(issued, meant),
        *corrected,
    )
    return Examination(meant, results, findings, entries.formula_names)


def _participant(issued: Issued, entries: Entries) -> tuple[Finding, ...]:
    today, printed = text_of(entries, "participant_today"), str(issued.values.get("participant_code", ""))
    typed = str(entries.get("participant_today"))
    if not today or today == printed.casefold():
        return ()
    key, row, column = issued.layout.places()["participant_today"]
    cell = absolute(row, column).replace("$", "")
    values: Values = {"typed": written(typed, 20), "printed": printed}
    return (Finding("identity-other-participant", values, issued.layout.tab(key).title, cell),)
