"""The drawn figures of the sites: PNG files, shipped in templates/figures or the class's in keep/figures."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from sheetgen.errors import FolderError, TemplateError
from sheetgen.model.layout import Layout
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.templates import templates_folder

__all__ = ["LARGEST_FIGURE", "figures_of", "own_figure", "shipped_figures"]

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
