"""The tab How we measured: technical error by site, and whatever else the class's readings tell."""

from collections.abc import Mapping

from sheetgen.report.agreement_pages import agreement_sections, caliper_sections, limit_columns
from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    Section,
    Texts,
    code_of,
    counted,
    named,
    sentence,
    short,
    site_column,
    table,
)
from sheetgen.statistics.analysis import (
    ClassAnalysis,
    digit_words,
    identical_words,
    left_out_words,
    reason_words,
    site_words,
    thinner_words,
    worst_words,
)
from sheetgen.statistics.digits import DigitPreference
from sheetgen.statistics.precision import RepeatDifference, SitePrecision
from sheetgen.statistics.readings_frame import LEAST_PEOPLE
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.languages import shown_number, with_decimal_sign


def measured_page(
    analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Page | None:
    """Return the tab How we measured, None where no site has an error: the technical error by site, what is
    left out of it, then agreement, calipers and digits where they have something to say.

    titles : of the sites, by code word. codes : what stands for each student_id.
    """
    sites = [one for one in analysis.sites if not isinstance(one.error, Undefined)]
    if not sites:
        return None
    limits, source = texts["report_precision.limits"], texts["report_data.limits_source"]
    days = sorted({site.kept_from for site in sites if site.kept_from})
    columns = (
        site_column(titles, 12),
        Column("report_heading.people", 6, "people", "text"),
        Column("report_precision.tem_mm", 7, "error.value", "result_2"),
        Column("report_heading.tem_percent", 7, "relative", "result_1"),
        Column("report_precision.below", 6, lambda one: _reach(one)[0], "result_1"),
        Column("report_precision.above", 6, lambda one: _reach(one)[1], "result_1"),
        *limit_columns("within"),
        Column("report_heading.in_words", 26, lambda one: site_words(one, texts)),
    )
    drawn = (Chart(texts["report_precision.chart"], 0, 3, (6, 7), (4, 5)),)
    found = analysis.worst
    worst = reason_words(found, texts) if isinstance(found, Undefined) else worst_words(found, titles, texts)
    return Page(
        *named("report_precision", texts, session=analysis.session),
        (
            f"{sentence(worst)}.",
            texts["report_precision.tem"],
            limits.format(source=source, least=LEAST_PEOPLE),
            *(texts["report_precision.kept"].format(day=day) for day in days),
        ),
        *table(columns, sites, texts),
        charts=drawn if any(isinstance(one.relative, float) for one in sites) else (),
        more=(
            *_left_out(analysis, titles, texts),
            *agreement_sections(analysis, titles, texts),
            *caliper_sections(analysis, texts),
            *_digits(analysis, codes, texts),
        ),
    )


def _reach(one: SitePrecision) -> tuple[float | None, float | None]:
    """How far the interval of a relative error reaches below and above it."""
    if isinstance(one.relative, Undefined) or isinstance(one.relative_interval, Undefined):
        return None, None
    return one.relative - one.relative_interval.lower, one.relative_interval.upper - one.relative


def _left_out(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> tuple[Section, ...]:
    """What is left out of the error, and what the error would be with it."""
    said = [f"{sentence(left_out_words(one, texts))}." for one in analysis.left_out]
    if not said:
        return ()
    whole = [
        f"{titles.get(one.site, one.site)} {with_decimal_sign(f'{one.whole:.2f}', texts)}"
        for one in analysis.sites
        if one.whole is not None
    ]
    said += [texts["report_precision.whole"].format(sites=", ".join(whole))] * bool(whole)
    return (Section(texts["report_precision.left_out"], tuple(said)),)


def repeat_section(
    analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Section:
    """Return one row a measurer by code, never by value, for the tab Details.

    codes : what stands for each student_id; who has none goes by the code of a sheet.
    """

    def code(one: RepeatDifference) -> str:
        found = code_of(one.student_id, one.copy_codes, codes, texts)
        return texts["report_repeat.teacher"].format(code=found) if one.is_teacher else found

    columns = (
        Column("report_heading.student_code", 16, code, "label"),
        Column("report_repeat.pairs", 10, "pairs", "text"),
        Column("report_heading.mean_difference", 12, "mean_mm", "result_2"),
        Column("report_repeat.largest_at", 13, lambda one: titles.get(one.largest_site, one.largest_site)),
    )
    rows = sorted((one for one in analysis.repeats if one.pairs), key=code)
    title, hint = texts["report_repeat.title"], texts["report_repeat.hint"]
    return Section(title, (hint,), *table(columns, rows, texts))


def _digits(analysis: ClassAnalysis, codes: Mapping[str, str], texts: Texts) -> tuple[Section, ...]:
    """Final digits that pile up, second rounds thinner everywhere, equal rounds: each where there is one."""
    rows: list[tuple[DigitPreference, int, int]] = []
    charts, sections = [], []
    scales = [scale for scale in analysis.digits if scale.piles_up]
    for scale in scales:
        first = len(rows)
        rows += [
            (scale, digit, count)
            for digit, count in zip(scale.counts.digits, scale.counts.counts, strict=True)
        ]
        title = texts["report_pile_up.chart"].format(division=shown_number(scale.division_mm, texts))
        charts.append(Chart(title, 1, 2, (3,), rows=(first, len(rows) - 1)))

    def expected(row: tuple[DigitPreference, int, int]) -> float:
        return sum(row[0].counts.counts) / len(row[0].counts.digits)

    columns = (
        Column("report_pile_up.scale", 12, lambda row: f"{row[0].division_mm:g} mm"),
        Column("report_pile_up.digit", 6, lambda row: str(row[1])),
        Column("report_pile_up.readings", 7, "2", "text"),
        Column("report_pile_up.expected", 7, expected, "result_1"),
    )
    if scales:
        said = (texts["report_pile_up.hint"], *(_scale_words(scale, texts) for scale in scales))
        sections.append(
            Section(texts["report_pile_up.digits"], said, *table(columns, rows, texts), tuple(charts))
        )
    thinner = analysis.compression
    by_code = sorted((code_of(one.student_id, one.copy_codes, codes, texts), one) for one in thinner.students)
    equal = analysis.identical
    for word, lines, expected_lines in (
        ("thinner", [f"{code}: {thinner_words(one, texts)}" for code, one in by_code], thinner.expected),
        ("identical", [f"{one.copy_code}: {identical_words(one, texts)}" for one in equal.records],
         equal.expected),
    ):  # fmt: skip
        hint = texts[f"report_pile_up.expected_{word}"].format(expected=short(expected_lines, texts))
        sections += [Section(texts[f"report_pile_up.{word}"], (*lines, hint))] if lines else []
    return tuple(sections)


def _scale_words(scale: DigitPreference, texts: Texts) -> str:
    said = texts["report_pile_up.scale_chance"].format(
        division=shown_number(scale.division_mm, texts),
        sheets=scale.sheets,
        words=digit_words(scale, texts),
        chance=short(scale.chance or 0.0, texts),
    )
    return " ".join((said, *counted("report_pile_up.off_scale", scale.counts.off_scale, texts)))
