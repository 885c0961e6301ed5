"""report.xlsx: the class at a glance, the same bytes for the same inputs."""

import io
from collections.abc import Mapping, Sequence
from datetime import datetime

import xlsxwriter
from xlsxwriter.workbook import Workbook

from sheetgen.checking.class_analysis import ClassAnalysis, class_analysis
from sheetgen.core.outcome import Undefined
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.finding import Finding
from sheetgen.model.mark_row import MarkRow
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook
from sheetgen.report.agreement_pages import agreement_page, calipers_page, plots_page
from sheetgen.report.attempt_facts import counts, writable_text
from sheetgen.report.class_summary import class_summary_page
from sheetgen.report.datapackage import data_page
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page
from sheetgen.report.marks_page import marks_page
from sheetgen.report.measurement_pages import results_page, retest_page, site_titles
from sheetgen.report.overview import missing_sheets, session_counts
from sheetgen.report.page import Heading, Texts
from sheetgen.report.precision_pages import pile_up_page, precision_page, repeat_page
from sheetgen.report.shown import student_codes
from sheetgen.report.talk_page import talk_page
from sheetgen.report.writing import Formats, formats_of, new_sheet, write, write_page, write_table

__all__ = ["report_bytes"]

_FIXED_DATE = datetime(2000, 1, 1)
"""The creation date in every file: a real one would make each run's bytes differ."""

_TABS = {
    "class-same-numbers": "report_talk.tab",
    "class-rounds-identical": "report_pile_up.tab",
    "class-second-round-thinner": "report_pile_up.tab",
    "class-digit-preference": "report_pile_up.tab",
    "class-site-stands-out": "report_precision.tab",
    "class-zero-forgotten": "report_calipers.tab",
    "class-caliper-off": "report_calipers.tab",
    "class-caliper-zero-differs": "report_calipers.tab",
}
"""Where a finding about the class is shown, by the key of the name of the tab; the others: Findings."""


def report_bytes(
    book: ClassBook,
    attempts: Sequence[Attempt],
    session: int,
    handed_out: Sequence[CopyRecord],
    protocols: Mapping[str, Protocol],
    texts: Texts,
    style_text: str,
    *,
    marks: Sequence[MarkRow] = (),
    analysis: ClassAnalysis | None = None,
    class_findings: Sequence[Finding] = (),
) -> bytes:
    """Return the report on one session as a workbook.

    Parameters
    ----------
    handed_out : what is on record of the sheets that went out; other sessions are left out.
    protocols : by identifier; without its own, an attempt's sites go by their code words, and it has no band.
    texts : those of `report.LANGUAGE`, and `state.WORD` for each `estimate_state`.
    style_text : the text of templates/style.toml.
    marks : of this session.
    analysis : of this session, and the change since an earlier one; None: of these attempts alone.
    class_findings : about the whole class, with severity and remedy.

    Raises
    ------
    KeyError : a text or a format word is missing.
    """
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    title = texts["report_common.title"].format(title=book.title, session=session)
    workbook.set_properties({"title": writable_text(title), "created": _FIXED_DATE})
    workbook.set_custom_property("language", book.settings.language, "text")
    workbook.set_size(1366 * 15, 768 * 15)
    formats = formats_of(workbook, style_text)
    codes = {person.participant_code for person in book.people if person.participant_code}
    codes |= {record.participant_code for record in handed_out}
    if analysis is None:
        analysis = class_analysis(attempts, book, session)
    _write_overview(workbook, formats, book, attempts, session, handed_out, class_findings, texts)
    titles = site_titles([one for one in attempts if counts(one)], protocols)
    students = student_codes(book)
    compared = () if isinstance(analysis.criterion, Undefined) else analysis.criterion
    plots = [plots_page(compared, session, titles, texts)] if any(one.points for one in compared) else []
    pages = [
        class_summary_page(analysis, titles, texts),
        sheets_page(attempts, session, codes, texts),
        marks_page(book, marks, session, texts),
        results_page(attempts, session, protocols, codes, texts),
        precision_page(analysis, titles, texts),
        agreement_page(analysis, titles, texts),
        *plots,
        calipers_page(analysis, texts),
        pile_up_page(analysis, students, texts),
        repeat_page(analysis, titles, students, texts),
        talk_page(analysis, titles, texts),
    ]
    if analysis.retest is not None and analysis.earlier is not None:
        retest, earlier = analysis.retest, analysis.earlier
        pages.append(retest_page(retest, earlier, session, titles, students, texts))
    pages += [
        findings_page(attempts, session, class_findings, texts),
        kinds_page(attempts, session, class_findings, texts),
        data_page(session, texts),
    ]
    for page in pages:
        write_page(workbook, formats, page, texts)
    workbook.close()
    return stream.getvalue()


def _write_overview(
    workbook: Workbook,
    formats: Formats,
    book: ClassBook,
    attempts: Sequence[Attempt],
    session: int,
    handed_out: Sequence[CopyRecord],
    class_findings: Sequence[Finding],
    texts: Texts,
) -> None:
    of_missing = _missing_headings(texts)
    widths = [heading.width for heading in of_missing]
    sheet = new_sheet(workbook, formats, texts["report_overview.tab"], widths, texts["report_common.page"])
    write(sheet, 0, 0, texts["report_overview.title"].format(session=session), formats["title"])
    of_book = (
        (texts["report_overview.class"], book.title),
        (texts["report_overview.class_code"], book.class_code),
    )
    for row, (word, value) in enumerate(of_book, start=1):
        write(sheet, row, 0, word, formats["label"])
        write(sheet, row, 1, value, formats["text"])
    counted = session_counts(book, attempts, session, handed_out, texts)
    lines = [(one.what, one.number, one.to_do) for one in counted]
    row = 2 + write_table(sheet, formats, 4, _count_headings(texts), lines)
    if class_findings:
        write(sheet, row, 0, texts["report_overview.of_class"], formats["label"])
        found = [
            (
                texts[_TABS.get(one.code, "report_findings.tab")],
                texts[f"report_severity.{one.severity}"],
                one.found,
                one.remedy,
            )
            for one in class_findings
        ]
        row = 2 + write_table(sheet, formats, row + 1, _class_headings(texts), found, widths)
    missing = missing_sheets(book, attempts, session, handed_out, texts)
    about_missing = texts["report_overview.missing" if missing else "report_overview.none_missing"]
    write(sheet, row, 0, about_missing, formats["label"])
    if missing:
        rows = [(one.name, one.student_id, one.sheet_file, one.came_back, one.email) for one in missing]
        write_table(sheet, formats, row + 1, of_missing, rows)
        sheet.repeat_rows(row + 1)
    sheet.freeze_panes(1, 0)
    sheet.activate()


def _count_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_overview.what"], 28, "label"),
        Heading(texts["report_overview.how_many"], 13, "text"),
        Heading(texts["report_heading.what_to_do"], 52),
    )


def _class_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_overview.in_tab"], 28, "label"),
        Heading(texts["report_heading.severity"], 13),
        Heading(texts["report_overview.what_was_found"], 52),
        Heading(texts["report_heading.what_to_do"], 26),
    )


def _missing_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_heading.student"], 28),
        Heading(texts["report_heading.student_id"], 13),
        Heading(texts["report_overview.sheet_file"], 52),
        Heading(texts["report_overview.came_back"], 26),
        Heading(texts["report_overview.email"], 32),
    )
