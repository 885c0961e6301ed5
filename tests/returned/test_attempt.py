"""What came in late waits for a person; it is never refused and never costs by itself."""

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.records import Person
from sheetgen.finding import Finding
from sheetgen.returned.attempt import (
    Attempt,
    answered,
    file_id,
    has_work,
    is_late,
    late_findings,
    named_by_copy,
    status_of,
    superseded,
    with_findings,
    with_late_findings,
)
from sheetgen.texts.findings import completed, load_catalogue
from tests.report.invented import BOOK, returned
from tests.reviews import attempt
from tests.wording import said

# codes, status
STATUS: tuple[tuple[tuple[str, ...], str], ...] = (
    ((), "accepted"),
    (("file-foreign-content", "sheet-result-differs"), "accepted"),
    (("entry-not-a-number",), "review"),
    (("entry-other-unit",), "review"),
    (("working-not-a-number",), "accepted"),
    (("entry-date",), "review"),
    (("procedure-late",), "review"),
    (("sheet-formula-changed",), "review"),
    (("sheet-formula-changed", "sheet-result-differs"), "review"),
    (("identity-changed",), "refused"),
    (("file-empty",), "refused"),
    (("sheet-formula-changed", "entry-date", "file-empty"), "refused"),
)


@pytest.mark.parametrize(("codes", "status"), STATUS)
def test_status_of(codes: tuple[str, ...], status: str) -> None:
    assert status_of(completed(map(Finding, codes), load_catalogue())) == status


# status, codes, whether the contents count
WORK: tuple[tuple[str, tuple[str, ...], bool], ...] = (
    ("accepted", (), True),
    ("review", ("entry-date",), True),
    ("refused", ("file-pdf",), False),
    ("superseded", (), False),
    ("review", ("entry-nothing-typed",), False),
    # The teacher said that it counts all the same.
    ("accepted", ("entry-nothing-typed",), True),
)


@pytest.mark.parametrize(("status", "codes", "expected"), WORK)
def test_has_work(status: str, codes: tuple[str, ...], expected: bool) -> None:
    findings = completed(map(Finding, codes), load_catalogue())
    assert has_work(replace(returned(1, status), findings=findings)) is expected


def test_a_file_without_record_has_no_work() -> None:
    assert not has_work(replace(returned(1, "accepted"), record=None))


def _raw(code: str) -> Finding:
    return Finding(code)


def _codes(attempt: Attempt) -> list[str]:
    return [finding.code for finding in attempt.findings]


def test_with_findings_changes_findings_and_status_together() -> None:
    attempt = with_findings(replace(returned(1, "accepted"), findings=()), [_raw("entry-date")])
    assert (attempt.status, _codes(attempt)) == ("review", ["entry-date"])
    assert attempt.findings[0].severity == "error"
    refused = with_findings(attempt, [_raw("file-empty")], first=True)
    assert (refused.status, _codes(refused)) == ("refused", ["file-empty", "entry-date"])


def test_a_file_that_was_not_read_is_refused_whatever_was_found() -> None:
    unread = replace(returned(1, "accepted"), results=None, findings=())
    assert with_findings(unread, [_raw("file-foreign-content")]).status == "refused"


def test_superseded_says_why() -> None:
    attempt = superseded(replace(returned(1, "accepted"), findings=()), [_raw("sheet-result-differs")])
    assert (attempt.status, _codes(attempt)) == ("superseded", ["sheet-result-differs"])


def test_files_are_called_by_their_copy_in_the_order_in_which_they_were_read() -> None:
    def came(name: str, sha256: str, number: int = 0) -> Attempt:
        one = replace(returned(number or 1, "accepted"), file=name, sha256=sha256)
        return one if number else replace(one, record=None)

    files = [
        came("Ada Fen/again.xlsx", "cc", 1),
        came("Ada Fen/sheet.xlsx", "aa", 1),
        came("Bo Heath.xlsx", "bb", 2),
        came("photo of Cy.png", "ee"),
        came("Di.pdf", "dd"),
        came("Di.pdf", ""),
    ]
    days = {
        "cc": "2027-03-02",
        "aa": "2027-03-01",
        "bb": "2027-03-02",
        "dd": "2027-03-02",
        "ee": "2027-03-01",
    }
    named = named_by_copy(files, days)
    assert [(one.file, one.incoming_name) for one in named] == [
        ("K1-2.xlsx", "Ada Fen/again.xlsx"),
        ("K1.xlsx", "Ada Fen/sheet.xlsx"),
        ("K2.xlsx", "Bo Heath.xlsx"),
        ("unknown-1", "photo of Cy.png"),
        ("unknown-2", "Di.pdf"),
        ("unknown-3", "Di.pdf"),
    ]
    assert named_by_copy(files[3:4], days, named)[0].file == "unknown-4"
    assert named[0].came_as == "Ada Fen/again.xlsx"
    assert returned(1, "accepted").came_as == "1001.xlsx"


def test_a_file_without_a_digest_is_known_by_that_of_its_name() -> None:
    unread = replace(returned(1, "accepted"), file="unknown-1", incoming_name="Ada.xlsx", sha256="")
    assert file_id(unread) == "d7398303159c1689"
    assert file_id(replace(unread, file="unknown-2")) == file_id(unread)


# status before, the teacher's word, status after
ANSWERED = (
    ("review", True, "accepted"), ("review", False, "refused"), ("accepted", False, "accepted"),
    ("refused", True, "refused"), ("superseded", True, "superseded"),
)  # fmt: skip


@pytest.mark.parametrize(("before", "counts", "after"), ANSWERED)
def test_answered_settles_what_is_for_review(before: str, counts: bool, after: str) -> None:
    assert answered(replace(returned(1, "accepted"), status=before), counts).status == after


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
    (told,) = with_late_findings([one], {one.sha256: day}, DUE)
    return told


def test_a_due_date_of_ones_own_goes_before_that_of_the_class() -> None:
    one = returned(1, "accepted")
    assert one.record is not None
    person = Person(one.record.student_id, "", "", due_date="2027-03-09")
    late = {
        (due, day): is_late(with_late_findings([one], {one.sha256: day}, replace(DUE, people=(own,)))[0])
        for due, own in (("own", person), ("class", replace(person, due_date="")))
        for day in ("2027-03-04", "2027-03-09", "2027-03-10")
    }
    assert [case for case, found in late.items() if found] == [
        ("own", "2027-03-10"), ("class", "2027-03-09"), ("class", "2027-03-10"),
    ]  # fmt: skip


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
    assert with_late_findings([attempt(1)], {}, DUE) == [attempt(1)]


def test_the_sheet_of_a_teacher_is_no_work_to_be_handed_in() -> None:
    one = attempt(1)
    assert one.record is not None
    people = tuple(
        replace(person, role="teacher") if person.student_id == one.record.student_id else person
        for person in BOOK.people
    )
    book = replace(DUE, people=people)
    assert with_late_findings([one], {one.sha256: "2027-03-05"}, book) == [one]
