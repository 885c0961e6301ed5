"""report.xlsx: the class at a glance, the same bytes for the same inputs."""

import io
from collections.abc import Mapping, Sequence
from datetime import datetime

import xlsxwriter
from xlsxwriter.workbook import Workbook

from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook
from sheetgen.report.attempt_facts import without_surrogates
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page
from sheetgen.report.measurement_pages import repeat_page, results_page
from sheetgen.report.overview import missing_sheets, session_counts
from sheetgen.report.page import Heading
from sheetgen.report.writing import Formats, formats_of, new_sheet, write, write_page, write_table

__all__ = ["report_bytes"]

_FIXED_DATE = datetime(2000, 1, 1)
"""The creation date in every file: a real one would make each run's bytes differ."""

_COUNTS = (Heading("What", 28, "label"), Heading("How many", 13, "text"), Heading("What to do", 52))
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
) -> bytes:
    """Return the report on one session as a workbook.

    Parameters
    ----------
    handed_out : what is on record of the sheets that went out; other sessions are left out.
    protocols : by identifier; without its own, an attempt's sites go by their code words, and it has no band.
    state_words : each `estimate_state` in words.
    style_text : the text of templates/style.toml.

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
    _write_overview(workbook, formats, book, attempts, session, handed_out)
    for page in (
        sheets_page(attempts, session, codes),
        results_page(attempts, session, protocols, state_words, codes),
        repeat_page(attempts, session, protocols),
        findings_page(attempts, session),
        kinds_page(attempts, session),
    ):
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
) -> None:
    sheet = new_sheet(workbook, formats, "Overview", [heading.width for heading in _MISSING])
    write(sheet, 0, 0, f"Report on session {session}", formats["title"])
    for row, (word, value) in enumerate((("Class", book.title), ("Class code", book.class_code)), start=1):
        write(sheet, row, 0, word, formats["label"])
        write(sheet, row, 1, value, formats["text"])
    counts = [
        (one.what, one.number, one.to_do) for one in session_counts(book, attempts, session, handed_out)
    ]
    row = 2 + write_table(sheet, formats, 4, _COUNTS, counts)
    missing = missing_sheets(book, attempts, session, handed_out)
    write(sheet, row, 0, "Sheets missing" if missing else "No sheet is missing.", formats["label"])
    if missing:
        rows = [(one.name, one.student_id, one.sheet_file, one.came_back, one.email) for one in missing]
        write_table(sheet, formats, row + 1, _MISSING, rows)
        sheet.repeat_rows(row + 1)
    sheet.freeze_panes(1, 0)
    sheet.activate()
