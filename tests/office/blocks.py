"""Places on tabs gathered into rectangles, so that one call to the spreadsheet program serves many cells."""

from collections.abc import Iterable, Sequence

Place = tuple[int, int, int]
"""Number of the tab, row, column."""
Block = tuple[int, int, int, int, int]
"""Number of the tab, first row, first column, last row, last column."""


def blocks_of(places: Iterable[Place]) -> list[Block]:
    """Cut a set of places into rectangles that hold these places and no other.

    Runs in a row first, then runs of the same columns joined downwards: few blocks where entries stand
    in tables.
    """
    runs: list[list[int]] = []
    for tab, row, column in sorted(set(places)):
        if runs and runs[-1][:2] == [tab, row] and runs[-1][3] == column - 1:
            runs[-1][3] = column
        else:
            runs.append([tab, row, column, column])
    blocks: dict[tuple[int, int, int], list[Block]] = {}
    for tab, row, first, last in runs:
        same_columns = blocks.setdefault((tab, first, last), [])
        if same_columns and same_columns[-1][3] == row - 1:
            same_columns[-1] = (*same_columns[-1][:3], row, last)
        else:
            same_columns.append((tab, row, first, row, last))
    return sorted(block for same_columns in blocks.values() for block in same_columns)


def bounding_block(places: Sequence[Place]) -> Block:
    """The smallest rectangle around places that all stand on one tab."""
    rows = [row for _, row, _ in places]
    columns = [column for _, _, column in places]
    return places[0][0], min(rows), min(columns), max(rows), max(columns)


def blocks_to_read(places: Sequence[Place]) -> list[Block]:
    """Few blocks that cover the places: a block too many costs more than cells read for nothing."""
    blocks: list[Block] = []
    for tab in sorted({place[0] for place in places}):
        here = [place for place in places if place[0] == tab]
        _, top, left, bottom, right = around = bounding_block(here)
        small = (bottom - top + 1) * (right - left + 1) <= 8 * len(here) + 200
        blocks += [around] if small else blocks_of(here)
    return blocks
