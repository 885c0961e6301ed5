"""The tab Retest: both sessions side by side, what is more than measurement error, and who has come on."""

from collections.abc import Mapping

from sheetgen.checking.class_words import reason_words
from sheetgen.checking.retest import BandSource, Change, Progress, RetestReport, RetestRow
from sheetgen.core.detectable_change import acceptable_limit
from sheetgen.core.outcome import Undefined
from sheetgen.layout.number_text import shown_number
from sheetgen.report.page import Heading, Page, Section, Texts, Value, code_of, shown

__all__ = ["retest_page"]


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
        tuple(_row(one, texts) for one in report.rows),
        more=(_sites(report, titles, texts), _progress(report.progress, codes, texts)),
    )


def _source(source: BandSource, titles: Mapping[str, str], texts: Texts) -> str:
    """Where the errors come from; a published limit with its source."""
    return texts[f"report_retest.band_{source.kind}"].format(
        limit=shown_number(acceptable_limit("within", "beginner").percent, texts),
        source=texts["report_data.limits_source"],
        sites=", ".join(titles.get(site, site) for site in source.sites),
    )


def _row(one: RetestRow, texts: Texts) -> tuple[Value, ...]:
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
