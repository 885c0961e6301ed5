"""One returned file as an Attempt: its record, its status, decided here alone, whether it came late."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.finding import Finding
from sheetgen.protocols.recalculation import Entries, Results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.texts.findings import Catalogue, completed

COUNTED = ("accepted", "review")
"""The statuses of files whose contents enter marks and statistics."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One returned file, read, recomputed and checked.

    built_with : protocol and settings of this very sheet; None where it could not be told.
    formula_names : entries that hold a formula pointing at another cell.
    modified : when the file says that it was last saved, as it says it; empty where it does not.
    status : `accepted`, `review`, `refused` or `superseded`.
    record : None where the sheet could not be matched with one that was handed out.
    """

    file: str
    sha256: str
    status: str
    record: CopyRecord | None
    protocol_id: str
    entries: Entries
    results: Results | None
    findings: tuple[Finding, ...]
    built_with: BuiltWith | None = None
    formula_names: tuple[str, ...] = ()
    modified: str = ""


def file_id(attempt: Attempt) -> str:
    """Return what a file is known by in decisions: the start of its digest, or its name."""
    return attempt.sha256[:16] or attempt.file


def with_findings(
    attempt: Attempt, findings: Iterable[Finding], catalogue: Catalogue, *, first: bool = False
) -> Attempt:
    """Return an attempt with further findings, and the status that follows from all of them.

    Parameters
    ----------
    first : the further ones stand before those that are there.

    Notes
    -----
    A file that could not be read to the end has no results and is refused, whatever was found.
    """
    more = completed(findings, catalogue)
    every = (*more, *attempt.findings) if first else (*attempt.findings, *more)
    status = "refused" if attempt.results is None else status_of(every, catalogue)
    return replace(attempt, findings=every, status=status)


def superseded(attempt: Attempt, findings: Iterable[Finding], catalogue: Catalogue) -> Attempt:
    """Return an attempt that another file of its copy takes the place of, with findings that say why."""
    return replace(with_findings(attempt, findings, catalogue), status="superseded")


def answered(attempt: Attempt, counts: bool) -> Attempt:
    """Return an attempt with the teacher's word on it, which settles only what is for review."""
    if attempt.status != "review":
        return attempt
    return replace(attempt, status="accepted" if counts else "refused")


def status_of(findings: Iterable[Finding], catalogue: Catalogue) -> str:
    """Return `refused` for an error about file or identity, `review` for an error about the sheet or an open
    question, else `accepted`."""
    status = "accepted"
    for finding in findings:
        family = finding.code.partition("-")[0]
        if finding.severity == "error" and family in ("file", "identity"):
            return "refused"
        if (finding.severity == "error" and family == "sheet") or catalogue[finding.code].question:
            status = "review"
    return status


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
