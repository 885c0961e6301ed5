"""The tab Readings that pile up: final digits, a second round thinner everywhere, pairs all alike."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.precision_readings import CompressionReport, DigitPreference, IdenticalReport
from sheetgen.core.digits import DigitTest, SignTest
from sheetgen.core.outcome import Undefined
from sheetgen.report.page import Chart, Heading, Page, Section, Value
from sheetgen.report.shown import short

__all__ = ["pile_up_page"]


def pile_up_page(analysis: ClassAnalysis, codes: Mapping[str, str]) -> Page:
    """Return the tab Readings that pile up.

    Parameters
    ----------
    codes : what stands for each student_id.
    """
    rows: list[tuple[Value, ...]] = []
    charts = []
    for scale in analysis.digits:
        first = len(rows)
        rows += _digits(scale)
        title = f"Final digits of round 1, scales of {scale.division_mm:g} mm"
        charts.append(Chart("column", title, 1, 2, (3,), rows=(first, len(rows) - 1)))
    return Page(
        "Readings that pile up",
        f"Readings that pile up, session {analysis.session}",
        (
            "Questions, not accusations: each of these happens by chance too.",
            *(_scale_words(scale) for scale in analysis.digits),
        ),
        (
            Heading("Scale", 16),
            Heading("Final digit", 12),
            Heading("Readings", 12, "text"),
            Heading("Expected if all alike", 14, "result_1"),
        ),
        tuple(rows),
        charts=tuple(charts),
        more=(_thinner(analysis.compression, codes), _identical(analysis.identical, codes)),
    )


def _scale_words(scale: DigitPreference) -> str:
    chance = f" (chance {short(scale.test.probability)})" if isinstance(scale.test, DigitTest) else ""
    off = f" Readings that the scale cannot show: {scale.counts.off_scale}." if scale.counts.off_scale else ""
    return f"Scales of {scale.division_mm:g} mm, {scale.sheets} sheets: {scale.words}{chance}.{off}"


def _digits(scale: DigitPreference) -> list[tuple[Value, ...]]:
    expected = sum(scale.counts.counts) / len(scale.counts.digits)
    return [
        (f"{scale.division_mm:g} mm", str(digit), count, expected)
        for digit, count in zip(scale.counts.digits, scale.counts.counts, strict=True)
    ]


def _thinner(report: CompressionReport, codes: Mapping[str, str]) -> Section:
    whole = report.whole_class
    words = (
        whole.reason
        if isinstance(whole, Undefined)
        else f"round 2 thinner in {whole.lower} of {whole.lower + whole.higher} pairs that differ "
        f"(chance of so many or more {short(whole.probability)})"
    )
    sentences = (
        f"Whole class: {words}.",
        f"Students expected to be thinner everywhere by chance alone: {short(report.expected_everywhere)}.",
    )
    found = [one for one in report.students if one.everywhere and isinstance(one.test, SignTest)]
    if not found:
        return Section("Second round thinner", (*sentences, "No student is thinner everywhere."))
    rows = [
        (
            codes.get(one.student_id) or f"sheet {one.copy_codes[0]}",
            one.test.lower,
            one.test.equal,
            "",
            one.words,
        )
        for one in found
        if isinstance(one.test, SignTest)
    ]
    return Section(
        "Second round thinner",
        sentences,
        (
            Heading("Student code", 16, "label"),
            Heading("Thinner", 12, "text"),
            Heading("Equal", 12, "text"),
            Heading("", 14, "text"),
            Heading("In words", 64),
        ),
        tuple(sorted(rows)),
    )


def _identical(report: IdenticalReport, codes: Mapping[str, str]) -> Section:
    expected = f"Honest sheets expected to be so by chance: {short(report.expected)}."
    title = "Round 2 equal to round 1 at every site"
    if not report.records:
        return Section(title, (expected, "No sheet is so."))
    rows = (
        (
            codes.get(one.student_id) or "",
            one.copy_code,
            one.sites,
            None if isinstance(one.chance, Undefined) else short(one.chance),
            one.words,
        )
        for one in report.records
    )
    return Section(
        title,
        (expected,),
        (
            Heading("Student code", 16, "label"),
            Heading("Sheet", 12),
            Heading("Sites", 12, "text"),
            Heading("Chance", 14),
            Heading("In words", 64),
        ),
        tuple(rows),
    )
