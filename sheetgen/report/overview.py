"""The tabs Overview and For the class: counts and what to do about each; a page to be projected."""

from collections import Counter, defaultdict
from collections.abc import Mapping

from xlsxwriter.workbook import Workbook

from sheetgen.class_book.sheets_wanted import expected_back
from sheetgen.finding import Worded
from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    SessionResults,
    Texts,
    in_order,
    named,
    site_column,
    table,
)
from sheetgen.report.writing import Formats, new_tab
from sheetgen.returned.attempt import has_work
from sheetgen.statistics.analysis import ClassAnalysis, digit_words
from sheetgen.statistics.precision import ThirdReadings
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.languages import shown_number

_TABS = {
    "class-same-numbers": "report_talk.tab",
    "class-rounds-identical": "report_pile_up.tab",
    "class-second-round-thinner": "report_pile_up.tab",
    "class-digit-preference": "report_pile_up.tab",
    "class-site-stands-out": "report_precision.tab",
    "class-zero-forgotten": "report_calipers.tab",
    "class-caliper-off": "report_calipers.tab",
}
"""Where a finding about the class is shown, by the key of the name of the tab; the others: Findings."""

_COUNTS = (
    Column("report_overview.what", 28, "0", "label"),
    Column("report_overview.how_many", 13, "1", "text"),
    Column("report_heading.what_to_do", 52, "2"),
)
_MISSING = (
    Column("report_heading.student", 28, "0"),
    Column("report_heading.student_id", 13, "1"),
    Column("report_overview.sheet_file", 52, "2"),
    Column("report_overview.came_back", 26, "3"),
    Column("report_overview.email", 32, "4"),
)


def missing_sheets(results: SessionResults, texts: Texts) -> tuple[tuple[str, ...], ...]:
    """Return (name, student_id, sheet file, what came back, email) of the sheets without a file that counts.

    Notes
    -----
    Only people on the roster: a spare sheet is nobody's, and who has left the class is not asked; nor is a
    sheet of a pair that was changed since waited for where there is one of the pair as it is now.
    """
    session, people = results.session, {person.student_id: person for person in results.book.people}
    here = {attempt.record.copy_code for attempt in results.attempts if attempt.record and has_work(attempt)}
    came_back = defaultdict(list)
    for attempt in in_order(results.attempts, session):
        if attempt.record is not None:
            came = f"{texts[f'report_status.{attempt.status}']}: {attempt.file}"
            came_back[attempt.record.copy_code].append(came)
    nothing = [texts["report_overview.nothing_came"]]
    of_session = (record for record in results.handed_out if record.session == session)
    awaited = expected_back(of_session, results.book)
    return tuple(
        (
            f"{person.given_name} {person.family_name}".strip(),
            person.student_id,
            record.file_name,
            ", ".join(came_back.get(record.copy_code, nothing)),
            person.email,
        )
        for record in sorted(awaited, key=lambda record: (record.student_id, record.file_name))
        if record.copy_code not in here and (person := people.get(record.student_id)) is not None
    )


def session_counts(results: SessionResults, texts: Texts) -> list[tuple[str, int, str]]:
    """Return (what, how many, what to do) from handed out to missing."""
    records = [record for record in results.handed_out if record.session == results.session]
    on_roster = {person.student_id for person in results.book.people}
    spare = sum(record.student_id not in on_roster for record in records)
    nothing = texts["report_common.nothing_to_do"]
    outside = texts["report_overview.outside"].format(count=spare, to_do=nothing) if spare else nothing
    numbers = Counter(attempt.status for attempt in results.attempts)
    missing = len(missing_sheets(results, texts))
    lines = (
        ("report_overview.handed_out", len(records), outside),
        ("report_overview.returned", numbers.total(), texts["report_overview.returned_to_do"]),
        ("report_overview.accepted", numbers["accepted"], texts["report_overview.accepted_to_do"]),
        ("report_overview.review", numbers["review"], texts["report_overview.review_to_do"]),
        ("report_overview.refused", numbers["refused"], texts["report_overview.refused_to_do"]),
        ("report_overview.superseded", numbers["superseded"], texts["report_common.other_file_counts"]),
        ("report_overview.missing", missing, texts["report_overview.missing_to_do"]),
    )
    return [(texts[key], number, to_do if number else nothing) for key, number, to_do in lines]


def write_overview(workbook: Workbook, formats: Formats, results: SessionResults, texts: Texts) -> None:
    """Add the tab Overview; its tables share their columns with the widest, of the missing sheets."""
    counted, missing = session_counts(results, texts), missing_sheets(results, texts)

    def in_tab(finding: Worded) -> str:
        return texts[_TABS.get(finding.code, "report_findings.tab")]

    of_class = (
        Column("report_overview.in_tab", 28, in_tab, "label"),
        Column("report_heading.severity", 13, lambda one: texts[f"report_severity.{one.severity}"]),
        Column("report_overview.what_was_found", 52, "found"),
        Column("report_heading.what_to_do", 26, "remedy"),
    )
    name, title = named("report_overview", texts, session=results.session)
    shown_missing = table(_MISSING, missing, texts)
    widths = [heading.width for heading in shown_missing[0]]
    tab = new_tab(workbook, formats, name, widths, texts["report_common.page"])
    tab.write(0, 0, title, "title")
    book = results.book
    facts = {"report_overview.class": book.title, "report_overview.class_code": book.class_code}
    for row, (key, fact) in enumerate(facts.items(), start=1):
        tab.write(row, 0, texts[key], "label")
        tab.write(row, 1, fact, "text")
    row = 2 + tab.write_table(4, *table(_COUNTS, counted, texts))
    if results.class_findings:
        tab.write(row, 0, texts["report_overview.of_class"], "label")
        row = 2 + tab.write_table(row + 1, *table(of_class, results.class_findings, texts))
    tab.write(
        row, 0, texts["report_overview.missing" if missing else "report_overview.none_missing"], "label"
    )
    if missing:
        tab.write_table(row + 1, *shown_missing)
        tab.sheet.repeat_rows(row + 1)
    tab.sheet.freeze_panes(1, 0)
    tab.sheet.activate()


SMALL_CELL = 5
"""Counts of people below this are hidden from the class: common in official statistics, no one source."""


def count_words(count: int, of: int, texts: Texts) -> str:
    """Return a count that gives nobody away, neither those counted nor the rest.

    Examples
    --------
    >>> count_words(12, 30, {})
    '12'
    >>> count_words(3, 30, {"report_summary.fewer_than": "fewer than {least}"})
    'fewer than 5'
    >>> count_words(28, 30, {"report_summary.nearly_all": "nearly all"})
    'nearly all'
    """
    if count < SMALL_CELL:
        return texts["report_summary.fewer_than"].format(least=SMALL_CELL)
    return str(count) if of - count >= SMALL_CELL else texts["report_summary.nearly_all"]


def class_summary_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab For the class.

    Notes
    -----
    Students only. No number of those missing, so that nobody is worked out by taking away.
    """
    tab, title = named("report_summary", texts, session=analysis.session)
    of_students = analysis.rounds[~analysis.rounds["is_teacher"]]
    if of_students["student_id"].nunique() < SMALL_CELL:
        words = texts["report_summary.too_few"].format(least=SMALL_CELL)
        return Page(tab, title, (words,), (), (), wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}

    def error(one: ThirdReadings) -> float | None:
        return relative.get(one.site) if one.sheets >= SMALL_CELL else None

    columns = (
        site_column(titles, 34),
        Column("report_summary.error", 38, error, "result_1"),
        Column(
            "report_summary.third_needed_sheets", 38, lambda one: count_words(one.needed, one.sheets, texts)
        ),
    )
    return Page(
        tab,
        title,
        (
            texts["report_summary.sheets"].format(count=sheet_count(of_students)),
            _worst(analysis, titles, texts),
            *_digits(analysis, texts),
        ),
        *table(columns, analysis.thirds, texts),
        charts=(Chart("column", texts["report_summary.chart"], 0, 1),) if relative else (),
        wall=True,
    )


def _worst(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> str:
    worst = analysis.worst
    if isinstance(worst, Undefined):
        return texts["report_summary.no_worst"]
    key = "report_summary.worst_beyond_chance" if worst.stands_out else "report_summary.worst_by_chance"
    return texts[key].format(site=titles.get(worst.site, worst.site))


def _digits(analysis: ClassAnalysis, texts: Texts) -> list[str]:
    said = [
        texts["report_summary.digits"].format(
            division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
        )
        for scale in analysis.digits
        if scale.piles_up and scale.sheets >= SMALL_CELL
    ]
    return said or [texts["report_summary.no_digit"]]
