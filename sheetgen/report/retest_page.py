"""The tab Retest: both sessions side by side, what is more than measurement error, and who has come on."""

from collections.abc import Mapping

from sheetgen.checking.retest import Change, Progress, RetestReport, RetestRow
from sheetgen.core.outcome import Undefined
from sheetgen.report.page import Heading, Page, Section, Value
from sheetgen.report.shown import shown

__all__ = ["retest_page"]

_CHANGE = (
    Heading("Before, mm", 12, "result_2"),
    Heading("After, mm", 12, "result_2"),
    Heading("Change, mm", 12, "result_2"),
    Heading("Error band, mm", 12, "result_2"),
    Heading("In words", 60),
)


def retest_page(
    report: RetestReport, earlier: int, session: int, titles: Mapping[str, str], codes: Mapping[str, str]
) -> Page:
    """Return the tab Retest.

    Parameters
    ----------
    titles : of the sites, by code word. codes : what stands for each student_id.
    """
    sentences = [
        f"The band: {report.source}.",
        report.note,
        "A change says nothing about health. Another caliper, measurer or protocol: both sessions are shown, "
        "and no change score.",
    ]
    if report.missing:
        sentences.append(f"In one session only: {', '.join(report.missing)}.")
    return Page(
        "Retest",
        f"Retest: session {session} against session {earlier}",
        tuple(sentences),
        (
            Heading("Participant", 14, "label"),
            Heading("First sheet", 14),
            Heading("Second sheet", 14),
            *(Heading(f"Sum: {one.text.lower()}", one.width, one.format) for one in _CHANGE[:-1]),
            _CHANGE[-1],
        ),
        tuple(_row(one) for one in report.rows),
        more=(_sites(report, titles), _progress(report.progress, codes)),
    )


def _row(one: RetestRow) -> tuple[Value, ...]:
    if isinstance(one.total, Undefined):
        numbers: tuple[Value, ...] = (None, None, None, None, one.total.reason)
    else:
        numbers = _change(one.total)
    return (one.participant_code, one.first_copy_code, one.second_copy_code, *numbers)


def _change(one: Change) -> tuple[Value, ...]:
    return (one.before, one.after, one.change, one.band, one.words)


def _sites(report: RetestReport, titles: Mapping[str, str]) -> Section:
    rows: list[tuple[Value, ...]] = []
    for row in report.rows:
        changes = {one.what: one for one in row.sites}
        sites = dict.fromkeys((*row.first_values, *row.second_values))
        for site in sites:
            words = "no change score" if row.reasons else "no value in one of the sessions"
            before, after = row.first_values.get(site), row.second_values.get(site)
            numbers: tuple[Value, ...] = (before, after, None, None, words)
            if site in changes:
                numbers = _change(changes[site])
            rows.append((row.participant_code, row.first_copy_code, titles.get(site, site), *numbers))
    return Section(
        "By site",
        (),
        (
            Heading("Participant", 14, "label"),
            Heading("First sheet", 14),
            Heading("Site", 14),
            *_CHANGE,
        ),
        tuple(rows),
    )


def _progress(progress: tuple[Progress, ...], codes: Mapping[str, str]) -> Section:
    rows = tuple(
        (
            codes.get(one.student_id) or f"sheet {one.after.copy_codes[0]}",
            one.before.pairs,
            one.after.pairs,
            shown(one.before.mean_mm),
            shown(one.after.mean_mm),
            one.findings_before,
            one.findings_after,
            one.words,
        )
        for one in progress
    )
    return Section(
        "The measurers then and now",
        ("Your repeat difference and your findings, notes left out, in both sessions.",),
        (
            Heading("Student code", 14, "label"),
            Heading("Pairs then", 14, "text"),
            Heading("Pairs now", 14, "text"),
            Heading("Repeat difference then, mm", 12, "result_2"),
            Heading("Repeat difference now, mm", 12, "result_2"),
            Heading("Findings then", 12, "text"),
            Heading("Findings now", 12, "text"),
            Heading("In words", 60),
        ),
        tuple(sorted(rows, key=lambda row: str(row[0]))),
    )
