"""The tabs Sites and About: what to look up; and the drawn figures of the sites."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError, TemplateError
from sheetgen.protocols.names import CAUTIONS
from sheetgen.protocols.protocol import Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.heading import COLUMN_HEADINGS, HEAD_HEIGHTS, head
from sheetgen.sheet.paper import LARGEST_SCALE, PAGE_WIDTH, scale_for
from sheetgen.sheet.working import conversion_text, equation_text, equation_title
from sheetgen.texts.languages import shown_number
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.cells import column_pixels, height_for, label, lines_needed
from sheetgen.workbook.layout import Cell, Image, Layout, Tab

Texts = Mapping[str, str]

FIGURE_SIZE = (124, 100)
"""Width and height on the tab Sites [px]; the files hold a little more than twice as many dots."""
SMALL_SIZE = (48, 32)
"""Width and height beside a row [px]; the files hold twice as many dots."""

_NO_FIGURE = "none"

_SITES_FIRST = COLUMN_HEADINGS + 1
_SITES_WIDTHS = (19, 19, 74, 19)
_ABOUT_WIDTHS = (38, 100, 16)


@dataclass(frozen=True, slots=True)
class Figure:
    """What a shipped figure shows.

    direction : of the fold drawn. view, caption : keys of texts: from where, and what its letters mean.
    """

    direction: str
    view: str
    caption: str


FIGURES = {
    "chest": Figure("diagonal", "figure.front", "figure.chest"),
    "midaxillary": Figure("vertical", "figure.side", "figure.midaxillary"),
    "triceps": Figure("vertical", "figure.back", "figure.triceps"),
    "subscapular": Figure("diagonal", "figure.back", "figure.subscapular"),
    "abdominal": Figure("vertical", "figure.front", "figure.abdominal"),
    "suprailiac": Figure("diagonal", "figure.side", "figure.suprailiac"),
    "suprailiac-side": Figure("diagonal", "figure.side", "figure.suprailiac-side"),
    "thigh": Figure("vertical", "figure.front", "figure.thigh"),
    "biceps": Figure("vertical", "figure.front", "figure.biceps"),
    "calf": Figure("vertical", "figure.inner", "figure.calf"),
}
"""By name: the file is templates/figures/NAME.png, and NAME-small.png beside it."""


def sites_tab(protocol: Protocol, texts: Texts) -> Tab:
    """Return the tab Sites: a card a site with figure, where, fold, how and the usual fault; below, how a
    fold is lifted and read. All sites stand on one printed page, the rest on the next."""
    cells = [
        *head("sites", 4, 1, protocol, texts, counted=False),
        label(_SITES_FIRST - 1, 0, texts["sites.instruction"], "hint_line"),
    ]
    heights, images, row = [(_SITES_FIRST - 1, 24.0)], [], _SITES_FIRST
    for site in protocol.sites:
        first, card = row, _card(row, site, texts)
        cells += [cell for cell, _ in card]
        row = cells[-1].row
        for at in range(first, row + 1):
            heights.append((at, height_for(max(lines for cell, lines in card if cell.row == at))))
        image = large_image(site, first, 0, texts)
        if image is not None:
            images.append(image)
            # The figure stands beside the texts of its card.
            missing = FIGURE_SIZE[1] * 0.75 + 12 - sum(height for at, height in heights if at >= first)
            heights[-1] = (row, heights[-1][1] + max(missing, 0))
        row += 1
    page = row
    cells.append(label(row, 0, texts["sites.lifting"], "part"))
    heights.append((row, 30.0))
    steps = [texts[key] for key in texts if key.startswith("lifting.")]
    for text in steps:
        row += 1
        cells += [label(row, 1, row - page, "step_number"), label(row, 2, text, "card_text")]
        heights.append((row, height_for(lines_needed(text, _SITES_WIDTHS[2], indent=1))))
    return Tab(
        "sites",
        texts["tab.sites"],
        tuple(cells),
        _SITES_WIDTHS,
        (*HEAD_HEIGHTS, *heights),
        freeze=(COLUMN_HEADINGS, 0),
        images=tuple(images),
        bare=True,
        page_breaks=(page,),
        scale=min(
            scale_for([height for at, height in (*HEAD_HEIGHTS, *heights) if at < page]),
            LARGEST_SCALE * PAGE_WIDTH // sum(map(column_pixels, _SITES_WIDTHS)),
        ),
    )


def _card(row: int, site: Site, texts: Texts) -> list[tuple[Cell, int]]:
    """The cells of a site's card from a row on, each with the lines that its text takes."""
    fold = f"{texts[f'sites.{site.direction}']}. {caption(site, texts)}".strip()
    lines = [
        ("where", site.landmark),
        ("how", " ".join(site.cues)),
        ("fault", texts.get(f"site_fault.{site.word}", "")),
    ]
    cells = [
        (label(row, 0, None, "card"), 1),
        (label(row, 1, site.title, "card_title"), lines_needed(site.title, _SITES_WIDTHS[1], bold=True)),
        (label(row, 2, fold, "card_title_text"), lines_needed(fold, _SITES_WIDTHS[2], indent=1)),
    ]
    for at, (name, text) in enumerate((line for line in lines if line[1]), start=row + 1):
        cells += [
            (label(at, 1, texts[f"sites.{name}"], "card_label"), 1),
            (label(at, 2, text, "card_text"), lines_needed(text, _SITES_WIDTHS[2], indent=1)),
        ]
    return cells


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
    numbered = [(str(number), texts[key]) for number, key in enumerate(CAUTIONS, start=1)]
    cells, heights = head("about", 3, 1, protocol, texts), [*HEAD_HEIGHTS]
    start = COLUMN_HEADINGS
    for key, part in (("rules", rows), ("cautions", numbered)):
        cells += [label(start, 0, texts[f"about.{key}"], "part"), label(start, 1, None, "part")]
        for row, (name, text) in enumerate(part, start=start + 1):
            cells += [label(row, 0, name, "label_top"), label(row, 1, text, "wrap")]
            heights.append((row, _about_height(name, text)))
        start += len(part) + 1
    freeze = (COLUMN_HEADINGS, 0)
    return Tab(
        "about", texts["tab.about"], tuple(cells), _ABOUT_WIDTHS, tuple(heights), freeze=freeze, bare=True
    )


def _about_height(name: str, text: str) -> float:
    """Points for a name and its text, both wrapped."""
    widths = _ABOUT_WIDTHS
    return height_for(max(lines_needed(name, widths[0], bold=True), lines_needed(text, widths[1])))


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


def caption(site: Site, texts: Texts) -> str:
    """Return what the letters in the figure of a site mean, nothing where it has no figure."""
    figure = _figure_of(site)
    return "" if figure is None else texts[figure.caption]


def large_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the figure of a site as it stands at the top of a cell, None where it has none.

    A name that is not a shipped one stands for a drawing of the class's own.
    """
    if _figure_of(site) is None and site.figure not in ("", _NO_FIGURE, *FIGURES):
        direction = texts[f"sites.{site.direction}"]
        words = texts["figure.own"].format(site=site.title, direction=direction, landmark=site.landmark)
        return Image(row, column, site.figure, *FIGURE_SIZE, words, 5, 5)
    return _image(site, row, column, texts, "", FIGURE_SIZE, 5)


def small_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the small figure of a site, without letters, for a row of 26 points; None where it has none."""
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
        caption=texts[figure.caption],
    )
    return Image(row, column, (site.figure or site.word) + ending, *size, words, offset, offset)


LARGEST_FIGURE = 500_000
"""Bytes of a class's own figure: every sheet carries it."""

_PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


@lru_cache(maxsize=1)
def shipped_figures() -> Mapping[str, bytes]:
    """Return every shipped figure as the bytes of its file, by its name without ending.

    Raises
    ------
    TemplateError : a file cannot be read.
    """
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

    Raises
    ------
    TemplateError : a shipped file cannot be read.
    FolderError : the class's own is missing, too large, or no PNG file.
    """
    shipped = shipped_figures()
    names = sorted({image.name for tab in layout.tabs for image in tab.images})
    return {name: shipped[name] if name in shipped else own_figure(folder, name) for name in names}


def own_figure(folder: ClassFolder, name: str) -> bytes:
    """Return a figure of the class's own: keep/figures/NAME.png.

    Raises
    ------
    FolderError : it is missing, too large, or no PNG file.
    """
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
