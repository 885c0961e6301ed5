"""Which sheets a session needs: one a pair, the spare ones, and who is left without."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sheetgen.checking.claims import Builds, own_sheet_wanted, spare_id
from sheetgen.errors import FolderError, UsageError
from sheetgen.layout.class_book_settings import LEFT
from sheetgen.model.settings import ClassBook, Pairing, Person
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder

__all__ = [
    "Copy", "copies_of_pairs", "pairings_wanted", "partners_without", "spare_copies",
    "stale_sheets", "unpaired",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Copy:
    """One sheet to be made: who measures whom, the sheet's code, and the folder it goes into."""

    pairing: Pairing
    participant: Person
    copy_code: str
    place: Path


def pairings_wanted(folder: ClassFolder, book: ClassBook, only: str) -> tuple[Pairing, ...]:
    """Return the pairings to build for: all, or those of one measurer.

    Raises
    ------
    UsageError : there is no such student, or they have left.
    FolderError : nobody measures anybody, or this student measures nobody.
    """
    known = {person.student_id for person in book.people}
    if only and only not in known:
        raise UsageError(
            f"--student {only}",
            "no such student_id in the roster",
            "one of the roster",
            "Check the tab Roster.",
        )
    if only and any(person.student_id == only and person.status == LEFT for person in book.people):
        raise UsageError(
            f"--student {only}",
            "someone who has left the class",
            "someone who is in it",
            "Empty the column status of this line on the tab Roster if they are back.",
        )
    pairings = tuple(pairing for pairing in book.pairings if not only or pairing.measurer == only)
    if only and not pairings:
        raise FolderError(
            folder.book,
            f"{only} measures nobody",
            "a line with them as measurer on the tab Pairs",
            "Type the pair there, and save the class book.",
        )
    if not pairings:
        raise FolderError(
            folder.book, "nobody measures anybody", "at least two people on the tab Roster",
            "Add them to the roster, or pairs to the tab Pairs, and save the class book.",
        )  # fmt: skip
    return pairings


def copies_of_pairs(
    folder: ClassFolder,
    book: ClassBook,
    secret: str,
    records: Builds,
    pairings: Iterable[Pairing],
    session: int,
) -> list[Copy]:
    """Return the sheets of pairs; one who used a spare sheet in this session needs no other."""
    people = {person.student_id: person for person in book.people}
    return [
        Copy(
            pairing,
            people[pairing.participant],
            keep.copy_code(secret, pairing.measurer, pairing.participant, session),
            folder.sheets(session),
        )
        for pairing in pairings
        if not pairing.spare or own_sheet_wanted(records, pairing.spare, session)
    ]


def spare_copies(
    folder: ClassFolder,
    book: ClassBook,
    secret: str,
    records: Builds,
    session: int,
) -> list[Copy]:
    """Return sheets for people who are not on the roster, careful as for someone not said to be of age."""
    issued = next((caliper.identifier for caliper in book.settings.calipers if caliper.in_service), "")
    taken = {person.participant_code for person in book.people}
    taken |= {record.participant_code for builds in records.values() for record in builds}
    copies: list[Copy] = []
    for number in range(1, book.spare_sheets + 1 if issued else 1):
        name = spare_id(number)
        code = keep.copy_code(secret, name, "", session)
        # Of one session only: two who use spares in two sessions are not one person.
        propose = partial(keep.participant_code, secret, f"{name}/session-{session}")
        builds = records.get(code, ())
        shown = builds[-1].participant_code if builds else keep.distinct(taken, propose)
        taken.add(shown)
        nobody = Person("", "", "", participant_code=shown)
        copies.append(Copy(Pairing(name, "", issued), nobody, code, folder.spare(session)))
    return copies


def partners_without(book: ClassBook, secret: str, records: Builds, only: str, session: int) -> Iterable[str]:
    """Tell who is to measure the one whose sheet is built alone, and has no sheet for it yet."""
    for pair in book.pairings:
        code = keep.copy_code(secret, pair.measurer, pair.participant, session)
        wanted = not pair.spare or own_sheet_wanted(records, pair.spare, session)
        if only and pair.participant == only and code not in records and wanted:
            yield (
                f"{pair.measurer} measures {only} and has no sheet for it in session {session}: build it "
                f"with --student {pair.measurer}."
            )


def stale_sheets(
    folder: ClassFolder, records: Builds, wanted: Collection[str], session: int
) -> tuple[str, ...]:
    """Return the names of a session's sheets that were built for pairs and are wanted no more.

    Parameters
    ----------
    wanted : copy codes of the sheets that are. A sheet that was moved away, to hand it out, is not named.
    """
    newest = [several[-1] for code, several in records.items() if several and code not in wanted]
    names = (record.file_name for record in newest if record.session == session and record.participant_id)
    return tuple(sorted(name for name in names if (folder.sheets(session) / name).is_file()))


def unpaired(book: ClassBook) -> Iterable[str]:
    """Return the students of the class who measure nobody."""
    measurers = {pairing.measurer for pairing in book.pairings}
    return (
        person.student_id
        for person in book.people
        if person.student_id not in measurers and person.role == "student" and person.status != LEFT
    )
