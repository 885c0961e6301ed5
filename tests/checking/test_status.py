from dataclasses import replace

import pytest

from sheetgen.checking.status import answered, status_of, superseded, with_findings
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from tests.checking.test_catalogue import CATALOGUE, _findings
from tests.report.invented import returned

# codes, status
STATUS: tuple[tuple[tuple[str, ...], str], ...] = (
    ((), "accepted"),
    (("file-foreign-content", "sheet-result-differs"), "accepted"),
    (("entry-not-a-number",), "accepted"),
    (("entry-date",), "review"),
    (("class-same-numbers",), "review"),
    (("sheet-formula-changed",), "review"),
    (("sheet-formula-changed", "sheet-result-differs"), "review"),
    (("identity-changed",), "refused"),
    (("file-empty",), "refused"),
    (("sheet-formula-changed", "entry-date", "file-empty"), "refused"),
)


@pytest.mark.parametrize(("codes", "status"), STATUS)
def test_status_of(codes: tuple[str, ...], status: str) -> None:
    assert status_of(_findings(*codes), CATALOGUE) == status


def _raw(code: str) -> Finding:
    return Finding(code)


def _codes(attempt: Attempt) -> list[str]:
    return [finding.code for finding in attempt.findings]


def test_with_findings_changes_findings_and_status_together() -> None:
    attempt = with_findings(replace(returned(1, "accepted"), findings=()), [_raw("entry-date")], CATALOGUE)
    assert (attempt.status, _codes(attempt)) == ("review", ["entry-date"])
    assert attempt.findings[0].severity == "error"
    refused = with_findings(attempt, [_raw("file-empty")], CATALOGUE, first=True)
    assert (refused.status, _codes(refused)) == ("refused", ["file-empty", "entry-date"])


def test_a_file_that_was_not_read_is_refused_whatever_was_found() -> None:
    unread = replace(returned(1, "accepted"), results=None, findings=())
    assert with_findings(unread, [_raw("file-foreign-content")], CATALOGUE).status == "refused"


def test_superseded_says_why() -> None:
    attempt = superseded(
        replace(returned(1, "accepted"), findings=()), [_raw("sheet-result-differs")], CATALOGUE
    )
    assert (attempt.status, _codes(attempt)) == ("superseded", ["sheet-result-differs"])


# status before, the teacher's word, status after
ANSWERED = (
    ("review", True, "accepted"), ("review", False, "refused"), ("accepted", False, "accepted"),
    ("refused", True, "refused"), ("superseded", True, "superseded"),
)  # fmt: skip


@pytest.mark.parametrize(("before", "counts", "after"), ANSWERED)
def test_answered_settles_what_is_for_review(before: str, counts: bool, after: str) -> None:
    assert answered(replace(returned(1, "accepted"), status=before), counts).status == after
