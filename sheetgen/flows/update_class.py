"""Bring the class book of a class folder up to date with a newer roster."""

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from sheetgen.checking.roster_update import RosterChange, updated_book
from sheetgen.errors import FolderError, UsageError
from sheetgen.flows.class_book import coded, drawn, harvested, holds_every_pair, swapped_in
from sheetgen.flows.new import roster_of
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.kept_files import lock_file
from sheetgen.store.launchers import write_launchers
from sheetgen.store.roster_headings import LEFT_OUT

__all__ = ["update_class", "wants_update"]


def wants_update(
    root: Path,
    roster: Path | None,
    protocol_ids: Sequence[str] = (),
    like: Path | None = None,
    language: str = "",
) -> bool:
    """Tell whether a folder is a class folder already, so that only its roster can be brought up to date.

    Raises
    ------
    UsageError : it is one, and there is no roster, or something else is asked for that only a new one takes.
    """
    if not ClassFolder(root).book.is_file():
        return False
    tabs = "Change calipers, settings and protocols in the class book."
    if roster is None:
        found, expected = "a class folder already", "--roster with a newer roster"
        raise UsageError(root, found, expected, f"Give the roster to bring it up to date. {tabs}")
    for option, given in (("--protocol", protocol_ids), ("--like", like), ("--language", language)):
        if given:
            raise UsageError(option, f"{root}, a class folder already", "a new folder", tabs)
    return True


def update_class(
    folder: ClassFolder,
    roster: Path,
    school_class: str = "",
    tell: Callable[[str], None] = lambda line: None,
) -> RosterChange:
    """Add those who joined, mark those who left, and leave everything that the teacher typed.

    Parameters
    ----------
    roster : of the people, as a file, folder or zip.
    school_class : which class of a roster that holds several, by title or id.
    tell : is told each trouble of the roster, one line each.

    Raises
    ------
    FolderError : the class book holds faults, each named, or another program has it open. Nothing is changed.
    RosterError : the roster cannot be used.
    """
    lock = lock_file(folder.book)
    if lock:
        raise _open_elsewhere(folder, f"another program has it open ({lock})")
    harvest = harvested(folder)
    loaded = roster_of(roster, school_class, tell, folder)
    complete = all(trouble.outcome != LEFT_OUT for trouble in loaded.troubles)
    change = updated_book(harvest.book, loaded.people, keep.load_roster_before(folder), complete)
    secret = keep.load_secret(folder)
    book = change.book if secret is None else coded(folder, change.book, secret)
    if book != harvest.book or not holds_every_pair(harvest):
        book, data = drawn(folder, book)
        reason = swapped_in(folder, harvest, data)
        if reason:
            raise _open_elsewhere(folder, reason)
    if complete:
        keep.save_roster(folder, loaded.people)
    write_launchers(folder, sys.executable)
    before = {(pair.measurer, pair.participant) for pair in harvest.book.pairings}
    paired = tuple(pair for pair in book.pairings if (pair.measurer, pair.participant) not in before)
    return replace(change, book=book, paired=paired)


def _open_elsewhere(folder: ClassFolder, reason: str) -> FolderError:
    return FolderError(
        folder.book,
        reason,
        "a class book that is open nowhere",
        "Save and close it, then run the command again; nothing was changed. A lock file that a crash left "
        "behind can be removed.",
    )
