"""The texts of a language, from templates/text/LANGUAGE.toml, flattened to dotted keys."""

import tomllib
from typing import Any

from sheetgen.errors import TemplateError
from sheetgen.store.templates import read_template

__all__ = ["load_texts"]


def load_texts(language: str) -> dict[str, str]:
    """Return every text of a language by `section.key`.

    Raises
    ------
    TemplateError : there is no such language, or the file is not as it should be.
    """
    place = f"text/{language}.toml"
    try:
        tables = tomllib.loads(read_template(place))
    except tomllib.TOMLDecodeError as error:
        raise TemplateError(place, str(error), "a TOML file of texts", "Mend the line named.") from error
    texts: dict[str, str] = {}
    for section, table in tables.items():
        if not isinstance(table, dict):
            raise TemplateError(
                place, f"{section} stands in no section", "a section", "Put it below a section."
            )
        texts |= {f"{section}.{key}": _text(place, section, key, text) for key, text in table.items()}
    return texts


def _text(place: str, section: str, key: str, text: Any) -> str:
    if not isinstance(text, str):
        raise TemplateError(place, f"{section}.{key} is not a text", "a text in quotes", "Put it in quotes.")
    return text
