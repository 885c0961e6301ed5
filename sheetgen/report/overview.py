"""The tabs Overview and For the class: counts and what to do about each; a page to be projected."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from xlsxwriter.workbook import Workbook

from sheetgen.class_book.sheets_wanted import expected_back
from sheetgen.finding import Worded
from sheetgen.report.page import (
    Chart,
    Column,
    Heading,
    Page,
    SessionResults,
    Texts,
    Value,
    counts,
    in_order,
    table,
)
from sheetgen.report.writing import Formats, new_sheet, write, write_table
from sheetgen.statistics.analysis import ClassAnalysis, digit_words
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
    "class-caliper-zero-differs": "report_calipers.tab",
}
"""Where a finding about the class is shown, by the key of the name of the tab; the others: Findings."""


@dataclass(frozen=True, slots=True)
class Count:
    """One line of the overview: how many of what, and what to do about them."""

    what: str
    number: int
    to_do: str


@dataclass(frozen=True, slots=True)
class MissingSheet:
    """A sheet handed out of which no usable file came back. came_back : what did."""

    name: str
    student_id: str
    sheet_file: str
    came_back: str
    email: str


_COUNTS: tuple[Column[Count], ...] = (
    Column("report_overview.what", 28, lambda count: count.what, "label"),
    Column("report_overview.how_many", 13, lambda count: count.number, "text"),
    Column("report_heading.what_to_do", 52, lambda count: count.to_do),
)
_MISSING: tuple[Column[MissingSheet], ...] = (
    Column("report_heading.student", 28, lambda sheet: sheet.name),
    Column("report_heading.student_id", 13, lambda sheet: sheet.student_id),
    Column("report_overview.sheet_file", 52, lambda sheet: sheet.sheet_file),
    Column("report_overview.came_back", 26, lambda sheet: sheet.came_back),
    Column("report_overview.email", 32, lambda sheet: sheet.email),
)


def missing_sheets(results: SessionResults, texts: Texts) -> tuple[MissingSheet, ...]:
    """Return the sheets without a file that counts, by student and file name.

    Notes
    -----
    Only people on the roster: a spare sheet is nobody's, and who has left the class is not asked; nor is a
    sheet of a pair that was changed since waited for where there is one of the pair as it is now.
    """
    session, people = results.session, {person.student_id: person for person in results.book.people}
    here = set()
    others: dict[str, list[str]] = {}
    for attempt in in_order(results.attempts, session):
        if attempt.record is not None:
            came = f"{texts[f'report_status.{attempt.status}']}: {attempt.file}"
            others.setdefault(attempt.record.copy_code, []).append(came)
            here.update([attempt.record.copy_code] if counts(attempt) else [])
    of_session = (record for record in results.handed_out if record.session == session)
    awaited = expected_back(of_session, results.book)
    return tuple(
        MissingSheet(
            f"{person.given_name} {person.family_name}".strip(),
            person.student_id,
            record.file_name,
            ", ".join(others.get(record.copy_code, [texts["report_overview.nothing_came"]])),
            person.email,
        )
        for record in sorted(awaited, key=lambda record: (record.student_id, record.file_name))
        if record.copy_code not in here and (person := people.get(record.student_id)) is not None
    )


def session_counts(results: SessionResults, texts: Texts) -> tuple[Count, ...]:
    """Return the lines of the overview, from handed out to missing."""
    records = [record for record in results.handed_out if record.session == results.session]
    on_roster = {person.student_id for person in results.book.people}
    spare = sum(record.student_id not in on_roster for record in records)
    nothing = texts["report_common.nothing_to_do"]
    outside = texts["report_overview.outside"].format(count=spare, to_do=nothing) if spare else nothing
    statuses = [attempt.status for attempt in results.attempts]
    missing = len(missing_sheets(results, texts))
    lines = (
        ("report_overview.handed_out", len(records), outside),
        ("report_overview.returned", len(statuses), texts["report_overview.returned_to_do"]),
        ("report_overview.accepted", statuses.count("accepted"), texts["report_overview.accepted_to_do"]),
        ("report_overview.review", statuses.count("review"), texts["report_overview.review_to_do"]),
        ("report_overview.refused", statuses.count("refused"), texts["report_overview.refused_to_do"]),
        (
            "report_overview.superseded",
            statuses.count("superseded"),
            texts["report_common.other_file_counts"],
        ),
        ("report_overview.missing", missing, texts["report_overview.missing_to_do"]),
    )
    return tuple(Count(texts[key], number, to_do if number else nothing) for key, number, to_do in lines)


def write_overview(workbook: Workbook, formats: Formats, results: SessionResults, texts: Texts) -> None:
    """Add the tab Overview; its tables share their columns with the widest, of the missing sheets."""
    widths = [column.width for column in _MISSING]
    sheet = new_sheet(workbook, formats, texts["report_overview.tab"], widths, texts["report_common.page"])
    write(sheet, 0, 0, texts["report_overview.title"].format(session=results.session), formats["title"])
    facts = {
        "report_overview.class": results.book.title,
        "report_overview.class_code": results.book.class_code,
    }
    for row, (key, fact) in enumerate(facts.items(), start=1):
        write(sheet, row, 0, texts[key], formats["label"])
        write(sheet, row, 1, fact, formats["text"])
    counted = table(_COUNTS, session_counts(results, texts), texts)
    row = 2 + write_table(sheet, formats, 4, *counted)
    if results.class_findings:
        write(sheet, row, 0, texts["report_overview.of_class"], formats["label"])
        of_class = table(_class_columns(texts), results.class_findings, texts)
        row = 2 + write_table(sheet, formats, row + 1, *of_class, widths)
    missing = missing_sheets(results, texts)
    about_missing = texts["report_overview.missing" if missing else "report_overview.none_missing"]
    write(sheet, row, 0, about_missing, formats["label"])
    if missing:
        write_table(sheet, formats, row + 1, *table(_MISSING, missing, texts))
        sheet.repeat_rows(row + 1)
    sheet.freeze_panes(1, 0)
    sheet.activate()


def _class_columns(texts: Texts) -> Sequence[Column[Worded]]:
    return (
        Column(
            "report_overview.in_tab", 28,
            lambda finding: texts[_TABS.get(finding.code, "report_findings.tab")], "label",
        ),
        Column("report_heading.severity", 13, lambda finding: texts[f"report_severity.{finding.severity}"]),
        Column("report_overview.what_was_found", 52, lambda finding: finding.found),
        Column("report_heading.what_to_do", 26, lambda finding: finding.remedy),
    )  # fmt: skip


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
    tab, title = texts["report_summary.tab"], texts["report_summary.title"].format(session=analysis.session)
    of_students = analysis.rounds[~analysis.rounds["is_teacher"]]
    if of_students["student_id"].nunique() < SMALL_CELL:
        words = texts["report_summary.too_few"].format(least=SMALL_CELL)
        return Page(tab, title, (words,), (), (), wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            titles.get(one.site, one.site),
            relative.get(one.site) if one.sheets >= SMALL_CELL else None,
            count_words(one.needed, one.sheets, texts),
        )
        for one in analysis.thirds
    )
    return Page(
        tab,
        title,
        (
            texts["report_summary.sheets"].format(count=sheet_count(of_students)),
            _worst(analysis, titles, texts),
            *_digits(analysis, texts),
        ),
        (
            Heading(texts["report_heading.site"], 34),
            Heading(texts["report_summary.error"], 38, "result_1"),
            Heading(texts["report_summary.third_needed_sheets"], 38),
        ),
        rows,
        charts=(Chart("column", texts["report_summary.chart"], 0, 1),) if relative else (),
        wall=True,
    )


def _worst(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> str:
    worst = analysis.worst
    if isinstance(worst, Undefined):
        return texts["report_summary.no_worst"]
    key = "report_summary.worst_beyond_chance" if worst.stands_out else "report_summary.worst_by_chance"
    return texts[key].format(site=titles.get(worst.site, worst.site))


def _digits(analysis: ClassAnalysis, texts: Texts) -> tuple[str, ...]:
    found = [scale for scale in analysis.digits if scale.piles_up and scale.sheets >= SMALL_CELL]
    if not found:
        return (texts["report_summary.no_digit"],)
    return tuple(
        texts["report_summary.digits"].format(
            division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
        )
        for scale in found
    )
