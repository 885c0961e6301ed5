"""The tab Results: what follows from each sheet, by code. No names."""

from collections.abc import Collection, Mapping, Sequence

from sheetgen.model.attempt import Attempt
from sheetgen.model.protocol import Protocol
from sheetgen.report.attempt_facts import counts, in_order, measured_code
from sheetgen.report.page import Heading, Page, Value

__all__ = ["results_page", "site_titles"]


def results_page(
    attempts: Sequence[Attempt],
    session: int,
    protocols: Mapping[str, Protocol],
    state_words: Mapping[str, str],
    participant_codes: Collection[str],
) -> Page:
    """Return the tab Results: one row a sheet that counts, by copy code, never by value.

    Parameters
    ----------
    state_words : what each `estimate_state` means, in words.

    Notes
    -----
    The band is per cent fat plus and minus the standard error of the equation, in points of per cent fat.
    """
    counting = [attempt for attempt in in_order(attempts, session) if counts(attempt)]
    sites = site_titles(counting, protocols)
    rows = tuple(
        _result_row(attempt, protocols, state_words, participant_codes, sites) for attempt in counting
    )
    return Page(
        "Results",
        f"Results by code, session {session}",
        (
            "Estimates for teaching, never marked. They say nothing about health.",
            "The band of fat is one standard error of the equation to either side.",
        ),
        (
            Heading("Sheet", 11),
            Heading("Participant", 13),
            Heading("Sum, mm", 10, "result_2"),
            Heading("Density, g/ml", 14, "result_4"),
            Heading("Fat, low end, %", 13, "result_1"),
            Heading("Fat, high end, %", 13, "result_1"),
            Heading("Estimate", 29),
            *(Heading(f"{title}, mm", _width(title), "result_2") for title in sites.values()),
        ),
        rows,
    )


def _width(title: str) -> float:
    """Room for the longest word of a title, whose words stand below each other."""
    return max(10.0, 2.0 + 1.1 * max(len(word) for word in f"{title},".split()))


def _result_row(
    attempt: Attempt,
    protocols: Mapping[str, Protocol],
    state_words: Mapping[str, str],
    participant_codes: Collection[str],
    sites: Collection[str],
) -> tuple[Value, ...]:
    copy_code = "" if attempt.record is None else attempt.record.copy_code
    code = measured_code(attempt, participant_codes)
    results = attempt.results
    if results is None:
        return (copy_code, code, None, None, None, None, "no results", *(None for _ in sites))
    low, high = _band(attempt, protocols)
    words = state_words.get(results.estimate_state, results.estimate_state)
    by_site = {site.site: site.value_mm for site in results.sites}
    values = (by_site.get(word) for word in sites)
    return (
        copy_code,
        code,
        results.sum_mm,
        results.density_g_ml,
        low,
        high,
        words or "estimate made",
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
