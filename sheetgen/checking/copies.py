"""Several files of one copy: which of them counts."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.checking.catalogue import Catalogue, completed, status_of
from sheetgen.checking.late import is_late
from sheetgen.checking.review_rows import file_id
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding

__all__ = ["answered", "told_apart"]


def told_apart(
    attempts: Sequence[Attempt], catalogue: Catalogue, answers: Mapping[str, bool]
) -> list[Attempt]:
    """Return the attempts with at most one that counts for each copy.

    Parameters
    ----------
    answers : file id to whether the teacher said that it counts.

    Notes
    -----
    The same bytes twice count once. Of different files of one copy the one counts that the teacher said yes
    to, or the only one not said no to, or the only one of these that is not late; the others are superseded.
    Otherwise all are refused, and wait.
    """
    by_code: dict[str, list[int]] = defaultdict(list)
    for index, attempt in enumerate(attempts):
        if attempt.record is not None and attempt.status != "refused":
            by_code[attempt.record.copy_code].append(index)
    told = list(attempts)
    for code, indexes in by_code.items():
        first_of: dict[str, int] = {}
        for index in indexes:
            if told[index].sha256 in first_of:
                told[index] = replace(told[index], status="superseded")
            else:
                first_of[told[index].sha256] = index
        different = list(first_of.values())
        if len(different) < 2:
            continue
        chosen = [index for index in different if answers.get(file_id(told[index])) is True]
        left = [index for index in different if answers.get(file_id(told[index])) is not False]
        in_time = [] if chosen else [index for index in left if not is_late(told[index])]
        only = next((some for some in (chosen, left, in_time) if len(some) == 1), None)
        if only is not None:
            counts = only[0]
            for index in different:
                if index != counts:
                    told[index] = replace(told[index], status="superseded")
            continue
        for index in different:
            others = ", ".join(told[other].file for other in different if other != index)
            found = f"copy code {code} also in {others}"
            twice = completed((Finding("identity-copy-twice", "", found, "one file a copy", ""),), catalogue)
            findings = (*told[index].findings, *twice)
            told[index] = replace(told[index], findings=findings, status=status_of(findings, catalogue))
    return told


def answered(attempts: Sequence[Attempt], answers: Mapping[str, bool]) -> list[Attempt]:
    """Return the attempts with the teacher's word on those for review: yes accepts, no refuses."""
    words = {True: "accepted", False: "refused"}
    return [
        replace(attempt, status=words[answers[file_id(attempt)]])
        if attempt.status == "review" and file_id(attempt) in answers
        else attempt
        for attempt in attempts
    ]
