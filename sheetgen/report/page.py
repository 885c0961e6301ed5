"""One tab of the report as a plain value: a title, a sentence, a table. Knows no workbook library."""

from dataclasses import dataclass

__all__ = ["Heading", "Page", "Value"]

Value = str | float | None


@dataclass(frozen=True, slots=True)
class Heading:
    """A column: what stands above it, its width in characters, a format word of templates/style.toml."""

    text: str
    width: float
    format: str = "wrap"


@dataclass(frozen=True, slots=True)
class Page:
    """One tab.

    sentences : what to know or to do, below the title; short, for they run over the cells beside them.
    filtered : the heading row carries filter buttons.
    chart : (column of the words, column of the numbers) for a bar chart below the table.
    """

    tab: str
    title: str
    sentences: tuple[str, ...]
    headings: tuple[Heading, ...]
    rows: tuple[tuple[Value, ...], ...]
    filtered: bool = False
    chart: tuple[int, int] | None = None
