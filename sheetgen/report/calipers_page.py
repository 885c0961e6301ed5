"""The tab Calipers: which reads off against the others, and zeros that are not the registered ones."""

from sheetgen.checking.calipers import CaliperOffset, CaliperReport
from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.report.page import Chart, Heading, Page, Section, Value
from sheetgen.report.shown import shown

__all__ = ["calipers_page"]


def calipers_page(analysis: ClassAnalysis) -> Page:
    """Return the tab Calipers."""
    report = analysis.calipers
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets
    rows = tuple(_offset(one) for one in offsets)
    known = any(row[4] is not None for row in rows)
    return Page(
        "Calipers",
        f"Calipers, session {analysis.session}",
        _sentences(report, offsets, len(analysis.sheets) - len(analysis.apart)),
        _OFFSETS if offsets else (),
        rows,
        charts=(Chart("column", "Each caliper against the others, with its interval", 0, 4, reach=5),)
        if known
        else (),
        more=(_zeros(report),),
    )


_OFFSETS = (
    Heading("Caliper", 14, "label"),
    Heading("Sheets", 11, "text"),
    Heading("People", 9, "text"),
    Heading("Measurers", 11, "text"),
    Heading("Reads higher by, mm", 12, "result_2"),
    Heading("plus or minus, mm", 12, "result_2"),
    Heading("Zero that looks forgotten, mm", 16, "result_2"),
    Heading("In words", 46),
)


def _sentences(report: CaliperReport, offsets: tuple[CaliperOffset, ...], same: int) -> tuple[str, ...]:
    if isinstance(report.offsets, Undefined):
        sentences = [f"{report.offsets.reason[0].upper()}{report.offsets.reason[1:]}."]
    else:
        sentences = [
            "Each caliper against the others on the same people, with measurers who differ allowed for.",
            f"{report.rule[0].upper()}{report.rule[1:]}.",
        ]
    confidence = {one.interval.confidence for one in offsets if isinstance(one.interval, Interval)}
    sentences += [f"Each interval is one of {100 * one:.4g} %." for one in sorted(confidence)]
    left_out = (
        (report.left_out, "with two calipers, one not registered, or a zero that is not the registered one"),
        (report.far_off, "too far from the others about their person to be reading error"),
        (same, "with the same numbers as another, see To talk to"),
    )
    parts = [f"{number} {words}" for number, words in left_out if number]
    return (*sentences, *([f"Sheets left out: {'; '.join(parts)}."] if parts else []))


def _offset(one: CaliperOffset) -> tuple[Value, ...]:
    return (
        one.caliper_id,
        one.sheets,
        one.people,
        one.measurers,
        shown(one.offset),
        None if isinstance(one.interval, Undefined) else (one.interval.upper - one.interval.lower) / 2,
        one.near_mm,
        one.words,
    )


def _zeros(report: CaliperReport) -> Section:
    if not report.zero_differences:
        return Section("Registered zero against typed zero", ("Every typed zero is the registered one.",))
    return Section(
        "Registered zero against typed zero",
        ("Exact, whatever the readings. Look at the caliper closed, then correct what is wrong.",),
        (
            Heading("Caliper", 14, "label"),
            Heading("Sheet", 11),
            Heading("Typed, mm", 9, "result_2"),
            Heading("Registered, mm", 11, "result_2"),
        ),
        tuple(
            (one.caliper_id, one.copy_code, one.typed_mm, one.registered_mm)
            for one in report.zero_differences
        ),
    )
