"""One tab of the report as a plain value: titles, sentences, tables, charts. Knows no workbook library."""

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Chart", "Heading", "Page", "Section", "Texts", "Value"]

Value = str | float | None
Texts = Mapping[str, str]
"""Those of `report.LANGUAGE`, by dotted key; every function that makes a tab takes them last."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A column: what stands above it, its width in characters, a format word of templates/style.toml."""

    text: str
    width: float
    format: str = "wrap"


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of some rows of one table; columns are counted from 0.

    kind : `bar`, `column`, or `scatter`: dots. words : of the categories, or of x. numbers : of the values.
    lines : columns drawn as lines across it, named by their headings.
    reach : column of how far an interval reaches to both sides, drawn at each value.
    rows : (first, last) of the table, counted from 0; None for all.
    """

    kind: str
    title: str
    words: int
    numbers: int
    lines: tuple[int, ...] = ()
    reach: int | None = None
    rows: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """A further table of a tab, below the others. above : its charts stand above the table, which is
    there for them and is not printed."""

    title: str
    sentences: tuple[str, ...]
    headings: tuple[Heading, ...] = ()
    rows: tuple[tuple[Value, ...], ...] = ()
    charts: tuple[Chart, ...] = ()
    above: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """One tab.

    sentences : what to know or to do, below the title; they run over the cells beside them.
    filtered : the heading row carries filter buttons.
    more : further tables below. above : as of a section.
    wall : written large, on one printed page, to be projected.
    """

    tab: str
    title: str
    sentences: tuple[str, ...]
    headings: tuple[Heading, ...]
    rows: tuple[tuple[Value, ...], ...]
    filtered: bool = False
    charts: tuple[Chart, ...] = ()
    more: tuple[Section, ...] = ()
    above: bool = False
    wall: bool = False
