"""The counts of a session, what to do about each, and whose sheet is missing."""

from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.settings import ClassBook
from sheetgen.report.attempt_facts import counts, in_order

__all__ = ["Count", "MissingSheet", "missing_sheets", "session_counts"]

_NOTHING = "Nothing to do."


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


def missing_sheets(
    book: ClassBook, attempts: Sequence[Attempt], session: int, handed_out: Sequence[CopyRecord]
) -> tuple[MissingSheet, ...]:
    """Return the sheets without a file that counts, by student and file name.

    Notes
    -----
    Only people on the roster: a spare sheet is nobody's, and who has left the class is not asked.
    """
    people = {person.student_id: person for person in book.people}
    here = {
        attempt.record.copy_code for attempt in attempts if attempt.record is not None and counts(attempt)
    }
    others: dict[str, list[str]] = {}
    for attempt in in_order(attempts, session):
        if attempt.record is not None:
            others.setdefault(attempt.record.copy_code, []).append(f"{attempt.status}: {attempt.file}")
    missing = []
    for record in sorted(handed_out, key=lambda one: (one.student_id, one.file_name)):
        person = people.get(record.student_id)
        if record.session != session or record.copy_code in here or person is None:
            continue
        missing.append(
            MissingSheet(
                f"{person.given_name} {person.family_name}".strip(),
                person.student_id,
                record.file_name,
                ", ".join(others.get(record.copy_code, ["nothing"])),
                person.email,
            )
        )
    return tuple(missing)


def session_counts(
    book: ClassBook, attempts: Sequence[Attempt], session: int, handed_out: Sequence[CopyRecord]
) -> tuple[Count, ...]:
    """Return the lines of the overview, from handed out to missing."""
    records = [record for record in handed_out if record.session == session]
    on_roster = {person.student_id for person in book.people}
    spare = sum(record.student_id not in on_roster for record in records)
    outside = f"{spare} of them not for people on the roster. " if spare else ""

    def files(status: str) -> int:
        return sum(attempt.status == status for attempt in attempts)

    review = "Open the tab Sheets, look for the status review, and decide on each file."
    refused = "Open the tab Sheets: each line says what to ask for. A refused file counts for nothing."
    missing = "Write to the people listed below."
    lines = (
        ("Sheets handed out", len(records), outside + _NOTHING),
        ("Files returned", len(attempts), "Nothing to do: the next four lines say what became of them."),
        ("Files accepted", files("accepted"), "Nothing to do: they count as they are."),
        ("Files for review", files("review"), review),
        ("Files refused", files("refused"), refused),
        ("Files superseded", files("superseded"), "Nothing to do: another file of the same sheet counts."),
        ("Sheets missing", len(missing_sheets(book, attempts, session, handed_out)), missing),
    )
    return tuple(Count(what, number, to_do if number else _NOTHING) for what, number, to_do in lines)
