import pytest

from sheetgen.marking.scheme import ItemMark, Marking, Reason, SlipFit, StepMark, ToBeMarked
from sheetgen.report.feedback_pages import (
    finding_lines,
    header_line,
    item_rows,
    practise_lines,
    repeat_rows,
    score_lines,
    step_rows,
)
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import load_texts
from tests.report.invented import PROTOCOL, accepted, finding, refused_without_record, returned

TEXTS = {**load_texts("marking.en"), **load_texts("feedback.en")}


def line(step: str, state: str, *slips: SlipFit, code: str = "slip") -> StepMark:
    """A line that went wrong, worth 2 points."""
    reason = Reason(code, step, slips)
    return StepMark(step, state, 1.5, 1.25, 1.0, 0.005, slips, 0.0, 2.0, 0.0, reason)


def marking(*items: ItemMark, waiting: tuple[ToBeMarked, ...] = ()) -> Marking:
    score, maximum = sum(item.score for item in items), sum(item.maximum for item in items)
    return Marking("mine", items, score, maximum, waiting)


def why(item: ItemMark) -> object:
    return item_rows(marking(item), PROTOCOL, TEXTS, with_body_values=True)[0][4]


def test_header_line_of_a_sheet_that_is_not_on_record() -> None:
    assert header_line(refused_without_record(), TEXTS) == (
        "Student not known   Sheet not known   Participant not known   Session not known"
    )


def test_score_lines_of_thirds_are_rounded() -> None:
    item = ItemMark("sum", "Sum", 6.666666, 10.0, False, ())
    assert score_lines(marking(item), 7.123, TEXTS) == (
        "Your mark, as your teacher decided: 7.12 of 10 points",
        "Your score: 6.67 of 10 points",
    )


def test_score_lines_add_up_what_waits() -> None:
    waiting = (ToBeMarked("q", "answer_zero", 2.5, "x"), ToBeMarked("q", "answer_error", 2.5, "y"))
    item = ItemMark("q", "Questions", 0.0, 5.0, False, ())
    assert score_lines(marking(item, waiting=waiting), None, TEXTS) == (
        "Score so far, to be marked: 0 of 5 points. 5 more points wait for a person: 2 to be looked at.",
    )


def test_item_rows_leave_the_points_of_an_exempt_item_empty() -> None:
    item = ItemMark("density", "Density", 0.0, 0.0, True, (Reason("exempt"),))
    assert item_rows(marking(item), PROTOCOL, TEXTS, with_body_values=True) == (
        ("Density", None, None, None, "Not asked for on this sheet, and not in the maximum"),
    )


# reasons: in words
REASONS = (
    (
        (Reason("lapses", "third-where-needed", (), 1, 7), Reason("lapses", "third-only-there", (), 1, 7)),
        "Third reading where needed: 1 of 7 not as it should be; "
        "third reading only where needed: 1 of 7 not as it should be",
    ),
    (
        (Reason("no-answer", "zero"), Reason("to-be-marked", "error"), Reason("no-answer", "repeat")),
        "Question on the zero, question on repeating: no answer; "
        "question on sources of error: to be marked by the teacher",
    ),
)


@pytest.mark.parametrize(("reasons", "words"), REASONS)
def test_item_rows_give_reasons_alike_once(reasons: tuple[Reason, ...], words: str) -> None:
    assert why(ItemMark("one", "One", 0.0, 5.0, False, reasons)) == words


def test_item_rows_count_the_lines_of_own_working() -> None:
    right = line("site_triceps", "right", code="right")
    steps = (right, line("site_front_thigh", "blank", code="blank"), line("sum_mm", "again", code="again"))
    item = ItemMark("sum", "Sum", 2.0, 6.0, False, tuple(step.reason for step in steps[1:]), steps)
    assert why(item) == (
        "1 right, 1 left empty, 1 with a mistake that has cost already: see your own working below"
    )


def test_step_rows_name_the_age_and_the_equation_only_with_body_values() -> None:
    steps = (
        line("density_g_ml", "wrong", SlipFit("age-misread", "42")),
        line("fat_percent", "wrong", SlipFit("other-sex", "women-two")),
        line("sum_mm", "wrong", SlipFit("site-twice", "front_thigh")),
    )
    shown = step_rows(steps, PROTOCOL, TEXTS, with_body_values=True)
    assert shown[0] == (
        "Body density, g/ml", 1.5, 1.25, 1.0,
        "The digits of the age were swapped (42). Redo the density with the age on the tab Start.",
    )  # fmt: skip
    assert step_rows(steps, PROTOCOL, TEXTS, with_body_values=False) == (
        (
            "Body density, g/ml", 0.0, 2.0, None,
            "The digits of the age were swapped. Redo the density with the age on the tab Start.",
        ),
        (
            "Per cent fat, %", 0.0, 2.0, None,
            "The equation of the other sex was used. "
            "Redo this line with the equation chosen on the tab Start.",
        ),
        (
            "Sum of the sites, mm", 0.0, 2.0, None,
            "A site was counted twice (Front thigh). Redo the sum with every site once.",
        ),
    )  # fmt: skip


def test_step_rows_know_the_unit_of_every_line() -> None:
    names = ("midpoint_thigh_cm", "site_triceps", "sum_mm", "density_g_ml", "fat_percent", "fat_mass_kg")
    steps = [line(name, "right", code="right") for name in names]
    rows = step_rows(steps, PROTOCOL, TEXTS, with_body_values=True)
    assert [str(row[0]).rsplit(", ", 1)[1] for row in rows] == ["cm", "mm", "mm", "g/ml", "%", "kg"]


def test_finding_lines_have_texts_only_for_findings_there_are() -> None:
    coded = {key.split(".")[1] for key in TEXTS if key.startswith(("feedback_finding.", "practise."))}
    assert coded - {"other"} <= set(load_catalogue())


def test_finding_lines_never_hold_what_was_found() -> None:
    found = [finding("entry-date", "error", "Readings", "B7", found="31.25")]
    assert finding_lines(found, TEXTS) == (
        "A number was turned into a date by a program. Tell your teacher what the reading was. (Readings B7)",
    )


def test_finding_lines_tell_a_correction_without_its_value_or_reason() -> None:
    found = [finding("entry-corrected", "note", "Readings", "B8", found="160")]
    assert finding_lines(found, TEXTS) == (
        "Your teacher corrected an entry. Everything was worked out and marked from the corrected value. "
        "(Readings B8)",
    )


def test_finding_lines_name_six_places_at_most() -> None:
    many = [finding("entry-missing", "warning", "Start", f"B{row}") for row in range(2, 10)]
    assert finding_lines([*many, many[0]], TEXTS) == (
        "An entry is empty that the result needs. "
        "(Start B2, Start B3, Start B4, Start B5, Start B6, Start B7, and 2 more)",
    )


def test_finding_lines_stop_after_eight_kinds() -> None:
    kinds = [code for code in sorted(load_catalogue()) if TEXTS.get(f"feedback_finding.{code}")]
    lines = finding_lines([finding(code, "note") for code in kinds], TEXTS)
    assert len(lines) == 9
    assert lines[-1] == "There is more of this kind of thing: ask your teacher for the whole list."


def test_practise_lines_are_three_at_most_and_warnings_come_first() -> None:
    attempt = returned(
        1, "accepted",
        finding("procedure-measure-again", "note"), finding("entry-not-above-zero", "error"),
        finding("procedure-zero-differs", "warning"), finding("procedure-third-missing", "warning"),
    )  # fmt: skip
    assert practise_lines(attempt, PROTOCOL, TEXTS) == (
        "Third readings: take one where the sheet asks for it, before you go on to the next site.",
        "The zero: close the jaws, wait for the pointer to rest, and read it twice.",
        "The zero: close the jaws, read it with its sign, type it, and only then begin.",
    )


def test_practise_lines_name_the_site_that_repeats_least() -> None:
    assert practise_lines(accepted(1), PROTOCOL, TEXTS) == (
        "Front thigh: find and mark the landmark anew; rounds 1 and 2 were furthest apart there.",
    )


# entries changed: row of the front thigh
REPEATS: tuple[tuple[dict[str, str | float | None], tuple[object, ...]], ...] = (
    ({}, ("Front thigh", 3.0, "yes", "yes", "The third reading settled it")),
    (
        {"reading_3_front_thigh": None},
        ("Front thigh", 3.0, "yes", "no", "A third reading was asked for here"),
    ),
    ({"reading_2_front_thigh": 20.1}, ("Front thigh", 0.6, "no", "yes", "Rounds 1 and 2 agree")),
    (
        {"reading_3_front_thigh": 26.0},
        (
            "Front thigh", 3.0, "yes", "yes",
            "No two readings agree: next time mark the site anew and measure it again",
        ),
    ),
    (
        {"reading_2_front_thigh": None, "reading_3_front_thigh": None},
        ("Front thigh", None, "", "", "Rounds 1 and 2 do not both give a value"),
    ),
    ({"not_taken_front_thigh": "declined"}, ("Front thigh", None, "", "", "Left out, which costs no marks")),
)  # fmt: skip


@pytest.mark.parametrize(("changed", "row"), REPEATS)
def test_repeat_rows_say_how_the_readings_lie(
    changed: dict[str, str | float | None], row: tuple[object, ...]
) -> None:
    assert repeat_rows(accepted(1, **changed), PROTOCOL, TEXTS)[1] == row
