"""Short makers of layout cells, so that a tab reads like what it shows."""

from sheetgen.model.layout import Cell, Rule, Value

__all__ = ["entry", "formula", "heading_row", "identity", "label", "list_entry"]


def label(
    row: int, column: int, text: Value, format: str = "text", name: str = "", named: bool = False
) -> Cell:
    """Return a fixed cell."""
    return Cell(row, column, "label", text, name=name, format=format, named=named)


def entry(row: int, column: int, name: str, rule: Rule, format: str, value: Value = None) -> Cell:
    """Return an entry cell, unlocked and named."""
    return Cell(row, column, "entry", value, name=name, format=format, rule=rule, named=True)


def list_entry(row: int, column: int, name: str, rule: Rule, value: str | None = None) -> Cell:
    """Return an entry cell that takes one word of a list.

    Parameters
    ----------
    value : code word of the word filled in.

    Notes
    -----
    Where the list shows other words than the code words, the cell's defined name is `typed_NAME`, and NAME
    belongs to the cell of the hidden tab that holds the code word.
    """
    if not rule.codes:
        return entry(row, column, name, rule, "entry_text", value)
    shown = dict(zip(rule.codes, rule.words, strict=True)).get(value or "", value)
    defined = f"typed_{name}"
    return Cell(row, column, "entry", shown, name, "", "entry_text", rule, named=True, defined=defined)


def formula(
    row: int,
    column: int,
    text: str,
    first: Value = "",
    format: str = "text",
    name: str = "",
    named: bool = False,
) -> Cell:
    """Return a formula cell with its first cached result."""
    return Cell(row, column, "formula", first, name=name, formula=text, format=format, named=named)


def identity(row: int, column: int, name: str, format: str = "text", named: bool = False) -> Cell:
    """Return a cell whose value differs by copy."""
    return Cell(row, column, "identity", None, name=name, format=format, named=named)


def heading_row(row: int, titles: list[str]) -> list[Cell]:
    """Return a row of table headings from column A on."""
    return [label(row, column, title, "heading") for column, title in enumerate(titles)]
