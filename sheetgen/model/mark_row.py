"""The mark of one student, as it goes out: a score, never a body value."""

from dataclasses import dataclass

__all__ = ["MARK_STATUSES", "MarkRow"]

MARK_STATUSES = ("final", "to be marked", "missing", "exempt")


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One row of marks.csv; the fields are its columns.

    score : None where nothing came back or the student is exempt, never 0 for that.
    max_score : the points that can be had.
    status : one of MARK_STATUSES; `to be marked`: the score is the score so far.
    """

    student_id: str
    given_name: str
    family_name: str
    score: float | None
    max_score: float | None
    status: str
