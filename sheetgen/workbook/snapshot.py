"""The Snapshot: what a returned workbook holds, whatever read it, from row and column 0; its language."""

from collections.abc import Mapping

from msgspec import Struct, field

from sheetgen.texts.languages import plain_word


class CellState(Struct, frozen=True):
    """One cell as it came back.
    value : text, number, True/False, or None; for a formula its cached result. An error value is kept as
        its text (`#REF!`) with is_error set.
    formula : text with a leading `=`, or empty.
    locked : whether sheet protection covers it.
    has_rule : whether any validation covers it.
    is_date : a number shown as a date by its format."""

    value: str | float | bool | None = None
    formula: str = ""
    locked: bool = True
    has_rule: bool = False
    is_error: bool = False
    is_date: bool = False


class RuleState(Struct, frozen=True):
    """What a validation lets through.
    kind : as in a Rule of the Layout, or `date` or `time`.
    minimum, maximum : of a number or a length; None where that side is open.
    words : of a list; none where it names cells instead.
    formula : of a custom rule, with a leading `=`, as it is for this very cell.
    stops : whether what does not fit is refused, not only told.
    ignores_blank : whether a custom rule lets anything through while a cell it looks at is blank."""

    kind: str
    minimum: float | None = None
    maximum: float | None = None
    words: frozenset[str] = frozenset()
    formula: str = ""
    stops: bool = True
    ignores_blank: bool = True


Block = tuple[int, int, int, int]
"""First row, first column, last row, last column."""


def holds(block: Block, row: int, column: int) -> bool:
    """Tell whether a place lies in a block."""
    top, left, bottom, right = block
    return top <= row <= bottom and left <= column <= right


class TabState(Struct, frozen=True):
    """One tab as it came back.
    cells : by (row, column), only those that hold something or are unlocked.
    visibility : `visible`, `hidden` or `veryHidden`.
    rules : by (row, column), None where one is not understood. wide_rules : those of whole columns and such.
    """

    title: str
    cells: Mapping[tuple[int, int], CellState]
    protected: bool
    visibility: str
    rules: Mapping[tuple[int, int], RuleState | None] = field(default_factory=dict)
    wide_rules: tuple[tuple[Block, RuleState | None], ...] = ()

    def value(self, row: int, column: int) -> str | float | bool | None:
        """Return the value at a place, None where the cell is empty."""
        state = self.cells.get((row, column))
        return None if state is None else state.value

    def rule(self, row: int, column: int) -> RuleState | None:
        """Return the rule at a place, None where there is none or none that is understood."""
        wide = (rule for block, rule in self.wide_rules if rule and holds(block, row, column))
        return self.rules.get((row, column)) or next(wide, None)


class Snapshot(Struct, frozen=True):
    """A returned workbook.
    names : defined name to its target text, such as `Readings!$B$9`.
    properties : document properties, custom ones included.
    structure_protected : whether tabs are protected against adding, renaming and moving.
    formulas_comparable : whether formulas are written in the syntax of the sheets handed out."""

    tabs: tuple[TabState, ...]
    names: Mapping[str, str]
    properties: Mapping[str, str]
    structure_protected: bool
    formulas_comparable: bool = True


def drawn_language(snapshot: Snapshot, section: str, texts: Mapping[str, Mapping[str, str]]) -> str:
    """Return the language of which most tab titles are there; the first where none is.
    section : of the texts that hold the titles, such as `book_tab`. texts : by language.

    >>> drawn_language(Snapshot((), {}, {}, True), "book_tab", {"en": {}, "es": {}})
    'en'
    """
    there = {plain_word(tab.title) for tab in snapshot.tabs}

    def found(language: str) -> int:
        words = texts[language].items()
        return sum(key.startswith(f"{section}.") and plain_word(title) in there for key, title in words)

    return max(texts, key=found)
