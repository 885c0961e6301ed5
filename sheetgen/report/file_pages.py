"""The tabs about files: Sheets, Findings, Findings by kind."""

from collections import Counter
from collections.abc import Collection, Sequence

from sheetgen.checking.catalogue import worded
from sheetgen.checking.readings_frame import measured_code
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import SEVERITIES, Worded
from sheetgen.report.attempt_facts import in_order
from sheetgen.report.page import Chart, Column, Page, Texts, table

__all__ = ["findings_page", "kinds_page", "sheets_page"]


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
