"""The tab For the class: one page without values of anybody, to be projected on a wall."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.core.outcome import Undefined
from sheetgen.report.page import Chart, Heading, Page, Value

__all__ = ["SMALL_CELL", "class_summary_page", "count_words"]

SMALL_CELL = 5
"""Counts of people below this are hidden from the class: common in official statistics, no one source."""


def count_words(count: int, of: int) -> str:
    """Return a count that gives nobody away, neither those counted nor the rest.

    Examples
    --------
    >>> count_words(3, 30), count_words(12, 30), count_words(28, 30)
    ('fewer than 5', '12', 'nearly all')
    """
    if count < SMALL_CELL:
        return f"fewer than {SMALL_CELL}"
    return str(count) if of - count >= SMALL_CELL else "nearly all"


def class_summary_page(analysis: ClassAnalysis, titles: Mapping[str, str]) -> Page:
    """Return the tab For the class.

    Notes
    -----
    Students only. No number of those missing, so that nobody is worked out by taking away.
    """
    tab, title = "For the class", f"How we measured, session {analysis.session}"
    students = {sheet.student_id for sheet in analysis.sheets if not sheet.is_teacher}
    sheets = sum(not sheet.is_teacher for sheet in analysis.sheets)
    if len(students) < SMALL_CELL:
        words = f"Fewer than {SMALL_CELL} students handed in a sheet that counts: nothing is shown."
        return Page(tab, title, (words,), (), (), wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            titles.get(one.site, one.site),
            relative.get(one.site) if one.sheets >= SMALL_CELL else None,
            count_words(one.needed, one.sheets),
        )
        for one in analysis.thirds
    )
    charts = (Chart("column", "How far two readings of a fold lie apart, % of the fold", 0, 1),)
    return Page(
        tab,
        title,
        (f"{sheets} sheets are in this picture.", _worst(analysis, titles), *_digits(analysis)),
        (
            Heading("Site", 34),
            Heading("Error, % of the fold", 38, "result_1"),
            Heading("Third reading needed, sheets", 38),
        ),
        rows,
        charts=charts if relative else (),
        wall=True,
    )


def _worst(analysis: ClassAnalysis, titles: Mapping[str, str]) -> str:
    worst = analysis.worst
    if isinstance(worst, Undefined):
        return "Too few readings to say which site to work on."
    title = titles.get(worst.site, worst.site)
    if worst.stands_out:
        return f"The site to work on: {title}. It repeats worst, by more than chance."
    return f"{title} repeats worst, but by no more than chance."


def _digits(analysis: ClassAnalysis) -> tuple[str, ...]:
    found = [scale for scale in analysis.digits if scale.piles_up and scale.sheets >= SMALL_CELL]
    if not found:
        return ("No final digit stands out among the readings.",)
    return tuple(f"Scales of {scale.division_mm:g} mm: {scale.words}." for scale in found)
