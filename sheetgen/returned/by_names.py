"""A sheet of an earlier form whose record is lost: its Layout as far as the names of its cells tell it."""

from collections.abc import Mapping

from sheetgen.protocols.names import TEXT_ENTRIES, entry_names, live_names
from sheetgen.protocols.protocol import Protocol
from sheetgen.returned.whose import place_of
from sheetgen.workbook.layout import Cell, Layout, Tab
from sheetgen.workbook.snapshot import Snapshot

FORMER_ENTRIES = ("changed_from",)
"""Entries that sheets do not have any more."""

_IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
)  # fmt: skip


def layout_by_names(snapshot: Snapshot, protocol: Protocol, today: Layout) -> Layout:
    """Return a Layout with a cell for every name that is known: entries, live results and identity.

    Labels, formulas and rules of that time are not known any more, so nothing is compared with them.

    Parameters
    ----------
    today : the Layout as it would be made now.
    """
    names = snapshot.names
    roles: Mapping[str, str] = {
        **dict.fromkeys((*entry_names(protocol), *FORMER_ENTRIES), "entry"),
        **dict.fromkeys(live_names(protocol), "formula"),
        **dict.fromkeys(_IDENTITY, "identity"),
    }
    cells: dict[str, list[Cell]] = {}
    for name, role in roles.items():
        # Where lists show other words than the code words, the entry itself has a name of its own.
        place = place_of(snapshot, names.get(f"typed_{name}") or names.get(name, ""))
        if place is not None:
            state, row, column = place
            number = name not in TEXT_ENTRIES and not name.startswith(
                ("not_taken_", "answer_", *FORMER_ENTRIES)
            )
            shape = "entry_number" if number else "entry_text"
            cells.setdefault(state.title, []).append(Cell(row, column, role, name=name, format=shape))
    tabs = (Tab(f"tab {at}", title, tuple(found)) for at, (title, found) in enumerate(cells.items()))
    return Layout(today.title, today.subject, today.language, tuple(tabs), today.settings_text)
