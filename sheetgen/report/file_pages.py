"""The tabs about files: Sheets, Findings, Findings by kind, To talk to."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

from sheetgen.finding import SEVERITIES, Worded
from sheetgen.report.page import (
    Chart,
    Column,
    Heading,
    Page,
    Section,
    Texts,
    in_order,
    sentence,
    short,
    table,
)
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, pair_words
from sheetgen.statistics.readings_frame import measured_code
from sheetgen.statistics.same_numbers import EXPECTED, NumbersPair, SameNumbers
from sheetgen.texts.findings import worded
from sheetgen.texts.languages import shown_number, with_decimal_sign


def sheets_page(
    attempts: Sequence[Attempt], session: int, participant_codes: Collection[str], texts: Texts
) -> Page:
    """Return the tab Sheets: one row a returned file, with the first thing to do."""

    def number(file: Attempt, severity: str) -> int:
        return sum(finding.severity == severity for finding in file.findings)

    columns: tuple[Column[Attempt], ...] = (
        Column("report_heading.file", 36, lambda file: file.file),
        Column("report_heading.sheet", 12, lambda file: file.record.copy_code if file.record else ""),
        Column("report_heading.student_id", 13, lambda file: file.record.student_id if file.record else ""),
        Column("report_heading.participant", 13, lambda file: measured_code(file, participant_codes)),
        Column("report_heading.status", 14, lambda file: texts[f"report_status.{file.status}"], "label"),
        Column("report_sheets.errors", 10, lambda file: number(file, "error"), "text"),
        Column("report_sheets.warnings", 11, lambda file: number(file, "warning"), "text"),
        Column("report_sheets.notes", 9, lambda file: number(file, "note"), "text"),
        Column("report_sheets.first_to_do", 46, lambda file: _first_to_do(file, texts)),
    )
    return Page(
        texts["report_sheets.tab"],
        texts["report_sheets.title"].format(session=session),
        (texts["report_sheets.hint"],),
        *table(columns, sorted(attempts, key=lambda file: (file.file, file.sha256)), texts),
        filtered=True,
    )


def _first_to_do(attempt: Attempt, texts: Texts) -> str:
    """The remedy of the gravest finding; a note asks for nothing unless the file waits for a decision."""
    if attempt.status == "superseded":
        return texts["report_common.other_file_counts"]
    asking = SEVERITIES if attempt.status != "accepted" else SEVERITIES[:2]
    for severity in asking:
        for finding in attempt.findings:
            if finding.severity == severity:
                return texts[f"{finding.code}.remedy"]
    return texts["report_common.nothing_to_do" if attempt.status == "accepted" else "report_sheets.decide"]


def findings_page(
    attempts: Sequence[Attempt], session: int, of_class: Sequence[Worded], texts: Texts
) -> Page:
    """Return the tab Findings: those about the class, then every finding of every file, in one table."""
    by_file = [
        (attempt.file, worded(finding, texts))
        for attempt in in_order(attempts, session)
        for finding in attempt.findings
    ]
    rows = [*(("", finding) for finding in of_class), *by_file]
    severities = {severity: texts[f"report_severity.{severity}"] for severity in SEVERITIES}

    def place(file: str, finding: Worded) -> str:
        found = " ".join(part for part in (finding.tab, finding.cell) if part)
        return (found or texts["report_findings.whole_file"]) if file else ""

    columns: tuple[Column[tuple[str, Worded]], ...] = (
        Column("report_heading.file", 26, lambda row: row[0] or texts["report_findings.whole_class"]),
        Column("report_heading.severity", 12, lambda row: severities[row[1].severity], "label"),
        Column("report_heading.code", 20, lambda row: row[1].code),
        Column("report_findings.place", 13, lambda row: place(*row)),
        Column("report_findings.found", 22, lambda row: row[1].found),
        Column("report_findings.expected", 22, lambda row: row[1].expected),
        Column("report_heading.what_to_do", 36, lambda row: row[1].remedy),
    )
    return Page(
        texts["report_findings.tab"],
        texts["report_findings.title"].format(session=session),
        (texts["report_findings.hint" if rows else "report_findings.nothing_in_files"],),
        *table(columns, rows, texts),
        filtered=True,
    )


def kinds_page(attempts: Sequence[Attempt], session: int, of_class: Sequence[Worded], texts: Texts) -> Page:
    """Return the tab Findings by kind: how often each code came up, the most frequent first."""
    found = [
        (attempt.file, finding.code, finding.severity) for attempt in attempts for finding in attempt.findings
    ]
    found += [("", finding.code, finding.severity) for finding in of_class]
    totals = Counter((code, severity) for _, code, severity in found)
    files = Counter((code, severity) for file, code, severity in set(found) if file)
    columns: tuple[Column[tuple[str, str]], ...] = (
        Column("report_heading.code", 46, lambda kind: kind[0]),
        Column("report_heading.severity", 14, lambda kind: texts[f"report_severity.{kind[1]}"], "label"),
        Column("report_heading.findings", 20, lambda kind: totals[kind], "text"),
        Column("report_kinds.files", 20, lambda kind: files[kind] or None, "text"),
    )
    title = texts["report_kinds.title"].format(session=session)
    return Page(
        texts["report_kinds.tab"],
        title,
        (texts["report_kinds.hint" if totals else "report_kinds.nothing"],),
        *table(columns, sorted(totals, key=lambda kind: (-totals[kind], kind)), texts),
        charts=(Chart("bar", title, 0, 2),) if totals else (),
    )


_MOST_SIDE_BY_SIDE = 40
"""Pairs; one record handed in by a whole class would fill the report."""

_CAUSES = (
    "report_talk.cause_1",
    "report_talk.cause_2",
    "report_talk.cause_3",
    "report_talk.cause_4",
    "report_talk.cause_5",
)


def talk_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab To talk to.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    found = analysis.same
    people = {True: texts["report_talk.same_person"], False: texts["report_talk.different_people"]}
    columns: tuple[Column[NumbersPair], ...] = (
        Column("report_heading.first_sheet", 16, lambda pair: pair.first_copy_code, "label"),
        Column("report_heading.second_sheet", 16, lambda pair: pair.second_copy_code, "label"),
        Column("report_talk.about", 18, lambda pair: people[pair.same_participant]),
        Column("report_talk.equal_readings", 14, lambda pair: pair.equal_readings, "text"),
        Column("report_talk.of", 14, lambda pair: pair.compared, "text"),
        Column("report_talk.equal_sites", 14, lambda pair: pair.equal_sites, "text"),
        Column("report_talk.threshold", 12, lambda pair: pair.threshold, "text"),
        Column("report_talk.expected", 14, lambda pair: short(pair.expected, texts)),
        Column("report_heading.what_to_do", 28, lambda pair: texts["report_talk.conversation"]),
    )
    return Page(
        texts["report_talk.tab"],
        texts["report_talk.title"].format(session=analysis.session),
        _sentences(found, texts),
        *table(columns if found.pairs else (), found.pairs, texts),
        more=tuple(_side_by_side(pair, titles, texts) for pair in found.pairs[:_MOST_SIDE_BY_SIDE]),
    )


def _sentences(found: SameNumbers, texts: Texts) -> tuple[str, ...]:
    count = len(found.pairs)
    key = "report_talk.pairs" if count > 1 else "report_talk.one_pair" if count else "report_talk.no_pair"
    sentences = [texts[key].format(count=count), _thresholds(found, texts)]
    if found.declared_out:
        sentences.append(texts["report_talk.declared"].format(count=found.declared_out))
    if not found.pairs:
        return tuple(sentences)
    sentences.append(texts["report_talk.innocent"])
    sentences += [f"   {number}. {texts[cause]}" for number, cause in enumerate(_CAUSES, start=1)]
    sentences.append(texts["report_talk.which_file"])
    if count > _MOST_SIDE_BY_SIDE:
        sentences.append(texts["report_talk.first_pairs"].format(count=_MOST_SIDE_BY_SIDE))
    return tuple(sentences)


def _thresholds(found: SameNumbers, texts: Texts) -> str:
    """From how many equal sites on two files are pointed out, by the kind of pair."""
    different, same = found.different, found.same
    keys = (
        "report_talk.different_none" if different.threshold > found.sites else "report_talk.different_least",
        "report_talk.same_none" if same.threshold > found.sites else "report_talk.same_least",
    )
    numbers = ((different.threshold, different.expected), (same.threshold, same.expected))
    kinds = [
        texts[key].format(
            least=least, sites=found.sites, expected=with_decimal_sign(f"{expected:.2g}", texts)
        )
        for key, (least, expected) in zip(keys, numbers, strict=True)
    ]
    return texts["report_talk.thresholds"].format(
        files=found.files, expected=shown_number(EXPECTED, texts), different=kinds[0], same=kinds[1]
    )


def _side_by_side(pair: NumbersPair, titles: Mapping[str, str], texts: Texts) -> Section:
    rows = tuple(
        (
            titles.get(site, site),
            texts["report_talk.round"].format(number=number),
            texts["report_talk.equal"] if first is not None and first == second else "",
            first,
            second,
        )
        for site, number, first, second in pair.side_by_side
    )
    in_mm = texts["report_common.in_mm"]
    return Section(
        texts["report_talk.side_by_side"].format(first=pair.first_copy_code, second=pair.second_copy_code),
        (f"{sentence(pair_words(pair, texts))}.",),
        (
            Heading(texts["report_heading.site"], 16),
            Heading(texts["report_talk.reading"], 16),
            Heading("", 18, "label"),
            Heading(in_mm.format(title=pair.first_copy_code), 14, "result_2"),
            Heading(in_mm.format(title=pair.second_copy_code), 14, "result_2"),
        ),
        rows,
    )
