from sheetgen.workbook.refusal import Refusal, RefusedError, too_large, unreadable


def test_unreadable_carries_code_and_what_was_found() -> None:
    refusal = unreadable("a workbook without tabs")
    assert (refusal.code, refusal.found) == ("file-unreadable", "a workbook without tabs")
    assert refusal.expected == "a workbook saved as .xlsx"


def test_too_large_names_the_bound() -> None:
    refusal = too_large("401 entries", "at most 400 entries")
    assert (refusal.code, refusal.expected) == ("file-too-large", "at most 400 entries")


def test_refused_error_keeps_its_refusal() -> None:
    refusal = Refusal("file-empty", "nothing", "something", "Send it again.")
    assert RefusedError(refusal).refusal is refusal
