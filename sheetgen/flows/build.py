"""Write the sheets of a session."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetgen.checking.claims import stray_claims
from sheetgen.checking.roster_update import without_leavers
from sheetgen.errors import FolderError
from sheetgen.flows.class_book import Harvest, coded, drawn, harvested, swapped_in
from sheetgen.flows.copies_wanted import (
    Copy,
    copies_of_pairs,
    pairings_wanted,
    partners_without,
    spare_copies,
    stale_sheets,
    unpaired,
)
from sheetgen.flows.handouts import printed_files, write_handouts
from sheetgen.flows.sources import Source, all_protocols, source_of
from sheetgen.layout.care import careful_protocol, counts_as_under_18
from sheetgen.layout.student import sheet_identity
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Identity
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.figures import figures_of
from sheetgen.store.files import make_folder, read_if_there, sha256_of, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.workbook.stamp import Master, master_of, stamped

__all__ = ["BuildSummary", "build_sheets"]


_TOLD_ELSEWHERE = ("class-book-unpaired", "class-book-check-missing")
"""The one in a sentence of its own; the other on the tab Calipers: most classes would hear it every time."""


@dataclass(frozen=True, slots=True)
class BuildSummary:
    """written, unchanged : file names of pairs' sheets. kept : files that are not as they were written.

    unpaired : students who measure nobody. spare : names of the sheets for people who are not on the roster.
    notes : about the class book, one sentence each. printed : names of the files for the printer.
    stale : names of sheets that lie there and that no pair asks for any more.
    """

    folder: str
    written: tuple[str, ...]
    unchanged: tuple[str, ...]
    kept: tuple[str, ...]
    unpaired: tuple[str, ...]
    spare: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()
    stale: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Press:
    """What every copy of one Layout is made with."""

    layout_digest: str
    master: Master


def build_sheets(
    folder: ClassFolder,
    session: int,
    only: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> BuildSummary:
    """Write one sheet for every pair of the class book, and the spare ones.

    Parameters
    ----------
    only : student_id of the one measurer whose sheets are wanted, empty for all. Spare sheets are then left.
    progress : is told how many sheets are done, of how many.

    Raises
    ------
    FolderError : the class book holds faults, or a file cannot be written.
    UsageError : there is no such student, or nobody measures anybody.

    Notes
    -----
    The record of what is handed out is written before the sheets, so a sheet that exists is always on
    record. A file whose bytes are not the ones on record is never rewritten; it is named. Pairs made just now
    for people without one are written into the class book, so that the next session has the same.
    """
    harvest = harvested(folder)
    book = without_leavers(harvest.book)
    pairings = pairings_wanted(folder, book, only)
    protocols = all_protocols(folder)
    secret = _secret_of(folder, book)
    records = dict(keep.load_records(folder))
    book = coded(folder, book, secret)
    copies = copies_of_pairs(folder, book, secret, records, pairings, session)
    if not only:
        copies += spare_copies(folder, book, secret, records, session)
    style = read_template("style.toml")
    for place in (folder.sheets(session), folder.spare(session), folder.returned(session)):
        make_folder(place)
    sheets: list[tuple[CopyRecord, bytes, Path]] = []
    kept: list[str] = []
    notes: list[str] = []
    presses: dict[str, _Press] = {}
    for number, copy in enumerate(copies, start=1):
        try:
            source = _source(folder, book, protocols, copy)
        except FolderError as fault:
            if copy.pairing.participant:
                raise
            # Nobody asked for this one: it keeps no other from being built.
            notes.append(str(fault))
            continue
        identity = _identity(source, secret, copy, session)
        key = source.layout.settings_text
        if key not in presses:
            digest = keep.store_layout(folder, source.layout)
            figures = figures_of(source.layout, folder)
            presses[key] = _Press(digest, master_of(source.layout, identity, style, figures))
        record, data = _one_sheet(presses[key], identity, copy, session)
        builds = records.get(record.copy_code, ())
        there = read_if_there(copy.place / record.file_name)
        on_record = {build.file_sha256 for build in builds}
        if progress is not None:
            progress(number, len(copies))
        # The very bytes that would be written are nobody's change, whatever became of their record.
        if there is not None and there != data and sha256_of(there) not in on_record:
            kept.append((copy.place / record.file_name).relative_to(folder.sheets(session)).as_posix())
            continue
        earlier = tuple(build for build in builds if build.file_sha256 != record.file_sha256)
        records[record.copy_code] = (*earlier, record)
        sheets.append((record, data if there != data else b"", copy.place / record.file_name))
    made = {record.copy_code: records[record.copy_code] for record, _, _ in sheets}
    # Another run may have put its own on record meanwhile.
    keep.save_records(folder, {**keep.load_records(folder), **made})
    for _, data, path in sheets:
        if data:
            write_beside(path, data, sync=False)
    notes += write_handouts(folder, book, session)
    for place in (folder.sheets(session), folder.spare(session)):
        sync_folder(place)
    of_pairs = [(path.name, data) for record, data, path in sheets if record.participant_id]
    return BuildSummary(
        folder=str(folder.sheets(session)),
        written=tuple(name for name, data in of_pairs if data),
        unchanged=tuple(name for name, data in of_pairs if not data),
        kept=tuple(kept),
        unpaired=tuple(unpaired(book)),
        spare=tuple(path.name for record, _, path in sheets if not record.participant_id),
        printed=printed_files(folder, session),
        stale=() if only else stale_sheets(folder, records, {copy.copy_code for copy in copies}, session),
        notes=(
            *notes,
            *_notes(folder, harvest, records),
            *partners_without(book, secret, records, only, session),
            *_pairs_written_back(folder, harvest, book),
        ),
    )


def _pairs_written_back(folder: ClassFolder, harvest: Harvest, book: ClassBook) -> Iterable[str]:
    """Draw the class book anew where pairs were made that it does not hold; else it is left alone."""
    if not harvest.added:
        return
    try:
        reason = swapped_in(folder, harvest, drawn(folder, replace(harvest.book, people=book.people))[1])
    except FolderError as fault:
        reason = fault.found
    if reason:
        yield (
            f"{folder.book}: {reason}; expected a class book that can be drawn anew. The sheets are built; "
            "close the class book everywhere and build again, so that the pairs made now stand in it."
        )


def _notes(
    folder: ClassFolder, harvest: Harvest, records: Mapping[str, Sequence[CopyRecord]]
) -> Iterable[str]:
    for note in harvest.notes:
        if note.code in _TOLD_ELSEWHERE:
            continue
        place = f"{note.tab}!{note.cell}" if note.cell else note.tab
        yield f"{folder.book}:{place}: {note.found}; expected {note.expected}. {note.remedy}"
    for measurer, code, found in stray_claims(records, harvest.book):
        yield (
            f"{folder.book}: the pair of {measurer} claims {code}: {found}; expected the copy code of a "
            "spare sheet. Correct it on the tab Pairs."
        )


def _secret_of(folder: ClassFolder, book: ClassBook) -> str:
    """The secret that the class book's own code is made from: with another one every sheet that is out would
    count as one of another class, and every copy get another code."""
    secret = keep.load_secret(folder)
    if secret is None or (book.class_code and keep.class_code(secret) != book.class_code):
        raise FolderError(
            folder.secret,
            "nothing" if secret is None else f"the secret of the class {keep.class_code(secret)}",
            f"the secret of the class {book.class_code}",
            "Put back the folder keep from a copy of the class folder. Where there is none, sheets that are "
            "out can still be read; for new ones make a new class folder with `sheetgen new`.",
        )
    return secret


def _source(folder: ClassFolder, book: ClassBook, protocols: Mapping[str, Protocol], copy: Copy) -> Source:
    """The Layout for one pair: by its protocol, and careful where the participant counts as under 18."""
    settings = replace(
        book.settings,
        protocol_id=copy.pairing.protocol_id or book.settings.protocol_id,
        under_18=counts_as_under_18(copy.participant, book.minors),
    )
    protocol = protocols[settings.protocol_id]
    if not careful_protocol(protocol, settings).sites:
        raise FolderError(
            folder.book,
            f"{settings.protocol_id} for {copy.pairing.participant or copy.pairing.measurer}, who counts as "
            "under 18",
            "a protocol with at least one limb site",
            "Choose another protocol for this pair on the tab Pairs.",
        )
    return source_of(settings, protocol)


def _identity(source: Source, secret: str, copy: Copy, session: int) -> Identity:
    return sheet_identity(
        source.protocol,
        source.settings,
        source.texts,
        copy_code=copy.copy_code,
        class_code=keep.class_code(secret),
        student_id=copy.pairing.measurer,
        participant_code=copy.participant.participant_code,
        session_number=session,
        caliper_id=copy.pairing.caliper_id,
    )


def _one_sheet(press: _Press, identity: Identity, copy: Copy, session: int) -> tuple[CopyRecord, bytes]:
    data = stamped(press.master, identity)
    record = CopyRecord(
        copy_code=copy.copy_code,
        session=session,
        student_id=copy.pairing.measurer,
        participant_id=copy.pairing.participant,
        participant_code=str(identity.values["participant_code"]),
        caliper_id=copy.pairing.caliper_id,
        layout_digest=press.layout_digest,
        file_name=f"{_safe_name(copy.pairing.measurer)}_{copy.copy_code}.xlsx",
        file_sha256=sha256_of(data),
        identity=identity.values,
    )
    return record, data


def _safe_name(student_id: str) -> str:
    """A student_id as part of a file name that every system takes."""
    return (
        "".join(sign if sign.isalnum() or sign in "-." else "-" for sign in student_id)[:60].strip(".-")
        or "sheet"
    )
