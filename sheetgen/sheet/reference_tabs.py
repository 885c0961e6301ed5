"""The tabs Sites and About: what to look up; and the drawn figures of sites and steps."""

from collections.abc import Mapping
from functools import lru_cache, partial
from types import MappingProxyType

from msgspec import Struct

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError, TemplateError
from sheetgen.protocols.protocol import Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.heading import COLUMN_HEADINGS, HEAD_HEIGHTS, head, sheet_tab, wrapped_lines
from sheetgen.sheet.working import cautions_of, conversion_text, equation_text, equation_title
from sheetgen.texts.languages import Texts, shown_number
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.cells import column_pixels, height_for, label
from sheetgen.workbook.layout import Cell, Image, Layout, Tab

FIGURE_SIZE = (104, 84)
"""Width and height on the tab Sites [px]; the files hold a little more than twice as many dots."""
SMALL_SIZE = (48, 32)
"""Width and height beside a row [px]; the files hold twice as many dots."""

_NO_FIGURE = "none"

_SITES_FIRST = COLUMN_HEADINGS + 1
_SITES_WIDTHS = (15.3, 33.4, 1, 15.3, 33.4, 30)
_CARDS, _LINK = (0, 3), 5
"""The first columns of the two cards; the last of the tab leads on."""
_CARD, _PAGE = 49.4, 101.1
"""Characters across a card, and across both with what is between them."""
_BESIDE = 2
"""Lines of a card that stand beside its figure."""
_AROUND = 4
"""Free on each side of a figure [px]."""
_LINE_POINTS, _BETWEEN, _GAP = 14.4, 4.0, 6.0
"""Of a line of 12 points, free between the texts of a card, and below it [points]."""
_ABOUT_WIDTHS = (28, 72, 30)
_REFERENCE_SCALE = 84
"""Per cent: 12 points are 10 on paper, and the columns fit A4 in a wide typeface."""
_PAGE_POINTS = 728.0
"""What a page of Letter, the lower one, holds between its margins."""


class Figure(Struct, frozen=True):
    """What a shipped figure shows.
    direction : of the fold drawn. view : key of the text that says from where."""

    direction: str
    view: str


FOLD_STEPS = ("mark", "lift", "jaws", "hold", "read", "open")
"""In the order of the work; each has a text `lifting.STEP` and a drawing templates/figures/fold-STEP.png."""


class StepsGrid(Struct, frozen=True):
    """Where the drawn steps stand. columns : the first of each step; across : how many one takes, of `width`
    characters together. size : of a drawing [px]. format : of the words, and points : their size."""

    columns: tuple[int, ...]
    across: int
    width: float
    size: tuple[int, int]
    format: str
    points: float


_STEPS_GRID = StepsGrid(_CARDS, 2, _CARD, (240, 180), "card_where", 12.0)

FIGURES = {
    "chest": Figure("diagonal", "figure.front"),
    "midaxillary": Figure("vertical", "figure.side"),
    "triceps": Figure("vertical", "figure.back"),
    "subscapular": Figure("diagonal", "figure.back"),
    "abdominal": Figure("vertical", "figure.front"),
    "suprailiac": Figure("diagonal", "figure.side"),
    "suprailiac-side": Figure("diagonal", "figure.side"),
    "thigh": Figure("vertical", "figure.front"),
    "biceps": Figure("vertical", "figure.front"),
    "calf": Figure("vertical", "figure.inner"),
}
"""By name: the file is templates/figures/NAME.png, and NAME-small.png and NAME-large.png beside it."""


def sites_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Sites: two cards beside each other, a site each with figure, fold, where, how and the
    usual fault, on one printed page; on the next, how a fold is lifted and read."""
    after = "drill" if settings.reading_drill else "readings"
    cells = [
        *head("sites", len(_SITES_WIDTHS), 1, protocol, texts, False, after),
        label(COLUMN_HEADINGS, 0, texts["sites.instruction"], "hint_line", across=_LINK),
    ]
    heights, images, row = [(COLUMN_HEADINGS, _height(texts["sites.instruction"], _PAGE))], [], _SITES_FIRST
    for at in range(0, len(protocol.sites), 2):
        pair = dict(zip(_CARDS, protocol.sites[at : at + 2], strict=False))
        drawn = {column: large_image(site, row, column, texts) for column, site in pair.items()}
        images += [image for image in drawn.values() if image is not None]
        for number, lines in enumerate(
            zip(*(card_lines(site, texts) for site in pair.values()), strict=True)
        ):
            high = []
            for column, (text, word) in zip(pair, lines, strict=True):
                has_figure = number < _BESIDE and drawn[column] is not None
                placed, needed = _placed(row, column, text, f"card_{word}", has_figure)
                cells += placed
                high.append(needed)
            heights.append((row, max(high)))
            if number == _BESIDE - 1:
                # The figure stands beside the first lines of its card.
                beside = sum(height for _, height in heights[-_BESIDE:])
                missing = (FIGURE_SIZE[1] + 2 * _AROUND) * 0.75 - beside
                heights[-1] = (row, heights[-1][1] + max(missing, 0))
            row += 1
        heights[-1] = (row - 1, heights[-1][1] + _GAP)
    of_sites = HEAD_HEIGHTS[0][1] + sum(height for _, height in heights)
    title = label(row, 0, texts["sites.lifting"], "card_title", across=_LINK)
    steps, step_heights, step_images = fold_steps(row + 1, _STEPS_GRID, texts)
    return sheet_tab(
        "sites",
        (*cells, title, *steps),
        _SITES_WIDTHS,
        (*heights, (row, _height("", _PAGE)), *step_heights),
        texts,
        images=(*images, *step_images),
        scale=min(_REFERENCE_SCALE, int(100 * _PAGE_POINTS / of_sites)),
        page_breaks=(row,),
    )


def card_lines(site: Site, texts: Texts) -> list[tuple[str, str]]:
    """Return the texts of a site's card, each with what it is: `title`, `where`, `how`, `fault`."""
    lines = [
        ("where", site.landmark),
        ("how", " ".join(site.cues)),
        ("fault", texts.get(f"site_fault.{site.word}", "")),
    ]
    said = [(f"{texts[f'sites.{name}']}: {text}" if text else "", name) for name, text in lines]
    return [(f"{site.title}: {texts[f'sites.{site.direction}']}", "title"), *said]


def fold_steps(
    row: int, grid: StepsGrid, texts: Texts
) -> tuple[list[Cell], list[tuple[int, float]], list[Image]]:
    """Return how a fold is lifted and read, from a row on: what goes before, the drawn steps side by side,
    each with its words below it, and a word on springs. Cells, heights of rows [points], images."""
    whole, line = grid.width * len(grid.columns), partial(label, format=grid.format)

    def high(text: str, width: float) -> float:
        return height_for(wrapped_lines(text, width, indent=1, points=grid.points), grid.points)

    cells, images = [line(row, 0, texts["lifting.ask"], across=grid.columns[-1] + grid.across)], []
    heights = [(row, high(texts["lifting.ask"], whole))]
    margin = max((column_pixels(grid.width) - grid.size[0]) // 2, 0)
    for first in range(0, len(FOLD_STEPS), len(grid.columns)):
        steps = FOLD_STEPS[first : first + len(grid.columns)]
        said = [f"{first + at}. {texts[f'lifting.{step}']}" for at, step in enumerate(steps, start=1)]
        for column, step, text in zip(grid.columns, steps, said, strict=True):
            words = texts[f"figure.fold_{step}"]
            images.append(Image(row + 1, column, f"fold-{step}", *grid.size, words, margin, _AROUND))
            cells += [label(row + 1, column, None, "plain"), line(row + 2, column, text, across=grid.across)]
        heights.append((row + 1, (grid.size[1] + 2 * _AROUND) * 0.75))
        row += 2
        heights.append((row, max(high(text, grid.width) for text in said) + _GAP))
    row += 1
    cells.append(line(row, 0, texts["lifting.springs"], across=grid.columns[-1] + grid.across))
    return cells, [*heights, (row, high(texts["lifting.springs"], whole))], images


def _placed(row: int, column: int, text: str, format: str, beside: bool) -> tuple[list[Cell], float]:
    """The cells of a line of a card, beside its figure or not, and the points that it needs; a title runs on
    to the right."""
    high = _height("" if format == "card_title" else text, _SITES_WIDTHS[column + 1] if beside else _CARD)
    if beside:
        return [label(row, column, None, format), label(row, column + 1, text, format)], high
    return [label(row, column, text, format, across=2)], high


def _height(text: str, width: float) -> float:
    """Points for a wrapped text in a place of so many characters."""
    lines = sum(wrapped_lines(part, width, indent=1) for part in text.split("\n"))
    return _LINE_POINTS * lines + _BETWEEN


def about_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab About: rules, equations with source, sample and range, and every caution."""
    limit = shown_number(settings.tolerance, texts) + texts[f"about.tolerance_{settings.tolerance_kind}"]
    rows = [
        (texts["about.protocol"], protocol.title),
        (texts["about.standard"], protocol.standard),
        (texts["about.tolerance"], limit),
        (texts["about.site_rule"], texts[f"about.site_rule_{settings.site_rule}"]),
        (texts["about.zero"], texts["about.zero_rule"]),
        (texts["about.missing"], texts["about.missing_rule"]),
    ]
    for equation in protocol.equations:
        title = texts["about.equation"] + equation_title(equation, texts)
        rows += [(title, equation_text(equation, texts)), ("", _range_text(equation, texts))]
    if not protocol.equations:
        reason = "state.under-18" if settings.under_18 else "state.no-equation"
        rows.append((texts["about.estimate"], texts[reason]))
    if protocol.conversions:
        conversion = protocol.conversion(settings.conversion)
        how = conversion_text(conversion, texts)
        rows.append((texts["about.conversion"], f"{conversion.title}: {how}. {conversion.source}."))
    rows += [(texts["about.notes"], note) for note in protocol.notes]
    cautions = cautions_of(protocol, settings, texts).values()
    numbered = [(str(number), caution) for number, caution in enumerate(cautions, start=1)]
    cells, heights = head("about", 3, 1, protocol, texts, counted=False), list[tuple[int, float]]()
    start = COLUMN_HEADINGS
    for key, part in (("rules", rows), ("cautions", numbered)):
        cells += [label(start, 0, texts[f"about.{key}"], "part"), label(start, 1, None, "part")]
        for row, (name, text) in enumerate(part, start=start + 1):
            cells += [label(row, 0, name, "about_label"), label(row, 1, text, "wrap")]
            of_name = wrapped_lines(name, _ABOUT_WIDTHS[0], bold=True, indent=1)
            heights.append((row, height_for(max(of_name, wrapped_lines(text, _ABOUT_WIDTHS[1])))))
        start += len(part) + 1
    breaks = (start - len(numbered) - 1,)
    return sheet_tab(
        "about", cells, _ABOUT_WIDTHS, heights, texts, scale=_REFERENCE_SCALE, page_breaks=breaks
    )


def _range_text(equation: Equation, texts: Texts) -> str:
    def shown(name: str) -> str:
        value = getattr(equation, name)
        return "" if value is None else shown_number(value, texts)

    low, high, error = (shown(name) for name in ("sum_minimum", "sum_maximum", "standard_error_density"))
    published = texts["about.sums"].format(minimum=low, maximum=high)
    return texts["about.range"].format(
        **{name: shown(name) for name in ("age_minimum", "age_maximum", "standard_error_percent")},
        sums=published if low and high else texts["about.no_sums"],
        standard_error_density=f"{error} g/ml, " if error else "",
        sample=equation.sample,
        source=equation.source,
    )


def large_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the figure of a site as it stands at the top of a cell, None where it has none.
    A name that is not a shipped one stands for a drawing of the class's own."""
    if _figure_of(site) is None and site.figure not in ("", _NO_FIGURE, *FIGURES):
        direction = texts[f"sites.{site.direction}"]
        words = texts["figure.own"].format(site=site.title, direction=direction, landmark=site.landmark)
        return Image(row, column, site.figure, *FIGURE_SIZE, words, _AROUND, _AROUND)
    return _image(site, row, column, texts, "", FIGURE_SIZE, _AROUND)


def small_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the small figure of a site for a row of 26 points; None where it has none."""
    return _image(site, row, column, texts, "-small", SMALL_SIZE, 1)


def _figure_of(site: Site) -> Figure | None:
    """A figure that shows another direction than the protocol says would teach the wrong fold."""
    figure = FIGURES.get(site.figure or site.word)
    return figure if figure is not None and figure.direction == site.direction else None


def _image(
    site: Site, row: int, column: int, texts: Texts, ending: str, size: tuple[int, int], offset: int
) -> Image | None:
    figure = _figure_of(site)
    if figure is None:
        return None
    words = texts["figure.alternative"].format(
        site=site.title,
        view=texts[figure.view],
        direction=texts[f"sites.{site.direction}"],
        landmark=site.landmark,
    )
    return Image(row, column, (site.figure or site.word) + ending, *size, words, offset, offset)


LARGEST_FIGURE = 500_000
"""Bytes of a class's own figure: every sheet carries it."""

_PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


@lru_cache(maxsize=1)
def shipped_figures() -> Mapping[str, bytes]:
    """Return every shipped figure as the bytes of its file, by its name without ending.
    Raises TemplateError: a file cannot be read."""
    figures = {}
    for path in sorted((templates_folder() / "figures").glob("*.png")):
        try:
            figures[path.stem] = path.read_bytes()
        except OSError as fault:
            raise TemplateError(
                path, f"it cannot be read ({fault.strerror})", "a PNG file", "Install sheetgen again."
            ) from fault
    return MappingProxyType(figures)


def figures_of(layout: Layout, folder: ClassFolder) -> dict[str, bytes]:
    """Return the figures that a Layout asks for, by name: shipped ones, others from the class folder.
    Raises TemplateError: a shipped file cannot be read. FolderError: the class's own is missing, too large,
    or no PNG file."""
    shipped = shipped_figures()
    names = sorted({image.name for tab in layout.tabs for image in tab.images})
    return {name: shipped[name] if name in shipped else own_figure(folder, name) for name in names}


def own_figure(folder: ClassFolder, name: str) -> bytes:
    """Return a figure of the class's own: keep/figures/NAME.png.
    Raises FolderError: it is missing, too large, or no PNG file."""
    path = folder.keep / "figures" / f"{name}.png"
    data, found = b"", ""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FIGURE + 1)
    except FileNotFoundError:
        found = "no such file"
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror})"
    if len(data) > LARGEST_FIGURE:
        found = f"more than {LARGEST_FIGURE:,} bytes"
    # After the head of the format follow width and height, four bytes each.
    elif not found and not (data.startswith(_PNG) and any(data[16:20]) and any(data[20:24])):
        found = "not a PNG file"
    if found:
        remedy = f'Put the drawing there, or write figure = "none" instead of "{name}" in the protocol.'
        raise FolderError(path, found, f"a PNG file of at most {LARGEST_FIGURE:,} bytes", remedy)
    return data
