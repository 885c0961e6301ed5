"""What came in late waits for a person; it is never refused and never costs by itself."""

from dataclasses import replace

import pytest

from sheetgen.checking.late import is_late, late_findings, with_late_findings
from sheetgen.model.attempt import Attempt
from sheetgen.store.catalogue import load_catalogue
from tests.report.invented import BOOK
from tests.reviews import attempt
from tests.wording import said

DUE = replace(BOOK, due_date="2027-03-04")

# first read, due date, day of feedback, (code, what was expected) of each finding
CASES: tuple[tuple[str, str, str, list[tuple[str, str]]], ...] = (
    ("2027-03-04", "2027-03-04", "2027-03-04", []),
    ("2027-03-05", "", "", []),
    ("", "2027-03-04", "2027-03-04", []),
    ("2027-03-05", "2027-03-04", "", [("procedure-late", "by the due date 2027-03-04")]),
    ("2027-10-01", "", "2027-09-30", [("procedure-after-feedback", "by the day of feedback 2027-09-30")]),
    (
        "2027-03-09", "2027-03-04", "2027-03-08",
        [
            ("procedure-late", "by the due date 2027-03-04"),
            ("procedure-after-feedback", "by the day of feedback 2027-03-08"),
        ],
    ),
)  # fmt: skip


@pytest.mark.parametrize(("day_seen", "due_date", "feedback_given", "expected"), CASES)
def test_late_findings(
    day_seen: str, due_date: str, feedback_given: str, expected: list[tuple[str, str]]
) -> None:
    findings = late_findings(day_seen, due_date, feedback_given)
    assert [(one.code, one.expected) for one in said(findings)] == expected
    assert all(one.found == f"first read on {day_seen}" for one in said(findings))


def judged(one: Attempt, day: str) -> Attempt:
    (told,) = with_late_findings([one], {one.sha256: day}, DUE, load_catalogue())
    return told


# status of a file, day on which it was first read, status then, whether it is late
STATUSES = (
    ("accepted", "2027-03-04", "accepted", False),
    ("accepted", "2027-03-05", "review", True),
    ("review", "2027-03-05", "review", True),
    ("refused", "2027-03-05", "refused", False),
)


@pytest.mark.parametrize(("before", "day", "after", "late"), STATUSES)
def test_a_late_file_waits(before: str, day: str, after: str, late: bool) -> None:
    told = judged(attempt(1, status=before), day)
    assert (told.status, is_late(told)) == (after, late)


def test_late_findings_are_notes() -> None:
    assert {one.severity for one in judged(attempt(1), "2027-03-05").findings} == {"note"}


def test_a_file_of_nobody_and_one_without_a_day_are_left_alone() -> None:
    nobody = replace(attempt(1), record=None)
    assert judged(nobody, "2027-03-05") == nobody
    assert with_late_findings([attempt(1)], {}, DUE, load_catalogue()) == [attempt(1)]


def test_the_sheet_of_a_teacher_is_no_work_to_be_handed_in() -> None:
    one = attempt(1)
    assert one.record is not None
    people = tuple(
        replace(person, role="teacher") if person.student_id == one.record.student_id else person
        for person in BOOK.people
    )
    book = replace(DUE, people=people)
    assert with_late_findings([one], {one.sha256: "2027-03-05"}, book, load_catalogue()) == [one]
