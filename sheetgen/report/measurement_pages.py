"""The tabs that hold what was measured: Results by sheet, and Retest with both sessions side by side.

No names; of a change, whether it is more than measurement error, and who of the measurers has come on.
"""

from collections.abc import Collection, Mapping, Sequence

from sheetgen.protocols.protocol import Protocol
from sheetgen.report.page import (
    Heading,
    Page,
    Section,
    Texts,
    Value,
    code_of,
    counts,
    in_order,
    shown,
    site_width,
)
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.agreement import acceptable_limit
from sheetgen.statistics.analysis import reason_words
from sheetgen.statistics.readings_frame import measured_code
from sheetgen.statistics.repeatability import Undefined
from sheetgen.statistics.retest import BandSource, Change, Progress, RetestReport, RetestRow
from sheetgen.texts.languages import shown_number


def results_page(
    attempts: Sequence[Attempt],
    session: int,
    protocols: Mapping[str, Protocol],
    participant_codes: Collection[str],
    texts: Texts,
) -> Page:
    """Return the tab Results: one row a sheet that counts, by copy code, never by value.

    Parameters
    ----------
    texts : those of `report.LANGUAGE`, and `state.WORD` for each `estimate_state`.

    Notes
    -----
    The band is per cent fat plus and minus the standard error of the equation, in points of per cent fat.
    """
    counting = [attempt for attempt in in_order(attempts, session) if counts(attempt)]
    sites = site_titles(counting, protocols)
    rows = tuple(_result_row(attempt, protocols, participant_codes, sites, texts) for attempt in counting)
    in_mm = [texts["report_common.in_mm"].format(title=title) for title in sites.values()]
    return Page(
        texts["report_results.tab"],
        texts["report_results.title"].format(session=session),
        (texts["report_results.for_teaching"], texts["report_results.band"]),
        (
            Heading(texts["report_heading.sheet"], 11),
            Heading(texts["report_heading.participant"], 13),
            Heading(texts["report_results.sum"], 10, "result_2"),
            Heading(texts["report_results.density"], 14, "result_4"),
            Heading(texts["report_results.fat_low"], 13, "result_1"),
            Heading(texts["report_results.fat_high"], 13, "result_1"),
            Heading(texts["report_results.estimate"], 29),
            *(Heading(heading, site_width(heading), "result_2") for heading in in_mm),
        ),
        rows,
    )


def _result_row(
    attempt: Attempt,
    protocols: Mapping[str, Protocol],
    participant_codes: Collection[str],
    sites: Collection[str],
    texts: Texts,
) -> tuple[Value, ...]:
    copy_code = "" if attempt.record is None else attempt.record.copy_code
    code = measured_code(attempt, participant_codes)
    results = attempt.results
    if results is None:
        no_results = texts["report_results.no_results"]
        return (copy_code, code, None, None, None, None, no_results, *(None for _ in sites))
    low, high = _band(attempt, protocols)
    words = texts.get(f"state.{results.estimate_state}", results.estimate_state)
    by_site = {site.site: site.value_mm for site in results.sites}
    values = (by_site.get(word) for word in sites)
    return (
        copy_code,
        code,
        results.sum_mm,
        results.density_g_ml,
        low,
        high,
        words or texts["report_results.estimate_made"],
        *values,
    )


def _band(attempt: Attempt, protocols: Mapping[str, Protocol]) -> tuple[float | None, float | None]:
    results = attempt.results
    if results is None or results.fat_percent is None:
        return None, None
    protocol = protocols.get(attempt.protocol_id)
    for equation in () if protocol is None else protocol.equations:
        if equation.identifier == results.equation_id:
            error = equation.standard_error_percent
            return results.fat_percent - error, results.fat_percent + error
    return None, None


def site_titles(attempts: Sequence[Attempt], protocols: Mapping[str, Protocol]) -> dict[str, str]:
    """Return code word to title of every site, in the order of the circuits.

    A site that a teacher has since taken out of the protocol goes by its code word.
    """
    used = dict.fromkeys(attempt.protocol_id for attempt in attempts if attempt.protocol_id in protocols)
    titles = {site.word: site.title for identifier in used for site in protocols[identifier].sites}
    measured = [site.site for one in attempts if one.results is not None for site in one.results.sites]
    return titles | {word: word for word in measured if word not in titles}


def retest_page(
    report: RetestReport,
    earlier: int,
    session: int,
    titles: Mapping[str, str],
    codes: Mapping[str, str],
    texts: Texts,
) -> Page:
    """Return the tab Retest.

    Parameters
    ----------
    titles : of the sites, by code word. codes : what stands for each student_id.
    """
    sentences = [
        texts["report_retest.band"].format(source=_source(report.source, titles, texts)),
        texts["report_retest.note"],
        texts["report_retest.not_health"],
    ]
    if report.missing:
        sentences.append(texts["report_retest.one_session"].format(codes=", ".join(report.missing)))
    return Page(
        texts["report_retest.tab"],
        texts["report_retest.title"].format(session=session, earlier=earlier),
        tuple(sentences),
        (
            Heading(texts["report_heading.participant"], 14, "label"),
            Heading(texts["report_heading.first_sheet"], 14),
            Heading(texts["report_heading.second_sheet"], 14),
            Heading(texts["report_retest.sum_before"], 12, "result_2"),
            Heading(texts["report_retest.sum_after"], 12, "result_2"),
            Heading(texts["report_retest.sum_change"], 12, "result_2"),
            Heading(texts["report_retest.sum_band"], 12, "result_2"),
            Heading(texts["report_heading.in_words"], 60),
        ),
        tuple(_retest_row(one, texts) for one in report.rows),
        more=(_sites(report, titles, texts), _progress(report.progress, codes, texts)),
    )


def _source(source: BandSource, titles: Mapping[str, str], texts: Texts) -> str:
    """Where the errors come from; a published limit with its source."""
    return texts[f"report_retest.band_{source.kind}"].format(
        limit=shown_number(acceptable_limit("within", "beginner").percent, texts),
        source=texts["report_data.limits_source"],
        sites=", ".join(titles.get(site, site) for site in source.sites),
    )


def _retest_row(one: RetestRow, texts: Texts) -> tuple[Value, ...]:
    numbers: tuple[Value, ...]
    if isinstance(one.total, Undefined):
        numbers = (None, None, None, None, _why_not(one, one.total, texts))
    else:
        numbers = _change(one.total, texts)
    return (one.participant_code, one.first_copy_code, one.second_copy_code, *numbers)


def _why_not(one: RetestRow, total: Undefined, texts: Texts) -> str:
    if not one.reasons:
        return reason_words(total, texts)
    reasons = "; ".join(reason_words(_sides_in_words(why, texts), texts) for why in one.reasons)
    return texts["report_retest.no_score_because"].format(reasons=reasons)


def _sides_in_words(why: Undefined, texts: Texts) -> Undefined:
    if why.reason != "other-side":
        return why
    sides = tuple((name, texts.get(f"report_side.{side}", str(side))) for name, side in why.values)
    return Undefined(why.reason, sides)


def _change(one: Change, texts: Texts) -> tuple[Value, ...]:
    words = texts["report_retest.more_than_error" if one.beyond else "report_retest.cannot_be_told"]
    return (one.before, one.after, one.change, one.band, words)


def _sites(report: RetestReport, titles: Mapping[str, str], texts: Texts) -> Section:
    rows: list[tuple[Value, ...]] = []
    for row in report.rows:
        changes = {one.what: one for one in row.sites}
        sites = dict.fromkeys((*row.first_values, *row.second_values))
        words = texts["report_retest.no_change_score" if row.reasons else "report_retest.no_value"]
        for site in sites:
            before, after = row.first_values.get(site), row.second_values.get(site)
            numbers: tuple[Value, ...] = (before, after, None, None, words)
            if site in changes:
                numbers = _change(changes[site], texts)
            rows.append((row.participant_code, row.first_copy_code, titles.get(site, site), *numbers))
    return Section(
        texts["report_retest.by_site"],
        (),
        (
            Heading(texts["report_heading.participant"], 14, "label"),
            Heading(texts["report_heading.first_sheet"], 14),
            Heading(texts["report_heading.site"], 14),
            Heading(texts["report_retest.before"], 12, "result_2"),
            Heading(texts["report_retest.after"], 12, "result_2"),
            Heading(texts["report_retest.change"], 12, "result_2"),
            Heading(texts["report_retest.error_band"], 12, "result_2"),
            Heading(texts["report_heading.in_words"], 60),
        ),
        tuple(rows),
    )


def _progress(progress: tuple[Progress, ...], codes: Mapping[str, str], texts: Texts) -> Section:
    rows = tuple(
        (
            code_of(one.student_id, one.after.copy_codes, codes, texts),
            one.before.pairs,
            one.after.pairs,
            shown(one.before.mean_mm),
            shown(one.after.mean_mm),
            one.findings_before,
            one.findings_after,
            texts[f"report_verdict.{one.verdict}"],
        )
        for one in progress
    )
    return Section(
        texts["report_retest.measurers"],
        (texts["report_retest.measurers_hint"],),
        (
            Heading(texts["report_heading.student_code"], 14, "label"),
            Heading(texts["report_retest.pairs_then"], 14, "text"),
            Heading(texts["report_retest.pairs_now"], 14, "text"),
            Heading(texts["report_retest.repeat_then"], 12, "result_2"),
            Heading(texts["report_retest.repeat_now"], 12, "result_2"),
            Heading(texts["report_retest.findings_then"], 12, "text"),
            Heading(texts["report_retest.findings_now"], 12, "text"),
            Heading(texts["report_heading.in_words"], 60),
        ),
        tuple(sorted(rows, key=lambda row: str(row[0]))),
    )
