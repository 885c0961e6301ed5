"""Which of several files of one copy counts."""

from dataclasses import replace

import pytest

from sheetgen.checking.copies import answered, told_apart
from sheetgen.checking.late import late_findings
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.store.catalogue import load_catalogue


def _attempt(file: str, code: str, sha256: str, status: str = "accepted") -> Attempt:
    record = CopyRecord(code, 1, "S01", "S02", "P-2A3B", "C1", "", "", "", {})
    return Attempt(file, sha256, status, record, "seven-sites", {}, None, ())


A = _attempt("a.xlsx", "7K3F-9QXM", "aa")
A_AGAIN = _attempt("a (1).xlsx", "7K3F-9QXM", "aa")
B = _attempt("b.xlsx", "7K3F-9QXM", "bb")
OTHER = _attempt("c.xlsx", "2222-3333", "cc")
REFUSED = _attempt("d.xlsx", "7K3F-9QXM", "dd", "refused")
LATE = replace(
    _attempt("e.xlsx", "7K3F-9QXM", "ee", "review"), findings=late_findings("2027-03-05", "2027-03-04", "")
)
LATER = replace(LATE, file="f.xlsx", sha256="ff")

# attempts, the teacher's answers by file id, status of each
CASES: tuple[tuple[list[Attempt], dict[str, bool], list[str]], ...] = (
    ([A, OTHER], {}, ["accepted", "accepted"]),
    ([A, A_AGAIN], {}, ["accepted", "superseded"]),
    ([A, B], {}, ["refused", "refused"]),
    ([A, REFUSED], {}, ["accepted", "refused"]),
    ([A, B], {"bb": True}, ["superseded", "accepted"]),
    ([A, B], {"aa": False}, ["superseded", "accepted"]),
    ([A, A_AGAIN, B], {"aa": True}, ["accepted", "superseded", "superseded"]),
    ([A, B], {"aa": True, "bb": True}, ["refused", "refused"]),
    ([LATE], {}, ["review"]),
    ([A, LATE], {}, ["accepted", "superseded"]),
    ([LATER, A, LATE], {}, ["superseded", "accepted", "superseded"]),
    ([A, LATE], {"ee": True}, ["superseded", "review"]),
    ([A, LATE], {"ee": False}, ["accepted", "superseded"]),
    ([A, LATE], {"aa": False}, ["superseded", "review"]),
    ([A, LATE], {"aa": True, "ee": True}, ["refused", "refused"]),
    ([LATE, LATER], {}, ["refused", "refused"]),
    ([LATE, LATER], {"ee": True}, ["review", "superseded"]),
    ([A, B, LATE], {}, ["refused", "refused", "refused"]),
    ([A, B, LATE], {"bb": False}, ["accepted", "superseded", "superseded"]),
)


@pytest.mark.parametrize(("attempts", "answers", "expected"), CASES)
def test_told_apart(attempts: list[Attempt], answers: dict[str, bool], expected: list[str]) -> None:
    assert [one.status for one in told_apart(attempts, load_catalogue(), answers)] == expected


def test_told_apart_names_the_other_file() -> None:
    told = told_apart([A, B], load_catalogue(), {})
    assert [[(one.code, one.found) for one in attempt.findings] for attempt in told] == [
        [("identity-copy-twice", "copy code 7K3F-9QXM also in b.xlsx")],
        [("identity-copy-twice", "copy code 7K3F-9QXM also in a.xlsx")],
    ]


# status, the teacher's answer, status after it
ANSWERS = (
    ("review", True, "accepted"),
    ("review", False, "refused"),
    ("review", None, "review"),
    ("accepted", False, "accepted"),
    ("refused", True, "refused"),
)


@pytest.mark.parametrize(("status", "answer", "expected"), ANSWERS)
def test_answered(status: str, answer: bool | None, expected: str) -> None:
    answers = {} if answer is None else {"aa": answer}
    assert [one.status for one in answered([_attempt("a.xlsx", "7K3F-9QXM", "aa", status)], answers)] == [
        expected
    ]
