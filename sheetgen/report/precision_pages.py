"""The tabs about repeating: Precision by site over the class, Repeat difference by student code."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis, ThirdReadings
from sheetgen.checking.class_words import reason_words, site_words, worst_words
from sheetgen.checking.precision import SitePrecision
from sheetgen.checking.precision_sheets import LEAST_PEOPLE, sites_of
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit
from sheetgen.core.outcome import Undefined
from sheetgen.core.repeatability import TechnicalError
from sheetgen.report.page import Chart, Heading, Page, Section, Texts, Value, code_of, ends, shown, site_width

__all__ = ["limit_columns", "limit_headings", "precision_page", "repeat_page"]


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
    beyond = sum(sheet.beyond_opening for sheet in analysis.sheets)
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
    sites = sites_of(analysis.sheets)
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
