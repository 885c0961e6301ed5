"""Write everything that is derived from a session: tables, report, marks and feedback."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.checking.catalogue import completed
from sheetgen.checking.class_analysis import class_analysis
from sheetgen.checking.class_findings import class_findings
from sheetgen.checking.corrections import adjusted_mark, comment_given
from sheetgen.flows.marking import mark_rows
from sheetgen.flows.sources import all_protocols
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.decision import Decision
from sheetgen.model.marking import Marking, MarkingScheme
from sheetgen.model.settings import ClassBook
from sheetgen.report.datapackage import datapackage_text
from sheetgen.report.feedback import feedback_bytes, feedback_zip
from sheetgen.report.marks_table import marks_table
from sheetgen.report.tables import attempts_table, findings_table, readings_table, sites_table
from sheetgen.report.workbook import report_bytes
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.store.texts import load_texts

__all__ = ["Read", "write_results"]

_COUNTED = ("accepted", "review")


@dataclass(frozen=True, slots=True)
class Read:
    """What is known of a session once everything in it was read.

    earlier : attempts of earlier sessions. markings : by copy code, with points given by a person.
    """

    session: int
    book: ClassBook
    attempts: Sequence[Attempt]
    earlier: Sequence[Attempt]
    handed_out: Sequence[CopyRecord]
    scheme: MarkingScheme
    markings: Mapping[str, Marking]
    decisions: Sequence[Decision]


def write_results(folder: ClassFolder, read: Read) -> None:
    """Write results/ of a session.

    Raises
    ------
    FolderError : a result cannot be written.
    """
    session, book, attempts = read.session, read.book, read.attempts
    codes = [record.participant_code for record in read.handed_out]
    adjusted = {
        code: mark
        for code, marking in read.markings.items()
        if (mark := adjusted_mark(read.decisions, code, marking.maximum)) is not None
    }
    marks = mark_rows(book, attempts, read.markings, read.scheme, adjusted)
    outputs = {
        folder.attempts(session): attempts_table(attempts, session, codes),
        folder.sites(session): sites_table(attempts, session, codes),
        folder.readings(session): readings_table(attempts, session, codes),
        folder.findings(session): findings_table(attempts, session),
        folder.marks(session): marks_table(marks),
        folder.description(session): datapackage_text(marks=True),
    }
    make_folder(folder.results(session))
    for path, text in outputs.items():
        write_beside(path, text.encode("utf-8"), sync=False)
    texts = load_texts(book.settings.language)
    words = {key.removeprefix("state."): text for key, text in texts.items() if key.startswith("state.")}
    analysis = class_analysis(attempts, book, session, read.earlier, book.declared)
    report = report_bytes(
        book, attempts, session, read.handed_out, all_protocols(folder), words, read_template("style.toml"),
        marks=marks, analysis=analysis,
        class_findings=completed(class_findings(analysis), load_catalogue()),
    )  # fmt: skip
    write_beside(folder.report(session), report, sync=False)
    sync_folder(folder.results(session))
    _write_feedback(folder, read, adjusted)


def _write_feedback(folder: ClassFolder, read: Read, adjusted: Mapping[str, float]) -> None:
    """One workbook a sheet, and all of them in one zip under the names they came in with."""
    language = read.book.settings.language
    texts = {**load_texts(f"marking.{language}"), **load_texts(f"feedback.{language}")}
    style = read_template("style.toml")
    place = folder.feedback(read.session)
    make_folder(place)
    incoming: dict[str, bytes] = {}
    for attempt in read.attempts:
        record, built_with = attempt.record, attempt.built_with
        if record is None or built_with is None or attempt.status not in _COUNTED:
            continue
        if record.copy_code not in read.markings:
            continue
        data = feedback_bytes(
            attempt,
            read.markings[record.copy_code],
            built_with.protocol,
            texts,
            style,
            with_body_values=read.book.settings.show_results != "never",
            comment=comment_given(read.decisions, record.copy_code),
            adjusted=adjusted.get(record.copy_code),
        )
        name = record.file_name or f"{record.copy_code}.xlsx"
        write_beside(place / name, data, sync=False)
        incoming[attempt.file] = data
    write_beside(folder.feedback_zip(read.session), feedback_zip(incoming), sync=False)
    sync_folder(place)
