"""Sentences of findings in other languages, from templates/text/phrases.LANGUAGE.toml."""

import tomllib
from functools import lru_cache

from sheetgen.checking.phrases import Phrase, phrase_of
from sheetgen.errors import TemplateError
from sheetgen.layout.number_text import DECIMAL_SIGN
from sheetgen.store.templates import read_template, templates_folder
from sheetgen.store.texts import DEFAULT_LANGUAGE, texts_in

__all__ = ["load_phrases"]


@lru_cache(maxsize=8)
def load_phrases(language: str) -> tuple[Phrase, ...]:
    """Return the phrases of a language, those with the most letters of their own first; none for English.

    Raises
    ------
    TemplateError : the file is not as it should be.
    """
    place = f"text/phrases.{language}.toml"
    decimal = texts_in(language, "sheet")[DECIMAL_SIGN]
    if language == DEFAULT_LANGUAGE or not (templates_folder() / place).is_file():
        return ()
    try:
        tables = tomllib.loads(read_template(place)).get("phrase", [])
        phrases = [phrase_of(table[DEFAULT_LANGUAGE], table[language], decimal) for table in tables]
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as error:
        expected = f"sections [[phrase]] with {DEFAULT_LANGUAGE} and {language}, with the same places"
        raise TemplateError(place, str(error), expected, "Mend it.") from error
    return tuple(sorted(phrases, key=lambda phrase: -phrase.weight))
