"""The Layout: a plain value that says where every cell of a workbook is and what it is for.

Rows and columns count from 0. The writer renders a Layout, the reader compares with it, the filler fills it.
"""

from dataclasses import dataclass, field

import msgspec

Value = str | float | None
"""What a cell holds: text, a number, or nothing."""

Place = tuple[str, int, int]
"""Tab key, row, column."""


class Rule(msgspec.Struct, frozen=True):
    """A validation rule on an entry cell.
    kind : `list` (one of words), `whole` or `decimal` (minimum to maximum), `length` (text of at most
        maximum characters) or `custom` (formula).
    title, prompt : the input message. error : shown when the rule refuses.
    codes : the code word that each of `words` stands for; empty where every word is its own.
    formula : of a list too long for a rule: the cells of its own tab that hold the words. Where
        cells of a tab share a rule, as it is for the first of them.
    refuses : whether what does not fit is refused; else it is only named by the sheet itself."""

    kind: str
    title: str
    prompt: str
    error: str
    words: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    formula: str = ""
    codes: tuple[str, ...] = ()
    refuses: bool = True


class Cell(msgspec.Struct, frozen=True):
    """One cell, of a kind that is made quickly: the papers of a large class have a hundred thousand.
    role : `label` (fixed), `entry` (the only unlocked role), `formula`, or `identity` (differs by copy).
    name : the defined name, or for identity cells without one the key of its value; may be empty.
    value : text or number of a label, first value of an entry, first cached result of a formula.
    formula : starts with `=` where the role is formula.
    format : a format word of templates/style.toml.
    named : whether the cell has a defined name of the workbook. defined : that name, where it is not `name`.
    link : key of the tab that a click leads to. across : how many columns it spans."""

    row: int
    column: int
    role: str
    value: Value = None
    name: str = ""
    formula: str = ""
    format: str = "text"
    rule: Rule | None = None
    named: bool = False
    defined: str = ""
    link: str = ""
    across: int = 1

    @property
    def defined_name(self) -> str:
        """The defined name of the workbook that points here; empty where none does."""
        return (self.defined or self.name) if self.named else ""


@dataclass(frozen=True, slots=True)
class Emphasis:
    """A conditional format: the cells of a block look like `format` where the formula holds."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int
    formula: str
    format: str


@dataclass(frozen=True, slots=True)
class Image:
    """A drawing on a tab.
    row, column : of the cell whose upper left corner it stands at, x_offset and y_offset away [px].
    name : which drawing; whoever renders the Layout gives its bytes.
    width, height : what it is fitted into, its shape kept [px]. alternative_text : what it shows, in words.
    """

    row: int
    column: int
    name: str
    width: int
    height: int
    alternative_text: str
    x_offset: int = 0
    y_offset: int = 0


@dataclass(frozen=True, slots=True)
class Series:
    """Bars or a line of one column. name : in the legend. fill : `solid`, `striped` or `plain` bars, or a
    `dashed` or `dotted` line across them. number : each bar has its number, so formatted. reach : columns of
    how far an interval reaches below and above each bar."""

    name: str
    column: int
    fill: str
    number: str = ""
    reach: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Chart:
    """A bar chart of cells of its own tab; it follows them.
    row, column : of the cell whose upper left corner it stands at. width, height, x_offset, y_offset : [px].
    categories : first row, last row and column of the words below the bars; every series has those rows.
    category_title, value_title : of the axes. alternative_text : what it shows, in words. value_format : of
    the numbers at the axis. ends : of that axis, None where the program may choose. points : of the type."""

    row: int
    column: int
    width: int
    height: int
    title: str
    alternative_text: str
    categories: tuple[int, int, int]
    series: tuple[Series, ...]
    category_title: str = ""
    value_title: str = ""
    value_format: str = "0.0"
    ends: tuple[float | None, float | None] = (None, None)
    points: int = 12
    x_offset: int = 0
    y_offset: int = 0


@dataclass(frozen=True, slots=True)
class PlotLine:
    """A line through points: x in a column, y in the next, from a row to a last one.
    look : a colour of templates/style.toml, or `none`. words : one at each point."""

    column: int
    first: int
    last: int
    look: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plot:
    """Lines in a plane without axes, through cells of a tab; it follows them.
    row, column : of the cell whose upper left corner it stands at. width, height : [px].
    tab : key of the tab with the points. ranges : least and largest x and y that are seen.
    alternative : name of the value by which each copy says what it shows."""

    row: int
    column: int
    width: int
    height: int
    tab: str
    ranges: tuple[float, float, float, float]
    lines: tuple[PlotLine, ...]
    alternative: str


@dataclass(frozen=True, slots=True)
class Tab:
    """One tab.
    key : fixed word (`readings`). title : the name on the tab.
    cells : sorted by row and column, at most one a place.
    widths : column widths in characters; 0: hidden. heights : (row, points) where not the default.
    freeze : first row and column that scroll. landscape : how it prints.
    first_entry : where the cursor waits.
    hidden : not shown at all, not even in the list of hidden tabs.
    repeat : the row that stands on top of every printed page. printed_rows : how many are printed; 0: all.
    images, charts, plots : over the cells.
    scale : per cent at which it prints; 0: as wide as the page. page_breaks : rows that begin a printed page;
        they hold with a scale, since fitting to a page makes a program leave them out.
    bare : no row and column headings on the screen, and no columns beyond the last. Columns are printed up to
        the last that shows something where rows scroll.
    pages : how many printed pages high it is fitted to; 0: as many as it takes. printed_from : the first row
        printed, below the one that is repeated.
    filtered : the row of headings that carry filter buttons; 0: none. Nothing can be sorted."""

    key: str
    title: str
    cells: tuple[Cell, ...]
    widths: tuple[float, ...] = ()
    heights: tuple[tuple[int, float], ...] = ()
    emphases: tuple[Emphasis, ...] = ()
    freeze: tuple[int, int] | None = None
    landscape: bool = False
    first_entry: tuple[int, int] | None = None
    hidden: bool = False
    repeat: int = 0
    printed_rows: int = 0
    images: tuple[Image, ...] = ()
    charts: tuple[Chart, ...] = ()
    scale: int = 0
    page_breaks: tuple[int, ...] = ()
    bare: bool = False
    pages: int = 0
    printed_from: int = 0
    filtered: int = 0
    plots: tuple[Plot, ...] = ()


@dataclass(frozen=True, slots=True)
class Layout:
    """All tabs of a workbook, and the settings they were made from as one line of JSON text.
    subject, title : document properties. language : tag such as `en`.
    page_text : what stands below each printed page, with places for {page} and {pages}."""

    title: str
    subject: str
    language: str
    tabs: tuple[Tab, ...]
    settings_text: str = ""
    page_text: str = "{page} / {pages}"

    def tab(self, key: str) -> Tab:
        """Return a tab by its key; KeyError where there is none."""
        return {tab.key: tab for tab in self.tabs}[key]

    def places(self) -> dict[str, Place]:
        """Return the place of every named cell."""
        named = ((tab.key, cell) for tab in self.tabs for cell in tab.cells if cell.name)
        return {cell.name: (key, cell.row, cell.column) for key, cell in named}


@dataclass(frozen=True, slots=True)
class Identity:
    """What differs between the copies of one Layout: the value of every identity cell and of the entries
    that are handed out filled in, by name."""

    values: dict[str, Value] = field(default_factory=dict)
