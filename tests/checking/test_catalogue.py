import pytest

from sheetgen.checking.catalogue import completed
from sheetgen.model.finding import Finding, FindingKind

CATALOGUE = {
    kind.code: kind
    for kind in (
        FindingKind("file-empty", "error", False, "Empty.", "Ask for it again."),
        FindingKind("file-foreign-content", "note", False, "Macros.", "Nothing to do."),
        FindingKind("identity-changed", "error", False, "Another.", "Talk to the student."),
        FindingKind("sheet-formula-changed", "error", False, "Another.", "Open the file."),
        FindingKind("sheet-result-differs", "warning", False, "Differs.", "Open the file."),
        FindingKind("entry-date", "error", True, "A date.", "Ask the student."),
        FindingKind("entry-not-a-number", "error", False, "A word.", "Ask the student."),
        FindingKind("class-same-numbers", "warning", True, "The same.", "Ask both."),
    )
}


def _findings(*codes: str) -> tuple[Finding, ...]:
    return completed([Finding(code, "", "this", "that", "") for code in codes], CATALOGUE)


def test_completed_adds_severity_and_remedy() -> None:
    assert _findings("file-empty") == (Finding("file-empty", "error", "this", "that", "Ask for it again."),)


def test_completed_with_a_code_that_is_not_in_the_catalogue() -> None:
    with pytest.raises(KeyError, match="file-lost"):
        _findings("file-lost")
