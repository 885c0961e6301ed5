"""The tab How we measured: technical error by site; between measurers, with the teacher, of calipers."""

from collections.abc import Mapping, Sequence

from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    Section,
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
    between_words,
    caliper_words,
    criterion_words,
    digit_words,
    identical_words,
    left_out_words,
    reason_words,
    side_by_side_words,
    site_words,
    thinner_words,
    worst_words,
)
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport
from sheetgen.statistics.digits import DigitPreference
from sheetgen.statistics.precision import CriterionAgreement, RepeatDifference, SitePrecision
from sheetgen.statistics.readings_frame import LEAST_PEOPLE, sheet_count
from sheetgen.statistics.repeatability import Agreement, Comparison, Interval, Undefined, acceptable_limit
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign


def measured_page(
    analysis: ClassAnalysis, session: str, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Page | None:
    """Return the tab How we measured, None where neither an error nor two calipers can be told: the technical
    error by site, what is left out of it, then agreement, calipers and digits where they say something.
    titles : of the sites, by code word. codes : what stands for each student_id."""
    sites = [one for one in analysis.sites if not isinstance(one.error, Undefined)]
    if not (sites or analysis.side_by_side):
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
    chart = Chart(texts["report_precision.chart"], 0, 3, (6, 7), (4, 5))
    drawn = (chart,) if any(isinstance(one.relative, float) for one in sites) else ()
    found = analysis.worst
    worst = reason_words(found, texts) if isinstance(found, Undefined) else worst_words(found, titles, texts)
    said = (
        f"{sentence(worst)}.", texts["report_precision.tem"],
        limits.format(source=source, least=LEAST_PEOPLE),
        *(texts["report_precision.kept"].format(day=day) for day in days),
    )  # fmt: skip
    more = (
        *_left_out(analysis, titles, texts), *agreement_sections(analysis, titles, texts),
        *caliper_sections(analysis, texts), *_side_by_side(analysis, titles, texts),
        *_digits(analysis, codes, texts),
    )  # fmt: skip
    name = named("report_precision", texts, session=session)
    return Page(*name, said, *table(columns, sites, texts), charts=drawn, more=more)


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
    known = ((titles.get(one.site, one.site), one.whole) for one in analysis.sites if one.whole is not None)
    whole = [f"{title} {with_decimal_sign(f'{error:.2f}', texts)}" for title, error in known]
    said += [texts["report_precision.whole"].format(sites=", ".join(whole))] * bool(whole)
    return (Section(texts["report_precision.left_out"], tuple(said)),)


def repeat_section(
    analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str], texts: Texts
) -> Section:
    """Return one row a measurer by code, never by value, for the tab Details. codes : what stands for each
    student_id; who has none goes by the code of a sheet."""

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
    rows: list[tuple[str, str, int, float]] = []
    charts, sections = [], []
    scales = [scale for scale in analysis.digits if scale.piles_up]
    for scale in scales:
        first, counted = len(rows), scale.counts
        expected, division = sum(counted.counts) / len(counted.digits), f"{scale.division_mm:g} mm"
        for digit, count in zip(counted.digits, counted.counts, strict=True):
            rows.append((division, str(digit), count, expected))
        title = texts["report_pile_up.chart"].format(division=shown_number(scale.division_mm, texts))
        charts.append(Chart(title, 1, 2, (3,), rows=(first, len(rows) - 1)))
    columns = (
        Column("report_pile_up.scale", 12, "0"),
        Column("report_pile_up.digit", 6, "1"),
        Column("report_pile_up.readings", 7, "2", "text"),
        Column("report_pile_up.expected", 7, "3", "result_1"),
    )
    if scales:
        said = (texts["report_pile_up.hint"], *(_scale_words(scale, texts) for scale in scales))
        shown = table(columns, rows, texts)
        sections.append(Section(texts["report_pile_up.digits"], said, *shown, tuple(charts)))
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
    said = tuple(texts[f"report_agreement.{word}"] for word in ("between", "total", "icc"))
    said += counted("report_agreement.left_out", _sheets_apart(analysis), texts)
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
        Column("report_agreement.standard_deviation", 9, "agreement.standard_deviation", "result_2"),
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
        shown = table(columns, offsets, texts)
        sections.append(Section(texts["report_calipers.title"], said, *shown, charts))
    zeros = []
    for one in report.zero_differences:
        typed, registered = (shown_number(zero, texts) for zero in (one.typed_mm, one.registered_mm))
        told = {"sheet": one.copy_code, "caliper": one.caliper_id, "typed": typed, "registered": registered}
        zeros.append(texts["report_calipers.zero"].format(**told))
    if zeros:
        said = (*zeros, texts["report_calipers.zeros_hint"])
        sections.append(Section(texts["report_calipers.zeros"], said))
    return tuple(sections)


def _side_by_side(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> tuple[Section, ...]:
    """Return two calipers in the same hands, over all sites and by site, where they were compared."""
    columns = (
        site_column({**titles, "": texts["report_side_by_side.all"]}, 12),
        Column("report_heading.people", 6, "people", "text"),
        Column("report_heading.mean_difference", 7, "agreement.mean_difference", "result_2"),
        *(Column("", width, lambda one: None) for width in (7, 6, 6, 7, 7)),
        Column("report_heading.in_words", 26, lambda one: side_by_side_words(one, texts)),
    )
    if not analysis.side_by_side:
        return ()
    said = texts["report_side_by_side.hint"], texts["report_side_by_side.springs"]
    shown = table(columns, analysis.side_by_side, texts)
    return (Section(texts["report_side_by_side.title"], said, *shown),)


def _caliper_sentences(
    report: CaliperReport, offsets: tuple[CaliperOffset, ...], same: int, texts: Texts
) -> tuple[str, ...]:
    sentences = [texts["report_calipers.compared"], texts["report_calipers.rule"]]
    confidence = {one.interval.confidence for one in offsets if isinstance(one.interval, Interval)}
    percents = (with_decimal_sign(f"{100 * one:.4g}", texts) for one in sorted(confidence))
    sentences += [texts["report_calipers.interval"].format(percent=percent) for percent in percents]
    counts = {"unclear": report.left_out, "far": report.far_off, "same": same}.items()
    key = "report_calipers.left_out"
    parts = [part for word, count in counts for part in counted(f"{key}_{word}", count, texts)]
    sentences += [texts[key].format(parts="; ".join(parts))] if parts else []
    return tuple(sentences)
