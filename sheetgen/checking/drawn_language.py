"""In which language a workbook that comes back was drawn: by the titles of its tabs."""

from collections.abc import Mapping

from sheetgen.checking.list_words import plain_word
from sheetgen.model.snapshot import Snapshot

__all__ = ["drawn_language"]


def drawn_language(snapshot: Snapshot, section: str, texts: Mapping[str, Mapping[str, str]]) -> str:
    """Return the language of which most tab titles are there; the first where none is.

    Parameters
    ----------
    section : of the texts that hold the titles, such as `book_tab`. texts : by language.

    Examples
    --------
    >>> drawn_language(Snapshot((), {}, {}, True), "book_tab", {"en": {}, "es": {}})
    'en'
    """
    there = {plain_word(tab.title) for tab in snapshot.tabs}

    def found(language: str) -> int:
        titles = (text for key, text in texts[language].items() if key.startswith(f"{section}."))
        return sum(plain_word(title) in there for title in titles)

    return max(texts, key=found)
