from msgspec.structs import replace

from sheetgen.finding import Worded
from sheetgen.report.file_pages import details_page, same_numbers_sections, sheets_page
from sheetgen.report.page import in_order
from sheetgen.statistics.same_numbers import PairKind
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS, accepted, finding, refused_without_record, returned

NOTE = finding("entry-number-as-text", "note", "Readings", "C6")
WARNING = finding("procedure-third-missing", "warning", "Readings", "E9")
ERROR = finding("sheet-formula-changed", "error", "Readings", "G12", "=B9*2")


def test_sheets_page_has_those_with_something_to_do_first_by_file_and_prints_them_alone() -> None:
    attempts = [
        refused_without_record(),
        returned(3, "accepted", NOTE),
        returned(2, "review", NOTE, WARNING, ERROR),
        returned(1, "superseded", WARNING),
    ]
    page = sheets_page(attempts, "1", TEXTS)
    assert page.unprinted == 2
    assert page.rows == (
        (
            "1002.xlsx", "1002", "waits for you",
            "Tab Readings: do something about sheet-formula-changed.",
        ),
        (
            "holiday.xlsx", None, "cannot be used",
            "Do something about file-not-ours.",
        ),
        ("1001.xlsx", "1001", "other file counts", ""),
        ("1003.xlsx", "1003", "counts", ""),
    )  # fmt: skip


def test_sheets_page_points_to_an_answer_that_is_ready() -> None:
    texts = {**TEXTS, "file-pdf.remedy": 'Answer the student: "Please send the sheet."'}
    attempt = returned(1, "refused", finding("file-pdf", "error"))
    assert sheets_page([attempt], "1", texts).rows[0][-1] == (
        "Send the answer that is ready in feedback.zip and missing.txt."
    )


def test_sheets_page_of_a_file_for_review_without_findings() -> None:
    assert sheets_page([returned(1, "review")], "1", TEXTS).rows[0][-1] == (
        "Look at the file and decide (review workbook, tab Files)."
    )


def test_sheets_page_does_not_tell_practice() -> None:
    practice = sheets_page([accepted(1, data_source="practice")], "1", TEXTS)
    assert practice == sheets_page([accepted(1)], "1", TEXTS)


def test_findings_page_has_every_finding() -> None:
    attempts = in_order([returned(1, "review", ERROR, WARNING), refused_without_record()], 1)
    page = details_page(attempts, "1", (), (), TEXTS)
    assert (page.filtered, page.printed) == (True, False)
    assert [row[:5] for row in page.rows] == [
        ("holiday.xlsx", "error", "file-not-ours", "whole file", "this"),
        ("1001.xlsx", "error", "sheet-formula-changed", "Readings G12", "=B9*2"),
        ("1001.xlsx", "warning", "procedure-third-missing", "Readings E9", "this"),
    ]


def test_a_finding_that_nobody_can_act_on_is_on_neither_page() -> None:
    unlocked = finding("sheet-structure-open", "note")
    waiting = returned(1, "review", unlocked)
    assert details_page([waiting], "1", (), (), TEXTS).rows == ()
    assert sheets_page([waiting], "1", TEXTS) == sheets_page([returned(1, "review")], "1", TEXTS)


def test_findings_page_without_findings_says_so() -> None:
    page = details_page([accepted(1)], "1", (), (), TEXTS)
    assert (page.rows, page.sentences) == ((), ("Nothing was found in any file.",))


def test_findings_about_the_class_come_first() -> None:
    of_class = Worded("class-zero-forgotten", "warning", "C04 reads high", "that", "Look.")
    row = details_page([returned(1, "review", ERROR)], "1", [of_class], (), TEXTS).rows[0]
    assert row[:5] == ("whole class", "warning", "class-zero-forgotten", "", "C04 reads high")


def test_same_numbers_stand_side_by_side_by_code() -> None:
    first, pair = same_numbers_sections(compared()[2], TITLES, TEXTS)
    assert first.sentences[0] == ("Two sheets hold the same numbers: talk to both students. No mark changes.")
    assert first.rows == (
        ("S05-P02-1", "S20-P17-1", "different people", "12 / 14", 5, "0.00023", "as they stand"),
    )
    assert [heading.text for heading in pair.headings[3:]] == ["S05-P02-1, mm", "S20-P17-1, mm"]
    assert len(pair.rows) == 14
    assert sum(row[2] == "equal" for row in pair.rows) == 12
    assert all((row[3] == row[4]) == (row[2] == "equal") for row in pair.rows)


def test_same_numbers_prints_threshold_pairs_expected_and_innocent_causes() -> None:
    sentences = same_numbers_sections(compared()[2], TITLES, TEXTS)[0].sentences
    assert sentences[1].startswith("120 measured sheets. Innocent pairs expected in all: below 0.025. ")
    assert sentences[2].startswith("   about different people: 4 of 7 sites with both rounds equal (")
    first = sentences.index("Innocent causes, to ask about first:") + 1
    causes = [text for key, text in TEXTS.items() if key.startswith("report_same_numbers.cause_")]
    assert sentences[first : first + 8] == tuple(
        f"   {number}. {cause}" for number, cause in enumerate(causes, start=1)
    )
    assert len(causes) == 8


def test_same_numbers_of_a_sheet_of_two_sites_says_that_chance_cannot_be_told() -> None:
    analysis = alone()[2]
    few = replace(analysis.same, sites=2, kinds={"same": PairKind(1, 3, 0.0), "again": PairKind(0, 3, 0.0)})
    sentences = same_numbers_sections(replace(analysis, same=few), TITLES, TEXTS)[0].sentences
    assert sentences[2] == "   about the same person: cannot be told from chance at all"
    assert len([one for one in sentences if one.startswith("   ")]) == 1


def test_same_numbers_of_a_class_without_such_files() -> None:
    (section,) = same_numbers_sections(alone()[2], TITLES, TEXTS)
    assert section.sentences[0] == "No two sheets hold the same numbers beyond chance."
    assert (section.headings, section.rows) == ((), ())


def test_same_numbers_of_very_many_pairs_shows_the_first_side_by_side() -> None:
    analysis = compared()[2]
    (pair,) = analysis.same.pairs
    many = replace(analysis, same=replace(analysis.same, pairs=(pair,) * 50, declared_out=2))
    first, *pairs = same_numbers_sections(many, TITLES, TEXTS)
    assert (len(first.rows), len(pairs)) == (50, 40)
    assert first.sentences[-1] == "The first 40 pairs stand side by side below."
    assert "Pairs left out because they were declared: 2." in first.sentences


def test_details_list_the_tables_and_a_source_for_every_statistic() -> None:
    tables, sources = details_page([], "1", (), (), TEXTS).more
    assert [line.partition(":")[0] for line in tables.sentences[2:]] == [
        "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "precision.csv", "files.csv",
        "marks.csv", "marks-by-item.csv", "slips.csv",
    ]  # fmt: skip
    assert [line for line in sources.sentences if line.partition(": ")[2] in ("", ".")] == []
    assert len(sources.sentences) == 7
