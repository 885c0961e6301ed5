from msgspec.structs import replace

from sheetgen.finding import (
    Finding,
    Refusal,
    RefusedError,
    gathered,
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
    refusal = Refusal("file-empty", "", {})
    assert RefusedError(refusal).refusal is refusal


def test_other_kind_expects_the_workbook() -> None:
    refusal = other_kind("file-pdf")
    assert (refusal.code, refused(refusal).found, refused(refusal).expected) == (
        "file-pdf",
        "a PDF",
        "a workbook saved as .xlsx",
    )


def test_findings_of_one_code_and_tab_are_one_with_their_count_and_first_five_places() -> None:
    strays = [Finding("sheet-content-added", {"row": row}, "Start", f"F{row}") for row in range(60, 100)]
    elsewhere = Finding("sheet-content-added", {"row": 1}, "Working", "F1")
    first = Finding("sheet-content-added", {"row": 60}, "Start", "F60, F61, F62, F63, F64", count=40)
    assert gathered([*strays, elsewhere]) == (first, elsewhere)
    # What was gathered once may be gathered again.
    assert gathered([first, *strays[:2]]) == (replace(first, count=42),)


def test_every_entry_keeps_its_finding() -> None:
    entries = [Finding("entry-off-scale", {}, "Readings", f"B{row}") for row in range(8, 15)]
    assert gathered(entries) == tuple(entries)


def test_truncated_and_unsafe_say_what_was_expected() -> None:
    cut, harmful = truncated("header"), unsafe("twice", part="x")
    assert (cut.code, harmful.code) == ("file-truncated", "file-unsafe")
    assert (refused(cut).expected, refused(harmful).expected) == ("a whole .xlsx file", "each part once")
