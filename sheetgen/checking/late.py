"""Files that came in late: after the due date, or after feedback was given. A question, never a penalty."""

from collections.abc import Mapping, Sequence

from sheetgen.checking.catalogue import Catalogue
from sheetgen.checking.status import with_findings
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.model.settings import ClassBook

__all__ = ["LATE_CODES", "is_late", "late_findings", "with_late_findings"]

_AFTER_DUE, _AFTER_FEEDBACK = LATE_CODES = ("procedure-late", "procedure-after-feedback")


def late_findings(day_seen: str, due_date: str, feedback_given: str) -> tuple[Finding, ...]:
    """Return what is late about a file that was first read on a day.

    Parameters
    ----------
    day_seen, due_date, feedback_given : as YYYY-MM-DD; empty where nobody knows, or there is none.

    Examples
    --------
    >>> [one.code for one in late_findings("2027-03-05", "2027-03-04", "2027-03-05")]
    ['procedure-late']
    """
    days = ((_AFTER_DUE, due_date), (_AFTER_FEEDBACK, feedback_given))
    # Days written so sort as texts.
    return tuple(
        Finding(code, {"day": day_seen, "last": day})
        for code, day in days
        if day_seen and day and day_seen > day
    )


def is_late(attempt: Attempt) -> bool:
    """Tell whether a file was found to have come in late."""
    return any(finding.code in LATE_CODES for finding in attempt.findings)


def with_late_findings(
    attempts: Sequence[Attempt], days: Mapping[str, str], book: ClassBook, catalogue: Catalogue
) -> list[Attempt]:
    """Return the attempts with what is late about them; those then wait for the teacher's yes.

    Parameters
    ----------
    days : digest of a file to the day on which it was first read.

    Notes
    -----
    What is refused stays as it is, and so do the sheets of teachers: they are no work to be handed in.
    """
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    told = []
    for attempt in attempts:
        late = late_findings(days.get(attempt.sha256, ""), book.due_date, book.feedback_given)
        if late and _is_work(attempt, teachers):
            attempt = with_findings(attempt, late, catalogue)
        told.append(attempt)
    return told


def _is_work(attempt: Attempt, teachers: set[str]) -> bool:
    return (
        attempt.record is not None
        and attempt.status != "refused"
        and attempt.record.student_id not in teachers
    )
