"""The tabs about files: Sheets, Findings, Findings by kind."""

from collections.abc import Collection, Sequence

from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import SEVERITIES, Finding
from sheetgen.report.attempt_facts import in_order, measured_code
from sheetgen.report.page import Chart, Heading, Page, Value

__all__ = ["findings_page", "kinds_page", "sheets_page"]

_NOTHING = "Nothing to do."


def sheets_page(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str]) -> Page:
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
                attempt.status,
                *(severities.count(severity) for severity in SEVERITIES),
                _first_to_do(attempt),
            )
        )
    return Page(
        "Sheets",
        f"Returned files, session {session}",
        ("One row a returned file. The tab Findings holds all about it; other tabs name its code.",),
        (
            Heading("File", 36),
            Heading("Sheet", 12),
            Heading("Student id", 13),
            Heading("Participant", 13),
            Heading("Status", 14, "label"),
            Heading("Errors", 10, "text"),
            Heading("Warnings", 11, "text"),
            Heading("Notes", 9, "text"),
            Heading("First thing to do", 46),
        ),
        tuple(rows),
        filtered=True,
    )


def _first_to_do(attempt: Attempt) -> str:
    """The remedy of the gravest finding; a note asks for nothing unless the file waits for a decision."""
    if attempt.status == "superseded":
        return "Nothing to do: another file of the same sheet counts."
    asking = SEVERITIES if attempt.status != "accepted" else SEVERITIES[:2]
    for severity in asking:
        for finding in attempt.findings:
            if finding.severity == severity:
                return finding.remedy
    return _NOTHING if attempt.status == "accepted" else "Look at the file and decide."


def findings_page(attempts: Sequence[Attempt], session: int, of_class: Sequence[Finding] = ()) -> Page:
    """Return the tab Findings: those about the class, then every finding of every file, in one table."""
    by_file = [
        (attempt.file, finding) for attempt in in_order(attempts, session) for finding in attempt.findings
    ]
    rows = tuple(
        (
            file or "whole class",
            finding.severity,
            finding.code,
            _place(finding) if file else "",
            finding.found,
            finding.expected,
            finding.remedy,
        )
        for file, finding in [*(("", finding) for finding in of_class), *by_file]
    )
    sentence = "One row a finding. An error or a warning is a question about a file, not about a person."
    return Page(
        "Findings",
        f"Findings, session {session}",
        (sentence if rows else "Nothing was found in any file.",),
        (
            Heading("File", 26),
            Heading("Severity", 12, "label"),
            Heading("Code", 20),
            Heading("Place", 13),
            Heading("Found", 22),
            Heading("Expected", 22),
            Heading("What to do", 36),
        ),
        rows,
        filtered=True,
    )


def _place(finding: Finding) -> str:
    return " ".join(part for part in (finding.tab, finding.cell) if part) or "whole file"


def kinds_page(attempts: Sequence[Attempt], session: int, of_class: Sequence[Finding] = ()) -> Page:
    """Return the tab Findings by kind: how often each code came up, the most frequent first."""
    totals: dict[tuple[str, str], int] = {}
    files: dict[tuple[str, str], set[str]] = {}
    everything = [(attempt.file, finding) for attempt in attempts for finding in attempt.findings]
    for file, finding in [*everything, *(("", finding) for finding in of_class)]:
        kind = (finding.code, finding.severity)
        totals[kind] = totals.get(kind, 0) + 1
        files.setdefault(kind, set()).update([file] if file else [])
    rows = tuple(
        (code, severity, totals[code, severity], len(files[code, severity]) or None)
        for code, severity in sorted(totals, key=lambda kind: (-totals[kind], kind))
    )
    title = f"Findings by kind, session {session}"
    sentence = "What to explain again in class. `sheetgen explain CODE` says what a code means."
    return Page(
        "Findings by kind",
        title,
        (sentence if rows else "Nothing was found.",),
        (
            Heading("Code", 46),
            Heading("Severity", 14, "label"),
            Heading("Findings", 20, "text"),
            Heading("Files", 20, "text"),
        ),
        rows,
        charts=(Chart("bar", title, 0, 2),) if rows else (),
    )
