"""Write what the teacher prints for a session: the paper forms, and slips, run sheet and stations.

Both files are derived from the record and the class book and hold nothing typed, so they are drawn anew with
every build, for everybody, whoever's sheets were asked for.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

import msgspec

from sheetgen.checking.claims import handed_out_in, is_spare
from sheetgen.errors import FolderError
from sheetgen.flows.sources import all_protocols
from sheetgen.layout.class_book_stations import stations_plan
from sheetgen.layout.handouts import Lesson, Meeting, handouts_layout
from sheetgen.layout.paper_form import PaperForm, paper_forms_layout
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Identity, Layout
from sheetgen.model.settings import BuiltWith, ClassBook
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import read_if_there, write_beside
from sheetgen.store.templates import read_template
from sheetgen.store.texts import texts_in
from sheetgen.workbook.render import rendered

__all__ = ["printed_files", "write_handouts"]


def write_handouts(folder: ClassFolder, book: ClassBook, session: int) -> tuple[str, ...]:
    """Write both files beside the sheets of a session, and return what has to be said, one sentence each.

    Parameters
    ----------
    book : without those who left: nobody needs a form of theirs.

    Notes
    -----
    A file that another program holds open is left as it is and named: the sheets are built all the same.
    The sheet of a pair that no longer stands in the class book gets no form.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    TemplateError : a template has a fault.
    """
    language = book.settings.language
    texts = texts_in(language, "sheet", "paper")
    records = _records(folder, book, session)
    forms, notes = _forms(folder, records)
    if forms:
        notes += _written(folder.paper_forms(session), paper_forms_layout(forms, language, texts))
    notes += _written(folder.handouts(session), _handouts(folder, book, session, records, texts))
    return tuple(notes)


def printed_files(folder: ClassFolder, session: int) -> tuple[str, ...]:
    """Return the names of those of the two files that lie beside the sheets of a session."""
    both = (folder.paper_forms(session), folder.handouts(session))
    return tuple(path.name for path in both if path.is_file())


def _records(folder: ClassFolder, book: ClassBook, session: int) -> list[CopyRecord]:
    """The sheets of the session by measurer, the spare ones last."""
    pairs = {(pairing.measurer, pairing.participant) for pairing in book.pairings}
    handed_out = handed_out_in(keep.load_records(folder), book, session)
    wanted = [
        record
        for record in handed_out
        if is_spare(record) or (record.student_id, record.participant_id) in pairs
    ]
    return sorted(wanted, key=lambda record: (is_spare(record), record.student_id, record.participant_id))


def _forms(folder: ClassFolder, records: Sequence[CopyRecord]) -> tuple[list[PaperForm], list[str]]:
    forms: list[PaperForm] = []
    notes: list[str] = []
    for record in records:
        layout = keep.load_layout(folder, record.layout_digest)
        if layout is None:
            notes.append(
                f"{folder.layouts}: nothing about the sheet {record.copy_code}; expected the Layout it was "
                "built with. It gets no paper form; put back the folder keep from a copy."
            )
            continue
        built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
        # A spare sheet that somebody claimed is printed with their id.
        codes = {"student_id": record.student_id, "participant_code": record.participant_code}
        identity = {**record.identity, **codes}
        forms.append(PaperForm(identity, built_with.protocol, built_with.settings, is_spare(record)))
    return forms, notes


def _handouts(
    folder: ClassFolder,
    book: ClassBook,
    session: int,
    records: Sequence[CopyRecord],
    texts: Mapping[str, str],
) -> Layout:
    protocol = all_protocols(folder, book.settings.language)[book.settings.protocol_id]
    plan = stations_plan(book.pairings, len(protocol.sites), book.seconds_a_reading)
    turns = {
        (pairing.measurer, pairing.participant): line
        for pairing, line in zip(book.pairings, plan.lines, strict=True)
    }
    people = {person.student_id: person for person in book.people}
    meetings = []
    for record in records:
        pair = (record.student_id, record.participant_id)
        if not is_spare(record):
            meetings.append(Meeting(people[pair[0]], people[pair[1]], record, turns.get(pair)))
    spare_files = [f"spare/{record.file_name}" for record in records if is_spare(record)]
    return handouts_layout(Lesson(session, book, protocol, plan, meetings, spare_files), texts)


def _written(path: Path, layout: Layout) -> list[str]:
    """Write a workbook where its bytes are not there yet; return why it could not be done."""
    data = rendered(layout, Identity({}), read_template("style.toml"))
    try:
        if read_if_there(path) != data:
            write_beside(path, data, sync=False)
    except FolderError as fault:
        return [f"{fault} The sheets are built; only this file is as it was."]
    return []
