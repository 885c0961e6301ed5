"""The tabs that compare: measurers of the same person, students with the teacher, calipers."""

from collections.abc import Mapping, Sequence

from sheetgen.report.page import (
    Chart,
    Heading,
    Page,
    Section,
    Texts,
    Value,
    said_once,
    sentence,
    shown,
    span,
)
from sheetgen.report.precision_pages import limit_columns, limit_headings
from sheetgen.statistics.agreement import Agreement
from sheetgen.statistics.analysis import ClassAnalysis, caliper_words, reason_words
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport
from sheetgen.statistics.precision import CriterionAgreement, ObserverPrecision
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Interval, TechnicalError, Undefined
from sheetgen.texts.languages import shown_number, with_decimal_sign


def agreement_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab Agreement.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    left_out = sheet_count(analysis.rounds) - sheet_count(analysis.apart)
    reasons = [_between_reason(one, texts) for one in analysis.between]
    once = said_once(reasons, texts)
    sentences = [
        texts["report_agreement.between"],
        texts["report_agreement.limits"].format(source=texts["report_data.limits_source"]),
        texts["report_agreement.icc"],
        *once,
    ]
    if left_out:
        sentences.append(texts["report_agreement.left_out"].format(count=left_out))
    measured = any(one.people for one in analysis.between)
    rows = tuple(
        _between(one, titles, "" if once else reason, texts)
        for one, reason in zip(analysis.between, reasons, strict=True)
    )
    return Page(
        texts["report_agreement.tab"],
        texts["report_agreement.title"].format(session=analysis.session),
        tuple(sentences),
        _between_headings(texts) if measured else (),
        rows if measured else (),
        more=(_against_section(analysis.criterion, titles, texts),),
    )


def _between_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_heading.site"], 16),
        Heading(texts["report_heading.people"], 9, "text"),
        Heading(texts["report_agreement.measured_by"], 11, "text"),
        Heading(texts["report_agreement.tem_between"], 12, "result_2"),
        Heading(texts["report_heading.interval_mm"], 15),
        Heading(texts["report_heading.tem_percent"], 11, "result_1"),
        *limit_headings("between", texts),
        Heading(texts["report_agreement.total_tem"], 11, "result_2"),
        Heading(texts["report_agreement.icc_heading"], 12, "result_2"),
        Heading(texts["report_heading.interval"], 15),
        Heading(texts["report_heading.in_words"], 30),
    )


def _between_reason(one: ObserverPrecision, texts: Texts) -> str:
    parts = (one.error, one.relative, one.total, one.correlation)
    return next((reason_words(part, texts) for part in parts if isinstance(part, Undefined)), "")


def _between(
    one: ObserverPrecision, titles: Mapping[str, str], words: str, texts: Texts
) -> tuple[Value, ...]:
    found = one.correlation
    return (
        titles.get(one.site, one.site),
        one.people,
        one.measurements,
        one.error.value if isinstance(one.error, TechnicalError) else None,
        span(one.interval, texts),
        shown(one.relative),
        *limit_columns(one.limits),
        shown(one.total),
        *((None, "") if isinstance(found, Undefined) else (found.value, span(found.interval, texts))),
        words,
    )


def _against_section(
    found: tuple[CriterionAgreement, ...] | Undefined, titles: Mapping[str, str], texts: Texts
) -> Section:
    title = texts["report_agreement.against"]
    if isinstance(found, Undefined):
        reason = reason_words(found, texts)
        return Section(title, (texts["report_agreement.cannot_be_given"].format(reason=reason),))
    multipliers = {one.agreement.multiplier for one in found if isinstance(one.agreement, Agreement)}
    reasons = [_against_reason(one, texts) for one in found]
    once = said_once(reasons, texts)
    sentences = (
        texts["report_agreement.against_hint"],
        *(
            texts["report_agreement.against_limits"].format(multiplier=shown_number(multiplier, texts))
            for multiplier in sorted(multipliers)
        ),
        *once,
    )
    rows = tuple(
        _against(one, titles, "" if once else reason, texts)
        for one, reason in zip(found, reasons, strict=True)
    )
    return Section(title, sentences, _against_headings(texts), rows)


def _against_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_heading.site"], 16),
        Heading(texts["report_heading.people"], 9, "text"),
        Heading(texts["report_heading.sheets"], 11, "text"),
        Heading(texts["report_heading.mean_difference"], 12, "result_2"),
        Heading(texts["report_heading.interval_mm"], 15),
        Heading(texts["report_agreement.standard_deviation"], 11, "result_2"),
        Heading(texts["report_heading.lower_limit"], 12, "result_2"),
        Heading(texts["report_heading.interval_mm"], 12),
        Heading("", 11, "text"),
        Heading(texts["report_heading.upper_limit"], 12, "result_2"),
        Heading(texts["report_heading.interval_mm"], 15),
        Heading(texts["report_heading.in_words"], 30),
    )


def _against_reason(one: CriterionAgreement, texts: Texts) -> str:
    if isinstance(one.agreement, Undefined):
        return reason_words(one.agreement, texts)
    interval = one.agreement.mean_interval
    return reason_words(interval, texts) if isinstance(interval, Undefined) else ""


def _against(
    one: CriterionAgreement, titles: Mapping[str, str], words: str, texts: Texts
) -> tuple[Value, ...]:
    site, found = titles.get(one.site, one.site), one.agreement
    if isinstance(found, Undefined):
        return (site, one.people, len(one.points), *([None] * 8), words)
    return (
        site,
        one.people,
        found.pairs,
        found.mean_difference,
        span(found.mean_interval, texts),
        found.standard_deviation,
        found.lower_limit,
        span(found.lower_interval, texts),
        None,
        found.upper_limit,
        span(found.upper_interval, texts),
        words,
    )


def plots_page(
    found: Sequence[CriterionAgreement], session: int, titles: Mapping[str, str], texts: Texts
) -> Page:
    """Return the tab Agreement plots: difference against mean, a chart a site.

    Notes
    -----
    One row a sheet and site; the rows of a site stand together and carry its limits, for its chart.
    """
    rows: list[tuple[Value, ...]] = []
    charts = []
    for one in found:
        limits: tuple[Value, ...] = (None, None, None)
        if isinstance(one.agreement, Agreement):
            limits = (one.agreement.lower_limit, one.agreement.mean_difference, one.agreement.upper_limit)
        title = titles.get(one.site, one.site)
        first = len(rows)
        rows += [
            (title, point.participant_code, point.copy_code, point.mean_mm, point.difference_mm, *limits)
            for point in one.points
        ]
        if one.points:
            lines = () if limits[0] is None else (5, 6, 7)
            charts.append(Chart("scatter", title, 3, 4, lines, rows=(first, len(rows) - 1)))
    return Page(
        texts["report_plots.tab"],
        texts["report_plots.title"].format(session=session),
        (texts["report_plots.hint"],),
        (
            Heading(texts["report_heading.site"], 18),
            Heading(texts["report_heading.participant"], 18),
            Heading(texts["report_heading.sheet"], 18),
            Heading(texts["report_plots.mean_of_both"], 18, "result_2"),
            Heading(texts["report_plots.less_teacher"], 18, "result_2"),
            Heading(texts["report_heading.lower_limit"], 18, "result_2"),
            Heading(texts["report_heading.mean_difference"], 18, "result_2"),
            Heading(texts["report_heading.upper_limit"], 18, "result_2"),
        ),
        tuple(rows),
        charts=tuple(charts),
        above=True,
    )


def calipers_page(analysis: ClassAnalysis, texts: Texts) -> Page:
    """Return the tab Calipers."""
    report = analysis.calipers
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets
    rows = tuple(_offset(one, texts) for one in offsets)
    known = any(row[4] is not None for row in rows)
    return Page(
        texts["report_calipers.tab"],
        texts["report_calipers.title"].format(session=analysis.session),
        _caliper_sentences(
            report, offsets, sheet_count(analysis.rounds) - sheet_count(analysis.apart), texts
        ),
        _offset_headings(texts) if offsets else (),
        rows,
        charts=(Chart("column", texts["report_calipers.chart"], 0, 4, reach=5),) if known else (),
        more=(_zeros(report, texts),),
    )


def _offset_headings(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_heading.caliper"], 14, "label"),
        Heading(texts["report_heading.sheets"], 11, "text"),
        Heading(texts["report_heading.people"], 9, "text"),
        Heading(texts["report_calipers.measurers"], 11, "text"),
        Heading(texts["report_calipers.reads_higher"], 12, "result_2"),
        Heading(texts["report_calipers.plus_or_minus"], 12, "result_2"),
        Heading(texts["report_calipers.near_zero"], 16, "result_2"),
        Heading(texts["report_heading.in_words"], 46),
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
    left_out = (
        (report.left_out, "report_calipers.left_out_unclear"),
        (report.far_off, "report_calipers.left_out_far"),
        (same, "report_calipers.left_out_same"),
    )
    parts = "; ".join(texts[key].format(count=number) for number, key in left_out if number)
    return (*sentences, *([texts["report_calipers.left_out"].format(parts=parts)] if parts else []))


def _offset(one: CaliperOffset, texts: Texts) -> tuple[Value, ...]:
    return (
        one.caliper_id,
        one.sheets,
        one.people,
        one.measurers,
        shown(one.offset),
        None if isinstance(one.interval, Undefined) else (one.interval.upper - one.interval.lower) / 2,
        one.near_mm,
        caliper_words(one, texts),
    )


def _zeros(report: CaliperReport, texts: Texts) -> Section:
    if not report.zero_differences:
        return Section(texts["report_calipers.zeros"], (texts["report_calipers.zeros_alike"],))
    return Section(
        texts["report_calipers.zeros"],
        (texts["report_calipers.zeros_hint"],),
        (
            Heading(texts["report_heading.caliper"], 14, "label"),
            Heading(texts["report_heading.sheet"], 11),
            Heading(texts["report_calipers.typed"], 9, "result_2"),
            Heading(texts["report_calipers.registered"], 11, "result_2"),
        ),
        tuple(
            (one.caliper_id, one.copy_code, one.typed_mm, one.registered_mm)
            for one in report.zero_differences
        ),
    )
