"""Someone else was measured than the person on the sheet, and the roster has them as under 18."""

from collections.abc import Collection

from sheetgen.checking.recalculate import text_of
from sheetgen.layout.address import absolute
from sheetgen.layout.vocabulary import ROUNDS, reading_name
from sheetgen.model.attempt import Entries
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Layout
from sheetgen.model.protocol import Protocol

__all__ = ["minor_today_findings"]


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
