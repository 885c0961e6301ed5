"""The tab Over time, with both sessions side by side: no names, and which change is more than error."""

from collections import Counter
from collections.abc import Mapping, Sequence

from sheetgen.protocols.protocol import Protocol
from sheetgen.report.page import Column, Page, Section, named, table
from sheetgen.returned.attempt import Attempt, has_work
from sheetgen.statistics.analysis import reason_words
from sheetgen.statistics.repeatability import Undefined, acceptable_limit
from sheetgen.statistics.retest import Change, RetestReport, RetestRow
from sheetgen.texts.languages import Texts, shown_number


def site_titles(attempts: Sequence[Attempt], protocols: Mapping[str, Protocol]) -> dict[str, str]:
    """Return code word to title of every site of the files that count, in the order of the circuits. A site
    that a teacher has since taken out of the protocol goes by its code word."""
    counting = [attempt for attempt in attempts if has_work(attempt)]
    used = dict.fromkeys(one.protocol_id for one in counting if one.protocol_id in protocols)
    titles = {site.word: site.title for identifier in used for site in protocols[identifier].sites}
    measured = [site.site for one in counting if one.results is not None for site in one.results.sites]
    return titles | {word: word for word in measured if word not in titles}


def retest_page(
    report: RetestReport, sessions: tuple[str, str], titles: Mapping[str, str], texts: Texts
) -> Page:
    """Return the tab Over time; the sites are `retest_sites`. sessions : this one and the earlier."""
    one_session = texts["report_retest.one_session"].format(codes=", ".join(report.missing))
    rows = Counter(row.participant_code for row in report.rows)

    def called(row: RetestRow) -> str:
        """The participant, and which sheet where two people measured them."""
        several = rows[row.participant_code] > 1
        return f"{row.participant_code}, {row.copy_codes[1]}" if several else row.participant_code

    columns = (
        Column("report_heading.participant", 20, called, "label"),
        Column("report_retest.sum_before", 8, "total.before", "result_2"),
        Column("report_retest.sum_after", 8, "total.after", "result_2"),
        Column("report_retest.sum_change", 8, "total.change", "result_2"),
        Column("report_retest.sum_band", 8, "total.band", "result_2"),
        Column("report_heading.in_words", 36, lambda one: _total_words(one, texts)),
    )
    band = texts["report_retest.band"].format(source=_source(report, titles, texts))
    once = (one_session,) if report.missing else ()
    said = (band, texts["report_retest.note"], texts["report_retest.not_health"], *once)
    name = named("report_retest", texts, session=sessions[0], earlier=sessions[1])
    return Page(*name, said, *table(columns, report.rows, texts))


def _source(report: RetestReport, titles: Mapping[str, str], texts: Texts) -> str:
    """Where the errors come from; a published limit with its source."""
    return texts[f"report_retest.band_{report.source}"].format(
        limit=shown_number(acceptable_limit("within", "beginner"), texts),
        source=texts["report_data.limits_source"],
        sites=", ".join(titles.get(site, site) for site in report.limited),
    )


def _total_words(row: RetestRow, texts: Texts) -> str:
    if not isinstance(row.total, Undefined):
        return _change_words(row.total, texts)
    if not row.reasons:
        return reason_words(row.total, texts)
    reasons = "; ".join(reason_words(_sides_in_words(why, texts), texts) for why in row.reasons)
    return texts["report_retest.no_score_because"].format(reasons=reasons)


def _sides_in_words(why: Undefined, texts: Texts) -> Undefined:
    if why.reason != "other-side":
        return why
    sides = tuple((name, texts.get(f"report_side.{side}", str(side))) for name, side in why.values)
    return Undefined(why.reason, sides)


def _change_words(change: Change, texts: Texts) -> str:
    return texts["report_retest.more_than_error" if change.beyond else "report_retest.cannot_be_told"]


def retest_sites(report: RetestReport, titles: Mapping[str, str], texts: Texts) -> Section:
    """Return both values of every site by participant code, for the tab Details."""

    def words(line: tuple[RetestRow, str, Change | None]) -> str:
        row, _, change = line
        if change is not None:
            return _change_words(change, texts)
        return texts["report_retest.no_change_score" if row.reasons else "report_retest.no_value"]

    # Both values stand there even where they may not be compared.
    lines = [
        (row, site, next((one for one in row.sites if one.what == site), None))
        for row in report.rows
        for site in dict.fromkeys((*row.first_values, *row.second_values))
    ]
    columns = (
        Column("report_heading.participant", 26, "0.participant_code", "label"),
        Column("report_heading.site", 14, lambda line: titles.get(line[1], line[1])),
        Column("report_retest.before", 12, lambda line: line[0].first_values.get(line[1]), "result_2"),
        Column("report_retest.after", 12, lambda line: line[0].second_values.get(line[1]), "result_2"),
        Column("report_retest.change", 12, "2.change", "result_2"),
        Column("report_retest.error_band", 12, "2.band", "result_2"),
        Column("report_heading.in_words", 60, words),
    )
    return Section(texts["report_retest.by_site"], (), *table(columns, lines, texts))
