"""The texts of a language, from templates/text/, flattened to dotted keys.

A language is shipped where templates/text/LANGUAGE.toml, the texts of a sheet, is there. The texts of other
workbooks stand beside it, as NAME.LANGUAGE.toml.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache

from sheetgen.errors import TemplateError
from sheetgen.texts.templates import read_tables, templates_folder

DEFAULT_LANGUAGE = "en"

Texts = Mapping[str, str]
"""Texts of one language by dotted key; a function that words something takes them last."""

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
    language : the file: `en` for those of a sheet, `report.en` for those of a report. TemplateError : there
    is no such language, or the file is not as it should be."""
    place = f"text/{language}.toml"
    texts = {
        f"{section}.{key}": text
        for section, table in read_tables(place).items()
        for key, text in (table.items() if isinstance(table, dict) else [("", table)])
    }
    for key, text in texts.items():
        if not isinstance(text, str) or key.endswith("."):
            found = f"{key.removesuffix('.')} is no text in a section"
            raise TemplateError(place, found, 'key = "a text" below a section', "Mend it.")
    return texts


def texts_in(language: str, *workbooks: str) -> dict[str, str]:
    """Return the texts of some workbooks in a language; where it lacks one, that text in English.
    workbooks : `sheet`, `class-book`, `review`, `report` and so on. TemplateError : the language is not
    shipped, or a file is not as it should be."""
    if language not in languages():
        expected = f"one of {', '.join(languages())}"
        place = f"text/{language}.toml"
        raise TemplateError(place, "no such language", expected, "Choose a shipped language.")
    return {key: text for name in workbooks for key, text in _one_workbook(language, name).items()}


@lru_cache(maxsize=64)
def _one_workbook(language: str, workbook: str) -> Mapping[str, str]:
    name = language if workbook == _SHEET else f"{workbook}.{language}"
    there = (templates_folder() / "text" / f"{name}.toml").is_file()
    english = {} if language == DEFAULT_LANGUAGE else _one_workbook(DEFAULT_LANGUAGE, workbook)
    return {**english, **(load_texts(name) if there or not english else {})}


@lru_cache(maxsize=8)
def list_words(workbook: str) -> Mapping[str, Mapping[str, str]]:
    """Return the words of a workbook's lists: language, then code word, to the word shown.
    workbook : `sheet`, `class-book` or `review`. TemplateError : a file of texts is not as it should be."""
    beginning = f"{_WORDS[workbook]}."
    return {
        language: {
            key.removeprefix(beginning): text
            for key, text in texts_in(language, workbook).items()
            if key.startswith(beginning)
        }
        for language in languages()
    }


Words = Mapping[str, Mapping[str, str]]
"""Language, then code word, to the word that lists of that language show."""

_LONGEST_WORD = 1_000  # Characters, spaces and accents included; list words have some dozens.


@lru_cache(maxsize=1024)
def plain_word(text: str) -> str:
    """Return a word without case, accents, spaces and hyphens.

    >>> plain_word(" Práctica "), plain_word("SÍ"), plain_word("Sum only") == plain_word("sum-only")
    ('practica', 'si', True)
    >>> plain_word("N.º de  MATRÍCULA") == plain_word("no_de_matricula")
    True
    """
    return re.sub(r"[\W_]+", "", unaccented(text.casefold()))


def unaccented(text: str) -> str:
    """Return a text without its accents.

    >>> unaccented("sí"), unaccented("práctica")
    ('si', 'practica')
    """
    apart = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def folded(text: str) -> str:
    """Return a text without case, spaces around it and more than one in a row, each letter in one spelling.

    Ids, titles and addresses are compared so: their accents and hyphens count.

    >>> folded(" Zoe\\u0308  FEN "), folded("S-01") == folded("s01")
    ('zoë fen', False)
    """
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def code_word(text: str, codes: Iterable[str], words: Words) -> str | None:
    """Return the code word of a list that a text stands for in any language, None where it stands for none.
    codes : the code words of the list."""
    # Putting thousands of accents in order takes seconds, and no list has such a word.
    typed = plain_word(text) if len(text) <= _LONGEST_WORD else ""
    for code in codes:
        known = (code, *(of_language.get(code, "") for of_language in words.values()))
        if typed and typed in map(plain_word, known):
            return code
    return None


def shown_word(text: str, codes: Iterable[str], shown: Mapping[str, str]) -> str:
    """Return what a sheet's own formulas take a text for: the code word of a word that its lists show, else
    the text itself.
    shown : code word to the word shown. The formulas leave out spaces at the ends, take no notice of case,
    and know each word without its accents too; they know no other language."""
    typed, known = text.strip(" ").casefold(), {code: shown.get(code, code).casefold() for code in codes}
    return next((code for code, word in known.items() if typed in (word, unaccented(word))), text)


DECIMAL_SIGN = "number.decimal"  # Key of the sign among the texts.


def with_decimal_sign(number: str, texts: Mapping[str, str]) -> str:
    """Return a number written with a point as the language writes it."""
    return number.replace(".", texts.get(DECIMAL_SIGN, "."))


def shown_number(value: float, texts: Mapping[str, str]) -> str:
    """Return a number as short as it can be written."""
    return with_decimal_sign(f"{value:g}", texts)
