"""Write everything that is derived from a session: tables, report, marks and feedback."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from sheetgen.checking.class_analysis import class_analysis
from sheetgen.checking.class_findings import class_findings
from sheetgen.checking.corrections import adjusted_mark
from sheetgen.flows.feedback import feedback_pages, write_feedback
from sheetgen.flows.marking import mark_rows
from sheetgen.flows.sources import all_protocols
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.decision import Decision
from sheetgen.model.marking import Marking, MarkingScheme
from sheetgen.model.settings import ClassBook
from sheetgen.report.attempt_facts import counts
from sheetgen.report.datapackage import datapackage_text
from sheetgen.report.marks_table import marks_table
from sheetgen.report.measurement_pages import site_titles
from sheetgen.report.page import SessionResults
from sheetgen.report.tables import (
    attempts_table,
    findings_table,
    precision_table,
    readings_table,
    sites_table,
)
from sheetgen.report.workbook import report_bytes
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, sync_folder, write_beside
from sheetgen.store.templates import read_template
from sheetgen.store.texts import texts_in
from sheetgen.workbook.repack import with_language

__all__ = ["Read", "by_subject", "write_results"]


@dataclass(frozen=True, slots=True)
class Read:
    """What is known of a session once everything in it was read.

    earlier : attempts of earlier sessions. markings : by copy code, with points given by a person.
    decisions : of the teacher on this session, by subject.
    """

    session: int
    book: ClassBook
    attempts: Sequence[Attempt]
    earlier: Sequence[Attempt]
    handed_out: Sequence[CopyRecord]
    scheme: MarkingScheme
    markings: Mapping[str, Marking]
    decisions: Mapping[str, Sequence[Decision]]


def by_subject(decisions: Iterable[Decision]) -> dict[str, list[Decision]]:
    """Return decisions by what they are about: a look through all of them for each sheet takes too long."""
    grouped: dict[str, list[Decision]] = defaultdict(list)
    for one in decisions:
        grouped[one.subject].append(one)
    return dict(grouped)


def write_results(folder: ClassFolder, read: Read, executor: Executor | None = None) -> None:
    """Write results/ of a session.

    executor : makes the pages of feedback; None: this process.

    Raises
    ------
    FolderError : a result cannot be written.
    """
    session, book, attempts = read.session, read.book, read.attempts
    codes = [record.participant_code for record in read.handed_out]
    adjusted = {
        code: mark
        for code, marking in read.markings.items()
        if (mark := adjusted_mark(read.decisions.get(code, ()), code, marking.maximum)) is not None
    }
    language = book.settings.language
    texts = texts_in(language, "sheet", "findings", "report")
    analysis = class_analysis(attempts, book, session, read.earlier, book.declared, codes)
    marks = mark_rows(book, attempts, read.markings, read.scheme, adjusted)
    outputs = {
        folder.attempts(session): attempts_table(attempts, session, codes),
        folder.sites(session): sites_table(analysis.readings),
        folder.readings(session): readings_table(analysis.readings),
        folder.precision(session): precision_table(analysis.sites, session),
        folder.findings(session): findings_table(attempts, session, texts),
        folder.marks(session): marks_table(marks),
        folder.description(session): datapackage_text(texts, marks=True),
    }
    make_folder(folder.results(session))
    for path, text in outputs.items():
        write_beside(path, text.encode("utf-8"), sync=False)
    protocols = all_protocols(folder, language)
    titles = site_titles([one for one in attempts if counts(one)], protocols)
    results = SessionResults(
        book, attempts, session, read.handed_out, analysis, marks, class_findings(analysis, texts, titles)
    )  # fmt: skip
    report = report_bytes(results, protocols, texts, read_template("style.toml"))
    write_beside(folder.report(session), with_language(report, language), sync=False)
    sync_folder(folder.results(session))
    shown = book.settings.show_results != "never"
    pages = feedback_pages(attempts, read.markings, read.decisions, adjusted, with_body_values=shown)
    write_feedback(folder, session, book, list(pages), executor)
