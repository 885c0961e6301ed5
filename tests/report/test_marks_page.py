from sheetgen.model.mark_row import MarkRow
from sheetgen.report.marks_page import marks_page
from tests.report.invented import BOOK, TEXTS

MARKS = (
    MarkRow("1003", "Ines", "Holt", 10.0, 20.0, "final"),
    MarkRow("9999", "Guest", "", None, 20.0, "missing"),
    MarkRow("1002", "=Tam", "Reeve", 18.0, 20.0, "final"),
    MarkRow("1001", "Odile", "Marsh", 9.9, 20.0, "final"),
)


def test_marks_page_counts_final_scores_by_band() -> None:
    """9.9, 10 and 18 of 20 are 49.5, 50 and 90 per cent: a bound belongs to the band above it."""
    page = marks_page(BOOK, MARKS, 1, TEXTS)
    assert page.rows == (
        ("below 50 %", 1),
        ("50 to below 60 %", 1),
        ("60 to below 70 %", 0),
        ("70 to below 80 %", 0),
        ("80 to below 90 %", 0),
        ("90 % and above", 1),
    )
    assert [(chart.words, chart.numbers) for chart in page.charts] == [(0, 1)]


def test_marks_page_is_in_the_order_of_the_roster() -> None:
    (roster,) = marks_page(BOOK, MARKS, 1, TEXTS).more
    assert [row[1] for row in roster.rows] == ["1001", "1002", "1003", "9999"]
    assert roster.rows[3] == ("Guest", "9999", None, 20.0, "missing")


def test_marks_page_without_final_scores_has_no_bands() -> None:
    page = marks_page(BOOK, [MarkRow("1001", "Odile", "Marsh", 3.0, 20.0, "to be marked")], 1, TEXTS)
    assert page.rows == (("Odile Marsh", "1001", 3.0, 20.0, "to be marked"),)
    assert page.sentences[1] == "0 final, 1 to be marked, 0 missing, 0 exempt."
    assert (page.charts, page.more) == ((), ())


def test_marks_page_without_marks() -> None:
    page = marks_page(BOOK, (), 1, TEXTS)
    assert (page.headings, page.rows, page.sentences[1]) == ((), (), "Nothing is marked yet.")
