"""The tab Agreement: between students who measured the same person, and against the teacher."""

from collections.abc import Mapping, Sequence

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.precision_between import CriterionAgreement, ObserverPrecision
from sheetgen.core.agreement import Agreement
from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS
from sheetgen.core.outcome import Undefined
from sheetgen.core.repeatability import TechnicalError
from sheetgen.report.page import Chart, Heading, Page, Section, Value
from sheetgen.report.precision_pages import limit_columns, limit_headings
from sheetgen.report.shown import said_once, shown, span

__all__ = ["agreement_page", "plots_page"]


def agreement_page(analysis: ClassAnalysis, titles: Mapping[str, str]) -> Page:
    """Return the tab Agreement.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    source = next(limit.source for limit in ACCEPTABLE_LIMITS if limit.comparison == "between")
    left_out = len(analysis.sheets) - len(analysis.apart)
    reasons = [_between_reason(one) for one in analysis.between]
    once = said_once(reasons)
    sentences = [
        "Between students who measured the same person; the means of rounds 1 and 2 are compared, and "
        "differences between calipers count as differences between measurers.",
        f"Limits: largest relative TEM between measurers held acceptable, {source}.",
        "ICC(1,1): share of the variance that is between people; the measurers differ from person to person.",
        *once,
    ]
    if left_out:
        sentences.append(f"Sheets with the same numbers as another are left out: {left_out}, see To talk to.")
    measured = any(one.people for one in analysis.between)
    rows = tuple(
        _between(one, titles, "" if once else reason)
        for one, reason in zip(analysis.between, reasons, strict=True)
    )
    return Page(
        "Agreement",
        f"Agreement of measurers, session {analysis.session}",
        tuple(sentences),
        _BETWEEN if measured else (),
        rows if measured else (),
        more=(_against_section(analysis.criterion, titles),),
    )


_BETWEEN = (
    Heading("Site", 16),
    Heading("People", 9, "text"),
    Heading("Measured by students", 11, "text"),
    Heading("TEM between, mm", 12, "result_2"),
    Heading("95 % interval, mm", 15),
    Heading("TEM, % of the fold", 11, "result_1"),
    *limit_headings("between"),
    Heading("Total TEM, mm", 11, "result_2"),
    Heading("ICC(1,1)", 12, "result_2"),
    Heading("95 % interval", 15),
    Heading("In words", 30),
)


def _between_reason(one: ObserverPrecision) -> str:
    parts = (one.error, one.relative, one.total, one.correlation)
    return next((part.reason for part in parts if isinstance(part, Undefined)), "")


def _between(one: ObserverPrecision, titles: Mapping[str, str], words: str) -> tuple[Value, ...]:
    found = one.correlation
    return (
        titles.get(one.site, one.site),
        one.people,
        one.measurements,
        one.error.value if isinstance(one.error, TechnicalError) else None,
        span(one.interval),
        shown(one.relative),
        *limit_columns(one.limits),
        shown(one.total),
        *((None, "") if isinstance(found, Undefined) else (found.value, span(found.interval))),
        words,
    )


def _against_section(found: tuple[CriterionAgreement, ...] | Undefined, titles: Mapping[str, str]) -> Section:
    title = "Against the teacher's measure"
    if isinstance(found, Undefined):
        return Section(title, (f"It cannot be given: {found.reason}.",))
    multipliers = {one.agreement.multiplier for one in found if isinstance(one.agreement, Agreement)}
    reasons = [_against_reason(one) for one in found]
    once = said_once(reasons)
    sentences = (
        "Difference: student less teacher. A mean difference far from 0 is a habit, wide limits are scatter.",
        *(
            f"Limits of agreement: mean difference minus and plus {multiplier:g} standard deviations."
            for multiplier in sorted(multipliers)
        ),
        *once,
    )
    rows = tuple(
        _against(one, titles, "" if once else reason) for one, reason in zip(found, reasons, strict=True)
    )
    return Section(title, sentences, _AGAINST, rows)


_AGAINST = (
    Heading("Site", 16),
    Heading("People", 9, "text"),
    Heading("Sheets", 11, "text"),
    Heading("Mean difference, mm", 12, "result_2"),
    Heading("95 % interval, mm", 15),
    Heading("Standard deviation, mm", 11, "result_2"),
    Heading("Lower limit, mm", 12, "result_2"),
    Heading("95 % interval, mm", 12),
    Heading("", 11, "text"),
    Heading("Upper limit, mm", 12, "result_2"),
    Heading("95 % interval, mm", 15),
    Heading("In words", 30),
)


def _against_reason(one: CriterionAgreement) -> str:
    if isinstance(one.agreement, Undefined):
        return one.agreement.reason
    interval = one.agreement.mean_interval
    return interval.reason if isinstance(interval, Undefined) else ""


def _against(one: CriterionAgreement, titles: Mapping[str, str], words: str) -> tuple[Value, ...]:
    site, found = titles.get(one.site, one.site), one.agreement
    if isinstance(found, Undefined):
        return (site, one.people, len(one.points), *([None] * 8), words)
    return (
        site,
        one.people,
        found.pairs,
        found.mean_difference,
        span(found.mean_interval),
        found.standard_deviation,
        found.lower_limit,
        span(found.lower_interval),
        None,
        found.upper_limit,
        span(found.upper_interval),
        words,
    )


def plots_page(found: Sequence[CriterionAgreement], session: int, titles: Mapping[str, str]) -> Page:
    """Return the tab Agreement plots: difference against mean, a chart a site.

    Notes
    -----
    One row a sheet and site; the rows of a site stand together and carry its limits, for its chart.
    """
    rows: list[tuple[Value, ...]] = []
    charts = []
    for one in found:
        limits: tuple[Value, ...] = (None, None, None)
        if isinstance(one.agreement, Agreement):
            limits = (one.agreement.lower_limit, one.agreement.mean_difference, one.agreement.upper_limit)
        title = titles.get(one.site, one.site)
        first = len(rows)
        rows += [
            (title, point.participant_code, point.copy_code, point.mean_mm, point.difference_mm, *limits)
            for point in one.points
        ]
        if one.points:
            lines = () if limits[0] is None else (5, 6, 7)
            charts.append(Chart("scatter", title, 3, 4, lines, rows=(first, len(rows) - 1)))
    return Page(
        "Agreement plots",
        f"Student less teacher against the mean of both, session {session}",
        ("Dots: one sheet beside the teacher's. Lines: mean difference, and dashed the limits.",),
        (
            Heading("Site", 18),
            Heading("Participant", 18),
            Heading("Sheet", 18),
            Heading("Mean of both, mm", 18, "result_2"),
            Heading("Student less teacher, mm", 18, "result_2"),
            Heading("Lower limit, mm", 18, "result_2"),
            Heading("Mean difference, mm", 18, "result_2"),
            Heading("Upper limit, mm", 18, "result_2"),
        ),
        tuple(rows),
        charts=tuple(charts),
        above=True,
    )
