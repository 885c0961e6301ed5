"""The workbook site-cards: a large card a site for the wall, the station and the projector, and the page on
lifting and reading a fold; one printed page of A4 each."""

import re
from functools import partial

from msgspec.structs import replace

from sheetgen.protocols.protocol import Protocol, Site
from sheetgen.sheet.heading import wrapped_lines
from sheetgen.sheet.reference_tabs import FIGURES, StepsGrid, card_lines, fold_steps, large_image
from sheetgen.texts.languages import Texts
from sheetgen.workbook.cells import height_for, label
from sheetgen.workbook.layout import Layout, Tab

_FIGURE = (567, 459)
"""Width and height [px]; the file holds not quite twice as many dots."""
_TITLE_HEIGHT, _LEGEND_HEIGHT = 48.0, 30.0
_WIDTHS = (82, 58)
_POINTS = 20.0
_GRID = StepsGrid((0, 1, 2), 1, 46.0, (300, 225), "poster_step", 16.0)
_page = partial(Tab, landscape=True, bare=True, pages=1)
_NOT_IN_A_TITLE = re.compile(r"[\[\]:*?/\\']")


def site_cards_layout(protocol: Protocol, language: str, texts: Texts) -> Layout:
    """Return the Layout of the workbook: lifting and reading a fold, then a tab a site of the protocol.
    texts : those of a sheet and of `paper.LANGUAGE`, by key."""
    cells, heights, images = fold_steps(1, _GRID, texts)
    title = label(0, 0, texts["sites.lifting"], "poster_title", across=len(_GRID.columns))
    widths, rows = (_GRID.width,) * len(_GRID.columns), ((0, _TITLE_HEIGHT), *heights)
    steps = _page("steps", texts["cards.steps"], (title, *cells), widths, rows, images=tuple(images))
    tabs = [_card(number, site, texts) for number, site in enumerate(protocol.sites, start=1)]
    subject = texts["cards.subject"].format(protocol=protocol.title)
    return Layout(texts["cards.title"], subject, language, (steps, *tabs), page_text=texts["sheet.page"])


def _card(number: int, site: Site, texts: Texts) -> Tab:
    """A site: its figure, and beside it where the mark is, how the fold is taken and what goes wrong."""
    title, *lines = card_lines(site, texts)
    heights = [height_for(wrapped_lines(text, _WIDTHS[1], points=_POINTS), _POINTS) for text, _ in lines]
    # The figure stands beside all of them.
    heights[-1] += max(_FIGURE[1] * 0.75 + 6.0 - sum(heights), 0.0)
    cells = [label(0, 0, title[0], "poster_title", across=2)]
    for row, (text, word) in enumerate(lines, start=1):
        cells += [label(row, 0, None, "plain"), label(row, 1, text, f"poster_{word}")]
    cells.append(label(len(heights) + 1, 0, texts["sites.instruction"], "poster_step", across=2))
    image = large_image(site, 1, 0, texts)
    if image is not None:
        name = f"{image.name}-large" if image.name in FIGURES else image.name
        image = replace(image, name=name, width=_FIGURE[0], height=_FIGURE[1])
    images = (image,) if image is not None else ()
    name = f"{number} {_NOT_IN_A_TITLE.sub(' ', site.title)}"[:31]
    rows = ((0, _TITLE_HEIGHT), *enumerate((*heights, _LEGEND_HEIGHT), start=1))
    return _page(f"site_{number}", name, tuple(cells), _WIDTHS, rows, images=images)
