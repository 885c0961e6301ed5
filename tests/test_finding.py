from sheetgen.finding import (
    Refusal,
    RefusedError,
    other_kind,
    too_large,
    truncated,
    unreadable,
    unsafe,
)
from tests.wording import refused


def test_unreadable_carries_code_and_what_was_found() -> None:
    refusal = unreadable("no-tabs")
    assert (refusal.code, refused(refusal).found) == ("file-unreadable", "a workbook without tabs")
    assert refused(refusal).expected == "a workbook saved as .xlsx"


def test_too_large_names_the_bound() -> None:
    refusal = too_large("entries", count=401, most=400)
    assert (refusal.code, refused(refusal).expected) == ("file-too-large", "at most 400 entries")


def test_refused_error_keeps_its_refusal() -> None:
    refusal = Refusal("file-empty", "", {}, "Send it again.")
    assert RefusedError(refusal).refusal is refusal


def test_other_kind_expects_the_workbook() -> None:
    refusal = other_kind("file-pdf")
    assert (refusal.code, refused(refusal).found, refused(refusal).expected) == (
        "file-pdf",
        "a PDF",
        "a workbook saved as .xlsx",
    )


def test_truncated_and_unsafe_say_what_to_do() -> None:
    cut, harmful = truncated("header"), unsafe("twice", part="x")
    assert (cut.code, harmful.code) == ("file-truncated", "file-unsafe")
    assert (refused(cut).expected, refused(harmful).expected) == ("a whole .xlsx file", "each part once")
    assert cut.remedy.endswith(".") and harmful.remedy.startswith("Do not open it")
