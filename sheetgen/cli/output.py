"""What commands print: results on stdout, findings and progress on stderr, safe from control characters."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

import click

# Records and texts take time to load, and help does not need them: functions import what they use.
if TYPE_CHECKING:
    from sheetgen.class_book.book import RosterChange
    from sheetgen.commands.read import ReadSummary
    from sheetgen.finding import Finding, Worded
    from sheetgen.returned.attempt import Attempt

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

    >>> one_line("a\\x1b[31mb\\nc")
    'a?[31mb?c'
    """
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def say(*lines: str, err: bool = False) -> None:
    """Print lines."""
    for line in lines:
        click.echo(one_line(line), err=err)


def tell(*texts: str) -> None:
    """Print on stderr what has to be said, each text of one line or several."""
    say(*(line for text in texts for line in text.splitlines()), err=True)


def print_json(content: Any) -> None:
    """Print something as JSON on stdout."""
    click.echo(json.dumps(content, ensure_ascii=False, indent=1))


def counted(number: int, one: str, several: str) -> str:
    """Return a number with its noun."""
    return f"{number} {one if number == 1 else several}"


def _in_words(findings: Iterable[Finding], language: str) -> tuple[Worded, ...]:
    from sheetgen.texts.findings import in_words

    return in_words(findings, language)


def finding_lines(attempt: Attempt, language: str) -> list[str]:
    """Return one line a finding: file, place, severity, code, what was found, what was expected, what to do.
    A screen is read by others too: what was measured or typed stands in the tables only."""
    from sheetgen.finding import SEVERITIES

    # What is missing in a file that gave way to another needs nobody's answer.
    asked = SEVERITIES if attempt.status != "superseded" else SEVERITIES[:1]
    findings = [finding for finding in attempt.said if finding.severity in asked]
    # Whose a sheet is stands on every tab; said once.
    whose = [finding for finding in findings if finding.code == "identity-changed"]
    findings = [finding for finding in findings if finding not in whose[1:]]
    # In the tables too; a file of nobody goes by the name it came under besides.
    nobodys = attempt.record is None and attempt.incoming_name
    called = f"{attempt.file} ({attempt.incoming_name})" if nobodys else attempt.file
    return [
        f"{':'.join(filter(None, (called, finding.place)))}: {finding.severity} {finding.code}: "
        f"found {finding.found}; expected {finding.expected}. {finding.remedy}"
        for finding in _in_words(findings, language)
    ]


def same_bytes_lines(attempts: Sequence[Attempt]) -> list[str]:
    """Return one line for every file that has the bytes of another and so does not count."""
    counted = {attempt.sha256: attempt.file for attempt in attempts if attempt.status != "superseded"}
    return [
        f"{attempt.file}: found the same bytes as in {counted[attempt.sha256]}; expected one file a sheet."
        " It was counted once; if two students handed it in, ask whose work it is."
        for attempt in attempts
        if attempt.status == "superseded" and attempt.sha256 in counted
    ]


def newer_lines(attempts: Sequence[Attempt], language: str) -> list[str]:
    """Return one line for every file that gave way to a newer one of the same sheet: which, and why."""
    return [
        f"{attempt.file}: superseded: {finding.found}."
        for attempt in attempts
        for finding in _in_words(attempt.findings, language)
        if finding.code == "identity-newer-counts"
    ]


def print_verbose(attempts: Sequence[Attempt], language: str) -> None:
    """Print every finding on stderr, and every file that gave way to another; of those errors only."""
    lines = [line for attempt in attempts for line in finding_lines(attempt, language)]
    say(*lines, *same_bytes_lines(attempts), *newer_lines(attempts, language), err=True)


def print_notes(notes: Sequence[Finding], language: str) -> None:
    """Print what has to be said about the review workbook on stderr."""
    told = Counter((one.place, one.found, one.expected, one.remedy) for one in _in_words(notes, language))
    for (place, found, expected, remedy), times in told.items():
        again = f" ({times} times)" if times > 1 else ""
        tell(f"review, {place}: found {found}{again}; expected {expected}. {remedy}")


def print_attempts_json(attempts: Sequence[tuple[Attempt, str]]) -> None:
    """Print file, status and findings of attempts with their language as JSON on stdout; nothing private."""
    from msgspec.structs import asdict

    print_json(
        [
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
    )


def status_line(attempts: Sequence[Attempt]) -> str:
    """Return what became of the files, only what there is."""
    counts = Counter(attempt.status for attempt in attempts)
    words = {
        "accepted": "count", "review": "for you to decide", "refused": "cannot be used",
        "superseded": "replaced by another file of the same sheet",
    }  # fmt: skip
    return ", ".join(f"{counts[status]} {word}" for status, word in words.items() if counts[status])


_SILENT_SECONDS = 1.0


def progress_line(what: str = "files") -> Callable[[int, int], None] | None:
    """Return a function that shows progress on one line of a terminal, from the second second on; None where
    stderr is piped. what : things that are counted."""
    if not sys.stderr.isatty():
        return None
    begun = monotonic()

    def show(done: int, total: int) -> None:
        if monotonic() - begun >= _SILENT_SECONDS:
            click.echo(f"\r{done} of {total} {what}", nl=done == total, err=True)

    return show


def print_roster_change(change: RosterChange) -> None:
    """Print what a newer roster changed in the class book, and on stderr what the teacher has to look at."""
    from sheetgen.class_book.table import LEFT

    changed = {student_id for student_id, *_ in change.changed}
    click.echo(f"{len(change.joined)} joined, {len(change.left)} left, {len(changed)} changed")
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


_LINES = 15  # Of what `read` says of a class where nothing is wrong with the class folder itself.


def print_read(summary: ReadSummary, folder: Path, session: int) -> None:
    """Print what a reading found, in some fifteen lines: numbers, who is missing, whom to talk to, what
    waits, what to do next. People go by their ids; what was measured or typed is nowhere."""
    before, after = _numbers(summary), _to_do(summary, folder, session)
    say(*before)
    if summary.talk:
        most = max(_LINES - len(before) - len(after) - 2, 3)
        say("Talk to:", *(f"  {line}" for line in summary.talk[:most]), err=True)
        if len(summary.talk) > most:
            say(f"  and {len(summary.talk) - most} more: the tab Today of the report", err=True)
    say(*after[:-1])
    # Bold on a terminal only, and in words without it.
    click.secho(one_line(after[-1]), bold=True)


def _numbers(summary: ReadSummary) -> list[str]:
    from sheetgen.class_book.protection import named

    attempts = summary.attempts
    files = counted(len(attempts), "file", "files")
    lines = [f"{files} came back: {status_line(attempts)}".removesuffix(": ")]
    if summary.missing:
        came = {"": "", "entry-nothing-typed": " (nothing typed yet)"}
        missing = [
            f"{one.record.student_id}{came.get(one.because, ' (cannot be used)')}" for one in summary.missing
        ]
        lines.append(f"Missing ({len(missing)}): {named(missing)}")
    if summary.message:
        lines.append(f"A message to each of them, ready to paste: {summary.message}")
    nobodys = [one.file for one in summary.unusable if not one.student_id]
    if nobodys:
        lines.append(f"Whose may this be? {named(nobodys)}")
    return lines


def _to_do(summary: ReadSummary, folder: Path, session: int) -> list[str]:
    """What need not be looked at, counted; what waits; where the report is; and last what to do next."""
    notes = sum(one.severity == "note" for attempt in summary.attempts for one in attempt.said)
    elsewhere = "sheets of session {}, which count when that is read"
    besides = {
        "repeated with the same bytes": len(same_bytes_lines(summary.attempts)),
        "notes that ask for nothing": notes,
        "side-files and documents in nobody's place passed over": summary.passed_over,
        "scores kept of files that are gone or cannot be used": summary.kept,
        **{elsewhere.format(number): count for number, count in sorted(summary.elsewhere.items())},
    }
    lines = []
    if any(besides.values()):
        said = ", ".join(f"{count} {what}" for what, count in besides.items() if count)
        lines.append(f"Besides: {said} (--verbose lists them)")
    answers = counted(summary.answers, "answer to be marked", "answers to be marked")
    decisions = counted(summary.decisions, "file to decide on", "files to decide on")
    waiting = [answers] if summary.answers else []
    waiting += [decisions] if summary.decisions else []
    if waiting:
        lines.append(f"Waits for you: {', '.join(waiting)}")
    lines.append(f"Report, marks and feedback: {summary.results}")
    again = f"sheetgen read {folder}" + (f" --session {session}" if session > 1 else "")
    if not summary.attempts:
        back = folder / "returned" / f"session-{session}"
        return [*lines, f"Next: put the files or the zip into {back}, then: {again}"]
    if waiting:
        return [*lines, f"Next: open {summary.review}, give points or decide, save, then: {again}"]
    return [*lines, "Next: open report.xlsx, the tab Today."]
