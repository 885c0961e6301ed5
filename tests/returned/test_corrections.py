import pytest
from msgspec.structs import replace

from sheetgen.class_folder.decisions import Decision
from sheetgen.finding import Worded
from sheetgen.marking.marks import adjusted_mark, comment_given, with_answer_marks
from sheetgen.returned.corrections import (
    corrected_entries,
    corrections_of,
    files_answered,
    number_in,
)
from tests.returned.given import WOMAN
from tests.reviews import marking
from tests.sheets import sheet_of
from tests.wording import said


def correction(name: str, value: str, sequence: int = 1) -> Decision:
    return Decision(sequence, 1, "K1", "correction", name, value, "misread")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12.5", 12.5),
        ("12,5", 12.5),
        (" 7 ", 7.0),
        ("−0.4", -0.4),
        ("", None),
        ("7 points", None),
        ("1e9", None),
    ],
)
def test_a_number_as_a_person_types_it(text: str, number: float | None) -> None:
    assert number_in(text) == number


def test_a_correction_takes_the_place_of_what_was_typed_and_is_shown() -> None:
    entries, findings = corrected_entries(WOMAN, [correction("reading_1_chest", "10,5")], sheet_of().layout)
    assert entries == {**WOMAN, "reading_1_chest": 10.5}
    assert said(findings) == (Worded("entry-corrected", "", "10", "10,5 (misread)", "", "Readings", "C5"),)
    assert _address("reading_1_chest") == "C5"
    assert WOMAN["reading_1_chest"] == 10


def test_a_correction_may_empty_an_entry_and_fill_one() -> None:
    given = [correction("reading_3_suprailiac", "empty"), correction("participant_today", "P-2345")]
    entries, findings = corrected_entries(WOMAN, given, sheet_of().layout)
    assert "reading_3_suprailiac" not in entries
    assert entries["participant_today"] == "P-2345"
    assert [finding.found for finding in said(findings)] == ["15", "nothing"]


NO_ENTRY = "the name of an entry of this sheet"
# name, what was typed, found, expected, tab, cell
UNUSABLE = (
    ("sum_mm", "100", "no entry sum_mm", NO_ENTRY, "", ""),
    ("reading_1_toe", "9", "no entry reading_1_toe", NO_ENTRY, "", ""),
    ("mass_kg", "sixty", "body mass = sixty", "a number, or the word empty", "Start", "B8"),
    ("n" * 130, "9", "no entry " + "n" * 111, NO_ENTRY, "", ""),
)


@pytest.mark.parametrize(("name", "value", "found", "expected", "tab", "cell"), UNUSABLE)
def test_a_correction_that_cannot_be_used_changes_nothing(
    name: str, value: str, found: str, expected: str, tab: str, cell: str
) -> None:
    """One that can be used beside it is applied."""
    given = [correction(name, value), correction("age_years", "30", 2)]
    entries, findings = corrected_entries(WOMAN, given, sheet_of().layout)
    assert entries == {**WOMAN, "age_years": 30.0}
    assert said(findings)[0] == Worded("entry-correction-unusable", "", found, expected, "", tab, cell)
    assert [one.code for one in findings[1:]] == ["entry-corrected"]


def test_a_correction_without_a_reason_of_a_number_with_decimals() -> None:
    given = [Decision(1, 1, "K1", "correction", "reading_1_triceps", "16")]
    _, findings = corrected_entries(WOMAN, given, sheet_of().layout)
    (finding,) = said(findings)
    assert (finding.found, finding.expected) == ("15.5", "16")


def test_a_correction_of_a_word_by_one_of_another_language() -> None:
    """The list words are known in every language; one that no list holds stays as it was typed."""
    for typed, meant in (("Hombre", "male"), ("male", "male"), ("neither", "neither")):
        entries, findings = corrected_entries(WOMAN, [correction("sex_equation", typed)], sheet_of().layout)
        (finding,) = said(findings)
        assert entries["sex_equation"] == meant
        assert (finding.found, finding.expected) == ("female", f"{typed} (misread)")


def test_decisions_that_are_no_corrections_change_no_entry() -> None:
    given = [
        Decision(1, 1, "K1", "mark", "mass_kg", "70"), correction("age_years", "30", 2),
    ]  # fmt: skip
    entries, findings = corrected_entries(WOMAN, given, sheet_of().layout)
    assert entries == {**WOMAN, "age_years": 30.0}
    assert len(findings) == 1


def test_a_long_entry_is_cut_where_it_is_shown() -> None:
    entries = {**WOMAN, "participant_today": "x" * 70}
    _, findings = corrected_entries(entries, [correction("participant_today", "P-1")], sheet_of().layout)
    (finding,) = said(findings)
    assert finding.found == "x" * 60


def test_a_correction_taken_back_does_nothing() -> None:
    taken_back = [correction("mass_kg", "61"), correction("mass_kg", "", 2)]
    assert corrected_entries(WOMAN, taken_back, sheet_of().layout) == (WOMAN, ())
    assert corrections_of(taken_back, "K1") == ()


def test_the_latest_correction_of_an_entry_holds() -> None:
    both = [
        correction("mass_kg", "61"),
        correction("mass_kg", "62", 2),
        replace(correction("a", "1"), subject="K2"),
    ]
    assert [one.value for one in corrections_of(both, "K1")] == ["62"]


@pytest.mark.parametrize(
    ("points", "score", "status"),
    [("4.5", 34.5, "final"), ("5", 35.0, "final"), ("", 30.0, "to be marked"), ("6", 30.0, "to be marked"),
     ("good", 30.0, "to be marked")],
)  # fmt: skip
def test_points_for_an_answer(points: str, score: float, status: str) -> None:
    given = [Decision(1, 1, "K1", "answer-mark", "answer_error", points)]
    marks = with_answer_marks(marking(), given, "K1")
    assert (marks.score, marks.status, marks.maximum) == (score, status, 50.0)
    assert sum(item.score for item in marks.items) == score
    assert [item.word for item in marks.items] == ["sums", "answers"]
    waits = status == "to be marked"
    assert marks.items[0] == marking().items[0]
    assert [one.code for one in marks.items[1].reasons] == (["to-be-marked"] if waits else [])
    assert marks.to_be_marked == (marking().to_be_marked if waits else ())
    assert with_answer_marks(marking(), given, "K2") == marking()


def test_an_adjusted_mark_and_a_comment() -> None:
    given = [Decision(1, 1, "K1", "mark", "", "41,5"), Decision(2, 1, "K1", "comment", "", "well held")]
    assert (adjusted_mark(given, "K1"), comment_given(given, "K1")) == (41.5, "well held")
    assert (adjusted_mark(given, "K2"), comment_given(given, "K2")) == (None, "")
    unusable = Decision(3, 1, "K1", "mark", "", "good")
    assert adjusted_mark([*given, unusable], "K1") is None


# maximum of the sheet, the mark that holds of 41.5
MAXIMA = ((50.0, 41.5), (41.5, 41.5), (41.0, None), (0.0, 41.5))


@pytest.mark.parametrize(("maximum", "mark"), MAXIMA)
def test_an_adjusted_mark_is_not_above_the_maximum(maximum: float, mark: float | None) -> None:
    """A sheet on which nothing could be marked has the maximum 0, and what is given for it holds."""
    assert adjusted_mark([Decision(1, 1, "K1", "mark", "", "41.5")], "K1", maximum) == mark


def test_files_that_the_teacher_decided_about() -> None:
    given = [
        Decision(1, 1, "f1", "which-file", "f1", "yes"),
        Decision(2, 1, "f2", "which-file", "f2", "yes"),
        Decision(3, 1, "K2", "accept-late", "f2", "no"),
        Decision(4, 1, "f3", "which-file", "f3", "maybe"),
    ]
    assert files_answered(given) == {"f1": True, "f2": False}


def test_a_mark_of_nought_holds_and_one_below_does_not() -> None:
    for typed, mark in (("0", 0.0), ("-0.5", None), ("50.5", None)):
        assert adjusted_mark([Decision(1, 1, "K1", "mark", "", typed)], "K1", 50.0) == mark


def _address(name: str) -> str:
    _, row, column = sheet_of().layout.places()[name]
    return f"{'ABCDEFGH'[column]}{row + 1}"
