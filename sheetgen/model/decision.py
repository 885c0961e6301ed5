"""A decision of the teacher: one line of the journal that every mark, comment and correction comes from."""

from dataclasses import dataclass

__all__ = ["DECISION_KINDS", "Decision"]

DECISION_KINDS = ("mark", "comment", "answer-mark", "correction", "accept-late", "which-file")


@dataclass(frozen=True, slots=True)
class Decision:
    """One decision; a later one about the same subject, kind and name takes its place.

    sequence : counts up through the whole journal, from 1.
    subject : copy code or student id; the id of the file where it is about a file.
    kind : one of DECISION_KINDS.
    name : entry name of an answer or a correction, id of a file, empty for a mark or comment.
    value : as typed; empty: taken back.
    reason : of a correction.
    ground : a short digest of what was seen when it was decided; empty where nothing was.
    drawn : the last sequence that the workbook it was typed into knew of.
    """

    sequence: int
    session: int
    subject: str
    kind: str
    name: str
    value: str
    reason: str = ""
    ground: str = ""
    drawn: int = 0
