"""Pages that are printed as they are: rows one below the other, broken lines, and the scale of a page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

from sheetgen.layout.cells import label
from sheetgen.layout.text_size import text_pixels
from sheetgen.model.layout import Cell, Value

__all__ = [
    "LARGEST_SCALE",
    "LINE_WIDTH",
    "PAGE_POINTS",
    "PAGE_WIDTH",
    "Row",
    "broken",
    "cells_of",
    "first_rows",
    "heights_of",
    "scale_for",
    "width_in_characters",
]

PAGE_WIDTH = 610
"""What all columns together may take [px at 100 %]. Where a program has not got the typeface, a wider one
makes every column a fifth wider; at the largest scale even those fit between the margins of A4."""
LINE_WIDTH = 680
"""What a line of text may take [px in the wide typeface]."""
PAGE_POINTS = 695.0
"""What all rows of a page may take [points]: a little less than Letter leaves between its margins."""
LARGEST_SCALE = 94
"""Per cent."""

_PADDING = 12


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its height [points] and its fixed cells as (column, value, format word)."""

    height: float
    cells: tuple[tuple[int, Value, str], ...] = ()


def cells_of(rows: Sequence[Row]) -> list[Cell]:
    """Return the cells of rows that stand one below the other from the top of a tab."""
    return [
        label(number, column, value, format)
        for number, row in enumerate(rows)
        for column, value, format in row.cells
    ]


def heights_of(rows: Sequence[Row]) -> tuple[tuple[int, float], ...]:
    """Return (row, height [points]) of rows that stand one below the other from the top of a tab."""
    return tuple((number, row.height) for number, row in enumerate(rows))


# Most forms of a class say the same.
@lru_cache(maxsize=4_096)
def broken(text: str, pixels: float, points: float, bold: bool = False) -> tuple[str, ...]:
    """Return a text as lines that fit a width, broken at its spaces; a word wider than that stays whole.

    Parameters
    ----------
    pixels : what a line may take [px at 100 %]. points : size of the type.

    Examples
    --------
    >>> broken("one two three", 80, 12)
    ('one two', 'three')
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_pixels(longer, bold, points) <= pixels - _PADDING:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def scale_for(heights: Iterable[float]) -> int:
    """Return the per cent at which rows of these heights [points] fit on one page, at least 10.

    A page of A4 as well as one of Letter.

    Examples
    --------
    >>> scale_for([300.0, 300.0]), scale_for([690.0, 310.0])
    (94, 69)
    """
    needed = sum(heights)
    return max(10, min(LARGEST_SCALE, int(100 * PAGE_POINTS / needed))) if needed else LARGEST_SCALE


def width_in_characters(pixels: float) -> float:
    """Return the width of a column in characters; the other way round than text_size.column_pixels.

    Examples
    --------
    >>> width_in_characters(75)
    10.0
    """
    return (pixels - 5) / 7


def first_rows(pages: Sequence[Sequence[Row]], first_row: int) -> tuple[int, ...]:
    """Return the row that each page begins in, the first page in first_row."""
    return tuple(accumulate((len(page) for page in pages[:-1]), initial=first_row))
