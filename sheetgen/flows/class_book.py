"""The class book drawn anew: taken over, drawn beside, read back, swapped in, the last three kept."""

from dataclasses import dataclass, replace
from datetime import date

from sheetgen.checking.claims import is_spare
from sheetgen.checking.class_book_cells import id_key, lines_of, tab_titled, text_of
from sheetgen.errors import FolderError
from sheetgen.flows.sources import all_protocols, book_in, book_language, book_texts
from sheetgen.layout.class_book import class_book_layout
from sheetgen.layout.class_book_words import LONGEST
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Identity
from sheetgen.model.settings import ClassBook
from sheetgen.model.snapshot import Snapshot
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.redraw import redrawn
from sheetgen.store.templates import read_template
from sheetgen.store.texts import languages
from sheetgen.workbook.package import Refusal, read_package, read_package_bytes
from sheetgen.workbook.render import rendered

__all__ = ["Harvest", "coded", "drawn", "harvested", "holds_every_pair", "swapped_in"]


@dataclass(frozen=True, slots=True)
class Harvest:
    """The class book as it stands.

    state : what stands in its cells. notes : what has to be said about it that keeps nobody from using it.
    digest : of its bytes.
    """

    book: ClassBook
    state: Snapshot
    notes: tuple[Finding, ...]
    digest: str


def harvested(folder: ClassFolder) -> Harvest:
    """Return the class book as it stands; one saved by another program serves as well.

    Raises
    ------
    FolderError : it cannot be read, or holds faults; every one is named.
    """
    package = read_package(folder.book)
    book, state, notes = book_in(folder, package, date.today().isoformat())
    return Harvest(book, state, notes, "" if isinstance(package, Refusal) else package.sha256)


def holds_every_pair(harvest: Harvest) -> bool:
    """Tell whether every pair, with its caliper, stands on the tab Pairs, so that none was made just now.

    A line more there, of people who have left, is no reason to draw the book anew.
    """
    texts = book_texts(book_language(harvest.state))
    columns = ("measurer", "participant", "caliper")
    tab = tab_titled(harvest.state, texts["book_tab.pairs"])
    if tab is None:
        return False
    lines, _ = lines_of(tab, {word: texts[f"book_pair.{word}"] for word in columns})
    longest = LONGEST["student_id"]
    typed = {tuple(id_key(text_of(line, word, longest)[0]) for word in columns) for line in lines}
    return typed >= {
        tuple(map(id_key, (pair.measurer, pair.participant, pair.caliper_id)))
        for pair in harvest.book.pairings
    }


def drawn(folder: ClassFolder, book: ClassBook) -> tuple[ClassBook, bytes]:
    """Draw a class book, with pairs for those who have none, and return what it says with its bytes.

    Raises
    ------
    FolderError : what was drawn does not read back as the same class book.
    """
    data = _rendered(folder, book)
    again = book_in(folder, read_package_bytes(data))[0]
    count = len(book.pairings)
    if again.pairings[:count] == book.pairings and len(again.pairings) > count:
        book = replace(book, pairings=again.pairings)
        data = _rendered(folder, book)
        again = book_in(folder, read_package_bytes(data))[0]
    if again != book:
        raise FolderError(
            folder.book,
            "what was drawn anew does not read back as the same class book",
            "the same people, pairs and settings",
            "Nothing was changed. Look on its tabs for a cell that holds something unusual.",
        )
    return book, data


def swapped_in(folder: ClassFolder, harvest: Harvest, data: bytes) -> str:
    """Put a class book drawn anew in the place of the one that was harvested, and keep the last three.

    Returns
    -------
    The reason why the class book was left as it is, empty where the new one is in its place.
    """
    return redrawn(folder.book, harvest.digest, lambda: data)


def coded(folder: ClassFolder, book: ClassBook, secret: str) -> ClassBook:
    """Return the book with the code of each person: the one on a sheet already handed out, else a new one.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    """
    records = [one for builds in keep.load_records(folder).values() for one in builds]
    codes = {one.participant_id: one.participant_code for one in records if one.participant_id}
    people = [
        replace(person, participant_code=codes.get(person.student_id, person.participant_code))
        for person in book.people
    ]
    spare = {one.participant_code for one in records if is_spare(one)}
    return replace(book, people=keep.with_participant_codes(secret, people, spare))


def _rendered(folder: ClassFolder, book: ClassBook) -> bytes:
    language = book.settings.language
    protocols = tuple(all_protocols(folder, language).values())
    layout = class_book_layout(book_texts(language), book, protocols, languages())
    return rendered(layout, Identity({}), read_template("style.toml"))
