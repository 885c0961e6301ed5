from dataclasses import replace

import pytest

from sheetgen.finding import Finding
from sheetgen.protocols.settings import BuiltWith
from sheetgen.report.talk import Talk, place_of, to_talk_to
from sheetgen.statistics.analysis import class_analysis
from tests.class_samples import CLASSES
from tests.report.analysed import alone, compared
from tests.report.invented import BOOK, PROTOCOL, SETTINGS, TEXTS, accepted, finding, returned

PLACE = ("Readings", "E9", "", "warning")
MISSING = Finding("procedure-third-missing", {"apart": 4.0}, *PLACE, name="reading_3_front_thigh")
BUILT_WITH = BuiltWith(settings=SETTINGS, protocol=PROTOCOL, layout_version=3)


def about(*findings: Finding, number: int = 1, status: str = "accepted") -> tuple[Talk, ...]:
    attempt = replace(returned(number, status, *findings), built_with=BUILT_WITH)
    return to_talk_to([attempt], class_analysis([attempt], BOOK, 1), TEXTS)


def test_a_line_says_who_where_and_what_in_plain_words() -> None:
    (talk,) = about(MISSING)
    assert talk.line(TEXTS, "1001") == (
        "1001, front thigh: rounds 1 and 2 are 4 mm apart and there is no third reading."
    )
    assert talk.line(TEXTS) == "Front thigh: rounds 1 and 2 are 4 mm apart and there is no third reading."


def test_a_person_has_one_line_with_the_gravest_first() -> None:
    grave = finding("sheet-formula-changed", "error", "Sites", "A2")
    (talk,) = about(MISSING, grave, finding("entry-number-as-text", "note"))
    assert talk.line(TEXTS, "1001") == "1001, tab Sites: that is sheet-formula-changed. (1 more to ask.)"


def test_nobody_is_asked_about_a_note_or_about_what_was_left_out_by_right() -> None:
    assert about(finding("entry-number-as-text", "note"), finding("procedure-less-measured", "warning")) == ()


@pytest.mark.parametrize("status", ["refused", "superseded"])
def test_nobody_is_asked_about_a_file_that_does_not_count(status: str) -> None:
    assert about(MISSING, status=status) == ()


def test_two_people_with_the_same_numbers_come_first() -> None:
    _, attempts, analysis = compared()
    first = to_talk_to(attempts, analysis, TEXTS)[0]
    assert first.people == ("S05", "S20")
    assert first.words.startswith(
        "their sheets hold the same numbers at 5 sites; ask first for an innocent cause"
    )


def test_a_second_round_that_is_thinner_everywhere_is_asked_about() -> None:
    analysis = CLASSES["class-second-round-thinner"]()
    (talk,) = to_talk_to((), analysis, TEXTS)
    assert talk.line(TEXTS, talk.people[0]).startswith("S01: round 2 thinner in 7 of 7 pairs that differ")


def test_a_quiet_class_has_nobody_to_talk_to() -> None:
    _, attempts, analysis = alone()
    assert [talk.people for talk in to_talk_to(attempts, analysis, TEXTS)] == []


# name of the cell, the place in words
PLACES = (
    ("age_years", "age of the person measured (tab Start)"),
    ("reading_2_triceps", "triceps"),
    ("not_taken_triceps", "triceps"),
    ("own_sum_mm", "tab Start"),
)


@pytest.mark.parametrize(("name", "place"), PLACES)
def test_place_of_a_finding_in_words(name: str, place: str) -> None:
    one = Finding("entry-missing", tab="Start", cell="B6", name=name)
    assert place_of(replace(accepted(1), built_with=BUILT_WITH), one, TEXTS) == place


def test_place_of_a_finding_about_the_whole_file_is_empty() -> None:
    assert place_of(accepted(1), Finding("file-template"), TEXTS) == ""
