"""The tabs about one measurer's readings: Precision by site, Repeat difference, Readings that pile up."""

from collections.abc import Mapping

from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    Section,
    Texts,
    code_of,
    counted,
    in_mm,
    named,
    short,
    site_column,
    table,
)
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
    Compression,
    CompressionReport,
    DigitPreference,
    DigitTest,
    IdenticalRecord,
    IdenticalReport,
)
from sheetgen.statistics.precision import RepeatDifference, ThirdReadings
from sheetgen.statistics.readings_frame import LEAST_PEOPLE
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.languages import shown_number

LIMIT_COLUMNS = (
    Column("report_precision.limit_beginner", 12, "limits.0.percent", "result_1"),
    Column("report_precision.limit_skilled", 12, "limits.1.percent", "result_1"),
)
"""Published limits of the relative TEM, in their order in `ACCEPTABLE_LIMITS`."""


def precision_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab Precision by site; titles : of the sites, by code word."""
    found = analysis.worst
    worst = reason_words(found, texts) if isinstance(found, Undefined) else worst_words(found, titles, texts)
    limits, source = texts["report_precision.limits"], texts["report_data.limits_source"]
    days = sorted({site.kept_from for site in analysis.sites if site.kept_from})
    known = any(not isinstance(one.relative, Undefined) for one in analysis.sites)
    counting = analysis.readings[analysis.readings["sheet_counts"] & (analysis.readings["round"] < 3)]
    columns = (
        site_column(titles, 18),
        Column("report_heading.sheets", 9, "sheets", "text"),
        Column("report_heading.people", 9, "people", "text"),
        Column("report_precision.tem_mm", 9, "error.value", "result_2"),
        Column("report_precision.interval_from", 10, "interval.lower", "result_2"),
        Column("report_precision.interval_to", 9, "interval.upper", "result_2"),
        Column("report_heading.tem_percent", 12, "relative", "result_1"),
        *LIMIT_COLUMNS,
        Column("report_heading.in_words", 44, lambda one: site_words(one, texts)),
    )
    return Page(
        *named("report_precision", texts, session=analysis.session),
        (
            texts["report_precision.worst"].format(words=worst),
            texts["report_precision.tem"],
            limits.format(source=source, least=LEAST_PEOPLE),
            *(texts["report_precision.kept"].format(day=day) for day in days),
            *counted("report_precision.beyond_opening", int(counting["beyond_opening"].sum()), texts),
        ),
        *table(columns, analysis.sites, texts),
        charts=(Chart("column", texts["report_precision.chart"], 0, 6, (7, 8)),) if known else (),
        more=(_thirds(analysis.thirds, titles, texts),),
    )


def _thirds(thirds: tuple[ThirdReadings, ...], titles: Mapping[str, str], texts: Texts) -> Section:
    columns = (
        site_column(titles, 18),
        Column("report_heading.sheets", 9, "sheets", "text"),
        Column("report_heading.third_needed", 9, "needed", "text"),
        Column("report_precision.again", 9, "again", "text"),
        Column("report_precision.mean_gap", 10, "mean_difference", "result_2"),
    )
    sentences = (texts["report_precision.thirds_hint"],)
    return Section(texts["report_precision.thirds"], sentences, *table(columns, thirds, texts))


def repeat_page(
    analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Page:
    """Return the tab Repeat difference: one row a measurer by code, never by value.

    codes : what stands for each student_id; who has none goes by the code of a sheet.
    """

    def code(one: RepeatDifference) -> str:
        found = code_of(one.student_id, one.copy_codes, codes, texts)
        return texts["report_repeat.teacher"].format(code=found) if one.is_teacher else found

    def at_site(site: str) -> Column:
        return in_mm(titles.get(site, site), lambda one: dict(one.by_site).get(site))

    columns = (
        Column("report_heading.student_code", 16, code, "label"),
        Column("report_heading.sheets", 9, lambda one: len(one.copy_codes), "text"),
        Column("report_repeat.pairs", 10, "pairs", "text"),
        Column("report_heading.mean_difference", 12, "mean_mm", "result_2"),
        Column("report_repeat.largest_at", 16, lambda one: titles.get(one.largest_site, one.largest_site)),
        *(at_site(site) for site in analysis.rounds["site"].unique()),
    )
    return Page(
        *named("report_repeat", texts, session=analysis.session),
        (texts["report_repeat.hint"],),
        *table(columns, sorted(analysis.repeats, key=code), texts),
    )


def pile_up_page(analysis: ClassAnalysis, codes: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab Readings that pile up; codes : what stands for each student_id."""
    rows: list[tuple[DigitPreference, int, int]] = []
    charts = []
    for scale in analysis.digits:
        first = len(rows)
        rows += [
            (scale, digit, count)
            for digit, count in zip(scale.counts.digits, scale.counts.counts, strict=True)
        ]
        title = texts["report_pile_up.chart"].format(division=shown_number(scale.division_mm, texts))
        charts.append(Chart("column", title, 1, 2, (3,), rows=(first, len(rows) - 1)))

    def expected(row: tuple[DigitPreference, int, int]) -> float:
        return sum(row[0].counts.counts) / len(row[0].counts.digits)

    columns = (
        Column("report_pile_up.scale", 16, lambda row: f"{row[0].division_mm:g} mm"),
        Column("report_pile_up.digit", 12, lambda row: str(row[1])),
        Column("report_pile_up.readings", 12, "2", "text"),
        Column("report_pile_up.expected", 14, expected, "result_1"),
    )
    return Page(
        *named("report_pile_up", texts, session=analysis.session),
        (texts["report_pile_up.hint"], *(_scale_words(scale, texts) for scale in analysis.digits)),
        *table(columns, rows, texts),
        charts=tuple(charts),
        more=(_thinner(analysis.compression, codes, texts), _identical(analysis.identical, codes, texts)),
    )


def _scale_words(scale: DigitPreference, texts: Texts) -> str:
    test = scale.test
    tested = isinstance(test, DigitTest)
    said = texts["report_pile_up.scale_chance" if tested else "report_pile_up.scale_sheets"].format(
        division=shown_number(scale.division_mm, texts),
        sheets=scale.sheets,
        words=digit_words(scale, texts),
        chance=short(test.probability, texts) if isinstance(test, DigitTest) else "",
    )
    return " ".join((said, *counted("report_pile_up.off_scale", scale.counts.off_scale, texts)))


def _thinner(report: CompressionReport, codes: Mapping[str, str], texts: Texts) -> Section:
    whole = report.whole_class
    if isinstance(whole, Undefined):
        words = reason_words(whole, texts)
    else:
        words = texts["report_pile_up.whole_class_thinner"].format(
            thinner=whole.lower, pairs=whole.lower + whole.higher, chance=short(whole.probability, texts)
        )
    expected = short(report.expected_everywhere, texts)

    def code(one: Compression) -> str:
        return code_of(one.student_id, one.copy_codes, codes, texts)

    columns = (
        Column("report_heading.student_code", 16, code, "label"),
        Column("report_pile_up.thinner_pairs", 12, "test.lower", "text"),
        Column("report_pile_up.equal_pairs", 12, "test.equal", "text"),
        Column("", 14, lambda one: None, "text"),
        Column("report_heading.in_words", 64, lambda one: thinner_words(one, texts)),
    )
    thinner = [one for one in report.students if one.everywhere]
    sentences = (
        texts["report_pile_up.whole_class"].format(words=words),
        texts["report_pile_up.expected_thinner"].format(expected=expected),
        *(() if thinner else (texts["report_pile_up.nobody_thinner"],)),
    )
    shown = table(columns if thinner else (), sorted(thinner, key=code), texts)
    return Section(texts["report_pile_up.thinner"], sentences, *shown)


def _identical(report: IdenticalReport, codes: Mapping[str, str], texts: Texts) -> Section:
    def chance(one: IdenticalRecord) -> str | Undefined:
        return one.chance if isinstance(one.chance, Undefined) else short(one.chance, texts)

    columns = (
        Column("report_heading.student_code", 16, lambda one: codes.get(one.student_id), "label"),
        Column("report_heading.sheet", 12, "copy_code"),
        Column("report_pile_up.sites", 12, "sites", "text"),
        Column("report_pile_up.chance", 14, chance),
        Column("report_heading.in_words", 64, lambda one: identical_words(one, texts)),
    )
    sentences = (
        texts["report_pile_up.expected_identical"].format(expected=short(report.expected, texts)),
        *(() if report.records else (texts["report_pile_up.none_identical"],)),
    )
    shown = table(columns if report.records else (), report.records, texts)
    return Section(texts["report_pile_up.identical"], sentences, *shown)
