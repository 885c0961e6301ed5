"""The Layout of a student workbook, from protocol, settings and texts."""

from collections.abc import Mapping
from dataclasses import replace

from sheetgen.layout.address import absolute, in_tab, resolved
from sheetgen.layout.calculator import calculator_tab
from sheetgen.layout.calculator_flow import entries_due
from sheetgen.layout.practice import practice_values
from sheetgen.layout.readings import readings_tab
from sheetgen.layout.reference_tabs import about_tab, sites_tab
from sheetgen.layout.results import results_tab
from sheetgen.layout.start import start_tab
from sheetgen.layout.working import working_tab
from sheetgen.model.layout import Cell, Identity, Layout, Place, Tab, Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["LAYOUT_VERSION", "sheet_identity", "student_layout"]

LAYOUT_VERSION = 2
"""Counts up with every change of a sheet's cells. A Layout that is stored stays as it was; this number only
keeps a sheet whose record is lost from being read by the places of another time."""

_INPUT_TABS = ("start", "readings", "working")


def student_layout(
    protocol: Protocol, settings: SheetSettings, settings_text: str, texts: Mapping[str, str]
) -> Layout:
    """Return the Layout of a student workbook.

    Parameters
    ----------
    settings_text : the settings as one line of text, printed on the hidden tab.
    texts : every text a person reads, by key.

    Raises
    ------
    KeyError : a text is missing, or the protocol has no conversion of the name in the settings.
    """
    visible = [
        start_tab(protocol, settings, texts),
        readings_tab(protocol, settings, texts),
        results_tab(protocol, settings, texts),
        working_tab(protocol, settings, texts),
        sites_tab(protocol, texts),
        about_tab(protocol, settings, texts),
    ]
    by_key = {tab.key: tab for tab in visible}
    blocks = {key: _block(by_key[key]) for key in _INPUT_TABS}
    entries = {
        cell.name: (tab.key, cell.row, cell.column)
        for tab in visible
        for cell in tab.cells
        if cell.role == "entry"
    }
    tabs = [*visible, calculator_tab(protocol, settings, settings_text, texts, blocks, entries)]
    places = {cell.name: (tab.key, cell.row, cell.column) for tab in tabs for cell in tab.cells if cell.name}
    titles = {tab.key: tab.title for tab in tabs}
    return Layout(
        title=texts["sheet.title"],
        subject=texts["sheet.subject"],
        language=settings.language,
        tabs=tuple(_resolved_tab(tab, places, titles) for tab in tabs),
        settings_text=settings_text,
        page_text=texts["sheet.page"],
    )


def sheet_identity(
    protocol: Protocol,
    settings: SheetSettings,
    texts: Mapping[str, str],
    copy_code: str,
    class_code: str,
    student_id: str,
    participant_code: str,
    session_number: int,
    caliper_id: str,
) -> Identity:
    """Return what one copy carries: its identity, its practice readings, and the caliper issued.

    Raises
    ------
    KeyError : the caliper is not in the register.
    """
    row, caliper = next(
        (index, caliper)
        for index, caliper in enumerate((*settings.calipers, None), start=1)
        if caliper is None or caliper.identifier == caliper_id
    )
    if caliper is None:
        raise KeyError(caliper_id)
    codes: dict[str, Value] = {
        "copy_code": copy_code,
        "class_code": class_code,
        "student_id": student_id,
        "participant_code": participant_code,
        "protocol_id": protocol.identifier,
        "session_number": session_number,
        "caliper_zero_mm": caliper.zero,
        "issued_caliper": caliper_id,
    }
    line = texts["sheet.line"].format(**codes)
    # First results of the formulas that follow from the caliper issued.
    from_caliper: dict[str, Value] = {
        "caliper_id": caliper_id,
        "in_caliper_id": caliper_id,
        "caliper_row": row,
        "caliper_division": caliper.division,
        "caliper_opening": caliper.opening,
        "caliper_zero": caliper.zero,
        "shown_caliper": caliper_id,
        "shown_division": caliper.division,
        "shown_opening": caliper.opening,
        "entries_made": 1,
    }
    due = entries_due(protocol)
    shown_entries = f"1{texts['start.entries_of']}{due}{texts['start.entries_made']}"
    return Identity(
        {
            **codes,
            **from_caliper,
            "sheet_line": line,
            "shown_entries": shown_entries,
            **practice_values(protocol, caliper, copy_code),
        }
    )


def _block(tab: Tab) -> str:
    """The address of everything on a tab, one row and column beyond the last cell."""
    last_row = max(cell.row for cell in tab.cells) + 1
    last_column = max(cell.column for cell in tab.cells) + 1
    return in_tab(tab.title, f"{absolute(0, 0)}:{absolute(last_row, last_column)}")


def _resolved_tab(tab: Tab, places: Mapping[str, Place], titles: Mapping[str, str]) -> Tab:
    def address(template: str) -> str:
        return resolved(template, tab.key, places, titles)

    def cell_resolved(cell: Cell) -> Cell:
        rule = cell.rule
        if rule is not None and rule.formula:
            rule = replace(rule, formula=address(rule.formula))
        return replace(cell, formula=address(cell.formula), rule=rule)

    return replace(
        tab,
        cells=tuple(
            cell_resolved(cell) for cell in sorted(tab.cells, key=lambda cell: (cell.row, cell.column))
        ),
        emphases=tuple(replace(emphasis, formula=address(emphasis.formula)) for emphasis in tab.emphases),
    )
