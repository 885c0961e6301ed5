"""What compares on the tab How we measured: measurers of the same person, with the teacher, calipers."""

from collections.abc import Mapping, Sequence

from sheetgen.report.page import Chart, Column, Section, Texts, counted, site_column, table
from sheetgen.statistics.agreement import Agreement, Comparison, acceptable_limit
from sheetgen.statistics.analysis import ClassAnalysis, between_words, caliper_words, criterion_words
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport
from sheetgen.statistics.precision import CriterionAgreement
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Interval, Undefined
from sheetgen.texts.languages import shown_number, with_decimal_sign


def limit_columns(comparison: Comparison) -> tuple[Column, ...]:
    """Return the columns of the published limits of the relative TEM."""
    beginner, skilled = (acceptable_limit(comparison, who) for who in ("beginner", "skilled"))
    return (
        Column("report_precision.limit_beginner", 7, lambda one: beginner, "result_1"),
        Column("report_precision.limit_skilled", 7, lambda one: skilled, "result_1"),
    )


def agreement_sections(
    analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts
) -> tuple[Section, ...]:
    """Return the agreement of students with each other and with the teacher, each where it can be given."""
    found = analysis.criterion
    against = () if isinstance(found, Undefined) else (_against_section(found, titles, texts),)
    if not any(one.people for one in analysis.between):
        return against
    columns = (
        site_column(titles, 12),
        Column("report_heading.people", 6, "people", "text"),
        Column("report_agreement.tem_between", 7, "error.value", "result_2"),
        Column("report_heading.tem_percent", 7, "relative", "result_1"),
        Column("report_agreement.total_tem", 6, "total", "result_2"),
        Column("report_agreement.icc_heading", 6, "correlation.value", "result_2"),
        *limit_columns("between"),
        Column("report_heading.in_words", 26, lambda one: between_words(one, texts)),
    )
    said = (
        texts["report_agreement.between"],
        texts["report_agreement.total"],
        texts["report_agreement.icc"],
        *counted("report_agreement.left_out", _sheets_apart(analysis), texts),
    )
    between = Section(texts["report_agreement.title"], said, *table(columns, analysis.between, texts))
    return (between, *against)


def _sheets_apart(analysis: ClassAnalysis) -> int:
    """How many sheets are left out because another has the same numbers."""
    return sheet_count(analysis.rounds) - sheet_count(analysis.apart)


def _against_section(found: Sequence[CriterionAgreement], titles: Mapping[str, str], texts: Texts) -> Section:
    multipliers = {one.agreement.multiplier for one in found if isinstance(one.agreement, Agreement)}
    limits = texts["report_agreement.against_limits"]
    columns = (
        site_column(titles, 12),
        Column("report_heading.people", 6, "people", "text"),
        Column("report_agreement.standard_deviation", 7, "agreement.standard_deviation", "result_2"),
        Column("report_heading.mean_difference", 7, "agreement.mean_difference", "result_2"),
        Column("report_heading.lower_limit", 6, "agreement.lower_limit", "result_2"),
        Column("report_heading.upper_limit", 6, "agreement.upper_limit", "result_2"),
        Column("report_agreement.lower_interval", 7, "agreement.lower_interval"),
        Column("report_agreement.upper_interval", 7, "agreement.upper_interval"),
        Column("report_heading.in_words", 26, lambda one: criterion_words(one, texts)),
    )
    sentences = (
        texts["report_agreement.against_hint"],
        *(limits.format(multiplier=shown_number(one, texts)) for one in sorted(multipliers)),
    )
    return Section(texts["report_agreement.against"], sentences, *table(columns, found, texts))


def caliper_sections(analysis: ClassAnalysis, texts: Texts) -> tuple[Section, ...]:
    """Return the calipers side by side, and the zeros that differ, each where there is something to say."""
    report = analysis.calipers
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets

    def reach(one: CaliperOffset) -> float | None:
        return None if isinstance(one.interval, Undefined) else (one.interval.upper - one.interval.lower) / 2

    columns = (
        Column("report_heading.caliper", 12, "caliper_id", "label"),
        Column("report_heading.people", 6, "people", "text"),
        Column("report_heading.sheets", 7, "sheets", "text"),
        Column("report_calipers.reads_higher", 7, "offset", "result_2"),
        Column("report_calipers.plus_or_minus", 6, reach, "result_2"),
        Column("report_calipers.measurers", 6, "measurers", "text"),
        Column("report_calipers.near_zero", 7, "near_mm", "result_2"),
        Column("", 7, lambda one: None),
        Column("report_heading.in_words", 26, lambda one: caliper_words(one, texts)),
    )
    known = any(isinstance(one.interval, Interval) for one in offsets)
    charts = (Chart(texts["report_calipers.chart"], 0, 3, reach=(4, 4)),) if known else ()
    sections = []
    if offsets:
        said = _caliper_sentences(report, offsets, _sheets_apart(analysis), texts)
        sections.append(
            Section(texts["report_calipers.title"], said, *table(columns, offsets, texts), charts)
        )
    zeros = tuple(
        texts["report_calipers.zero"].format(
            sheet=one.copy_code,
            caliper=one.caliper_id,
            typed=shown_number(one.typed_mm, texts),
            registered=shown_number(one.registered_mm, texts),
        )
        for one in report.zero_differences
    )
    if zeros:
        sections.append(
            Section(texts["report_calipers.zeros"], (*zeros, texts["report_calipers.zeros_hint"]))
        )
    return tuple(sections)


def _caliper_sentences(
    report: CaliperReport, offsets: tuple[CaliperOffset, ...], same: int, texts: Texts
) -> tuple[str, ...]:
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
