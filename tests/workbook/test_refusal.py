from sheetgen.workbook.refusal import (
    Refusal,
    RefusedError,
    other_kind,
    too_large,
    truncated,
    unreadable,
    unsafe,
)


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


def test_other_kind_expects_the_workbook() -> None:
    refusal = other_kind("file-pdf", "a PDF")
    assert (refusal.code, refusal.found, refusal.expected) == (
        "file-pdf",
        "a PDF",
        "a workbook saved as .xlsx",
    )


def test_truncated_and_unsafe_say_what_to_do() -> None:
    cut, harmful = truncated("a damaged part"), unsafe("a part twice", "each part once")
    assert (cut.code, harmful.code) == ("file-truncated", "file-unsafe")
    assert (cut.expected, harmful.expected) == ("a whole .xlsx file", "each part once")
    assert cut.remedy.endswith(".") and harmful.remedy.startswith("Do not open it")
