"""report.xlsx: the class at a glance, the same bytes for the same inputs."""

import io
from collections.abc import Mapping
from datetime import datetime

import xlsxwriter

from sheetgen.core.outcome import Undefined
from sheetgen.model.protocol import Protocol
from sheetgen.report.agreement_pages import agreement_page, calipers_page, plots_page
from sheetgen.report.attempt_facts import counts, writable_text
from sheetgen.report.class_summary import class_summary_page
from sheetgen.report.datapackage import data_page
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page
from sheetgen.report.marks_page import marks_page
from sheetgen.report.measurement_pages import results_page, retest_page, site_titles
from sheetgen.report.overview import write_overview
from sheetgen.report.page import Page, SessionResults, Texts, student_codes
from sheetgen.report.precision_pages import pile_up_page, precision_page, repeat_page
from sheetgen.report.talk_page import talk_page
from sheetgen.report.writing import formats_of, write_page

__all__ = ["report_bytes"]

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
