"""What commands print: results on stdout, findings and progress on stderr, safe from control characters."""

import json
import re
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import click

from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding

__all__ = [
    "finding_lines",
    "one_line",
    "print_attempts_json",
    "print_findings",
    "print_notes",
    "progress_line",
    "same_bytes_lines",
    "status_line",
]

_NUMBER = re.compile(r"(?<![\w$])[-+−]?[.,]?\d[\d.,]*(?:[eE][-+]?\d+)?")
_OF_A_CELL = (
    "sheet-content-added", "sheet-formula-changed", "sheet-formula-replaced", "sheet-label-changed",
    "sheet-result-differs",
)  # fmt: skip


def one_line(text: str) -> str:
    """Return a text without line breaks and control characters, as a terminal may safely show it.

    Examples
    --------
    >>> one_line("a\\x1b[31mb\\nc")
    'a?[31mb?c'
    """
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def finding_lines(attempt: Attempt, least: Sequence[str] = ("error", "warning", "note")) -> list[str]:
    """Return one line a finding: file, place, severity, code, what was found, what was expected, what to do.

    A screen is read by others too: numbers other than single readings stand in the tables only.
    """
    lines = []
    for finding in map(_without_body_values, _identity_once(attempt.findings)):
        if finding.severity not in least:
            continue
        place = f"{finding.tab}!{finding.cell}" if finding.cell else finding.tab
        where = f"{attempt.file}:{place}" if place else attempt.file
        lines.append(
            one_line(
                f"{where}: {finding.severity} {finding.code}: found {finding.found}; "
                f"expected {finding.expected}. {finding.remedy}"
            )
        )
    return lines


def same_bytes_lines(attempts: Sequence[Attempt]) -> list[str]:
    """Return one line for every file that has the bytes of another and so does not count."""
    counted = {attempt.sha256: attempt.file for attempt in attempts if attempt.status != "superseded"}
    return [
        one_line(
            f"{attempt.file}: found the same bytes as in {counted[attempt.sha256]};"
            " expected one file a sheet. It was counted once; if two students handed it in,"
            " ask whose work it is."
        )
        for attempt in attempts
        if attempt.status == "superseded" and attempt.sha256 in counted
    ]


def _identity_once(findings: Sequence[Finding]) -> list[Finding]:
    """The findings, a changed identity told once: it is printed at the top of every tab."""
    changed = [finding for finding in findings if finding.code == "identity-changed"]
    rest = [finding for finding in findings if finding.code != "identity-changed"]
    if len(changed) > 1:
        found = f"{changed[0].found} and {len(changed) - 1} more places"
        changed = [replace(changed[0], found=found)]
    return [*changed, *rest]


def _without_body_values(finding: Finding) -> Finding:
    """The finding without a number that could be a sum, a density, an estimate, a mass or an age."""
    of_reading = any(word in finding.found + finding.expected for word in ("reading_", " mm"))
    of_other_entry = finding.code.startswith("entry-") and not of_reading
    if finding.code not in _OF_A_CELL and not of_other_entry:
        return finding
    expected = finding.expected
    if finding.code == "sheet-result-differs":
        expected = _NUMBER.sub("...", expected)
    return replace(finding, found=_NUMBER.sub("...", finding.found), expected=expected)


def print_findings(attempts: Sequence[Attempt], least: Sequence[str]) -> None:
    """Print findings on stderr."""
    for attempt in attempts:
        for line in finding_lines(attempt, least):
            click.echo(line, err=True)


def print_notes(notes: Sequence[Finding]) -> None:
    """Print what has to be said about the review workbook on stderr."""
    for note in notes:
        told = f"found {note.found}; expected {note.expected}. {note.remedy}"
        click.echo(one_line(f"review: {note.severity} {note.code}: {told}"), err=True)


def print_attempts_json(attempts: Sequence[Attempt]) -> None:
    """Print file, status and findings of every attempt as JSON on stdout; no body values."""
    shown = [
        {
            "file": attempt.file,
            "sha256": attempt.sha256,
            "status": attempt.status,
            "copy_code": attempt.record.copy_code if attempt.record else None,
            "student_id": attempt.record.student_id if attempt.record else None,
            "findings": [asdict(_without_body_values(finding)) for finding in attempt.findings],
        }
        for attempt in attempts
    ]
    click.echo(json.dumps(shown, ensure_ascii=False, indent=1))


def status_line(attempts: Sequence[Attempt]) -> str:
    """Return the counts by status."""
    counts = Counter(attempt.status for attempt in attempts)
    words = {"accepted": "accepted", "review": "for review", "refused": "refused", "superseded": "superseded"}
    return ", ".join(f"{counts[status]} {word}" for status, word in words.items())


def progress_line() -> Callable[[int, int], None] | None:
    """Return a function that shows progress on one line of a terminal; None where stderr is piped."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        click.echo(f"\r{done} of {total} files", nl=done == total, err=True)

    return show
