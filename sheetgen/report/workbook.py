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
from sheetgen.report.agreement_pages import agreement_page, plots_page
from sheetgen.report.attempt_facts import counts, without_surrogates
from sheetgen.report.calipers_page import calipers_page
from sheetgen.report.class_summary import class_summary_page
from sheetgen.report.data_page import data_page
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page
from sheetgen.report.marks_page import marks_page
from sheetgen.report.measurement_pages import results_page, site_titles
from sheetgen.report.overview import missing_sheets, session_counts
from sheetgen.report.page import Heading
from sheetgen.report.pile_up_page import pile_up_page
from sheetgen.report.precision_pages import precision_page, repeat_page
from sheetgen.report.retest_page import retest_page
from sheetgen.report.shown import student_codes
from sheetgen.report.talk_page import talk_page
from sheetgen.report.writing import Formats, formats_of, new_sheet, write, write_page, write_table

__all__ = ["report_bytes"]

_FIXED_DATE = datetime(2000, 1, 1)
"""The creation date in every file: a real one would make each run's bytes differ."""

_COUNTS = (Heading("What", 28, "label"), Heading("How many", 13, "text"), Heading("What to do", 52))
_OF_CLASS = (
    Heading("Tab", 28, "label"),
    Heading("Severity", 13),
    Heading("What was found", 52),
    Heading("What to do", 26),
)
_TABS = {
    "class-same-numbers": "To talk to",
    "class-rounds-identical": "Readings that pile up",
    "class-second-round-thinner": "Readings that pile up",
    "class-digit-preference": "Readings that pile up",
    "class-site-stands-out": "Precision by site",
    "class-zero-forgotten": "Calipers",
    "class-caliper-off": "Calipers",
    "class-caliper-zero-differs": "Calipers",
}
_MISSING = (
    Heading("Student", 28),
    Heading("Student id", 13),
    Heading("Sheet file", 52),
    Heading("What came back", 26),
    Heading("Email", 32),
)


def report_bytes(
    book: ClassBook,
    attempts: Sequence[Attempt],
    session: int,
    handed_out: Sequence[CopyRecord],
    protocols: Mapping[str, Protocol],
    state_words: Mapping[str, str],
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
    state_words : each `estimate_state` in words.
    style_text : the text of templates/style.toml.
    marks : of this session.
    analysis : of this session, and the change since an earlier one; None: of these attempts alone.
    class_findings : about the whole class, with severity and remedy.

    Raises
    ------
    KeyError : a format word is missing.
    """
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    title = f"{book.title}: report on session {session}"
    workbook.set_properties({"title": without_surrogates(title), "created": _FIXED_DATE})
    workbook.set_size(1366 * 15, 768 * 15)
    formats = formats_of(workbook, style_text)
    codes = {person.participant_code for person in book.people if person.participant_code}
    codes |= {record.participant_code for record in handed_out}
    if analysis is None:
        analysis = class_analysis(attempts, book, session)
    _write_overview(workbook, formats, book, attempts, session, handed_out, class_findings)
    titles = site_titles([one for one in attempts if counts(one)], protocols)
    students = student_codes(book)
    compared = () if isinstance(analysis.criterion, Undefined) else analysis.criterion
    plots = [plots_page(compared, session, titles)] if any(one.points for one in compared) else []
    pages = [
        class_summary_page(analysis, titles),
        sheets_page(attempts, session, codes),
        marks_page(book, marks, session),
        results_page(attempts, session, protocols, state_words, codes),
        precision_page(analysis, titles),
        agreement_page(analysis, titles),
        *plots,
        calipers_page(analysis),
        pile_up_page(analysis, students),
        repeat_page(analysis, titles, students),
        talk_page(analysis, titles),
    ]
    if analysis.retest is not None and analysis.earlier is not None:
        pages.append(retest_page(analysis.retest, analysis.earlier, session, titles, students))
    pages += [
        findings_page(attempts, session, class_findings),
        kinds_page(attempts, session, class_findings),
        data_page(session),
    ]
    for page in pages:
        write_page(workbook, formats, page)
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
) -> None:
    widths = [heading.width for heading in _MISSING]
    sheet = new_sheet(workbook, formats, "Overview", widths)
    write(sheet, 0, 0, f"Report on session {session}", formats["title"])
    for row, (word, value) in enumerate((("Class", book.title), ("Class code", book.class_code)), start=1):
        write(sheet, row, 0, word, formats["label"])
        write(sheet, row, 1, value, formats["text"])
    lines = [(one.what, one.number, one.to_do) for one in session_counts(book, attempts, session, handed_out)]
    row = 2 + write_table(sheet, formats, 4, _COUNTS, lines)
    if class_findings:
        write(sheet, row, 0, "In the class as a whole", formats["label"])
        found = [
            (_TABS.get(one.code, "Findings"), one.severity, one.found, one.remedy) for one in class_findings
        ]
        row = 2 + write_table(sheet, formats, row + 1, _OF_CLASS, found, widths)
    missing = missing_sheets(book, attempts, session, handed_out)
    write(sheet, row, 0, "Sheets missing" if missing else "No sheet is missing.", formats["label"])
    if missing:
        rows = [(one.name, one.student_id, one.sheet_file, one.came_back, one.email) for one in missing]
        write_table(sheet, formats, row + 1, _MISSING, rows)
        sheet.repeat_rows(row + 1)
    sheet.freeze_panes(1, 0)
    sheet.activate()
