from dataclasses import replace

from sheetgen.finding import Worded
from sheetgen.report.file_pages import data_page, findings_page, kinds_page, sheets_page, talk_page
from sheetgen.statistics.same_numbers import PairKind
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS, accepted, finding, refused_without_record, returned

NOTE = finding("entry-number-as-text", "note", "Readings", "C6")
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
        ("holiday.xlsx", None, None, "", "refused", 1, 0, 0, "Do something about file-not-ours."),
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


def test_talk_page_has_both_files_side_by_side_by_code() -> None:
    page = talk_page(compared()[2], TITLES, TEXTS)
    assert (
        page.sentences[0] == "Two sheets hold the same numbers: this needs a conversation. No mark changes."
    )
    assert page.rows == (
        (
            "S05-P02-1",
            "S20-P17-1",
            "different people",
            "as they stand",
            12,
            14,
            5,
            4,
            "0.00023",
            "needs a conversation",
        ),
    )
    (pair,) = page.more
    assert [heading.text for heading in pair.headings[3:]] == ["S05-P02-1, mm", "S20-P17-1, mm"]
    assert len(pair.rows) == 14
    assert sum(row[2] == "equal" for row in pair.rows) == 12
    assert all((row[3] == row[4]) == (row[2] == "equal") for row in pair.rows)


def test_talk_page_prints_threshold_pairs_expected_and_innocent_causes() -> None:
    sentences = talk_page(compared()[2], TITLES, TEXTS).sentences
    assert sentences[1].startswith("120 measured sheets. Innocent pairs expected in all: below 0.025. ")
    assert sentences[2].startswith("   about different people: 4 of 7 sites with both rounds equal (")
    first = sentences.index("Innocent causes, to ask about first:") + 1
    causes = [text for key, text in TEXTS.items() if key.startswith("report_talk.cause_")]
    assert sentences[first : first + 8] == tuple(
        f"   {number}. {cause}" for number, cause in enumerate(causes, start=1)
    )
    assert len(causes) == 8


def test_talk_page_of_a_sheet_of_two_sites_says_that_chance_cannot_be_told() -> None:
    analysis = alone()[2]
    few = replace(analysis.same, sites=2, kinds={"same": PairKind(1, 3, 0.0), "again": PairKind(0, 3, 0.0)})
    sentences = talk_page(replace(analysis, same=few), TITLES, TEXTS).sentences
    assert sentences[2] == "   about the same person: cannot be told from chance at all"
    assert len([one for one in sentences if one.startswith("   ")]) == 1


def test_talk_page_of_a_class_without_such_files() -> None:
    page = talk_page(alone()[2], TITLES, TEXTS)
    assert page.sentences[0] == "No two sheets hold the same numbers beyond chance."
    assert (page.headings, page.rows, page.more) == ((), (), ())


def test_talk_page_of_very_many_pairs_shows_the_first_side_by_side() -> None:
    analysis = compared()[2]
    (pair,) = analysis.same.pairs
    many = replace(analysis, same=replace(analysis.same, pairs=(pair,) * 50, declared_out=2))
    page = talk_page(many, TITLES, TEXTS)
    assert (len(page.rows), len(page.more)) == (50, 40)
    assert page.sentences[-1] == "The first 40 pairs stand side by side below."
    assert "Pairs left out because they were declared: 2." in page.sentences


def test_data_page_lists_the_tables_with_their_keys() -> None:
    assert [(row[0], row[2]) for row in data_page(1, TEXTS).rows] == [
        ("attempts.csv", "session, file"),
        ("sites.csv", "session, copy_code, sha256, site"),
        ("readings.csv", "session, copy_code, sha256, site, round"),
        ("findings.csv", ""),
        ("precision.csv", "session, site"),
        ("files.csv", "session, file"),
        ("marks.csv", "student_id"),
        ("marks-by-item.csv", "session, copy_code, item"),
        ("slips.csv", "session, copy_code, line, slip"),
    ]


def test_data_page_gives_a_source_for_every_statistic() -> None:
    (sources,) = data_page(1, TEXTS).more
    assert all(row[1] for row in sources.rows)
