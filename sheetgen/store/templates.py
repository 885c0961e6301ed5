"""Where the templates (protocols, texts: data, not code) are, and how one is read."""

from pathlib import Path

from sheetgen.errors import TemplateError

__all__ = ["read_template", "templates_folder"]

_PACKAGE = Path(__file__).resolve().parent.parent


def templates_folder() -> Path:
    """Return the folder of the shipped templates.

    Installed it lies inside the package, in a checkout beside it.

    Raises
    ------
    TemplateError : it is in neither place.
    """
    places = (_PACKAGE / "templates", _PACKAGE.parent / "templates")
    for place in places:
        # Beside an installed package a folder of this name may belong to something else.
        if (place / "protocols").is_dir():
            return place
    raise TemplateError(
        places[0], "no templates here", "a folder `templates` with protocols in it", "Install sheetgen again."
    )


def read_template(relative: str) -> str:
    """Return the text of a shipped template.

    Parameters
    ----------
    relative : path below the templates folder, with forward slashes.

    Raises
    ------
    TemplateError : the path leads out of the folder, or there is no such file, or it is not UTF-8.
    """
    folder = templates_folder().resolve()
    path = (folder / relative).resolve()
    if not path.is_relative_to(folder):
        raise TemplateError(
            relative, "a path out of the templates folder", "a path below it", "Name a shipped template."
        )
    try:
        return path.read_text(encoding="utf-8")
    except OSError as fault:
        raise TemplateError(
            path, f"it cannot be read ({fault.strerror})", "a text file", "Install sheetgen again."
        ) from fault
    except UnicodeDecodeError as fault:
        raise TemplateError(
            path, f"byte {fault.start + 1} is not UTF-8", "UTF-8 text", "Save the file as UTF-8."
        ) from fault
