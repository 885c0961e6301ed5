"""Everything that is derived from a session: report, feedback and its zip, tables, who is missing."""

import contextlib
import io
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import datetime

import xlsxwriter

from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import make_folder, read_if_there, sync_folder, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import load_scores, save_scores
from sheetgen.errors import FolderError
from sheetgen.marking.marks import adjusted_mark, comment_given, mark_rows, scores_to_keep, with_kept_scores
from sheetgen.marking.scheme import Marking, MarkingScheme
from sheetgen.protocols.protocol import Protocol
from sheetgen.report.agreement_pages import agreement_page, calipers_page, plots_page
from sheetgen.report.datapackage import data_page, datapackage_text
from sheetgen.report.feedback import Feedback, feedback_bytes, feedback_zip
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page, talk_page
from sheetgen.report.marks_pages import marks_page, marks_table
from sheetgen.report.measurement_pages import results_page, retest_page, site_titles
from sheetgen.report.overview import class_summary_page, write_overview
from sheetgen.report.page import Page, SessionResults, Texts, counts, student_codes, writable_text
from sheetgen.report.precision_pages import pile_up_page, precision_page, repeat_page
from sheetgen.report.tables import (
    attempts_table,
    findings_table,
    precision_table,
    readings_table,
    sites_table,
)
from sheetgen.report.writing import formats_of, write_page
from sheetgen.returned.attempt import COUNTED, Attempt
from sheetgen.returned.pool import mapped
from sheetgen.sheet.student import all_protocols
from sheetgen.statistics.analysis import class_analysis, class_findings
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.languages import texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.packages import with_language


@dataclass(frozen=True, slots=True)
class FeedbackPage:
    """One page. name : of its file. incoming : the name that the sheet came in with."""

    name: str
    incoming: str
    feedback: Feedback


@dataclass(frozen=True, slots=True)
class _Task:
    """A page to be made, in the language of the class."""

    language: str
    feedback: Feedback


def feedback_pages(
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decisions: Mapping[str, Sequence[Decision]],
    adjusted: Mapping[str, float],
    *,
    with_body_values: bool,
) -> Iterator[FeedbackPage]:
    """Give the pages of the sheets that count and are marked.

    Parameters
    ----------
    markings, adjusted : by copy code. decisions : by what they are about.
    """
    for attempt in attempts:
        record, built_with = attempt.record, attempt.built_with
        if record is None or built_with is None or attempt.status not in COUNTED:
            continue
        code = record.copy_code
        if code in markings:
            comment = comment_given(decisions.get(code, ()), code)
            bare = replace(attempt, built_with=None)
            feedback = Feedback(
                bare, markings[code], built_with.protocol, comment, adjusted.get(code), with_body_values
            )
            yield FeedbackPage(record.file_name or f"{code}.xlsx", attempt.file, feedback)


def write_feedback(
    folder: ClassFolder,
    session: int,
    book: ClassBook,
    pages: Sequence[FeedbackPage],
    executor: Executor | None = None,
) -> None:
    """Write the pages, and the zip of all of them.

    executor : makes the pages; None: this process.

    Raises
    ------
    FolderError : a page cannot be written.
    """
    place = folder.feedback(session)
    make_folder(place)
    tasks = (_Task(book.settings.language, page.feedback) for page in pages)
    made = list(mapped(_page_made, tasks, len(pages), executor, _page_made))
    for page, data in zip(pages, made, strict=True):
        if read_if_there(place / page.name) != data:
            write_beside(place / page.name, data, sync=False)
    incoming = {page.incoming: data for page, data in zip(pages, made, strict=True)}
    bundle = feedback_zip(_as_handed_over(incoming))
    if read_if_there(folder.feedback_zip(session)) != bundle:
        write_beside(folder.feedback_zip(session), bundle, sync=False)
        sync_folder(place)


def _page_made(task: _Task) -> bytes:
    texts = texts_in(task.language, "sheet", "marking", "feedback")
    data = feedback_bytes(task.feedback, texts, read_template("style.toml"), task.language)
    return with_language(data, task.language)


def _as_handed_over(incoming: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """The names inside the platform's bundle, as it wants them back; whole ones where two would clash."""
    inside = {_inside_bundle(name): data for name, data in incoming.items()}
    return inside if len(inside) == len(incoming) else incoming


def _inside_bundle(name: str) -> str:
    bundle, slash, inside = name.partition("/")
    return inside if slash and bundle.casefold().endswith(".zip") else name


_FIXED_DATE = datetime(2000, 1, 1)
"""The creation date in every file: a real one would make each run's bytes differ."""


def report_bytes(
    results: SessionResults, protocols: Mapping[str, Protocol], texts: Texts, style_text: str
) -> bytes:
    """Return the report on one session as a workbook.

    Parameters
    ----------
    protocols : by identifier; without its own, an attempt's sites go by their code words, and it has no band.
    texts : those of `report.LANGUAGE`, and `state.WORD` for each `estimate_state`.
    style_text : the text of templates/style.toml.

    Raises
    ------
    KeyError : a text or a format word is missing.
    """
    book = results.book
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    title = texts["report_common.title"].format(title=book.title, session=results.session)
    workbook.set_properties({"title": writable_text(title), "created": _FIXED_DATE})
    workbook.set_custom_property("language", book.settings.language, "text")
    workbook.set_size(1366 * 15, 768 * 15)
    formats = formats_of(workbook, style_text)
    write_overview(workbook, formats, results, texts)
    for page in _pages(results, protocols, texts):
        write_page(workbook, formats, page, texts)
    workbook.close()
    return stream.getvalue()


def _pages(results: SessionResults, protocols: Mapping[str, Protocol], texts: Texts) -> list[Page]:
    """The tabs after the overview, in their order."""
    book, attempts, session, analysis = results.book, results.attempts, results.session, results.analysis
    codes = {person.participant_code for person in book.people if person.participant_code}
    codes |= {record.participant_code for record in results.handed_out}
    titles = site_titles([attempt for attempt in attempts if counts(attempt)], protocols)
    students = student_codes(book)
    compared = () if isinstance(analysis.criterion, Undefined) else analysis.criterion
    pages = [
        class_summary_page(analysis, titles, texts),
        sheets_page(attempts, session, codes, texts),
        marks_page(book, results.marks, session, texts),
        results_page(attempts, session, protocols, codes, texts),
        precision_page(analysis, titles, texts),
        agreement_page(analysis, titles, texts),
    ]
    if any(site.points for site in compared):
        pages.append(plots_page(compared, session, titles, texts))
    pages += [
        calipers_page(analysis, texts),
        pile_up_page(analysis, students, texts),
        repeat_page(analysis, titles, students, texts),
        talk_page(analysis, titles, texts),
    ]
    if analysis.retest is not None and analysis.earlier is not None:
        pages.append(retest_page(analysis.retest, analysis.earlier, session, titles, students, texts))
    return [
        *pages,
        findings_page(attempts, session, results.class_findings, texts),
        kinds_page(attempts, session, results.class_findings, texts),
        data_page(session, texts),
    ]


@dataclass(frozen=True, slots=True)
class Read:
    """What is known of a session once everything in it was read.

    earlier : attempts of earlier sessions. markings : by copy code, with points given by a person.
    decisions : of the teacher on this session, by subject. today : the day of this reading, YYYY-MM-DD.
    """

    session: int
    book: ClassBook
    attempts: Sequence[Attempt]
    earlier: Sequence[Attempt]
    handed_out: Sequence[CopyRecord]
    scheme: MarkingScheme
    markings: Mapping[str, Marking]
    decisions: Mapping[str, Sequence[Decision]]
    today: str


def by_subject(decisions: Iterable[Decision]) -> dict[str, list[Decision]]:
    """Return decisions by what they are about: a look through all of them for each sheet takes too long."""
    grouped: dict[str, list[Decision]] = defaultdict(list)
    for one in decisions:
        grouped[one.subject].append(one)
    return dict(grouped)


def write_results(folder: ClassFolder, read: Read, executor: Executor | None = None) -> tuple[str, ...]:
    """Write results/ of a session; return who keeps a score of which no file counts any more.

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
    marked, kept = mark_rows(book, attempts, read.markings, read.scheme, adjusted), load_scores(folder)
    marks = with_kept_scores(marked, kept, session)
    save_scores(folder, session, scores_to_keep(marked, attempts, read.markings, kept, session, read.today))
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
    return tuple(row.student_id for row, was in zip(marks, marked, strict=True) if row != was)


def missing_message(missing: Sequence[CopyRecord], book: ClassBook, texts: Mapping[str, str]) -> str:
    """Return the message to those of whom nothing came back: one line a sheet, by given name.

    Parameters
    ----------
    texts : those of `missing.LANGUAGE`, by dotted key.

    Notes
    -----
    People who left the class are not written to, and neither are the teachers. Empty where nobody is left.
    """
    people = {person.student_id: person for person in book.people}
    lines = []
    for record in missing:
        person = people.get(record.student_id)
        if person is not None and (person.status == LEFT or person.role == "teacher"):
            continue
        name = f"{person.given_name} {person.family_name}".strip() if person is not None else ""
        words = {"name": name or record.student_id, "student_id": record.student_id, "file": record.file_name}
        lines.append((name.casefold(), texts["missing.line"].format(**words)))
    if not lines:
        return ""
    session = missing[0].session
    listed = [line for _, line in sorted(lines)]
    due = texts["missing.due"].format(due_date=book.due_date) if book.due_date else ""
    opening = texts["missing.opening"].format(session=session)
    parts = (
        texts["missing.greeting"],
        opening,
        "\n".join(listed),
        texts["missing.ask"],
        due,
        texts["missing.end"],
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def write_missing(folder: ClassFolder, session: int, missing: Sequence[CopyRecord], book: ClassBook) -> str:
    """Write the message into results/, or take an old one away; return where it is, empty where none is.

    Raises
    ------
    FolderError : it cannot be written or taken away.
    """
    path = folder.missing(session)
    text = missing_message(missing, book, texts_in(book.settings.language, "missing"))
    if text:
        make_folder(path.parent)
        write_beside(path, text.encode("utf-8"), sync=False)
        return str(path)
    try:
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
    except OSError as fault:
        found = f"it cannot be removed ({fault.strerror})"
        raise FolderError(path, found, "a file of yours", "Close it in other programs.") from fault
    return ""
