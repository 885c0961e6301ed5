"""The record of the measurers: the tab Measurers, and the words of it on each page of feedback."""

from collections.abc import Iterable, Iterator, Mapping

from sheetgen.class_folder.decisions import OBSERVED_STEPS
from sheetgen.report.page import Column, Page, Value, named, sentence, table
from sheetgen.statistics.measurers import MeasurerRecord, SessionRecord
from sheetgen.statistics.repeatability import acceptable_limit
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign

_Row = tuple[MeasurerRecord, SessionRecord]


def measurers_page(
    records: Iterable[MeasurerRecord],
    session: str,
    titles: Mapping[str, str],
    codes: Mapping[str, str],
    texts: Texts,
) -> Page | None:
    """Return the tab Measurers: a line a person, with the numbers of their last session; None of nobody.
    records : over two sessions or more. titles : of the sites, by code word. codes : by student_id."""
    rows = [(record, record.sessions[-1]) for record in records]
    if not rows:
        return None
    sites = dict.fromkeys(site for _, one in rows for site in one.sites)

    def within(row: _Row) -> str:
        return " / ".join(map(str, (*within_limits(row[1]), len(row[1].sites))))

    def in_words(row: _Row) -> str:
        return " ".join(record_lines(row[0], titles, texts, "record_short"))

    columns = (
        Column(
            "report_heading.student_code", 10, lambda row: codes.get(who := row[0].student_id, who), "label"
        ),
        *(_of_site(site, titles) for site in sites),
        Column("report_measurers.all_sites", 20, lambda row: _each_session(row[0], texts)),
        Column("report_measurers.within", 10, within, "text"),
        Column("report_measurers.thirds", 9, "1.thirds", "text"),
        Column("report_measurers.from_teacher", 9, "1.from_teacher", "result_2"),
        Column("report_measurers.drill", 7, lambda row: drill_words(row[1]), "text"),
        Column("report_heading.in_words", 44, in_words),
    )
    limits = {who: shown_number(acceptable_limit("within", who), texts) for who in ("beginner", "skilled")}
    said = (texts["report_measurers.hint"].format(**limits), texts["report_measurers.ready"])
    name = named("report_measurers", texts, session=session)
    return Page(*name, said, *table(columns, rows, texts))


def _of_site(site: str, titles: Mapping[str, str]) -> Column:
    def percent(row: _Row) -> int | None:
        one = row[1].sites.get(site)
        return None if one is None else one.percent

    return Column("report_measurers.site", 10.5, percent, "text", titles.get(site, site))


def within_limits(one: SessionRecord) -> tuple[int, int]:
    """Return at how many sites the repeat error is within a beginner's limit, and within a skilled one's."""
    beginner, skilled = acceptable_limit("within", "beginner"), acceptable_limit("within", "skilled")
    return one.within(beginner), one.within(skilled)


def drill_words(one: SessionRecord) -> str:
    """Return readings of drawn scales that are right, of all of them; empty where none was read."""
    return "" if one.drill is None else f"{one.drill[0]} / {one.drill[1]}"


def _each_session(record: MeasurerRecord, texts: Texts) -> str:
    percents = ((one.session, with_decimal_sign(f"{one.percent:.1f}", texts)) for one in record.sessions)
    return "; ".join(f"{session}: {percent}" for session, percent in percents)


def record_lines(
    record: MeasurerRecord, titles: Mapping[str, str], texts: Texts, words: str = "record"
) -> tuple[str, ...]:
    """Return what the record of two sessions or more comes to: the trend, where ready, what to practise.
    texts : those of `feedback.LANGUAGE`. words : `record`, or `record_short` for the teacher."""
    lines = []
    if record.ratio is not None:
        first, last = record.sessions[0], record.sessions[-1]
        numbers = (last.percent / first.percent, record.ratio.lower, record.ratio.upper)
        ratio, lower, upper = (with_decimal_sign(f"{number:.1f}", texts) for number in numbers)
        said = texts[f"{words}.trend_{record.trend}"]
        lines.append(said.format(first=first.session, ratio=ratio, lower=lower, upper=upper))
    called = {site: titles.get(site, site).lower() for site in (*record.within, *record.practise)}
    both = (record.within, record.practise)
    within, practise = (", ".join(called[site] for site in sites) for sites in both)
    within = texts["record.every_site"] if len(record.within) == len(record.sessions[-1].sites) else within
    seen = {"seen": len(record.observed), "steps": len(OBSERVED_STEPS), "count": len(record.within)}
    if within:
        word = "ready" if record.all_observed else "within"
        lines.append(texts[f"{words}.{word}"].format(sites=within, **seen))
    if practise:
        lines.append(texts[f"{words}.practise"].format(sites=practise))
    if record.signed_off:
        lines.append(texts[f"{words}.signed_off"].format(day=record.signed_off))
    return tuple(lines)


def record_rows(
    record: MeasurerRecord, titles: Mapping[str, str], texts: Texts
) -> Iterator[tuple[Value, ...]]:
    """Yield (session, repeat error [%], third readings of pairs, drill, in words) of each session, for the
    feedback; texts : those of `feedback.LANGUAGE`."""
    for one in record.sessions:
        by_site = (f"{titles.get(site, site).lower()} {found.percent} %" for site, found in one.sites.items())
        beginner, skilled = within_limits(one)
        numbers = {"beginner": beginner, "skilled": skilled, "sites": len(one.sites)}
        words = texts["record.by_site"].format(by_site=", ".join(by_site), **numbers)
        if one.from_teacher is not None:
            apart = with_decimal_sign(f"{one.from_teacher:+.1f}", texts)
            words += f" {texts['record.from_teacher'].format(apart=apart)}"
        thirds = f"{one.thirds} / {one.pairs}"
        session = texts["record.session"].format(session=one.session)
        yield session, round(one.percent, 1), thirds, drill_words(one), sentence(words)
