"""Whose copy a file is, by what stands inside it."""

import re
from collections.abc import Mapping

from sheetgen.workbook.addresses import column_number
from sheetgen.workbook.layout import Layout, Tab
from sheetgen.workbook.snapshot import Snapshot, TabState

_CHARACTER = "[2-9A-HJKMNP-TV-Z]"
"""Copy codes have no 0, 1, I, L, O, U, so that most other numbers on a sheet are none."""
_COPY_CODE = re.compile(rf"(?<![0-9A-Z-]){_CHARACTER}{{4}}-{_CHARACTER}{{4}}(?![0-9A-Z-])")
_PLACE = re.compile(r"^'?(?P<tab>.*?)'?!\$?(?P<column>[A-Z]{1,2})\$?(?P<row>[0-9]{1,4})$")

_ENOUGH = 0.5


def copy_codes_in(snapshot: Snapshot) -> tuple[str, ...]:
    """Return every copy code a file carries, the hidden tab's first, each once.

    Notes
    -----
    The code is printed on the first row of every tab, in a line of text and as the first of the codes there.
    A cell with nothing but such a code is no such line: a tab for notes may hold a telephone number.
    """
    codes = []
    named = named_text(snapshot, "copy_code")
    if _COPY_CODE.fullmatch(named):
        codes.append(named)
    for tab in snapshot.tabs:
        for column in range(8):
            value = tab.value(0, column)
            match = _COPY_CODE.search(value) if isinstance(value, str) else None
            if match and match.group() != str(value).strip():
                codes.append(match.group())
                break
    return tuple(dict.fromkeys(codes))


def class_code_in(snapshot: Snapshot) -> str:
    """Return the class code a file carries, or the empty text."""
    return _beside(snapshot, "class_code")


def settings_text_in(snapshot: Snapshot) -> str:
    """Return the settings a file says it was built with, or the empty text."""
    return named_text(snapshot, "settings") or _beside(snapshot, "settings")


def named_text(snapshot: Snapshot, name: str) -> str:
    """Return the text of a named cell, or the empty text."""
    place = place_of(snapshot, snapshot.names.get(name, ""))
    value = None if place is None else place[0].value(*place[1:])
    return value if isinstance(value, str) else ""


def place_of(snapshot: Snapshot, target: str) -> tuple[TabState, int, int] | None:
    """Return tab, row and column of the one cell that a name points at, None where it points at no such."""
    match = _PLACE.match(target)
    for tab in snapshot.tabs if match is not None else ():
        if match is not None and tab.title.casefold() == match["tab"].replace("''", "'").casefold():
            return tab, int(match["row"]) - 1, column_number(match["column"])
    return None


def _beside(snapshot: Snapshot, name: str) -> str:
    """The text to the right of a printed name on any tab."""
    for tab in snapshot.tabs:
        for (row, column), state in tab.cells.items():
            if column == 0 and state.value == name:
                value = tab.value(row, 1)
                return value if isinstance(value, str) else ""
    return ""


def matched_tabs(layout: Layout, snapshot: Snapshot) -> dict[str, TabState]:
    """Return tab key to returned tab; a tab of which less than half the labels are found is missing."""
    matched: dict[str, TabState] = {}
    taken: set[int] = set()
    for tab in layout.tabs:
        candidates = sorted(
            (index for index in range(len(snapshot.tabs)) if index not in taken),
            key=lambda index: snapshot.tabs[index].title != tab.title,
        )
        best, best_share = -1, _ENOUGH
        for index in candidates:
            share = label_share(tab, snapshot.tabs[index])
            if share > best_share or (best < 0 and share == best_share):
                best, best_share = index, share
            if share == 1:
                break
        if best >= 0:
            matched[tab.key] = snapshot.tabs[best]
            taken.add(best)
    return matched


def label_share(tab: Tab, state: TabState) -> float:
    """Return the share [0 to 1] of a tab's printed labels that stand at their place."""
    labels = [
        cell for cell in tab.cells if cell.role == "label" and isinstance(cell.value, str) and cell.value
    ]
    there = sum(state.value(cell.row, cell.column) == cell.value for cell in labels)
    return there / len(labels) if labels else float(tab.title == state.title)


def renamed_titles(layout: Layout, tabs: Mapping[str, TabState]) -> dict[str, str]:
    """Return the title as found, in lower case, to the title at hand-out, for every tab that was found."""
    titles = {tab.key: tab.title for tab in layout.tabs}
    return {state.title.casefold(): titles[key] for key, state in tabs.items()}
