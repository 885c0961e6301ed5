from dataclasses import replace

from sheetgen.report.talk_page import talk_page
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS


def test_talk_page_has_both_files_side_by_side_by_code() -> None:
    page = talk_page(compared()[2], TITLES, TEXTS)
    assert (
        page.sentences[0] == "Two sheets hold the same numbers: this needs a conversation. No mark changes."
    )
    assert page.rows == (
        ("S05-P02-1", "S20-P17-1", "different people", 12, 14, 5, 4, "0.00023", "needs a conversation"),
    )
    (pair,) = page.more
    assert [heading.text for heading in pair.headings[3:]] == ["S05-P02-1, mm", "S20-P17-1, mm"]
    assert len(pair.rows) == 14
    assert sum(row[2] == "equal" for row in pair.rows) == 12
    assert all((row[3] == row[4]) == (row[2] == "equal") for row in pair.rows)


def test_talk_page_prints_threshold_pairs_expected_and_innocent_causes() -> None:
    sentences = talk_page(compared()[2], TITLES, TEXTS).sentences
    assert sentences[1].startswith("120 files. Innocent pairs expected in all: below 0.05. ")
    causes = [text for key, text in TEXTS.items() if key.startswith("report_talk.cause_")]
    assert sentences[3:8] == tuple(f"   {number}. {cause}" for number, cause in enumerate(causes, start=1))
    assert len(causes) == 5


def test_talk_page_of_a_sheet_of_two_sites_says_that_chance_cannot_be_told() -> None:
    analysis = alone()[2]
    few = replace(analysis.same, sites=2, different_threshold=3, same_threshold=3)
    assert (
        talk_page(replace(analysis, same=few), TITLES, TEXTS)
        .sentences[1]
        .endswith(
            "Two files about different people: cannot be told from chance at all; about the same person: "
            "cannot be told from chance at all."
        )
    )


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
