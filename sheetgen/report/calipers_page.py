"""The tab Calipers: which reads off against the others, and zeros that are not the registered ones."""

from sheetgen.checking.calipers import CaliperOffset, CaliperReport
from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.class_words import caliper_words, reason_words
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.layout.number_text import with_decimal_sign
from sheetgen.report.page import Chart, Heading, Page, Section, Texts, Value, sentence, shown

__all__ = ["calipers_page"]


def calipers_page(analysis: ClassAnalysis, texts: Texts) -> Page:
    """Return the tab Calipers."""
    report = analysis.calipers
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets
    rows = tuple(_offset(one, texts) for one in offsets)
    known = any(row[4] is not None for row in rows)
    return Page(
        texts["report_calipers.tab"],
        texts["report_calipers.title"].format(session=analysis.session),
        _sentences(report, offsets, len(analysis.sheets) - len(analysis.apart), texts),
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


def _sentences(
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
