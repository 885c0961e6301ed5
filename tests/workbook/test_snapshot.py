"""The language a workbook was drawn in, by its tabs."""

import pytest

from sheetgen.workbook.snapshot import Snapshot, TabState, drawn_language

TEXTS = {
    "en": {"book_tab.class": "Class", "book_tab.calipers": "Calipers", "book.title": "Clase"},
    "es": {"book_tab.class": "Clase", "book_tab.calipers": "Plicómetros", "book.title": "Class"},
}


@pytest.mark.parametrize(
    ("titles", "language"),
    [
        (("Class", "Calipers"), "en"),
        (("Clase", "Plicómetros"), "es"),
        (("Clase", "plicometros"), "es"),
        (("Other", "Plicómetros"), "es"),
        (("Clase", "Calipers"), "en"),
        (("Other",), "en"),
        ((), "en"),
    ],
)
def test_language_of_most_tab_titles(titles: tuple[str, ...], language: str) -> None:
    """A tie goes to the first language."""
    snapshot = Snapshot(tuple(TabState(title, {}, True, "visible") for title in titles), {}, {}, True)
    assert drawn_language(snapshot, "book_tab", TEXTS) == language
