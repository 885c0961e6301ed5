"""The Snapshot: what a returned workbook holds, whatever read it. Rows and columns count from 0."""

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["CellState", "Snapshot", "TabState"]


@dataclass(frozen=True, slots=True)
class CellState:
    """One cell as it came back.

    value : text, number, True/False, or None; for a formula its cached result. An error value is kept as
        its text (`#REF!`) with is_error set.
    formula : text with a leading `=`, or empty.
    locked : whether sheet protection covers it.
    has_rule : whether any validation covers it.
    is_date : a number shown as a date by its format.
    """

    value: str | float | bool | None = None
    formula: str = ""
    locked: bool = True
    has_rule: bool = False
    is_error: bool = False
    is_date: bool = False


@dataclass(frozen=True, slots=True)
class TabState:
    """One tab as it came back.

    cells : by (row, column), only those that hold something or are unlocked.
    visibility : `visible`, `hidden` or `veryHidden`.
    """

    title: str
    cells: Mapping[tuple[int, int], CellState]
    protected: bool
    visibility: str

    def value(self, row: int, column: int) -> str | float | bool | None:
        """Return the value at a place, None where the cell is empty."""
        state = self.cells.get((row, column))
        return None if state is None else state.value


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A returned workbook.

    names : defined name to its target text, such as `Readings!$B$9`.
    properties : document properties, custom ones included.
    structure_protected : whether tabs are protected against adding, renaming and moving.
    formulas_comparable : whether formulas are written in the syntax of the sheets handed out.
    """

    tabs: tuple[TabState, ...]
    names: Mapping[str, str]
    properties: Mapping[str, str]
    structure_protected: bool
    formulas_comparable: bool = True
