"""The tab Readings that pile up: final digits, a second round thinner everywhere, pairs all alike."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.class_words import digit_words, identical_words, reason_words, thinner_words
from sheetgen.checking.precision_readings import CompressionReport, DigitPreference, IdenticalReport
from sheetgen.core.digits import DigitTest, SignTest
from sheetgen.core.outcome import Undefined
from sheetgen.layout.number_text import shown_number
from sheetgen.report.page import Chart, Heading, Page, Section, Texts, Value, code_of, short

__all__ = ["pile_up_page"]


def pile_up_page(analysis: ClassAnalysis, codes: Mapping[str, str], texts: Texts) -> Page:
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
        title = texts["report_pile_up.chart"].format(division=shown_number(scale.division_mm, texts))
        charts.append(Chart("column", title, 1, 2, (3,), rows=(first, len(rows) - 1)))
    return Page(
        texts["report_pile_up.tab"],
        texts["report_pile_up.title"].format(session=analysis.session),
        (texts["report_pile_up.hint"], *(_scale_words(scale, texts) for scale in analysis.digits)),
        (
            Heading(texts["report_pile_up.scale"], 16),
            Heading(texts["report_pile_up.digit"], 12),
            Heading(texts["report_pile_up.readings"], 12, "text"),
            Heading(texts["report_pile_up.expected"], 14, "result_1"),
        ),
        tuple(rows),
        charts=tuple(charts),
        more=(_thinner(analysis.compression, codes, texts), _identical(analysis.identical, codes, texts)),
    )


def _scale_words(scale: DigitPreference, texts: Texts) -> str:
    tested = isinstance(scale.test, DigitTest)
    said = texts["report_pile_up.scale_chance" if tested else "report_pile_up.scale_sheets"].format(
        division=shown_number(scale.division_mm, texts),
        sheets=scale.sheets,
        words=digit_words(scale, texts),
        chance=short(scale.test.probability, texts) if isinstance(scale.test, DigitTest) else "",
    )
    off = scale.counts.off_scale
    return f"{said} {texts['report_pile_up.off_scale'].format(count=off)}" if off else said


def _digits(scale: DigitPreference) -> list[tuple[Value, ...]]:
    expected = sum(scale.counts.counts) / len(scale.counts.digits)
    return [
        (f"{scale.division_mm:g} mm", str(digit), count, expected)
        for digit, count in zip(scale.counts.digits, scale.counts.counts, strict=True)
    ]


def _whole_class(whole: SignTest | Undefined, texts: Texts) -> str:
    if isinstance(whole, Undefined):
        return reason_words(whole, texts)
    return texts["report_pile_up.whole_class_thinner"].format(
        thinner=whole.lower, pairs=whole.lower + whole.higher, chance=short(whole.probability, texts)
    )


def _thinner(report: CompressionReport, codes: Mapping[str, str], texts: Texts) -> Section:
    expected = short(report.expected_everywhere, texts)
    sentences = (
        texts["report_pile_up.whole_class"].format(words=_whole_class(report.whole_class, texts)),
        texts["report_pile_up.expected_thinner"].format(expected=expected),
    )
    rows = [
        (
            code_of(one.student_id, one.copy_codes, codes, texts),
            one.test.lower,
            one.test.equal,
            "",
            thinner_words(one, texts),
        )
        for one in report.students
        if one.everywhere and isinstance(one.test, SignTest)
    ]
    title = texts["report_pile_up.thinner"]
    if not rows:
        return Section(title, (*sentences, texts["report_pile_up.nobody_thinner"]))
    return Section(
        title,
        sentences,
        (
            Heading(texts["report_heading.student_code"], 16, "label"),
            Heading(texts["report_pile_up.thinner_pairs"], 12, "text"),
            Heading(texts["report_pile_up.equal_pairs"], 12, "text"),
            Heading("", 14, "text"),
            Heading(texts["report_heading.in_words"], 64),
        ),
        tuple(sorted(rows)),
    )


def _identical(report: IdenticalReport, codes: Mapping[str, str], texts: Texts) -> Section:
    expected = texts["report_pile_up.expected_identical"].format(expected=short(report.expected, texts))
    title = texts["report_pile_up.identical"]
    if not report.records:
        return Section(title, (expected, texts["report_pile_up.none_identical"]))
    rows = (
        (
            codes.get(one.student_id) or "",
            one.copy_code,
            one.sites,
            None if isinstance(one.chance, Undefined) else short(one.chance, texts),
            identical_words(one, texts),
        )
        for one in report.records
    )
    return Section(
        title,
        (expected,),
        (
            Heading(texts["report_heading.student_code"], 16, "label"),
            Heading(texts["report_heading.sheet"], 12),
            Heading(texts["report_pile_up.sites"], 12, "text"),
            Heading(texts["report_pile_up.chance"], 14),
            Heading(texts["report_heading.in_words"], 64),
        ),
        tuple(rows),
    )
