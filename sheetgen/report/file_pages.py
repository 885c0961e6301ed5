"""The tabs about files: Sheets, Findings, Findings by kind."""

from collections.abc import Collection, Sequence

from sheetgen.checking.readings_frame import measured_code
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import SEVERITIES, Finding
from sheetgen.report.attempt_facts import in_order
from sheetgen.report.page import Chart, Heading, Page, Texts, Value

__all__ = ["findings_page", "kinds_page", "sheets_page"]


def sheets_page(
    attempts: Sequence[Attempt], session: int, participant_codes: Collection[str], texts: Texts
) -> Page:
    """Return the tab Sheets: one row a returned file, with the first thing to do."""
    rows: list[tuple[Value, ...]] = []
    for attempt in sorted(attempts, key=lambda one: (one.file, one.sha256)):
        severities = [finding.severity for finding in attempt.findings]
        rows.append(
            (
                attempt.file,
                "" if attempt.record is None else attempt.record.copy_code,
                "" if attempt.record is None else attempt.record.student_id,
                measured_code(attempt, participant_codes),
                texts[f"report_status.{attempt.status}"],
                *(severities.count(severity) for severity in SEVERITIES),
                _first_to_do(attempt, texts),
            )
        )
    return Page(
        texts["report_sheets.tab"],
        texts["report_sheets.title"].format(session=session),
        (texts["report_sheets.hint"],),
        (
            Heading(texts["report_heading.file"], 36),
            Heading(texts["report_heading.sheet"], 12),
            Heading(texts["report_heading.student_id"], 13),
            Heading(texts["report_heading.participant"], 13),
            Heading(texts["report_heading.status"], 14, "label"),
            Heading(texts["report_sheets.errors"], 10, "text"),
            Heading(texts["report_sheets.warnings"], 11, "text"),
            Heading(texts["report_sheets.notes"], 9, "text"),
            Heading(texts["report_sheets.first_to_do"], 46),
        ),
        tuple(rows),
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
                return finding.remedy
    return texts["report_common.nothing_to_do" if attempt.status == "accepted" else "report_sheets.decide"]


def findings_page(
    attempts: Sequence[Attempt], session: int, of_class: Sequence[Finding], texts: Texts
) -> Page:
    """Return the tab Findings: those about the class, then every finding of every file, in one table."""
    by_file = [
        (attempt.file, finding) for attempt in in_order(attempts, session) for finding in attempt.findings
    ]
    rows = tuple(
        (
            file or texts["report_findings.whole_class"],
            texts[f"report_severity.{finding.severity}"],
            finding.code,
            _place(finding, texts) if file else "",
            finding.found,
            finding.expected,
            finding.remedy,
        )
        for file, finding in [*(("", finding) for finding in of_class), *by_file]
    )
    return Page(
        texts["report_findings.tab"],
        texts["report_findings.title"].format(session=session),
        (texts["report_findings.hint" if rows else "report_findings.nothing_in_files"],),
        (
            Heading(texts["report_heading.file"], 26),
            Heading(texts["report_heading.severity"], 12, "label"),
            Heading(texts["report_heading.code"], 20),
            Heading(texts["report_findings.place"], 13),
            Heading(texts["report_findings.found"], 22),
            Heading(texts["report_findings.expected"], 22),
            Heading(texts["report_heading.what_to_do"], 36),
        ),
        rows,
        filtered=True,
    )


def _place(finding: Finding, texts: Texts) -> str:
    place = " ".join(part for part in (finding.tab, finding.cell) if part)
    return place or texts["report_findings.whole_file"]


def kinds_page(attempts: Sequence[Attempt], session: int, of_class: Sequence[Finding], texts: Texts) -> Page:
    """Return the tab Findings by kind: how often each code came up, the most frequent first."""
    totals: dict[tuple[str, str], int] = {}
    files: dict[tuple[str, str], set[str]] = {}
    everything = [(attempt.file, finding) for attempt in attempts for finding in attempt.findings]
    for file, finding in [*everything, *(("", finding) for finding in of_class)]:
        kind = (finding.code, finding.severity)
        totals[kind] = totals.get(kind, 0) + 1
        files.setdefault(kind, set()).update([file] if file else [])
    rows = tuple(
        (
            code,
            texts[f"report_severity.{severity}"],
            totals[code, severity],
            len(files[code, severity]) or None,
        )
        for code, severity in sorted(totals, key=lambda kind: (-totals[kind], kind))
    )
    title = texts["report_kinds.title"].format(session=session)
    return Page(
        texts["report_kinds.tab"],
        title,
        (texts["report_kinds.hint" if rows else "report_kinds.nothing"],),
        (
            Heading(texts["report_heading.code"], 46),
            Heading(texts["report_heading.severity"], 14, "label"),
            Heading(texts["report_heading.findings"], 20, "text"),
            Heading(texts["report_kinds.files"], 20, "text"),
        ),
        rows,
        charts=(Chart("bar", title, 0, 2),) if rows else (),
    )
