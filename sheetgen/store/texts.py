"""The texts of a language, from templates/text/, flattened to dotted keys.

A language is shipped where templates/text/LANGUAGE.toml, the texts of a sheet, is there. The texts of other
workbooks stand beside it, as NAME.LANGUAGE.toml.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from sheetgen.errors import TemplateError
from sheetgen.store.templates import read_tables, templates_folder

__all__ = ["DEFAULT_LANGUAGE", "languages", "list_words", "load_texts", "texts_in"]

DEFAULT_LANGUAGE = "en"

_LANGUAGE = re.compile(r"[a-z]{2,3}")
_SHEET = "sheet"
_WORDS = {_SHEET: "word", "class-book": "book_word", "review": "review_word"}
"""Workbook to the section that holds the words of its lists."""


@lru_cache(maxsize=1)
def languages() -> tuple[str, ...]:
    """Return the shipped languages, English first, as tags such as `es`."""
    stems = (path.stem for path in (templates_folder() / "text").glob("*.toml"))
    found = sorted(stem for stem in stems if _LANGUAGE.fullmatch(stem))
    return (DEFAULT_LANGUAGE, *(stem for stem in found if stem != DEFAULT_LANGUAGE))


def load_texts(language: str) -> dict[str, str]:
    """Return every text of a file of texts by `section.key`.

    Parameters
    ----------
    language : the file: `en` for those of a sheet, `report.en` for those of a report.

    Raises
    ------
    TemplateError : there is no such language, or the file is not as it should be.
    """
    place = f"text/{language}.toml"
    tables = read_tables(place)
    texts: dict[str, str] = {}
    for section, table in tables.items():
        if not isinstance(table, dict):
            raise TemplateError(
                place, f"{section} stands in no section", "a section", "Put it below a section."
            )
        texts |= {f"{section}.{key}": _text(place, section, key, text) for key, text in table.items()}
    return texts


def texts_in(language: str, *workbooks: str) -> dict[str, str]:
    """Return the texts of some workbooks in a language; where it lacks one, that text in English.

    Parameters
    ----------
    workbooks : `sheet`, `class-book`, `review`, `report` and so on.

    Raises
    ------
    TemplateError : the language is not shipped, or a file is not as it should be.
    """
    if language not in languages():
        known = ", ".join(languages())
        raise TemplateError(
            f"text/{language}.toml", "no such language", f"one of {known}", "Choose a shipped language."
        )
    return {key: text for name in workbooks for key, text in _one_workbook(language, name).items()}


@lru_cache(maxsize=64)
def _one_workbook(language: str, workbook: str) -> Mapping[str, str]:
    english = load_texts(_file(DEFAULT_LANGUAGE, workbook))
    name = _file(language, workbook)
    there = (templates_folder() / "text" / f"{name}.toml").is_file()
    return {**english, **(load_texts(name) if language != DEFAULT_LANGUAGE and there else {})}


@lru_cache(maxsize=8)
def list_words(workbook: str) -> Mapping[str, Mapping[str, str]]:
    """Return the words of a workbook's lists: language, then code word, to the word shown.

    Parameters
    ----------
    workbook : `sheet`, `class-book` or `review`.

    Raises
    ------
    TemplateError : a file of texts is not as it should be.
    """
    beginning = f"{_WORDS[workbook]}."
    return {
        language: {
            key.removeprefix(beginning): text
            for key, text in texts_in(language, workbook).items()
            if key.startswith(beginning)
        }
        for language in languages()
    }


def _file(language: str, workbook: str) -> str:
    return language if workbook == _SHEET else f"{workbook}.{language}"


def _text(place: str, section: str, key: str, text: Any) -> str:
    if not isinstance(text, str):
        raise TemplateError(place, f"{section}.{key} is not a text", "a text in quotes", "Put it in quotes.")
    return text
