"""The tabs about files: Sheets, Findings, Findings by kind, To talk to."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from operator import attrgetter

from sheetgen.finding import SEVERITIES, Worded
from sheetgen.report.page import (
    Chart,
    Column,
    Page,
    Section,
    Texts,
    counted,
    in_order,
    named,
    sentence,
    short,
    site_column,
    table,
)
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, pair_words
from sheetgen.statistics.readings_frame import measured_code
from sheetgen.statistics.same_numbers import EXPECTED, NumbersPair, SameNumbers
from sheetgen.texts.findings import worded
from sheetgen.texts.languages import shown_number


def sheets_page(
    attempts: Sequence[Attempt], session: int, participant_codes: Collection[str], texts: Texts
) -> Page:
    """Return the tab Sheets: one row a returned file, with the first thing to do."""

    def number(file: Attempt, severity: str) -> int:
        return sum(finding.severity == severity for finding in file.findings)

    columns = (
        Column("report_heading.file", 36, "file"),
        Column("report_heading.sheet", 12, "record.copy_code"),
        Column("report_heading.student_id", 13, "record.student_id"),
        Column("report_heading.participant", 13, lambda file: measured_code(file, participant_codes)),
        Column("report_heading.status", 14, lambda file: texts[f"report_status.{file.status}"], "label"),
        Column("report_sheets.errors", 10, lambda file: number(file, "error"), "text"),
        Column("report_sheets.warnings", 11, lambda file: number(file, "warning"), "text"),
        Column("report_sheets.notes", 9, lambda file: number(file, "note"), "text"),
        Column("report_sheets.first_to_do", 46, lambda file: _first_to_do(file, texts)),
    )
    return Page(
        *named("report_sheets", texts, session=session),
        (texts["report_sheets.hint"],),
        *table(columns, sorted(attempts, key=attrgetter("file", "sha256")), texts),
        filtered=True,
    )


def _first_to_do(attempt: Attempt, texts: Texts) -> str:
    """The remedy of the gravest finding; a note asks for nothing unless the file waits for a decision."""
    if attempt.status == "superseded":
        return texts["report_common.other_file_counts"]
    asking = SEVERITIES if attempt.status != "accepted" else SEVERITIES[:2]
    found = [finding for finding in attempt.findings if finding.severity in asking]
    if found:
        gravest = min(found, key=lambda finding: asking.index(finding.severity))
        return texts[f"{gravest.code}.remedy"]
    return texts["report_common.nothing_to_do" if attempt.status == "accepted" else "report_sheets.decide"]


def findings_page(
    attempts: Sequence[Attempt], session: int, of_class: Sequence[Worded], texts: Texts
) -> Page:
    """Return the tab Findings: those about the class, then every finding of every file, in one table."""
    rows = [("", finding) for finding in of_class]
    for attempt in in_order(attempts, session):
        rows += [(attempt.file, worded(finding, texts)) for finding in attempt.findings]

    def place(row: tuple[str, Worded]) -> str:
        file, finding = row
        found = f"{finding.tab} {finding.cell}".strip()
        return (found or texts["report_findings.whole_file"]) if file else ""

    columns = (
        Column("report_heading.file", 26, lambda row: row[0] or texts["report_findings.whole_class"]),
        Column(
            "report_heading.severity", 12, lambda row: texts[f"report_severity.{row[1].severity}"], "label"
        ),
        Column("report_heading.code", 20, "1.code"),
        Column("report_findings.place", 13, place),
        Column("report_findings.found", 22, "1.found"),
        Column("report_findings.expected", 22, "1.expected"),
        Column("report_heading.what_to_do", 36, "1.remedy"),
    )
    return Page(
        *named("report_findings", texts, session=session),
        (texts["report_findings.hint" if rows else "report_findings.nothing_in_files"],),
        *table(columns, rows, texts),
        filtered=True,
    )


def kinds_page(attempts: Sequence[Attempt], session: int, of_class: Sequence[Worded], texts: Texts) -> Page:
    """Return the tab Findings by kind: how often each code came up, the most frequent first."""
    totals = Counter((finding.code, finding.severity) for finding in of_class)
    files: Counter[tuple[str, str]] = Counter()
    for attempt in attempts:
        files.update({(finding.code, finding.severity) for finding in attempt.findings})
        for finding in attempt.findings:
            totals[finding.code, finding.severity] += finding.count
    columns = (
        Column("report_heading.code", 46, "0"),
        Column("report_heading.severity", 14, lambda kind: texts[f"report_severity.{kind[1]}"], "label"),
        Column("report_heading.findings", 20, lambda kind: totals[kind], "text"),
        Column("report_kinds.files", 20, lambda kind: files[kind] or None, "text"),
    )
    tab, title = named("report_kinds", texts, session=session)
    return Page(
        tab,
        title,
        (texts["report_kinds.hint" if totals else "report_kinds.nothing"],),
        *table(columns, sorted(totals, key=lambda kind: (-totals[kind], kind)), texts),
        charts=(Chart("bar", title, 0, 2),) if totals else (),
    )


_MOST_SIDE_BY_SIDE = 40
"""Pairs; one record handed in by a whole class would fill the report."""
_CAUSES = 5
"""Innocent ones, of equal numbers."""


def talk_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab To talk to; titles : of the sites, by code word."""
    found = analysis.same
    people = {True: texts["report_talk.same_person"], False: texts["report_talk.different_people"]}
    columns = (
        Column("report_heading.first_sheet", 16, "first_copy_code", "label"),
        Column("report_heading.second_sheet", 16, "second_copy_code", "label"),
        Column("report_talk.about", 18, lambda pair: people[pair.same_participant]),
        Column("report_talk.equal_readings", 14, "equal_readings", "text"),
        Column("report_talk.of", 14, "compared", "text"),
        Column("report_talk.equal_sites", 14, "equal_sites", "text"),
        Column("report_talk.threshold", 12, "threshold", "text"),
        Column("report_talk.expected", 14, lambda pair: short(pair.expected, texts)),
        Column("report_heading.what_to_do", 28, lambda pair: texts["report_talk.conversation"]),
    )
    return Page(
        *named("report_talk", texts, session=analysis.session),
        _sentences(found, texts),
        *table(columns if found.pairs else (), found.pairs, texts),
        more=tuple(_side_by_side(pair, titles, texts) for pair in found.pairs[:_MOST_SIDE_BY_SIDE]),
    )


def _sentences(found: SameNumbers, texts: Texts) -> tuple[str, ...]:
    count = len(found.pairs)
    key = "report_talk.pairs" if count > 1 else "report_talk.one_pair" if count else "report_talk.no_pair"
    always = (
        texts[key].format(count=count),
        _thresholds(found, texts),
        *counted("report_talk.declared", found.declared_out, texts),
    )
    if not count:
        return always
    first = texts["report_talk.first_pairs"].format(count=_MOST_SIDE_BY_SIDE)
    return (
        *always,
        texts["report_talk.innocent"],
        *(f"   {number}. {texts[f'report_talk.cause_{number}']}" for number in range(1, _CAUSES + 1)),
        texts["report_talk.which_file"],
        *((first,) if count > _MOST_SIDE_BY_SIDE else ()),
    )


def _thresholds(found: SameNumbers, texts: Texts) -> str:
    """From how many equal sites on two files are pointed out, by the kind of pair."""

    def kind(out_of_reach: str, least: str, threshold: int, expected: float) -> str:
        said = texts[out_of_reach if threshold > found.sites else least]
        return said.format(least=threshold, sites=found.sites, expected=short(expected, texts))

    different = (found.different.threshold, found.different.expected)
    same = (found.same.threshold, found.same.expected)
    return texts["report_talk.thresholds"].format(
        files=found.files,
        expected=shown_number(EXPECTED, texts),
        different=kind("report_talk.different_none", "report_talk.different_least", *different),
        same=kind("report_talk.same_none", "report_talk.same_least", *same),
    )


def _side_by_side(pair: NumbersPair, titles: Mapping[str, str], texts: Texts) -> Section:
    def equal(reading: tuple[str, int, float | None, float | None]) -> str:
        _, _, first, second = reading
        return texts["report_talk.equal"] if first is not None and first == second else ""

    columns = (
        site_column(titles, 16, "0"),
        Column("report_talk.reading", 16, lambda row: texts["report_talk.round"].format(number=row[1])),
        Column("", 18, equal, "label"),
        Column("report_common.in_mm", 14, "2", "result_2", pair.first_copy_code),
        Column("report_common.in_mm", 14, "3", "result_2", pair.second_copy_code),
    )
    title = texts["report_talk.side_by_side"].format(first=pair.first_copy_code, second=pair.second_copy_code)
    words = f"{sentence(pair_words(pair, texts))}."
    return Section(title, (words,), *table(columns, pair.side_by_side, texts))
