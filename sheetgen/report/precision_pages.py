"""The tabs about one measurer's readings: Precision by site, Repeat difference, Readings that pile up."""

from collections.abc import Mapping

from sheetgen.report.page import (
    Chart,
    Heading,
    Page,
    Section,
    Texts,
    Value,
    code_of,
    ends,
    short,
    shown,
    site_width,
)
from sheetgen.statistics.agreement import ACCEPTABLE_LIMITS, AcceptableLimit
from sheetgen.statistics.analysis import (
    ClassAnalysis,
    digit_words,
    identical_words,
    reason_words,
    site_words,
    thinner_words,
    worst_words,
)
from sheetgen.statistics.digits import (
    CompressionReport,
    DigitPreference,
    DigitTest,
    IdenticalReport,
    SignTest,
)
from sheetgen.statistics.precision import SitePrecision, ThirdReadings
from sheetgen.statistics.readings_frame import LEAST_PEOPLE
from sheetgen.statistics.repeatability import TechnicalError, Undefined
from sheetgen.texts.languages import shown_number

_LIMITS = {"beginner": "report_precision.limit_beginner", "skilled": "report_precision.limit_skilled"}


def limit_headings(comparison: str, texts: Texts) -> tuple[Heading, ...]:
    """Return the columns of the published limits of the relative TEM `within` or `between` measurers."""
    return tuple(
        Heading(texts[_LIMITS[limit.experience]], 12, "result_1")
        for limit in ACCEPTABLE_LIMITS
        if limit.comparison == comparison
    )


def limit_columns(limits: tuple[AcceptableLimit, ...]) -> tuple[Value, ...]:
    """Return the limits in the order of their columns."""
    return tuple(limit.percent for limit in limits)


def precision_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab Precision by site.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    found = analysis.worst
    worst = reason_words(found, texts) if isinstance(found, Undefined) else worst_words(found, titles, texts)
    limits = texts["report_precision.limits"]
    known = any(not isinstance(one.relative, Undefined) for one in analysis.sites)
    counting = analysis.readings[analysis.readings["sheet_counts"] & (analysis.readings["round"] < 3)]
    beyond = int(counting["beyond_opening"].sum())
    return Page(
        texts["report_precision.tab"],
        texts["report_precision.title"].format(session=analysis.session),
        (
            texts["report_precision.worst"].format(words=worst),
            texts["report_precision.tem"],
            limits.format(source=texts["report_data.limits_source"], least=LEAST_PEOPLE),
            *((texts["report_precision.beyond_opening"].format(count=beyond),) if beyond else ()),
        ),
        (
            Heading(texts["report_heading.site"], 18),
            Heading(texts["report_heading.sheets"], 9, "text"),
            Heading(texts["report_heading.people"], 9, "text"),
            Heading(texts["report_precision.tem_mm"], 9, "result_2"),
            Heading(texts["report_precision.interval_from"], 10, "result_2"),
            Heading(texts["report_precision.interval_to"], 9, "result_2"),
            Heading(texts["report_heading.tem_percent"], 12, "result_1"),
            *limit_headings("within", texts),
            Heading(texts["report_heading.in_words"], 44),
        ),
        tuple(_site(one, titles, texts) for one in analysis.sites),
        charts=(Chart("column", texts["report_precision.chart"], 0, 6, (7, 8)),) if known else (),
        more=(_thirds(analysis.thirds, titles, texts),),
    )


def _site(one: SitePrecision, titles: Mapping[str, str], texts: Texts) -> tuple[Value, ...]:
    return (
        titles.get(one.site, one.site),
        one.sheets,
        one.people,
        one.error.value if isinstance(one.error, TechnicalError) else None,
        *ends(one.interval),
        shown(one.relative),
        *limit_columns(one.limits),
        site_words(one, texts),
    )


def _thirds(thirds: tuple[ThirdReadings, ...], titles: Mapping[str, str], texts: Texts) -> Section:
    return Section(
        texts["report_precision.thirds"],
        (texts["report_precision.thirds_hint"],),
        (
            Heading(texts["report_heading.site"], 18),
            Heading(texts["report_heading.sheets"], 9, "text"),
            Heading(texts["report_heading.third_needed"], 9, "text"),
            Heading(texts["report_precision.again"], 9, "text"),
            Heading(texts["report_precision.mean_gap"], 10, "result_2"),
        ),
        tuple(
            (titles.get(one.site, one.site), one.sheets, one.needed, one.again, one.mean_difference)
            for one in thirds
        ),
    )


def repeat_page(
    analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Page:
    """Return the tab Repeat difference: one row a measurer by code, never by value.

    Parameters
    ----------
    codes : what stands for each student_id; who has none goes by the code of a sheet.
    """
    sites = list(analysis.rounds["site"].unique())
    rows: list[tuple[Value, ...]] = []
    for one in analysis.repeats:
        code = code_of(one.student_id, one.copy_codes, codes, texts)
        by_site = dict(one.by_site)
        rows.append(
            (
                texts["report_repeat.teacher"].format(code=code) if one.is_teacher else code,
                len(one.copy_codes),
                one.pairs,
                shown(one.mean_mm),
                titles.get(one.largest_site, one.largest_site),
                *(by_site.get(site) for site in sites),
            )
        )
    in_mm = [texts["report_common.in_mm"].format(title=titles.get(site, site)) for site in sites]
    return Page(
        texts["report_repeat.tab"],
        texts["report_repeat.title"].format(session=analysis.session),
        (texts["report_repeat.hint"],),
        (
            Heading(texts["report_heading.student_code"], 16, "label"),
            Heading(texts["report_heading.sheets"], 9, "text"),
            Heading(texts["report_repeat.pairs"], 10, "text"),
            Heading(texts["report_heading.mean_difference"], 12, "result_2"),
            Heading(texts["report_repeat.largest_at"], 16),
            *(Heading(heading, site_width(heading), "result_2") for heading in in_mm),
        ),
        tuple(sorted(rows, key=lambda row: str(row[0]))),
    )


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
