from sheetgen.model.finding import Worded
from sheetgen.report.file_pages import findings_page, kinds_page, sheets_page
from tests.report.invented import TEXTS, accepted, finding, refused_without_record, returned

NOTE = finding("entry-number-as-text", "note", "Readings", "B9")
WARNING = finding("procedure-third-missing", "warning", "Readings", "E9")
ERROR = finding("sheet-formula-changed", "error", "Readings", "G12", "=B9*2")


def test_sheets_page_is_ordered_by_file_and_says_what_to_do_first() -> None:
    attempts = [
        refused_without_record(),
        returned(3, "accepted", NOTE),
        returned(2, "review", NOTE, WARNING, ERROR),
        returned(1, "superseded", WARNING),
    ]
    assert sheets_page(attempts, 1, (), TEXTS).rows == (
        (
            "1001.xlsx",
            "K1",
            "1001",
            "P01",
            "superseded",
            0,
            1,
            0,
            "Nothing to do: another file of the same sheet counts.",
        ),
        ("1002.xlsx", "K2", "1002", "P02", "review", 1, 1, 1, "Do something about sheet-formula-changed."),
        ("1003.xlsx", "K3", "1003", "P03", "accepted", 0, 0, 1, "Nothing to do."),
        ("holiday.xlsx", "", "", "", "refused", 1, 0, 0, "Do something about file-not-ours."),
    )


def test_sheets_page_of_a_file_for_review_without_findings() -> None:
    assert sheets_page([returned(1, "review")], 1, (), TEXTS).rows[0][-1] == "Look at the file and decide."


def test_sheets_page_does_not_tell_practice() -> None:
    practice = sheets_page([accepted(1, data_source="practice")], 1, (), TEXTS)
    assert practice == sheets_page([accepted(1)], 1, (), TEXTS)


def test_findings_page_has_every_finding() -> None:
    page = findings_page([returned(1, "review", ERROR, WARNING), refused_without_record()], 1, (), TEXTS)
    assert page.filtered
    assert [row[:5] for row in page.rows] == [
        ("holiday.xlsx", "error", "file-not-ours", "whole file", "this"),
        ("1001.xlsx", "error", "sheet-formula-changed", "Readings G12", "=B9*2"),
        ("1001.xlsx", "warning", "procedure-third-missing", "Readings E9", "this"),
    ]


def test_findings_page_without_findings_says_so() -> None:
    page = findings_page([accepted(1)], 1, (), TEXTS)
    assert (page.rows, page.sentences) == ((), ("Nothing was found in any file.",))


def test_kinds_page_counts_findings_and_files() -> None:
    page = kinds_page([returned(1, "review", ERROR, NOTE, NOTE), returned(2, "accepted", NOTE)], 1, (), TEXTS)
    assert page.rows == (
        ("entry-number-as-text", "note", 3, 2),
        ("sheet-formula-changed", "error", 1, 1),
    )
    assert [(chart.kind, chart.words, chart.numbers) for chart in page.charts] == [("bar", 0, 2)]


def test_kinds_page_without_findings_has_no_chart() -> None:
    assert kinds_page([accepted(1)], 1, (), TEXTS).charts == ()


def test_findings_about_the_class_come_first() -> None:
    of_class = Worded("class-zero-forgotten", "warning", "C04 reads high", "that", "Look.")
    row = findings_page([returned(1, "review", ERROR)], 1, [of_class], TEXTS).rows[0]
    assert row[:5] == ("whole class", "warning", "class-zero-forgotten", "", "C04 reads high")
    assert kinds_page([], 1, [of_class], TEXTS).rows == (("class-zero-forgotten", "warning", 1, None),)
