"""Write the sheets of a session."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from sheetgen.class_book import book as class_book
from sheetgen.class_book import protection, sheets_wanted
from sheetgen.class_book.hand_outs import write_handouts
from sheetgen.class_book.lesson import in_circuit_order
from sheetgen.class_book.pairing import better_anew, unpaired
from sheetgen.class_book.table import MEASURES_ONLY
from sheetgen.class_folder import files, keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, ClassBook, CopyRecord
from sheetgen.errors import FolderError
from sheetgen.protocols.protocol import Protocol
from sheetgen.sheet import student
from sheetgen.sheet.reference_tabs import figures_of
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity, Layout, Value
from sheetgen.workbook.render import Master, master_of, stamped

_TOLD_ELSEWHERE = ("class-book-unpaired", "class-book-check-missing")
"""The one in a sentence of its own; the other on the tab Calipers: most classes would hear it every time."""


_OPEN = (
    "{book}: another program has it open ({lock} beside it); expected one that is saved and closed. What was "
    "typed and not saved yet is in no sheet: save it there, and build again."
)

_SITES_NAMED = 4
"""Sites that the name of a spare sheet lists; of more it says how many."""


class BuildSummary(Struct, frozen=True):
    """written, unchanged : file names of pairs' sheets. kept : files that are not as they were written.
    unpaired : on students who measure nobody, one sentence each. spare : names of the sheets for people who
    are not on the roster. notes : about the class book, one sentence each. printed : names of the files for
    the printer. stale : names of sheets that lie there and that no pair asks for any more."""

    folder: str
    written: tuple[str, ...]
    unchanged: tuple[str, ...]
    kept: tuple[str, ...]
    unpaired: tuple[str, ...] = ()
    spare: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()
    stale: tuple[str, ...] = ()


class _Sheet(Struct, frozen=True):
    """A sheet as it should lie in its place. there : what lies there; None where nothing does."""

    record: CopyRecord
    data: bytes
    path: Path
    there: bytes | None


class _Press(Struct, frozen=True):
    """What the sheets of a session are made with. masters : by settings, with the digest of the Layout."""

    folder: ClassFolder
    book: ClassBook
    secret: str
    session: int
    protocols: Mapping[str, Protocol]
    masters: dict[tuple[str, ...], tuple[Master, str]] = field(default_factory=dict)

    def sheet(self, copy: sheets_wanted.Copy) -> _Sheet:
        """Make a sheet; FolderError where nobody under 18 is measured by this protocol."""
        source, pairing = self._source(copy), copy.pairing
        class_code, caliper = keep.class_code(self.secret), pairing.caliper_id
        who = pairing.measurer, copy.participant.participant_code
        words = self.book.session_words(self.session)
        sheet = student.SheetCopy(copy.copy_code, class_code, *who, self.session, caliper, words)
        identity = student.sheet_identity(source.protocol, source.settings, source.texts, sheet)
        if copy.participant.takes_part == MEASURES_ONLY:
            identity = Identity({**identity.values, **_practice_filled_in(source.layout)})
        master, layout_digest = self._master(source, identity)
        data = stamped(master, identity)
        record = CopyRecord(
            copy_code=copy.copy_code,
            session=self.session,
            student_id=pairing.measurer,
            participant_id=pairing.participant,
            participant_code=str(identity.values["participant_code"]),
            caliper_id=pairing.caliper_id,
            layout_digest=layout_digest,
            file_name=_file_name(copy, source.protocol),
            file_sha256=files.sha256_of(data),
            identity=identity.values,
            exercise=copy.exercise,
        )
        path = copy.place / record.file_name
        return _Sheet(record, data, path, files.read_if_there(path))

    def _master(self, source: student.Source, example: Identity) -> tuple[Master, str]:
        # A copy with practice filled in has other values of its own.
        key = source.layout.settings_text, *example.values
        if key not in self.masters:
            digest = keep.store_layout(self.folder, source.layout)
            figures, style = figures_of(source.layout, self.folder), read_template("style.toml")
            self.masters[key] = master_of(source.layout, example, style, figures), digest
        return self.masters[key]

    def _source(self, copy: sheets_wanted.Copy) -> student.Source:
        """The Layout for one pair: by its protocol, and careful where the participant counts as under 18."""
        settings = replace(
            self.book.settings,
            protocol_id=copy.pairing.protocol_id or self.book.settings.protocol_id,
            under_18=copy.under_18,
        )
        protocol = in_circuit_order(self.protocols[settings.protocol_id], self.book.circuit)
        if not student.careful_protocol(protocol, settings).sites:
            who = copy.pairing.participant or copy.pairing.measurer
            found = f"{settings.protocol_id} for {who}, who counts as under 18"
            remedy = "Choose another protocol for this pair on the tab Pairs."
            raise FolderError(self.folder.book, found, "a protocol with at least one limb site", remedy)
        return student.source_of(settings, protocol)


def build_sheets(
    folder: ClassFolder,
    session: int,
    only: str = "",
    progress: Callable[[int, int], None] | None = None,
    roster_is_right: bool = False,
    calipers: Sequence[str] = (),
) -> BuildSummary:
    """Write one sheet for every pair of the class book, and the spare ones. only : student_id of the one
    measurer whose sheets are wanted, empty for all. Spare sheets are then left. progress : is told how many
    sheets are done, of how many. roster_is_right : people who counted as under 18 and do not any more are
    meant to. calipers : two to compare: pairs that measure with one of them get a second sheet, for the
    other. FolderError : the class book holds faults, or lowers somebody's protection, or a file cannot be
    written. UsageError : there is no such student, or nobody measures anybody. The record of what is handed
    out is written before the sheets, so a sheet that exists is always on record. A file whose bytes are not
    the ones on record is never rewritten; it is named. Pairs made just now for people without one are written
    into the class book, so that the next session has the same."""
    harvest, lock = class_book.harvested(folder), files.lock_file(folder.book)
    secret = _secret_of(folder, harvest.book)
    whole = class_book.coded(folder, harvest.book, secret)
    book = class_book.without_leavers(whole)
    before, now = keep.load_protection(folder), protection.protections_of(whole)
    if not roster_is_right:
        _same_protection(folder, protection.lowered(before, now))
    pairings = sheets_wanted.pairings_wanted(folder, book, only)
    records = dict(keep.load_records(folder))
    wanted = sheets_wanted.Wanted(folder, book, secret, records, session)
    if missed := book.stands_for.get(session):
        pairings = sheets_wanted.pairings_missed(wanted, pairings)
        book = replace(book, pairings=pairings)
    press = _Press(folder, book, secret, session, student.all_protocols(folder, book.settings.language))
    copies = sheets_wanted.copies_of_pairs(wanted, pairings)
    if calipers:
        copies += sheets_wanted.second_copies(wanted, pairings, calipers)
    if not only:
        copies += sheets_wanted.spare_copies(wanted)
    for place in (folder.sheets(session), folder.spare(session)):
        files.make_folder(place, files.HANDED_OUT_FOLDER)
    files.make_folder(folder.returned(session))
    summary, notes = _handed_out(press, copies, records, progress)
    if missed:
        notes.append(f"session {session} is for those who missed session {missed}: {len(pairings)}")
    if (kept_now := protection.remembered(before, now)) != before:
        keep.save_protection(folder, kept_now)
    notes += write_handouts(folder, book, session)
    for place in (folder.sheets(session), folder.spare(session)):
        files.sync_folder(place)
    closed = [*_pairs_written_back(folder, harvest, whole)]
    if lock and not closed:
        closed = [_OPEN.format(book=folder.book, lock=lock)]
    asked = {copy.copy_code for copy in copies}
    printed = folder.paper_forms(session), folder.site_cards(session), folder.handouts(session)
    return replace(
        summary,
        unpaired=tuple(_measures_nobody(harvest, book)),
        printed=tuple(path.name for path in printed if path.is_file()),
        stale=() if only else sheets_wanted.stale_sheets(folder, records, asked, session),
        notes=(
            *notes,
            *_notes(press, harvest, records),
            *sheets_wanted.partners_without(wanted, only),
            *closed,
            *filter(None, [class_book.delete_reminder(folder, book, date.today().isoformat())]),
        ),
    )


def _handed_out(
    press: _Press,
    copies: Sequence[sheets_wanted.Copy],
    records: dict[str, tuple[CopyRecord, ...]],
    progress: Callable[[int, int], None] | None,
) -> tuple[BuildSummary, list[str]]:
    """Make the sheets, put them on record and into their places. Spare ones that cannot be made keep back no
    other. What is said of all stays; their bytes, of a large class hundreds of megabytes, go."""
    made, notes = [], []
    for number, copy in enumerate(copies, start=1):
        try:
            made.append(press.sheet(copy))
        except FolderError as fault:
            if copy.pairing.participant:
                raise
            notes.append(str(fault))
        if progress is not None:
            progress(number, len(copies))
    kept: list[_Sheet] = []
    sheets: list[_Sheet] = []
    for sheet in made:
        (sheets if _ours(sheet, records) else kept).append(sheet)
    _write(press.folder, sheets, records)
    of_pairs = [sheet for sheet in sheets if sheet.record.participant_id]
    folder = press.folder.sheets(press.session)
    summary = BuildSummary(
        folder=str(folder),
        written=tuple(sheet.path.name for sheet in of_pairs if sheet.there != sheet.data),
        unchanged=tuple(sheet.path.name for sheet in of_pairs if sheet.there == sheet.data),
        kept=tuple(sheet.path.relative_to(folder).as_posix() for sheet in kept),
        spare=tuple(sheet.path.name for sheet in sheets if not sheet.record.participant_id),
    )
    return summary, notes


def _ours(sheet: _Sheet, records: sheets_wanted.Builds) -> bool:
    """Whether what lies in the place of a sheet was made here, as far as is known: the bytes that would be
    written are nobody's change."""
    if sheet.there is None or sheet.there == sheet.data:
        return True
    return files.sha256_of(sheet.there) in {
        build.file_sha256 for build in records.get(sheet.record.copy_code, ())
    }


def _write(folder: ClassFolder, sheets: Sequence[_Sheet], records: dict[str, tuple[CopyRecord, ...]]) -> None:
    """Put the sheets on record, then into their places."""
    for sheet in sheets:
        record = sheet.record
        builds = records.get(record.copy_code, ())
        earlier = (build for build in builds if build.file_sha256 != record.file_sha256)
        records[record.copy_code] = (*earlier, record)
    made = {sheet.record.copy_code: records[sheet.record.copy_code] for sheet in sheets}
    # Another run may have put its own on record meanwhile.
    keep.save_records(folder, {**keep.load_records(folder), **made})
    for sheet in sheets:
        if sheet.there != sheet.data:
            files.write_beside(sheet.path, sheet.data, mode=files.HANDED_OUT, sync=False)


def _pairs_written_back(folder: ClassFolder, harvest: class_book.Harvest, book: ClassBook) -> Iterable[str]:
    """Draw the class book anew where pairs were made that it does not hold; else it is left alone."""
    if not harvest.added:
        return
    try:
        reason = class_book.swapped_in(folder, harvest, class_book.drawn(folder, book)[1])
    except FolderError as fault:
        reason = fault.found
    if reason:
        yield (
            f"{folder.book}: {reason}; expected a class book that can be drawn anew. The sheets are built; "
            "close the class book everywhere and build again, so that the pairs made now stand in it."
        )


def _measures_nobody(harvest: class_book.Harvest, book: ClassBook) -> Iterable[str]:
    """Who measures nobody, why that is, where it is known, and what to do."""
    notes = [note for note in harvest.notes if note.code == "class-book-unpaired"]
    for person in unpaired(book):
        own = [note for note in notes if note.found.startswith(f"{person.student_id} ")]
        told = (f"{note.found}: no sheet. {note.remedy}" for note in own)
        yield next(told, f"{person.student_id} measures nobody: no sheet. See the tab Pairs.")


def _notes(press: _Press, harvest: class_book.Harvest, records: sheets_wanted.Builds) -> Iterable[str]:
    folder, book = press.folder, press.book
    for note in harvest.notes:
        if note.code not in _TOLD_ELSEWHERE:
            yield f"{folder.book}:{note.place}: {note.found}; expected {note.expected}. {note.remedy}"
    yield from (f"{folder.book}: {line}" for line in sheets_wanted.off_the_roster(records, harvest.book))
    for measurer, code in sheets_wanted.stray_claims(records, harvest.book):
        yield (
            f"{folder.book}: the pair of {measurer} claims {code}: no spare sheet on record; expected the "
            "copy code of a spare sheet. Correct it on the tab Pairs."
        )
    protocol = press.protocols[book.settings.protocol_id]
    texts = class_book.book_texts(book.settings.language)
    yield from filter(None, [protection.unsaid_line(book, protocol, texts, folder)])
    if press.session == 1 and (odd := better_anew(harvest.book)):
        yield (
            f"{folder.book}: on the tab Pairs {'; '.join(odd)}. Where that is not meant, empty its lines, "
            "save and build again: pairs and calipers are then shared out anew."
        )
    for line in protection.other_than_came_in(book, keep.load_roster_before(folder)):
        yield f"{folder.book}: {line}"


def _same_protection(folder: ClassFolder, students: Sequence[str]) -> None:
    if students:
        raise FolderError(
            folder.book,
            f"{protection.named(students)} counted as under 18 until now, and would not any more",
            "the same protection for the same person",
            "Look whether ids and names still stand on their own lines of the tab Roster, and correct Under "
            "18 there. Where the tab is right, build with --roster-is-right.",
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


def _practice_filled_in(layout: Layout) -> dict[str, Value]:
    """First values by which a sheet is handed out with practice chosen: of the entry in the words of its
    list, and of the cell of the hidden tab that follows it."""
    cells = {cell.name: cell for tab in layout.tabs for cell in tab.cells}
    rule = cells["data_source"].rule
    words = dict(zip(rule.codes, rule.words, strict=True)) if rule and rule.codes else {}
    followed = {name: "practice" for name in ("in_data_source",) if name in cells}
    return {"data_source": words.get("practice", "practice"), **followed}


def _file_name(copy: sheets_wanted.Copy, protocol: Protocol) -> str:
    """The measurer, of a spare sheet its sites too, and the copy code."""
    words = [site.word for site in protocol.sites]
    sites = "-".join(words) if len(words) <= _SITES_NAMED else f"{len(words)}-sites"
    # Every system takes it as part of a file name.
    safe = re.sub(r"[^\w.-]|_", "-", copy.pairing.measurer)[:60].strip(".-") or "sheet"
    parts = [safe, *([] if copy.pairing.participant else [sites])]
    parts += [copy.exercise] if copy.exercise != EXERCISES[0] else []
    return "_".join([*parts, copy.copy_code]) + ".xlsx"
