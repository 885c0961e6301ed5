"""Write the sheets of a session."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.errors import FolderError, UsageError
from sheetgen.flows.sources import Source, all_protocols, load_book, source_of
from sheetgen.layout.care import counts_as_under_18
from sheetgen.layout.student import sheet_identity
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Identity
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook, Pairing, Person
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there, sha256_of, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.workbook.stamp import Master, master_of, stamped

__all__ = ["BuildSummary", "build_sheets"]


@dataclass(frozen=True, slots=True)
class BuildSummary:
    """written, unchanged : file names. kept : names of files that are not as they were written."""

    folder: str
    written: tuple[str, ...]
    unchanged: tuple[str, ...]
    kept: tuple[str, ...]
    unpaired: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Press:
    """What every copy of one Layout is made with."""

    layout_digest: str
    master: Master


def build_sheets(folder: ClassFolder, session: int, only: str = "") -> BuildSummary:
    """Write one sheet for every pair of the class book.

    Parameters
    ----------
    only : student_id of the one measurer whose sheets are wanted, empty for all.

    Raises
    ------
    FolderError : the class book holds faults, or a file cannot be written.
    UsageError : there is no such student, or nobody measures anybody.

    Notes
    -----
    The record of what is handed out is written before the sheets, so a sheet that exists is always on
    record. A file whose bytes are not the ones on record is never rewritten; it is named.
    """
    book = load_book(folder)
    pairings = _wanted(folder, book, only)
    protocols = all_protocols(folder)
    secret = _secret_of(folder, book)
    records = dict(keep.load_records(folder))
    coded = keep.with_participant_codes(secret, _with_codes_on_record(book.people, records))
    people = {person.student_id: person for person in coded}
    style = read_template("style.toml")
    make_folder(folder.sheets(session))
    sheets: list[tuple[CopyRecord, bytes]] = []
    kept: list[str] = []
    presses: dict[str, _Press] = {}
    for pairing in pairings:
        source = _source(folder, book, protocols, pairing, people[pairing.participant])
        identity = _identity(source, secret, people, pairing, session)
        key = source.layout.settings_text
        if key not in presses:
            digest = keep.store_layout(folder, source.layout)
            presses[key] = _Press(digest, master_of(source.layout, identity, style))
        record, data = _one_sheet(presses[key], identity, pairing, session)
        builds = records.get(record.copy_code, ())
        path = folder.sheets(session) / record.file_name
        there = read_if_there(path)
        on_record = {build.file_sha256 for build in builds}
        # The very bytes that would be written are nobody's change, whatever became of their record.
        if there is not None and there != data and sha256_of(there) not in on_record:
            kept.append(record.file_name)
            continue
        earlier = tuple(build for build in builds if build.file_sha256 != record.file_sha256)
        records[record.copy_code] = (*earlier, record)
        sheets.append((record, data if there != data else b""))
    made = {record.copy_code: records[record.copy_code] for record, _ in sheets}
    # Another run may have put its own on record meanwhile.
    keep.save_records(folder, {**keep.load_records(folder), **made})
    for record, data in sheets:
        if data:
            write_beside(folder.sheets(session) / record.file_name, data, sync=False)
    sync_folder(folder.sheets(session))
    return BuildSummary(
        folder=str(folder.sheets(session)),
        written=tuple(record.file_name for record, data in sheets if data),
        unchanged=tuple(record.file_name for record, data in sheets if not data),
        kept=tuple(kept),
        unpaired=tuple(_unpaired(book)),
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


def _wanted(folder: ClassFolder, book: ClassBook, only: str) -> tuple[Pairing, ...]:
    known = {person.student_id for person in book.people}
    if only and only not in known:
        raise UsageError(
            f"--student {only}",
            "no such student_id in the roster",
            "one of the roster",
            "Check the tab Roster.",
        )
    pairings = tuple(pairing for pairing in book.pairings if not only or pairing.measurer == only)
    if not pairings:
        raise FolderError(
            folder.book, "nobody measures anybody", "at least two people on the tab Roster",
            "Add them to the roster, or pairs to the tab Pairs, and save the class book.",
        )  # fmt: skip
    return pairings


def _with_codes_on_record(
    people: Iterable[Person], records: Mapping[str, Sequence[CopyRecord]]
) -> tuple[Person, ...]:
    """The people, each with the code that stands for them on a sheet already handed out."""
    codes = {
        record.participant_id: record.participant_code for builds in records.values() for record in builds
    }
    return tuple(
        replace(person, participant_code=codes.get(person.student_id, person.participant_code))
        for person in people
    )


def _source(
    folder: ClassFolder,
    book: ClassBook,
    protocols: Mapping[str, Protocol],
    pairing: Pairing,
    participant: Person,
) -> Source:
    """The Layout for one pair: by its protocol, and careful where the participant counts as under 18."""
    settings = replace(
        book.settings,
        protocol_id=pairing.protocol_id or book.settings.protocol_id,
        under_18=counts_as_under_18(participant, book.minors),
    )
    source = source_of(settings, protocols[settings.protocol_id])
    if not source.protocol.sites:
        raise FolderError(
            folder.book,
            f"{settings.protocol_id} for {participant.student_id}, who counts as under 18",
            "a protocol with at least one limb site",
            "Choose another protocol for this pair on the tab Pairs.",
        )
    return source


def _unpaired(book: ClassBook) -> Iterable[str]:
    measurers = {pairing.measurer for pairing in book.pairings}
    return (
        person.student_id
        for person in book.people
        if person.student_id not in measurers and person.role == "student"
    )


def _identity(
    source: Source, secret: str, people: Mapping[str, Person], pairing: Pairing, session: int
) -> Identity:
    return sheet_identity(
        source.protocol,
        source.settings,
        source.texts,
        copy_code=keep.copy_code(secret, pairing.measurer, pairing.participant, session),
        class_code=keep.class_code(secret),
        student_id=pairing.measurer,
        participant_code=people[pairing.participant].participant_code,
        session_number=session,
        caliper_id=pairing.caliper_id,
    )


def _one_sheet(
    press: _Press, identity: Identity, pairing: Pairing, session: int
) -> tuple[CopyRecord, bytes]:
    data = stamped(press.master, identity)
    copy_code = str(identity.values["copy_code"])
    record = CopyRecord(
        copy_code=copy_code,
        session=session,
        student_id=pairing.measurer,
        participant_id=pairing.participant,
        participant_code=str(identity.values["participant_code"]),
        caliper_id=pairing.caliper_id,
        layout_digest=press.layout_digest,
        file_name=f"{_safe_name(pairing.measurer)}_{copy_code}.xlsx",
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
