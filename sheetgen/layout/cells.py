"""Short makers of cells, rules and formulas, so that a tab reads like what it shows."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.layout.number_text import shown_number
from sheetgen.model.layout import Cell, Rule, Value

__all__ = [
    "Line", "chain", "counted", "entry", "formula", "heading_row", "identity", "label", "list_entry",
    "number_rule", "tab_head", "text_rule", "words_rule",
]  # fmt: skip

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the hidden tab. formula : empty for a fixed value. first : value at hand-out."""

    name: str
    formula: str
    first: Value = ""


def chain(tests: Sequence[tuple[str, str]], otherwise: str = '""') -> str:
    """Return a formula text that gives what belongs to the first test that holds.

    Examples
    --------
    >>> chain([("A1>1", "1"), ("A1>0", "2")])
    'IF(A1>1,1,IF(A1>0,2,""))'
    """
    text = otherwise
    for test, then in reversed(tests):
        text = f"IF({test},{then},{text})"
    return text


def counted(tests: Iterable[str]) -> str:
    """Return a formula text that gives how many tests hold.

    Examples
    --------
    >>> counted(["A1>1", "A2>1"])
    'IF(A1>1,1,0)+IF(A2>1,1,0)'
    """
    return "+".join(f"IF({test},1,0)" for test in tests)


def label(
    row: int, column: int, text: Value, format: str = "text", name: str = "", named: bool = False
) -> Cell:
    """Return a fixed cell."""
    return Cell(row, column, "label", text, name=name, format=format, named=named)


def entry(row: int, column: int, name: str, rule: Rule, format: str, value: Value = None) -> Cell:
    """Return an entry cell, unlocked and named."""
    return Cell(row, column, "entry", value, name=name, format=format, rule=rule, named=True)


def list_entry(row: int, column: int, name: str, rule: Rule, value: str = "") -> Cell:
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
        return entry(row, column, name, rule, "entry_text", value or None)
    shown = dict(zip(rule.codes, rule.words, strict=True)).get(value, value or None)
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


def heading_row(row: int, titles: Sequence[str]) -> list[Cell]:
    """Return a row of table headings from column A on."""
    return [label(row, column, title, "heading") for column, title in enumerate(titles)]


def tab_head(key: str, next_step_row: int, texts: Texts) -> list[Cell]:
    """Return what stands on top of every tab of a sheet but Start: its title, whose sheet it is, what comes
    next, and above that what the tab is for."""
    cells = [
        label(0, 0, texts[f"{key}.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(next_step_row, 0, texts["readings.next_step"], "label"),
        formula(next_step_row, 1, "={shown_next_step}", texts["step.cautions"], "step"),
    ]
    if next_step_row > 1:
        cells.append(label(1, 0, texts[f"{key}.instruction"], "step"))
    return cells


def words_rule(texts: Texts, words: tuple[str, ...], title: str, prompt: str, section: str = "") -> Rule:
    """Return a rule that takes one of some words, offered as a list.

    Parameters
    ----------
    section : of the texts that show these code words; empty: they are no code words, but names and the like.
    """
    shown = tuple(texts[f"{section}.{word}"] for word in words) if section else words
    error = texts["rule.list"].format(words=", ".join(shown))
    return Rule("list", title, prompt, error[:255], words=shown, codes=() if shown == words else words)


def number_rule(texts: Texts, kind: str, minimum: float, maximum: float, title: str, prompt: str) -> Rule:
    """Return a rule that takes a number in a range; kind is `whole` or `decimal`."""
    limits = {"minimum": shown_number(minimum, texts), "maximum": shown_number(maximum, texts)}
    error = texts[f"rule.{kind}"].format(**limits)
    return Rule(kind, title, f"{prompt}. {error}", error, minimum=minimum, maximum=maximum)


def text_rule(texts: Texts, maximum: int, title: str, prompt: str) -> Rule:
    """Return a rule that takes a text of limited length."""
    error = texts["rule.length"].format(maximum=maximum)
    return Rule("length", title, prompt, error, minimum=0, maximum=maximum)
