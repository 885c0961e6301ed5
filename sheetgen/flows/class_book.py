"""The class book drawn anew: taken over, drawn beside, read back, swapped in, the last three kept."""

from dataclasses import dataclass, replace
from datetime import date

from sheetgen.checking.claims import is_spare
from sheetgen.errors import FolderError
from sheetgen.flows.sources import all_protocols, book_in, book_texts
from sheetgen.layout.class_book_tabs import class_book_layout
from sheetgen.layout.pairing import pairs_for_the_rest
from sheetgen.model.finding import Worded
from sheetgen.model.layout import Identity
from sheetgen.model.settings import ClassBook
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.redraw import redrawn
from sheetgen.store.templates import read_template
from sheetgen.store.texts import languages
from sheetgen.workbook.package import read_package, read_package_bytes
from sheetgen.workbook.refusal import Refusal
from sheetgen.workbook.render import rendered

__all__ = ["Harvest", "coded", "drawn", "harvested", "swapped_in"]


@dataclass(frozen=True, slots=True)
class Harvest:
    """The class book as it stands.

    notes : what has to be said about it that keeps nobody from using it. digest : of its bytes.
    added : pairs, or calipers for pairs, stand in no cell of it yet.
    """

    book: ClassBook
    notes: tuple[Worded, ...]
    added: bool
    digest: str


def harvested(folder: ClassFolder) -> Harvest:
    """Return the class book as it stands; one saved by another program serves as well.

    Raises
    ------
    FolderError : it cannot be read, or holds faults; every one is named.
    """
    package = read_package(folder.book)
    read, notes = book_in(folder, package, date.today().isoformat())
    digest = "" if isinstance(package, Refusal) else package.sha256
    return Harvest(read.book, notes, read.added, digest)


def drawn(folder: ClassFolder, book: ClassBook) -> tuple[ClassBook, bytes]:
    """Draw a class book, with pairs for those who have none, and return what it says with its bytes.

    Raises
    ------
    FolderError : what was drawn does not read back as the same class book.
    """
    made = pairs_for_the_rest(
        book.people, book.pairings, book.settings.calipers, book.group_size, book.demonstration
    )
    book = replace(book, pairings=(*book.pairings, *made.pairings))
    language = book.settings.language
    protocols = tuple(all_protocols(folder, language).values())
    layout = class_book_layout(book_texts(language), book, protocols, languages())
    data = rendered(layout, Identity({}), read_template("style.toml"))
    if book_in(folder, read_package_bytes(data))[0].book != book:
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
    return str(redrawn(folder.book, harvest.digest, lambda: data) or "")


def coded(folder: ClassFolder, book: ClassBook, secret: str) -> ClassBook:
    """Return the book with the code of each person: the one on a sheet already handed out, else a new one.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    """
    records = [record for builds in keep.load_records(folder).values() for record in builds]
    codes = {record.participant_id: record.participant_code for record in records if record.participant_id}
    people = [
        replace(person, participant_code=codes.get(person.student_id, person.participant_code))
        for person in book.people
    ]
    spare = {record.participant_code for record in records if is_spare(record)}
    return replace(book, people=keep.with_participant_codes(secret, people, spare))
