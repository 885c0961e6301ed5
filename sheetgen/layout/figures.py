"""The drawn figures of the sites: which there are, what they show, and where they stand as images."""

from collections.abc import Mapping
from dataclasses import dataclass

from sheetgen.model.layout import Image
from sheetgen.model.protocol import Site

__all__ = ["FIGURES", "FIGURE_SIZE", "SMALL_SIZE", "Figure", "caption", "large_image", "small_image"]

FIGURE_SIZE = (200, 162)
"""Width and height on the tab Sites [px]; the files hold a little more than twice as many dots."""
SMALL_SIZE = (48, 32)
"""Width and height beside a row [px]; the files hold twice as many dots."""

_NO_FIGURE = "none"

Texts = Mapping[str, str]


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


def caption(site: Site, texts: Texts) -> str:
    """Return what the letters in the figure of a site mean, nothing where it has no figure."""
    figure = _figure_of(site)
    return "" if figure is None else texts[figure.caption]


def large_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the figure of a site as it stands at the top of a cell, None where it has none.

    A name that is not a shipped one stands for a drawing of the class's own.
    """
    if _figure_of(site) is None and site.figure not in ("", _NO_FIGURE, *FIGURES):
        words = texts["figure.own"].format(
            site=site.title, direction=texts[f"sites.{site.direction}"], landmark=site.landmark
        )
        return Image(row, column, site.figure, *FIGURE_SIZE, words, 5, 5)
    return _image(site, row, column, texts, "", FIGURE_SIZE, 5)


def small_image(site: Site, row: int, column: int, texts: Texts) -> Image | None:
    """Return the small figure of a site, without letters, for a row of 26 points; None where it has none."""
    return _image(site, row, column, texts, "-small", SMALL_SIZE, 1)


def _figure_of(site: Site) -> Figure | None:
    """A figure that shows another direction than the protocol says would teach the wrong fold."""
    figure = FIGURES.get(_name(site))
    return figure if figure is not None and figure.direction == site.direction else None


def _name(site: Site) -> str:
    return site.figure or site.word


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
    return Image(row, column, _name(site) + ending, *size, words, offset, offset)
