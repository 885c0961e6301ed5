"""The tabs that compare: measurers of the same person, students with the teacher, calipers."""

from collections.abc import Mapping, Sequence

from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    Section,
    Texts,
    counted,
    named,
    reason,
    said_once,
    sentence,
    site_column,
    table,
)
from sheetgen.report.precision_pages import LIMIT_COLUMNS
from sheetgen.statistics.agreement import Agreement
from sheetgen.statistics.analysis import ClassAnalysis, caliper_words, reason_words
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport
from sheetgen.statistics.precision import CriterionAgreement
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Interval, Undefined
from sheetgen.texts.languages import shown_number, with_decimal_sign

_BETWEEN = ("error", "relative", "total", "correlation")
_AGAINST = ("agreement.mean_interval",)
"""Figures, of which the first that cannot be given says why."""


def agreement_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab Agreement; titles : of the sites, by code word."""
    once = said_once([reason(one, _BETWEEN, texts) for one in analysis.between], texts)
    columns = (
        site_column(titles, 16),
        Column("report_heading.people", 9, "people", "text"),
        Column("report_agreement.measured_by", 11, "measurements", "text"),
        Column("report_agreement.tem_between", 12, "error.value", "result_2"),
        Column("report_heading.interval_mm", 15, "interval"),
        Column("report_heading.tem_percent", 11, "relative", "result_1"),
        *LIMIT_COLUMNS,
        Column("report_agreement.total_tem", 11, "total", "result_2"),
        Column("report_agreement.icc_heading", 12, "correlation.value", "result_2"),
        Column("report_heading.interval", 15, "correlation.interval"),
        Column("report_heading.in_words", 30, lambda one: "" if once else reason(one, _BETWEEN, texts)),
    )
    measured = any(one.people for one in analysis.between)
    return Page(
        *named("report_agreement", texts, session=analysis.session),
        (
            texts["report_agreement.between"],
            texts["report_agreement.limits"].format(source=texts["report_data.limits_source"]),
            texts["report_agreement.icc"],
            *once,
            *counted("report_agreement.left_out", _sheets_apart(analysis), texts),
        ),
        *table(columns if measured else (), analysis.between if measured else (), texts),
        more=(_against_section(analysis.criterion, titles, texts),),
    )


def _sheets_apart(analysis: ClassAnalysis) -> int:
    """How many sheets are left out because another has the same numbers."""
    return sheet_count(analysis.rounds) - sheet_count(analysis.apart)


def _against_section(
    found: tuple[CriterionAgreement, ...] | Undefined, titles: Mapping[str, str], texts: Texts
) -> Section:
    title = texts["report_agreement.against"]
    if isinstance(found, Undefined):
        words = reason_words(found, texts)
        return Section(title, (texts["report_agreement.cannot_be_given"].format(reason=words),))
    multipliers = {one.agreement.multiplier for one in found if isinstance(one.agreement, Agreement)}
    limits = texts["report_agreement.against_limits"]
    once = said_once([reason(one, _AGAINST, texts) for one in found], texts)

    def pairs(one: CriterionAgreement) -> int:
        return one.agreement.pairs if isinstance(one.agreement, Agreement) else len(one.points)

    columns = (
        site_column(titles, 16),
        Column("report_heading.people", 9, "people", "text"),
        Column("report_heading.sheets", 11, pairs, "text"),
        Column("report_heading.mean_difference", 12, "agreement.mean_difference", "result_2"),
        Column("report_heading.interval_mm", 15, "agreement.mean_interval"),
        Column("report_agreement.standard_deviation", 11, "agreement.standard_deviation", "result_2"),
        Column("report_heading.lower_limit", 12, "agreement.lower_limit", "result_2"),
        Column("report_heading.interval_mm", 12, "agreement.lower_interval"),
        Column("", 11, lambda one: None, "text"),
        Column("report_heading.upper_limit", 12, "agreement.upper_limit", "result_2"),
        Column("report_heading.interval_mm", 15, "agreement.upper_interval"),
        Column("report_heading.in_words", 30, lambda one: "" if once else reason(one, _AGAINST, texts)),
    )
    sentences = (
        texts["report_agreement.against_hint"],
        *(limits.format(multiplier=shown_number(one, texts)) for one in sorted(multipliers)),
        *once,
    )
    return Section(title, sentences, *table(columns, found, texts))


def plots_page(
    found: Sequence[CriterionAgreement], session: int, titles: Mapping[str, str], texts: Texts
) -> Page:
    """Return the tab Agreement plots: difference against mean, a chart a site.

    Notes
    -----
    One row a sheet and site; the rows of a site stand together and carry its limits, for its chart.
    """
    columns = (
        site_column(titles, 18, "0.site"),
        Column("report_heading.participant", 18, "1.participant_code"),
        Column("report_heading.sheet", 18, "1.copy_code"),
        Column("report_plots.mean_of_both", 18, "1.mean_mm", "result_2"),
        Column("report_plots.less_teacher", 18, "1.difference_mm", "result_2"),
        Column("report_heading.lower_limit", 18, "0.agreement.lower_limit", "result_2"),
        Column("report_heading.mean_difference", 18, "0.agreement.mean_difference", "result_2"),
        Column("report_heading.upper_limit", 18, "0.agreement.upper_limit", "result_2"),
    )
    charts, first = [], 0
    for one in found:
        lines = (5, 6, 7) if isinstance(one.agreement, Agreement) else ()
        after = first + len(one.points)
        if one.points:
            title = titles.get(one.site, one.site)
            charts.append(Chart("scatter", title, 3, 4, lines, rows=(first, after - 1)))
        first = after
    return Page(
        *named("report_plots", texts, session=session),
        (texts["report_plots.hint"],),
        *table(columns, ((one, point) for one in found for point in one.points), texts),
        charts=tuple(charts),
        above=True,
    )


def calipers_page(analysis: ClassAnalysis, texts: Texts) -> Page:
    """Return the tab Calipers."""
    report = analysis.calipers
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets

    def reach(one: CaliperOffset) -> float | None:
        return None if isinstance(one.interval, Undefined) else (one.interval.upper - one.interval.lower) / 2

    columns = (
        Column("report_heading.caliper", 14, "caliper_id", "label"),
        Column("report_heading.sheets", 11, "sheets", "text"),
        Column("report_heading.people", 9, "people", "text"),
        Column("report_calipers.measurers", 11, "measurers", "text"),
        Column("report_calipers.reads_higher", 12, "offset", "result_2"),
        Column("report_calipers.plus_or_minus", 12, reach, "result_2"),
        Column("report_calipers.near_zero", 16, "near_mm", "result_2"),
        Column("report_heading.in_words", 46, lambda one: caliper_words(one, texts)),
    )
    known = any(not isinstance(one.offset, Undefined) for one in offsets)
    return Page(
        *named("report_calipers", texts, session=analysis.session),
        _caliper_sentences(report, offsets, _sheets_apart(analysis), texts),
        *table(columns if offsets else (), offsets, texts),
        charts=(Chart("column", texts["report_calipers.chart"], 0, 4, reach=5),) if known else (),
        more=(_zeros(report, texts),),
    )


def _caliper_sentences(
    report: CaliperReport, offsets: tuple[CaliperOffset, ...], same: int, texts: Texts
) -> tuple[str, ...]:
    if isinstance(report.offsets, Undefined):
        sentences = [f"{sentence(reason_words(report.offsets, texts))}."]
    else:
        sentences = [texts["report_calipers.compared"], texts["report_calipers.rule"]]
    confidence = {one.interval.confidence for one in offsets if isinstance(one.interval, Interval)}
    sentences += [
        texts["report_calipers.interval"].format(percent=with_decimal_sign(f"{100 * one:.4g}", texts))
        for one in sorted(confidence)
    ]
    parts = (
        *counted("report_calipers.left_out_unclear", report.left_out, texts),
        *counted("report_calipers.left_out_far", report.far_off, texts),
        *counted("report_calipers.left_out_same", same, texts),
    )
    left_out = texts["report_calipers.left_out"].format(parts="; ".join(parts))
    return (*sentences, left_out) if parts else tuple(sentences)


def _zeros(report: CaliperReport, texts: Texts) -> Section:
    columns = (
        Column("report_heading.caliper", 14, "caliper_id", "label"),
        Column("report_heading.sheet", 11, "copy_code"),
        Column("report_calipers.typed", 9, "typed_mm", "result_2"),
        Column("report_calipers.registered", 11, "registered_mm", "result_2"),
    )
    differing = report.zero_differences
    hint = texts["report_calipers.zeros_hint" if differing else "report_calipers.zeros_alike"]
    shown = table(columns if differing else (), differing, texts)
    return Section(texts["report_calipers.zeros"], (hint,), *shown)
