"""Words of lists: a code word from what was typed, in whatever shipped language."""

import re
import unicodedata
from collections.abc import Iterable, Mapping

__all__ = ["Words", "code_word", "folded", "plain_word", "shown_word"]

Words = Mapping[str, Mapping[str, str]]
"""Language, then code word, to the word that lists of that language show."""

_LONGEST_WORD = 1_000
"""Characters, spaces and accents included; list words have some dozens."""


def plain_word(text: str) -> str:
    """Return a word without case, accents, spaces and hyphens.

    Examples
    --------
    >>> plain_word(" Práctica "), plain_word("SÍ"), plain_word("Sum only") == plain_word("sum-only")
    ('practica', 'si', True)
    >>> plain_word("N.º de  MATRÍCULA") == plain_word("no_de_matricula")
    True
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[\W_]+", "", "".join(sign for sign in apart if not unicodedata.combining(sign)))


def folded(text: str) -> str:
    """Return a text without case, spaces around it and more than one in a row, each letter in one spelling.

    Ids, titles and addresses are compared so: their accents and hyphens count.

    Examples
    --------
    >>> folded(" Zoe\\u0308  FEN "), folded("S-01") == folded("s01")
    ('zoë fen', False)
    """
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def code_word(text: str, codes: Iterable[str], words: Words) -> str | None:
    """Return the code word of a list that a text stands for in any language, None where it stands for none.

    Parameters
    ----------
    codes : the code words of the list.

    Examples
    --------
    >>> code_word("PRACTICA", ("measured", "practice"), {"es": {"practice": "práctica"}})
    'practice'
    >>> code_word("left", ("measured", "practice"), {"en": {"left": "left"}}) is None
    True
    """
    # Putting thousands of accents in order takes seconds, and no list has such a word.
    typed = plain_word(text) if len(text) <= _LONGEST_WORD else ""
    if not typed:
        return None
    for code in codes:
        known = (code, *(of_language[code] for of_language in words.values() if code in of_language))
        if any(plain_word(word) == typed for word in known):
            return code
    return None


def shown_word(text: str, codes: Iterable[str], shown: Mapping[str, str]) -> str:
    """Return what a sheet's own formulas take a text for: the code word of a word that its lists show, else
    the text itself.

    Parameters
    ----------
    shown : code word to the word shown. The formulas leave out spaces at the ends and take no notice of case;
        they know no other language and no word without its accents.
    """
    typed = text.strip(" ").casefold()
    return next((code for code in codes if shown.get(code, code).casefold() == typed), text)
