from dataclasses import replace

import pytest

from sheetgen.checking.corrections import (
    adjusted_mark,
    comment_given,
    corrected_entries,
    corrections_of,
    files_answered,
    number_in,
    with_answer_marks,
)
from sheetgen.model.decision import Decision
from tests.checking.given import WOMAN
from tests.reviews import marking
from tests.sheets import sheet_of


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
    (finding,) = findings
    assert (finding.code, finding.found, finding.expected) == ("entry-corrected", "10", "10,5 (misread)")
    assert (finding.tab, finding.cell) == ("Readings", _address("reading_1_chest"))
    assert WOMAN["reading_1_chest"] == 10


def test_a_correction_may_empty_an_entry_and_fill_one() -> None:
    given = [correction("reading_3_suprailiac", "empty"), correction("participant_today", "P-2345")]
    entries, findings = corrected_entries(WOMAN, given, sheet_of().layout)
    assert "reading_3_suprailiac" not in entries
    assert entries["participant_today"] == "P-2345"
    assert [finding.found for finding in findings] == ["15", "nothing"]


@pytest.mark.parametrize(("name", "value"), [("sum_mm", "100"), ("reading_1_toe", "9"), ("mass_kg", "sixty")])
def test_a_correction_that_cannot_be_used_changes_nothing(name: str, value: str) -> None:
    entries, findings = corrected_entries(WOMAN, [correction(name, value)], sheet_of().layout)
    assert entries == WOMAN
    assert [finding.code for finding in findings] == ["entry-correction-unusable"]


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


def _address(name: str) -> str:
    _, row, column = sheet_of().layout.places()[name]
    return f"{'ABCDEFGH'[column]}{row + 1}"
