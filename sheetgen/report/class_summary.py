"""The tab For the class: one page without values of anybody, to be projected on a wall."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.class_words import digit_words
from sheetgen.checking.readings_frame import sheet_count
from sheetgen.core.outcome import Undefined
from sheetgen.layout.number_text import shown_number
from sheetgen.report.page import Chart, Heading, Page, Texts, Value

__all__ = ["SMALL_CELL", "class_summary_page", "count_words"]

SMALL_CELL = 5
"""Counts of people below this are hidden from the class: common in official statistics, no one source."""


def count_words(count: int, of: int, texts: Texts) -> str:
    """Return a count that gives nobody away, neither those counted nor the rest.

    Examples
    --------
    >>> count_words(12, 30, {})
    '12'
    >>> count_words(3, 30, {"report_summary.fewer_than": "fewer than {least}"})
    'fewer than 5'
    >>> count_words(28, 30, {"report_summary.nearly_all": "nearly all"})
    'nearly all'
    """
    if count < SMALL_CELL:
        return texts["report_summary.fewer_than"].format(least=SMALL_CELL)
    return str(count) if of - count >= SMALL_CELL else texts["report_summary.nearly_all"]


def class_summary_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab For the class.

    Notes
    -----
    Students only. No number of those missing, so that nobody is worked out by taking away.
    """
    tab, title = texts["report_summary.tab"], texts["report_summary.title"].format(session=analysis.session)
    of_students = analysis.rounds[~analysis.rounds["is_teacher"]]
    if of_students["student_id"].nunique() < SMALL_CELL:
        words = texts["report_summary.too_few"].format(least=SMALL_CELL)
        return Page(tab, title, (words,), (), (), wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            titles.get(one.site, one.site),
            relative.get(one.site) if one.sheets >= SMALL_CELL else None,
            count_words(one.needed, one.sheets, texts),
        )
        for one in analysis.thirds
    )
    return Page(
        tab,
        title,
        (
            texts["report_summary.sheets"].format(count=sheet_count(of_students)),
            _worst(analysis, titles, texts),
            *_digits(analysis, texts),
        ),
        (
            Heading(texts["report_heading.site"], 34),
            Heading(texts["report_summary.error"], 38, "result_1"),
            Heading(texts["report_summary.third_needed_sheets"], 38),
        ),
        rows,
        charts=(Chart("column", texts["report_summary.chart"], 0, 1),) if relative else (),
        wall=True,
    )


def _worst(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> str:
    worst = analysis.worst
    if isinstance(worst, Undefined):
        return texts["report_summary.no_worst"]
    key = "report_summary.worst_beyond_chance" if worst.stands_out else "report_summary.worst_by_chance"
    return texts[key].format(site=titles.get(worst.site, worst.site))


def _digits(analysis: ClassAnalysis, texts: Texts) -> tuple[str, ...]:
    found = [scale for scale in analysis.digits if scale.piles_up and scale.sheets >= SMALL_CELL]
    if not found:
        return (texts["report_summary.no_digit"],)
    return tuple(
        texts["report_summary.digits"].format(
            division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
        )
        for scale in found
    )
