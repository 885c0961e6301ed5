"""The counts of a session, what to do about each, and whose sheet is missing."""

from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.checking.claims import expected_back
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.settings import ClassBook
from sheetgen.report.attempt_facts import counts, in_order
from sheetgen.report.page import Texts

__all__ = ["Count", "MissingSheet", "missing_sheets", "session_counts"]


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
    book: ClassBook,
    attempts: Sequence[Attempt],
    session: int,
    handed_out: Sequence[CopyRecord],
    texts: Texts,
) -> tuple[MissingSheet, ...]:
    """Return the sheets without a file that counts, by student and file name.

    Notes
    -----
    Only people on the roster: a spare sheet is nobody's, and who has left the class is not asked; nor is a
    sheet of a pair that was changed since waited for where there is one of the pair as it is now.
    """
    people = {person.student_id: person for person in book.people}
    here = {
        attempt.record.copy_code for attempt in attempts if attempt.record is not None and counts(attempt)
    }
    others: dict[str, list[str]] = {}
    for attempt in in_order(attempts, session):
        if attempt.record is not None:
            came = f"{texts[f'report_status.{attempt.status}']}: {attempt.file}"
            others.setdefault(attempt.record.copy_code, []).append(came)
    missing = []
    of_session = expected_back((one for one in handed_out if one.session == session), book)
    for record in sorted(of_session, key=lambda one: (one.student_id, one.file_name)):
        person = people.get(record.student_id)
        if record.copy_code in here or person is None:
            continue
        missing.append(
            MissingSheet(
                f"{person.given_name} {person.family_name}".strip(),
                person.student_id,
                record.file_name,
                ", ".join(others.get(record.copy_code, [texts["report_overview.nothing_came"]])),
                person.email,
            )
        )
    return tuple(missing)


def session_counts(
    book: ClassBook,
    attempts: Sequence[Attempt],
    session: int,
    handed_out: Sequence[CopyRecord],
    texts: Texts,
) -> tuple[Count, ...]:
    """Return the lines of the overview, from handed out to missing."""
    records = [record for record in handed_out if record.session == session]
    on_roster = {person.student_id for person in book.people}
    spare = sum(record.student_id not in on_roster for record in records)
    nothing = texts["report_common.nothing_to_do"]
    outside = texts["report_overview.outside"].format(count=spare, to_do=nothing) if spare else nothing

    def files(status: str) -> int:
        return sum(attempt.status == status for attempt in attempts)

    missing = len(missing_sheets(book, attempts, session, handed_out, texts))
    lines = (
        (texts["report_overview.handed_out"], len(records), outside),
        (texts["report_overview.returned"], len(attempts), texts["report_overview.returned_to_do"]),
        (texts["report_overview.accepted"], files("accepted"), texts["report_overview.accepted_to_do"]),
        (texts["report_overview.review"], files("review"), texts["report_overview.review_to_do"]),
        (texts["report_overview.refused"], files("refused"), texts["report_overview.refused_to_do"]),
        (
            texts["report_overview.superseded"],
            files("superseded"),
            texts["report_common.other_file_counts"],
        ),
        (texts["report_overview.missing"], missing, texts["report_overview.missing_to_do"]),
    )
    return tuple(Count(what, number, to_do if number else nothing) for what, number, to_do in lines)
