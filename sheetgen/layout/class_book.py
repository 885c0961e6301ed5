"""The Layout of the class book, and the book of a class for which nothing has been decided yet."""

from collections.abc import Mapping, Sequence

from sheetgen.layout.class_book_calculator import calculator_tab
from sheetgen.layout.class_book_stations import stations_tab
from sheetgen.layout.class_book_tabs import calipers_tab, class_tab, pairs_tab, roster_tab
from sheetgen.layout.class_book_words import SPARE_CALIPERS, SPARE_ROWS
from sheetgen.layout.pairing import make_pairs
from sheetgen.model.layout import Layout
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, ClassBook, Person, SheetSettings

__all__ = ["class_book_layout", "default_class_book", "default_settings"]


def default_settings(protocol: Protocol, language: str, caliper_build: str) -> SheetSettings:
    """Return the settings of a class that has changed none: median, 2 mm, one caliper of 0.5 mm steps."""
    return SheetSettings(
        protocol_id=protocol.identifier,
        language=language,
        site_rule="median",
        tolerance_kind="mm",
        tolerance=2.0,
        conversion=protocol.default_conversion,
        show_results="after-working",
        calipers=(Caliper("C1", caliper_build, 0.5, 60.0, 0.0),),
    )


def default_class_book(
    class_code: str, title: str, settings: SheetSettings, people: Sequence[Person]
) -> ClassBook:
    """Return the book of a new class, with pairs in roster order."""
    pairings = make_pairs(people, settings.calipers).pairings
    return ClassBook(class_code, title, settings, tuple(people), pairings)


def class_book_layout(
    texts: Mapping[str, str],
    book: ClassBook,
    protocols: Sequence[Protocol],
    languages: Sequence[str] = ("en",),
) -> Layout:
    """Return the Layout of a class book with spare rows, everything of `book` filled in.

    Parameters
    ----------
    texts : those of a language, and those of its class book with them.
    book : without errors; first results are what follows from it. Pairings of people who left may be among
        its own: they stay on the tab Pairs and are said to be left out.
    protocols, languages : those that the class may choose from.
    """
    row_counts = {
        "roster": len(book.people) + SPARE_ROWS,
        "calipers": len(book.settings.calipers) + SPARE_CALIPERS,
        "pairs": len(book.pairings) + SPARE_ROWS,
        "protocols": len(protocols),
    }
    return Layout(
        title=texts["book.title"],
        subject=texts["book.subject"],
        language=book.settings.language,
        page_text=texts["sheet.page"],
        tabs=(
            class_tab(texts, book, protocols, row_counts, languages),
            roster_tab(texts, book, row_counts),
            calipers_tab(texts, book, row_counts),
            pairs_tab(texts, book, protocols, row_counts),
            stations_tab(texts, book, protocols, row_counts),
            calculator_tab(texts, book, protocols, row_counts),
        ),
    )
