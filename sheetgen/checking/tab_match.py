"""Which returned tab is which: by the labels printed on it, since tabs get renamed, moved and added."""

from collections.abc import Mapping

from sheetgen.model.layout import Layout, Tab
from sheetgen.model.snapshot import Snapshot, TabState

__all__ = ["label_share", "matched_tabs", "renamed_titles"]

_ENOUGH = 0.5


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
    return there / len(labels) if labels else 0.0


def renamed_titles(layout: Layout, tabs: Mapping[str, TabState]) -> dict[str, str]:
    """Return the title as found, in lower case, to the title at hand-out, for every tab that was found."""
    titles = {tab.key: tab.title for tab in layout.tabs}
    return {state.title.casefold(): titles[key] for key, state in tabs.items()}
