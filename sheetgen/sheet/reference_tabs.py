"""The tabs Sites and About: what to look up; and the drawn figures of the sites."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from itertools import count, repeat
from types import MappingProxyType

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError, TemplateError
from sheetgen.protocols.names import CAUTIONS
from sheetgen.protocols.protocol import Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.working import conversion_text, equation_text, equation_title
from sheetgen.texts.languages import shown_number
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.cells import Texts, heading_row, height_for, label, lines_needed, tab_head
from sheetgen.workbook.layout import Image, Layout, Tab

FIGURE_SIZE = (200, 162)
"""Width and height on the tab Sites [px]; the files hold a little more than twice as many dots."""
SMALL_SIZE = (48, 32)
"""Width and height beside a row [px]; the files hold twice as many dots."""

_NO_FIGURE = "none"

_SITES_HEADING = 4
_SITES_COLUMNS = ("site", "figure", "fold", "landmark", "cues")
_SITES_FORMATS = ("site_title", "caption", "site_text", "site_text", "site_text")
_SITES_WIDTHS = (21, 29, 12, 32, 34)
_ABOUT_WIDTHS = (34, 96)


@dataclass(frozen=True, slots=True)
class Figure:
    """What a shipped figure shows: the direction of the fold drawn, and from where it is seen."""

    direction: str
    view: str


FIGURES = {
    "chest": Figure("diagonal", "front"),
    "midaxillary": Figure("vertical", "side"),
    "triceps": Figure("vertical", "back"),
    "subscapular": Figure("diagonal", "back"),
    "abdominal": Figure("vertical", "front"),
    "suprailiac": Figure("diagonal", "side"),
    "suprailiac-side": Figure("diagonal", "side"),
    "thigh": Figure("vertical", "front"),
    "biceps": Figure("vertical", "front"),
    "calf": Figure("vertical", "inner"),
}
"""By name: the file is templates/figures/NAME.png, and NAME-small.png beside it; the text `figure.NAME` says
what its letters mean."""


def sites_tab(protocol: Protocol, texts: Texts) -> Tab:
    """Return the tab Sites: where each fold is and how it is taken."""
    cells = [
        *tab_head("sites", 3, texts),
        label(2, 0, texts["sites.legend"], "step"),
        *heading_row(_SITES_HEADING, [texts[f"sites.{name}"] for name in _SITES_COLUMNS]),
    ]
    heights, images = [], []
    for row, site in enumerate(protocol.sites, start=_SITES_HEADING + 1):
        direction, cues = texts[f"sites.{site.direction}"], " ".join(site.cues)
        values = (site.title, caption(site, texts), direction, site.landmark, cues)
        cells += map(label, repeat(row), count(), values, _SITES_FORMATS)
        # A row never breaks over two pages, so that a site stands on one with all that belongs to it: the
        # figure with its caption below, and the texts beside.
        beside = max(lines_needed(values[column], _SITES_WIDTHS[column], indent=1) for column in (3, 4))
        height = height_for(beside)
        if image := large_image(site, row, 1, texts):
            images.append(image)
            below = height_for(lines_needed(values[1], _SITES_WIDTHS[1]))
            height = max(height, FIGURE_SIZE[1] * 0.75 + 10 + below)
        heights.append((row, height))
    tab = Tab("sites", texts["tab.sites"], tuple(cells), _SITES_WIDTHS, tuple(heights))
    return replace(tab, freeze=(_SITES_HEADING + 1, 0), images=tuple(images))


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
    cells, heights = tab_head("about", 1, texts), []
    for start, key, part in ((3, "rules", rows), (5 + len(rows), "cautions", numbered)):
        cells += [label(start, 0, texts[f"about.{key}"], "heading"), label(start, 1, "", "heading")]
        for row, (name, text) in enumerate(part, start=start + 1):
            cells += [label(row, 0, name, "label_top"), label(row, 1, text, "wrap")]
            lines = lines_needed(name, _ABOUT_WIDTHS[0], bold=True), lines_needed(text, _ABOUT_WIDTHS[1])
            heights.append((row, height_for(max(lines))))
    return Tab("about", texts["tab.about"], tuple(cells), _ABOUT_WIDTHS, tuple(heights))


def _range_text(equation: Equation, texts: Texts) -> str:
    numbers = {name: value for name, value in asdict(equation).items() if isinstance(value, float)}
    shown = {name: shown_number(value, texts) for name, value in numbers.items()}
    sums, error = texts["about.no_sums"], shown.get("standard_error_density", "")
    if "sum_minimum" in shown and "sum_maximum" in shown:
        sums = texts["about.sums"].format(minimum=shown["sum_minimum"], maximum=shown["sum_maximum"])
    words = {"sums": sums, "standard_error_density": f"{error} g/ml, " if error else ""}
    return texts["about.range"].format(**{**asdict(equation), **shown, **words})


def caption(site: Site, texts: Texts) -> str:
    """Return what the letters in the figure of a site mean, nothing where it has no figure."""
    name = _figure_name(site)
    return texts[f"figure.{name}"] if name else ""


def large_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the figure of a site as it stands at the top of a cell, None where it has none.

    A name that is not a shipped one stands for a drawing of the class's own.
    """
    if name := _figure_name(site):
        return Image(row, column, name, *FIGURE_SIZE, _words(name, site, texts), 5, 5)
    if site.figure in ("", _NO_FIGURE, *FIGURES):
        return None
    direction = texts[f"sites.{site.direction}"]
    words = texts["figure.own"].format(site=site.title, direction=direction, landmark=site.landmark)
    return Image(row, column, site.figure, *FIGURE_SIZE, words, 5, 5)


def small_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the small figure of a site, without letters, for a row of 26 points; None where it has none."""
    name = _figure_name(site)
    return Image(row, column, f"{name}-small", *SMALL_SIZE, _words(name, site, texts), 1, 1) if name else None


def _figure_name(site: Site) -> str:
    """A figure that shows another direction than the protocol says would teach the wrong fold."""
    name = site.figure or site.word
    return name if name in FIGURES and FIGURES[name].direction == site.direction else ""


def _words(name: str, site: Site, texts: Texts) -> str:
    view, direction = texts[f"figure.{FIGURES[name].view}"], texts[f"sites.{site.direction}"]
    words = {"site": site.title, "view": view, "direction": direction, "caption": texts[f"figure.{name}"]}
    return texts["figure.alternative"].format(**words)


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
    except OSError as fault:
        missing = isinstance(fault, FileNotFoundError)
        found = "no such file" if missing else f"it cannot be read ({fault.strerror})"
    if len(data) > LARGEST_FIGURE:
        found = f"more than {LARGEST_FIGURE:,} bytes"
    # After the head of the format follow width and height, four bytes each.
    elif not found and not (data.startswith(_PNG) and any(data[16:20]) and any(data[20:24])):
        found = "not a PNG file"
    if found:
        remedy = f'Put the drawing there, or write figure = "none" instead of "{name}" in the protocol.'
        raise FolderError(path, found, f"a PNG file of at most {LARGEST_FIGURE:,} bytes", remedy)
    return data
