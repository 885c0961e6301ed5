"""The tabs about repeating: Precision by site over the class, Repeat difference by student code."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis, ThirdReadings
from sheetgen.checking.precision import SitePrecision
from sheetgen.checking.precision_sheets import LEAST_PEOPLE, sites_of
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS, AcceptableLimit
from sheetgen.core.outcome import Undefined
from sheetgen.core.repeatability import TechnicalError
from sheetgen.report.page import Chart, Heading, Page, Section, Value
from sheetgen.report.shown import ends, shown

__all__ = ["limit_columns", "limit_headings", "precision_page", "repeat_page"]


def limit_headings(comparison: str) -> tuple[Heading, ...]:
    """Return the columns of the published limits of the relative TEM `within` or `between` measurers."""
    return tuple(
        Heading(f"Limit, {limit.experience} measurer, %", 12, "result_1")
        for limit in ACCEPTABLE_LIMITS
        if limit.comparison == comparison
    )


def limit_columns(limits: tuple[AcceptableLimit, ...]) -> tuple[Value, ...]:
    """Return the limits in the order of their columns."""
    return tuple(limit.percent for limit in limits)


def precision_page(analysis: ClassAnalysis, titles: Mapping[str, str]) -> Page:
    """Return the tab Precision by site.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    source = next(limit.source for limit in ACCEPTABLE_LIMITS if limit.comparison == "within")
    worst = analysis.worst.reason if isinstance(analysis.worst, Undefined) else analysis.worst.words
    known = any(not isinstance(one.relative, Undefined) for one in analysis.sites)
    beyond = sum(sheet.beyond_opening for sheet in analysis.sheets)
    return Page(
        "Precision by site",
        f"Precision by site, session {analysis.session}",
        (
            f"The worst site: {worst}.",
            "TEM: technical error of measurement within a measurer, from rounds 1 and 2 of students' sheets.",
            f"Limits: largest relative TEM held acceptable, {source}. "
            f"Below {LEAST_PEOPLE} people a class is not held against them.",
            *((f"Readings left out, beyond the opening of their caliper: {beyond}.",) if beyond else ()),
        ),
        (
            Heading("Site", 18),
            Heading("Sheets", 9, "text"),
            Heading("People", 9, "text"),
            Heading("TEM, mm", 9, "result_2"),
            Heading("95 % from, mm", 10, "result_2"),
            Heading("to, mm", 9, "result_2"),
            Heading("TEM, % of the fold", 12, "result_1"),
            *limit_headings("within"),
            Heading("In words", 44),
        ),
        tuple(_site(one, titles) for one in analysis.sites),
        charts=(Chart("column", "TEM in per cent of the fold, and the published limits", 0, 6, (7, 8)),)
        if known
        else (),
        more=(_thirds(analysis.thirds, titles),),
    )


def _site(one: SitePrecision, titles: Mapping[str, str]) -> tuple[Value, ...]:
    return (
        titles.get(one.site, one.site),
        one.sheets,
        one.people,
        one.error.value if isinstance(one.error, TechnicalError) else None,
        *ends(one.interval),
        shown(one.relative),
        *limit_columns(one.limits),
        one.judgement,
    )


def _thirds(thirds: tuple[ThirdReadings, ...], titles: Mapping[str, str]) -> Section:
    return Section(
        "Third readings",
        ("Where the first two readings of a site lie further apart than the tolerance of the sheet.",),
        (
            Heading("Site", 18),
            Heading("Sheets", 9, "text"),
            Heading("Third reading needed", 9, "text"),
            Heading("Measure again", 9, "text"),
            Heading("Mean difference of rounds 1 and 2, mm", 10, "result_2"),
        ),
        tuple(
            (titles.get(one.site, one.site), one.sheets, one.needed, one.again, one.mean_difference)
            for one in thirds
        ),
    )


def repeat_page(analysis: ClassAnalysis, titles: Mapping[str, str], codes: Mapping[str, str]) -> Page:
    """Return the tab Repeat difference: one row a measurer by code, never by value.

    Parameters
    ----------
    codes : what stands for each student_id; who has none goes by the code of a sheet.
    """
    sites = sites_of(analysis.sheets)
    rows: list[tuple[Value, ...]] = []
    for one in analysis.repeats:
        code = codes.get(one.student_id) or f"sheet {one.copy_codes[0]}"
        by_site = dict(one.by_site)
        rows.append(
            (
                f"{code}, teacher" if one.is_teacher else code,
                len(one.copy_codes),
                one.pairs,
                shown(one.mean_mm),
                titles.get(one.largest_site, one.largest_site),
                *(by_site.get(site) for site in sites),
            )
        )
    return Page(
        "Repeat difference",
        f"Your repeat difference by student code, session {analysis.session}",
        (
            "How far rounds 1 and 2 of a student lie apart on average, in mm. A few sites are no "
            "certificate: show each student their own line, and rank nobody.",
        ),
        (
            Heading("Student code", 16, "label"),
            Heading("Sheets", 9, "text"),
            Heading("Pairs of readings", 10, "text"),
            Heading("Mean difference, mm", 12, "result_2"),
            Heading("Largest at", 16),
            *(
                Heading(f"{titles.get(site, site)}, mm", _width(titles.get(site, site)), "result_2")
                for site in sites
            ),
        ),
        tuple(sorted(rows, key=lambda row: str(row[0]))),
    )


def _width(title: str) -> float:
    return max(10.0, 2.0 + 1.1 * max(len(word) for word in f"{title},".split()))
