"""What commands print: results on stdout, findings and progress on stderr, safe from control characters."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sheetgen.class_book.table import LEFT

# Records take time to make, and help does not need them.
if TYPE_CHECKING:
    from sheetgen.class_book.book import RosterChange
    from sheetgen.finding import Finding, Worded
    from sheetgen.returned.attempt import Attempt

A_FEW_DOZENS = 48

PATH = click.Path(path_type=Path)


class _Day(click.DateTime):
    """A day, and in words how one is written."""

    def convert(self, value: Any, parameter: click.Parameter | None, context: click.Context | None) -> Any:
        try:
            return super().convert(value, parameter, context)
        except click.BadParameter:
            self.fail(f"{value!r} is no day; write year-month-day, such as 2027-01-31.", parameter, context)


DAY = _Day(["%Y-%m-%d"])
FOLDER = click.argument("folder", type=PATH)


def session_option(what: str) -> Callable[[Any], Any]:
    """Return the option --session."""
    return click.option("--session", type=click.IntRange(1, 99), default=1, show_default=True, help=what)


def one_line(text: str) -> str:
    """Return a text without line breaks and control characters, as a terminal may safely show it.

    Examples
    --------
    >>> one_line("a\\x1b[31mb\\nc")
    'a?[31mb?c'
    """
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def say(text: str, err: bool = False) -> None:
    """Print one line."""
    click.echo(one_line(text), err=err)


def tell(text: str) -> None:
    """Print on stderr what has to be said, one line or several."""
    for line in text.splitlines():
        say(line, err=True)


def print_json(content: Any) -> None:
    """Print something as JSON on stdout."""
    click.echo(json.dumps(content, ensure_ascii=False, indent=1))


def counted(number: int, one: str, several: str) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> counted(1, "file", "files"), counted(0, "file", "files")
    ('1 file', '0 files')
    """
    return f"{number} {one if number == 1 else several}"


def finding_lines(
    attempt: Attempt, language: str, least: Sequence[str] = ("error", "warning", "note")
) -> list[str]:
    """Return one line a finding: file, place, severity, code, what was found, what was expected, what to do.

    A screen is read by others too: what was measured or typed stands in the tables only.
    """
    findings = [finding for finding in attempt.findings if finding.severity in least]
    called = _called(attempt)
    return [
        one_line(
            f"{':'.join(filter(None, (called, finding.place)))}: {finding.severity} {finding.code}: "
            f"found {finding.found}; expected {finding.expected}. {finding.remedy}"
        )
        for finding in _identity_once(_in_words(findings, language))
    ]


def _called(attempt: Attempt) -> str:
    """What a file is called in the tables; a file of nobody also by the name it came under."""
    if attempt.record is None and attempt.incoming_name:
        return f"{attempt.file} ({attempt.incoming_name})"
    return attempt.file


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


def newer_lines(attempts: Sequence[Attempt], language: str) -> list[str]:
    """Return one line for every file that gave way to a newer one of the same sheet: which, and why."""
    return [
        one_line(f"{attempt.file}: superseded: {finding.found}.")
        for attempt in attempts
        for finding in _in_words(attempt.findings, language)
        if finding.code == "identity-newer-counts"
    ]


def _in_words(findings: Sequence[Finding], language: str) -> tuple[Worded, ...]:
    # Help is printed without the texts.
    from sheetgen.texts.findings import in_words

    return in_words(findings, language)


def _identity_once(findings: Sequence[Worded]) -> list[Worded]:
    """The findings, a changed identity told once: it is printed at the top of every tab."""
    changed = [finding for finding in findings if finding.code == "identity-changed"]
    rest = [finding for finding in findings if finding.code != "identity-changed"]
    if len(changed) > 1:
        found = f"{changed[0].found} and {counted(len(changed) - 1, 'more place', 'more places')}"
        changed = [replace(changed[0], found=found)]
    return [*changed, *rest]


def print_findings(attempts: Sequence[Attempt], language: str, least: Sequence[str]) -> None:
    """Print findings on stderr; of a superseded file its errors only."""
    for attempt in attempts:
        # What is missing in a file that gave way to another needs nobody's answer.
        for line in finding_lines(attempt, language, ("error",) if attempt.status == "superseded" else least):
            click.echo(line, err=True)


def print_notes(notes: Sequence[Finding], language: str) -> None:
    """Print what has to be said about the review workbook on stderr."""
    for note in _in_words(notes, language):
        told = f"found {note.found}; expected {note.expected}. {note.remedy}"
        tell(f"review: {note.severity} {note.code}: {told}")


def print_attempts_json(attempts: Sequence[tuple[Attempt, str]]) -> None:
    """Print file, status and findings of attempts with their language as JSON on stdout; nothing private."""
    shown = [
        {
            "file": attempt.file,
            "incoming_name": attempt.came_as,
            "sha256": attempt.sha256,
            "status": attempt.status,
            "copy_code": attempt.record.copy_code if attempt.record else None,
            "student_id": attempt.record.student_id if attempt.record else None,
            "findings": [asdict(finding) for finding in _in_words(attempt.findings, language)],
        }
        for attempt, language in attempts
    ]
    print_json(shown)


def status_line(attempts: Sequence[Attempt]) -> str:
    """Return the counts by status."""
    counts = Counter(attempt.status for attempt in attempts)
    words = {"accepted": "accepted", "review": "for review", "refused": "refused", "superseded": "superseded"}
    return ", ".join(f"{counts[status]} {word}" for status, word in words.items())


def progress_line(what: str = "files", least: int = 1) -> Callable[[int, int], None] | None:
    """Return a function that shows progress on one line of a terminal; None where stderr is piped.

    Parameters
    ----------
    what : things that are counted. least : fewer of them are done too soon to be shown.
    """
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        if total >= least:
            click.echo(f"\r{done} of {total} {what}", nl=done == total, err=True)

    return show


def print_roster_change(change: RosterChange) -> None:
    """Print what a newer roster changed in the class book, and on stderr what the teacher has to look at."""
    counts = [f"{len(change.joined)} joined", f"{len(change.left)} left"]
    counts += [f"{len({student_id for student_id, *_ in change.changed})} changed"]
    click.echo(", ".join(counts))
    names = {person.student_id: f"{person.given_name} {person.family_name}" for person in change.book.people}
    for word, students in (("joined", change.joined), ("left", change.left), ("back", change.back)):
        for student_id in students:
            say(f"{word}: {student_id} {names[student_id]}")
    for student_id, column, was, is_now in change.changed:
        say(f"changed: {student_id} {column}: {was or 'nothing'}, now {is_now}")
    for known, now in change.renamed:
        say(
            f"kept: {known} {names[known]}, whom the roster calls {now} now: {known} is on sheets and marks. "
            "Where the gradebook has the new id, use --key with its column of emails."
        )
    for pair in change.unpaired:
        say(f"pair taken out: {pair.measurer} measured {pair.participant}")
    for pair in change.paired:
        say(f"pair made: {pair.measurer} measures {pair.participant}")
    if change.demonstration:
        say(f"measured by everybody until now: {change.demonstration}")
    for student_id in change.only_here:
        say(f"in the class book only: {student_id} {names[student_id]}")
    for student_id in change.absent:
        tell(
            f"{student_id}: not on the roster, and not marked as having left, since a line of the roster "
            "could not be used. Mend the roster, then run the command again."
        )
    for student_id in change.doubts:
        tell(f"{student_id}: the roster says under 18, the class book says not. See the tab Roster.")
    measurers = {pair.measurer for pair in change.book.pairings}
    for person in change.book.people:
        if person.role == "student" and person.status != LEFT and person.student_id not in measurers:
            tell(f"{person.student_id} measures nobody yet. Type whom on the tab Pairs, then build.")


def to_do_line(answers: int, decisions: int, review: str) -> str:
    """Return what the teacher has to do next, and where.

    Examples
    --------
    >>> to_do_line(75, 1, "review/session-1.xlsx")
    '75 answers wait for points, 1 file waits for a decision: review/session-1.xlsx'
    """
    points = counted(answers, "answer waits", "answers wait")
    files = counted(decisions, "file waits", "files wait")
    parts = [f"{points} for points"] * bool(answers) + [f"{files} for a decision"] * bool(decisions)
    return f"{', '.join(parts) or 'nothing waits for you'}: {review}"


_MOST_ALIKE = 5


def alike_lines(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """Return a line a pair of sheets that hold the same numbers, by copy code, and what to ask first."""
    lines = [f"needs a conversation: {first} and {second}" for first, second in pairs[:_MOST_ALIKE]]
    if len(pairs) > _MOST_ALIKE:
        lines.append(f"needs a conversation: {len(pairs) - _MOST_ALIKE} further pairs of sheets")
    if lines:
        lines.append(
            "These sheets hold the same numbers. Ask for innocent causes first, such as one record for two "
            "people or a wrong file: the tab To talk to of the report lists them. No mark changes."
        )
    return lines
