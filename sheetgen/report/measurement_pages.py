"""The tab Results: what follows from each sheet, by code. No names."""

from collections.abc import Collection, Mapping, Sequence

from sheetgen.model.attempt import Attempt
from sheetgen.model.protocol import Protocol
from sheetgen.report.attempt_facts import counts, in_order, measured_code
from sheetgen.report.page import Heading, Page, Texts, Value, site_width

__all__ = ["results_page", "site_titles"]


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
