import io

import openpyxl
import pytest
from msgspec.structs import replace
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.finding import Finding, gathered
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import ItemMark, Marking, Reason, SlipFit, StepMark, ToBeMarked
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.recalculation import recalculate
from sheetgen.report.feedback import (
    Feedback,
    answer_rows,
    arithmetic_lines,
    drill_lines,
    feedback_bytes,
    finding_lines,
    header_line,
    item_rows,
    practice_lines,
    practise_lines,
    repeat_rows,
    score_lines,
    step_rows,
)
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.entries import with_raw_differences
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import load_texts
from sheetgen.workbook.layout import Value
from tests.marking.test_drill import SETTINGS as DRILL_SETTINGS
from tests.marking.test_drill import attempt_of as attempt_with_drill
from tests.report.invented import PROTOCOL, SETTINGS, accepted, finding, refused_without_record, returned
from tests.sheets import sheet_of

TEXTS = {**load_texts("marking.en"), **load_texts("feedback.en")}
ANSWERED = {"answer_repeat": "Thigh.", "answer_zero": "More.", "answer_error": "Marks."}

# Site values 11.00 and 20.25, sum 31.25, density 1.005859375, fat 500 / 1.0059 - 450 = 47.1 (invented),
# masses 60.5 x 47.1 / 100 = 28.5 and 60.5 - 28.5 = 32.0.
RIGHT: dict[str, Value] = {
    "cautions_confirmed": "yes",
    "side": "right",
    "own_midpoint_upper_arm_cm": 16.3,
    "length_upper_arm_cm": 32.6,
    "own_site_triceps": 11.0,
    "own_site_front_thigh": 20.25,
    "own_sum_mm": 31.25,
    "own_density_g_ml": 1.0059,
    "own_fat_percent": 47.1,
    "own_fat_mass_kg": 28.5,
    "own_fat_free_mass_kg": 32.0,
    **ANSWERED,
}


def sheet_back(*findings: Finding, **changed: Value) -> Attempt:
    """A sheet that came back; a name with None was left empty."""
    attempt = returned(1, "accepted", *findings, **{**RIGHT, **changed})  # type: ignore[arg-type]
    return replace(attempt, entries={name: one for name, one in attempt.entries.items() if one is not None})


def marks_of(attempt: Attempt) -> Marking:
    results = attempt.results or recalculate(PROTOCOL, SETTINGS, attempt.entries)
    scheme = find_scheme("usual")
    return marked(scheme, Seen(PROTOCOL, SETTINGS, attempt.entries, results, attempt.findings))


def feedback(
    attempt: Attempt,
    *,
    with_body_values: bool = True,
    comment: str = "",
    adjusted: float | None = None,
    marking: Marking | None = None,
) -> bytes:
    page = Feedback(attempt, marking or marks_of(attempt), PROTOCOL, comment, adjusted, with_body_values)
    return feedback_bytes(page, TEXTS, "en")


def opened(data: bytes) -> Worksheet:
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    return sheet


def rows(data: bytes) -> dict[str, tuple[object, ...]]:
    """What stands beside each text of the first column."""
    lines = opened(data).iter_rows(values_only=True)
    return {str(first): rest for first, *others in lines if first is not None and (rest := tuple(others))}


def everything(data: bytes) -> list[object]:
    return [cell.value for row in opened(data).iter_rows() for cell in row if cell.value is not None]


def test_feedback_says_whose_sheet_it_is_by_codes() -> None:
    sheet = opened(feedback(sheet_back()))
    assert sheet.title == "Feedback"
    assert sheet["A1"].value == "Feedback on your measurement sheet"
    assert sheet["A2"].value == "Student 1001   Sheet K1   Participant P01   Session 1"


def test_feedback_score_waits_for_a_person() -> None:
    found = everything(feedback(sheet_back()))
    assert found[2] == (
        "Your score so far: 85 of 100 points. Your teacher still marks 15 points (places: 3)."
    )


def test_feedback_score_is_final_without_answers() -> None:
    found = everything(feedback(sheet_back(**dict.fromkeys(ANSWERED))))
    assert found[2] == "Your score: 85 of 100 points"


def test_feedback_of_a_sheet_where_nothing_is_marked() -> None:
    attempt = sheet_back()
    found = everything(feedback(attempt, marking=Marking("usual", (), 0.0, 0.0, ()), adjusted=7))
    assert found[2] == "Your mark, as your teacher decided: 7 points"
    assert found[3] == "Nothing on this sheet was to be marked, so there is no score. That costs nothing."
    assert "No line of own working was asked for on this sheet." in found


def test_feedback_holds_the_adjusted_mark_and_the_comment() -> None:
    found = everything(feedback(sheet_back(), adjusted=91.5, comment="=Well done.\n\nMind the zero."))
    assert found[2] == "Your mark, as your teacher decided: 91.5 of 100 points"
    where = found.index("Your teacher writes")
    assert found[where + 1 : where + 3] == ["=Well done.", "Mind the zero."]


def test_feedback_holds_a_long_comment_to_its_end() -> None:
    long = " ".join(f"word{number}" for number in range(600))
    found = everything(feedback(sheet_back(), comment=long))
    where, end = found.index("Your teacher writes"), found.index("Marks by item")
    assert " ".join(str(piece) for piece in found[where + 1 : end]) == long


def test_feedback_marks_by_item_with_the_reason() -> None:
    found = rows(feedback(sheet_back(own_density_g_ml=1.006)))
    assert found["Item"] == ("Points", "Out of", "Your teacher marks", "Why")
    assert found["Setting up and zero"] == (6, 6, None, "All right")
    assert found["Density"] == (10.5, 15, None, "1 not right: see your own working below")
    assert found["Interpretation and sources of error"] == (
        None, 15, 15,
        "Question on repeating, question on the zero, question on sources of error: "
        "to be marked by the teacher",
    )  # fmt: skip


def test_feedback_shows_three_numbers_a_line_and_what_to_redo() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=32.25, own_density_g_ml=0.9980)))
    assert found["Line"] == (
        "Yours", "From your line above", "From your readings", "What happened, and what to redo",
    )  # fmt: skip
    assert found["Corrected value, Triceps, mm"] == (11, 11, 11, "Right")
    assert found["Sum of the sites, mm"] == (
        32.25, 31.25, 31.25,
        "The zero was deducted twice. Redo the corrected site values: deduct the zero only once from each "
        "reading. 0 of 10 points.",
    )  # fmt: skip
    # 1.25 - 0.0078125 x 32.25
    assert found["Body density, g/ml"] == (0.998, 0.998046875, 1.005859375, "Right")


def test_feedback_names_a_slip_once_for_lines_that_follow_each_other() -> None:
    found = rows(feedback(sheet_back(own_site_triceps=10.5, own_site_front_thigh=19.75, own_sum_mm=30.25)))
    assert found["Corrected value, Triceps, mm"][3] == (
        "The zero of the caliper was not deducted. Redo the corrected site values: deduct the zero, with its "
        "sign, from each reading. 0 of 5 points."
    )
    assert found["Corrected value, Front thigh, mm"][3] == "As in the line above. 0 of 5 points."


def test_feedback_shows_a_line_left_empty_without_a_number() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=None)))
    assert found["Sum of the sites, mm"] == (None, 31.25, 31.25, "Left empty. 0 of 10 points.")


BODY_VALUES = (
    11.0, 20.25, 31.25, 1.005859375, 1.0059, 47.1, 47.0873786407767, 28.5, 32.0, 60.5, 16.3, 32.6, 20.0,
    9.5, 11.5, 19.5, 22.5, 10.0, 12.0, 23.0, 20.5,
)  # fmt: skip


def test_feedback_without_body_values_holds_none_of_them() -> None:
    """Every cell is looked through; the marks of this sheet are none of these numbers but 10."""
    seen = finding("procedure-zero-differs", "warning", "Start", "B10", found="31.25")
    attempt = sheet_back(seen, own_fat_percent=0.47)
    hidden = everything(feedback(attempt, with_body_values=False))
    shown = everything(feedback(attempt))
    numbers = [value for value in hidden if isinstance(value, int | float)]
    assert set(numbers) & set(BODY_VALUES) == {10}
    assert {31.25, 20.25, 1.0059, 28.5} <= {value for value in shown if isinstance(value, int | float)}
    texts = " ".join(value for value in hidden if isinstance(value, str))
    assert [value for value in BODY_VALUES if str(value) in texts] == []


def test_feedback_without_body_values_shows_the_points_of_a_line() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=None), with_body_values=False))
    assert found["Line"] == ("Points", "Out of", "Your teacher marks", "What happened, and what to redo")
    assert found["Sum of the sites, mm"] == (0, 10, None, "Left empty")
    assert found["Corrected value, Triceps, mm"] == (5, 5, None, "Right")


def test_feedback_says_what_was_noticed_in_plain_words() -> None:
    attempt = sheet_back(
        finding("sheet-names-lost", "note"),
        finding("procedure-third-missing", "warning", "Readings", "E6", found="12.5"),
        finding("procedure-third-missing", "warning", "Readings", "E7"),
        finding("never-heard-of", "error"),
        finding("class-same-numbers", "error", found="1002"),
    )
    found = everything(feedback(attempt))
    where, end = found.index("What was noticed"), found.index("What to practise")
    assert found[where + 1 : end] == [
        "Your teacher would like to look at one point of this file with you.",
        "Rounds 1 and 2 are too far apart and there is no third reading; the mean of the two was taken. "
        "(Readings E6, Readings E7)",
    ]


def test_feedback_of_a_sheet_in_good_order() -> None:
    attempt = sheet_back(reading_2_front_thigh=20.5, reading_3_front_thigh=None)
    found = everything(feedback(attempt))
    where = found.index("What was noticed")
    assert found[where + 1 : where + 4] == [
        "Your readings are in good order. Your working: see the line to redo above.",
        "What to practise",
        "Arithmetic: work out again corrected value, Front thigh.",
    ]
    right = sheet_back(
        reading_2_front_thigh=20.5, reading_3_front_thigh=None, own_site_front_thigh=20.5, own_sum_mm=31.5,
        own_density_g_ml=1.0039, own_fat_percent=48.1, own_fat_mass_kg=29.1, own_fat_free_mass_kg=31.4,
    )  # fmt: skip
    found = everything(feedback(right))
    where = found.index("What was noticed")
    assert found[where + 1 : where + 4] == [
        "Nothing: your sheet came back in good order.",
        "What to practise",
        "Nothing special: keep practising.",
    ]


def test_feedback_shows_the_repeat_difference_by_site() -> None:
    found = rows(feedback(sheet_back(), with_body_values=False))
    assert found["Site"][0] == "Your repeat difference, mm"
    assert found["Triceps"] == (2, "no", "no", "Rounds 1 and 2 agree")
    assert found["Front thigh"] == (3, "yes", "yes", "The third reading settled it")


def test_feedback_without_results_has_no_repeat_difference() -> None:
    attempt = sheet_back()
    found = everything(feedback(replace(attempt, results=None), marking=marks_of(attempt)))
    assert "Your repeat difference" not in found


def test_feedback_marks_practice_readings_in_no_way() -> None:
    measured, practised = sheet_back(), sheet_back(data_source="practice")
    landmark = "Front thigh: find and mark the landmark anew; rounds 1 and 2 were furthest apart there."
    nothing = "Nothing special: keep practising."
    told = [nothing if text == landmark else text for text in everything(feedback(measured))]
    assert landmark in everything(feedback(measured))
    assert everything(feedback(practised)) == told


def test_practice_readings_bring_no_advice_about_a_landmark() -> None:
    again = finding("procedure-measure-again", "warning", "", "A1")
    said = [
        everything(feedback(sheet_back(again, data_source=source))) for source in ("measured", "practice")
    ]
    advice = "Landmarks: find and mark a site anew before you measure it again."
    noticed = "No two of three readings agree. It happens; mark the site anew and measure it again. (A1)"
    assert [(advice in texts, noticed in texts) for texts in said] == [(True, True), (False, False)]


def test_practice_readings_that_do_not_agree_are_told_so_and_no_more() -> None:
    words = []
    for source in ("measured", "practice"):
        attempt = sheet_back(data_source=source)
        sites = tuple(replace(site, measure_again=True) for site in attempt.results.sites)  # type: ignore[union-attr]
        apart = replace(attempt, results=replace(attempt.results, sites=sites))  # type: ignore[type-var]
        words.append(repeat_rows(apart, PROTOCOL, TEXTS)[0][4])
    assert words == [
        "No two readings agree: next time mark the site anew and measure it again",
        "No two readings agree",
    ]


def test_feedback_is_one_protected_page_without_entries() -> None:
    sheet = opened(feedback(sheet_back()))
    assert sheet.protection.sheet
    assert {cell.protection.locked for row in sheet.iter_rows() for cell in row} == {True}
    assert sheet.page_setup.orientation == "portrait"
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight or 1) == (1, 1)


def test_feedback_texts_are_never_formulas() -> None:
    attempt = sheet_back(finding("entry-date", "error", "=cmd", "A1"))
    marking = marks_of(attempt)
    items = (replace(marking.items[0], title="=1+1"), *marking.items[1:])
    data = feedback(attempt, marking=replace(marking, items=items), comment="@SUM(A1)\n+1\n-1\n=1")
    kinds = {cell.data_type for row in opened(data).iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    assert {"=1+1", "@SUM(A1)", "+1", "-1", "=1"} <= set(everything(data))


def test_feedback_has_the_same_bytes_for_the_same_inputs() -> None:
    assert feedback(sheet_back(), comment="Good.") == feedback(sheet_back(), comment="Good.")


def step_mark(step: str, state: str, *slips: SlipFit, code: str = "slip") -> StepMark:
    """A line that went wrong, worth 2 points."""
    reason = Reason(code, step, slips)
    return StepMark(step, state, 1.5, 1.25, 1.0, 0.005, slips, 0.0, 2.0, 0.0, reason)


def marking_of(*items: ItemMark, waiting: tuple[ToBeMarked, ...] = ()) -> Marking:
    score, maximum = sum(item.score for item in items), sum(item.maximum for item in items)
    return Marking("mine", items, score, maximum, waiting)


def page_of(marking: Marking, with_body_values: bool = True) -> Feedback:
    return Feedback(returned(1, "accepted"), marking, PROTOCOL, "", None, with_body_values)


def steps_of(*steps: StepMark) -> Marking:
    return marking_of(ItemMark("sum", "Sum", 0.0, 0.0, False, (), steps))


def why(item: ItemMark) -> object:
    return item_rows(page_of(marking_of(item)), TEXTS)[0][4]


def test_header_line_of_a_sheet_that_is_not_on_record() -> None:
    assert header_line(refused_without_record(), TEXTS) == (
        "Student not known   Sheet not known   Participant not known   Session not known"
    )


def test_score_lines_of_thirds_are_rounded() -> None:
    item = ItemMark("sum", "Sum", 6.666666, 10.0, False, ())
    assert score_lines(marking_of(item), 7.123, TEXTS) == (
        "Your mark, as your teacher decided: 7.12 of 10 points",
        "Your score: 6.67 of 10 points",
    )


def test_score_lines_add_up_what_waits() -> None:
    waiting = (ToBeMarked("q", "answer_zero", 2.5, "x"), ToBeMarked("q", "answer_error", 2.5, "y"))
    item = ItemMark("q", "Questions", 0.0, 5.0, False, ())
    assert score_lines(marking_of(item, waiting=waiting), None, TEXTS) == (
        "Your score so far: 0 of 5 points. Your teacher still marks 5 points (places: 2).",
    )


def test_item_rows_leave_the_points_of_an_exempt_item_empty() -> None:
    item = ItemMark("density", "Density", 0.0, 0.0, True, (Reason("exempt"),))
    assert item_rows(page_of(marking_of(item)), TEXTS) == (
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
    right = step_mark("site_triceps", "right", code="right")
    steps = (
        right,
        step_mark("site_front_thigh", "blank", code="blank"),
        step_mark("sum_mm", "again", code="again"),
    )
    item = ItemMark("sum", "Sum", 2.0, 6.0, False, tuple(step.reason for step in steps[1:]), steps)
    assert why(item) == (
        "1 right, 1 left empty, 1 wrong only because of an earlier line (no points lost): "
        "see your own working below"
    )


def test_step_rows_name_the_age_and_the_equation_only_with_body_values() -> None:
    steps = (
        step_mark("density_g_ml", "wrong", SlipFit("age-misread", "42")),
        step_mark("fat_percent", "wrong", SlipFit("other-sex", "women-two")),
        step_mark("sum_mm", "wrong", SlipFit("site-twice", "front_thigh")),
    )
    shown = step_rows(page_of(steps_of(*steps)), TEXTS)
    assert shown[0] == (
        "Body density, g/ml", 1.5, 1.25, 1.0,
        "The digits of the age were swapped (42). Redo the density with the age on the tab Start. "
        "0 of 2 points.",
    )  # fmt: skip
    assert step_rows(page_of(steps_of(*steps), False), TEXTS) == (
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
    steps = [step_mark(name, "right", code="right") for name in names]
    rows = step_rows(page_of(steps_of(*steps)), TEXTS)
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
    found = [finding("entry-corrected", "note", "Readings", "C5", found="160")]
    assert finding_lines(found, TEXTS) == (
        "Your teacher corrected an entry. Everything was worked out and marked from the corrected value. "
        "(Readings C5)",
    )


def test_finding_lines_name_six_places_at_most() -> None:
    many = [finding("entry-missing", "warning", "Start", f"B{row}") for row in range(2, 10)]
    assert finding_lines([*many, many[0]], TEXTS) == (
        "Missing, and the result needs it: "
        "(Start B2, Start B3, Start B4, Start B5, Start B6, Start B7, and 2 more)",
    )
    seven = [finding("procedure-third-missing", "warning", "Readings", f"F{row}") for row in range(8, 15)]
    (line,) = finding_lines(gathered(seven), TEXTS)
    assert line.endswith("(Readings F8, Readings F9, Readings F10, Readings F11, Readings F12, and 2 more)")


def test_finding_lines_stop_after_eight_kinds() -> None:
    kinds = [code for code in sorted(load_catalogue()) if TEXTS.get(f"feedback_finding.{code}")]
    lines = finding_lines([finding(code, "note") for code in kinds], TEXTS)
    assert len(lines) == 9
    assert lines[-1] == "There is more of this kind: ask your teacher."


def test_practise_lines_are_three_at_most_and_warnings_come_first() -> None:
    attempt = returned(
        1, "accepted",
        finding("procedure-measure-again", "note"), finding("entry-not-above-zero", "error"),
        finding("procedure-zero-differs", "warning"), finding("procedure-third-missing", "warning"),
    )  # fmt: skip
    assert practise_lines(attempt, PROTOCOL, TEXTS) == (
        "Third readings: after round 2, take one at every site where the sheet asks for it.",
        "The zero: close the jaws, wait for the pointer to rest, and read it twice.",
        "The zero: close the jaws, read it with its sign, type it, and only then begin.",
    )


def test_practise_lines_name_the_site_that_repeats_least() -> None:
    assert practise_lines(accepted(1), PROTOCOL, TEXTS) == (
        "Front thigh: find and mark the landmark anew; rounds 1 and 2 were furthest apart there.",
    )


def test_a_slip_is_told_and_is_no_landmark_to_be_marked_anew() -> None:
    attempt = returned(1, "accepted", finding("procedure-measure-again", "note"))
    sites = [site.site for site in attempt.results.sites if site.third_needed == "yes"]  # type: ignore[union-attr]
    assert practise_lines(attempt, PROTOCOL, TEXTS, sites) == (
        "Typing: read every number back to your recorder; at Front thigh one of the two "
        "rounds looks mistyped.",
    )
    words = {row[0]: row[4] for row in repeat_rows(attempt, PROTOCOL, TEXTS, sites)}
    assert words["Front thigh"] == "One of the two looks mistyped: check your notes"


# readings typed on a practice sheet whose list has 10 mm everywhere, what its student is told
MISTYPED = (
    ((10.0, 10.0, 10.0, 10.0), ()),
    (
        (10.0, 10.0, 10.0, 1.0),
        ("Practice readings other than those of your list: Front thigh. A slip of typing.",),
    ),
    # Somebody changed their mind.
    ((10.0, 10.0, 9.0, 11.0), ()),
)


@pytest.mark.parametrize(("typed", "told"), MISTYPED)
def test_a_mistyped_practice_reading_is_told_to_its_student(
    typed: tuple[float, ...], told: tuple[str, ...]
) -> None:
    names = [f"reading_{number}_{site.word}" for site in PROTOCOL.sites for number in (1, 2)]
    attempt = returned(1, "accepted")
    assert attempt.record is not None
    record = replace(attempt.record, identity={f"practice_{name}": 10.0 for name in names})
    entries = dict(zip(names, typed, strict=True))
    practice = replace(attempt, record=record, entries={"data_source": "practice", **entries})
    assert practice_lines(practice, PROTOCOL, TEXTS) == told
    measured = replace(practice, entries={"data_source": "measured", **entries})
    assert practice_lines(measured, PROTOCOL, TEXTS) == ()


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


def test_repeat_rows_without_a_zero_are_of_the_raw_readings() -> None:
    attempt = accepted(1)
    assert attempt.results is not None
    entries = {name: value for name, value in attempt.entries.items() if name != "zero_mm"}
    bare = recalculate(PROTOCOL, SETTINGS, entries)
    judged = with_raw_differences(PROTOCOL, SETTINGS, entries, bare)
    rows = repeat_rows(replace(attempt, entries=entries, results=judged), PROTOCOL, TEXTS)
    assert rows == repeat_rows(attempt, PROTOCOL, TEXTS)
    assert rows != repeat_rows(replace(attempt, entries=entries, results=bare), PROTOCOL, TEXTS)


def test_no_page_calls_wrong_lines_good_order_whatever_is_wrong() -> None:
    """Seven lines wrong on one sheet, all readings as they should be."""
    wrong = {name: value + 3 for name, value in RIGHT.items() if isinstance(value, float) and "own_" in name}
    found = [str(text) for text in everything(feedback(sheet_back(reading_3_front_thigh=20.0, **wrong)))]
    assert not [text for text in found if "came back in good order" in text]
    assert [text for text in found if text.startswith("Your readings are in good order.")]
    assert [text for text in found if text.startswith("Arithmetic")]


def test_score_lines_of_another_maximum_have_both_forms() -> None:
    marking = Marking("usual", (ItemMark("sum", "Sum", 50.0, 65.0, False, ()),), 50.0, 65.0, ())
    assert score_lines(marking, 52.0, TEXTS, 100.0) == (
        "Your mark, as your teacher decided: 52 of 65 points. That is 80 of 100.",
        "Your score: 50 of 65 points. That is 76.92 of 100.",
    )
    assert score_lines(marking, None, TEXTS, 65.0) == ("Your score: 50 of 65 points",)


def test_answer_rows_hold_question_points_and_comment() -> None:
    zero, error = ToBeMarked("q", "answer_zero", 5.0, "x"), ToBeMarked("q", "answer_error", 5.0, "y")
    marking = Marking("usual", (), 4.0, 10.0, (error,), ((zero, 4.0),))
    page = replace(page_of(marking), comments={"answer_zero": "Say how far."})
    assert answer_rows(page, {**load_texts("en"), **TEXTS}) == (
        (
            "Name two sources of error in what you did, and how you would make each smaller.",
            None, 5.0, 5.0, "",
        ),
        ("What would happen to your sum if the zero were forgotten?", 4.0, 5.0, None, "Say how far."),
    )  # fmt: skip


def test_arithmetic_lines_name_the_commonest_slip_else_the_lines() -> None:
    truncated = (step_mark("sum_mm", "wrong", SlipFit("truncated")), step_mark("fat_percent", "blank"))
    assert arithmetic_lines(page_of(steps_of(*truncated)), TEXTS) == (
        "Arithmetic. Round the last digit up where the next one is 5 or more.",
    )
    assert arithmetic_lines(page_of(steps_of(truncated[1])), TEXTS) == (
        "Arithmetic: work out again per cent fat.",
    )
    assert arithmetic_lines(page_of(steps_of(step_mark("sum_mm", "right", code="right"))), TEXTS) == ()


def test_numbers_stand_beside_each_line_to_redo_and_no_other() -> None:
    attempt = sheet_back(own_site_triceps=13.7)
    page = replace(page_of(marks_of(attempt)), attempt=attempt, settings=SETTINGS)
    texts = {**load_texts("en"), **TEXTS}
    told = {str(row[0]): str(row[4]) for row in step_rows(page, texts)}
    assert told["Corrected value, Triceps, mm"].endswith(
        "Numbers: readings 9.5; 11.5; zero -0.5; readings less zero 10; 12. 0 of 5 points."
    )
    assert [line for line, words in told.items() if "Numbers:" in words] == ["Corrected value, Triceps, mm"]
    hidden = replace(page, with_body_values=False)
    assert "Numbers:" not in str(step_rows(hidden, texts))


def test_practice_sheets_are_told_of_typing_and_never_of_a_landmark() -> None:
    attempt = returned(
        1, "accepted", finding("procedure-measure-again", "note"), finding("entry-off-scale", "warning"),
        finding("procedure-zero-differs", "warning"), data_source="practice", reading_3_front_thigh=26.0,
    )  # fmt: skip
    assert practise_lines(attempt, PROTOCOL, TEXTS) == (
        "Typing: read every number of the practice list back to your recorder.",
    )
    assert repeat_rows(attempt, PROTOCOL, TEXTS)[1][4] == "No two readings agree"
    assert "landmark" not in str(everything(feedback(attempt))) and "mark the site" not in str(
        everything(feedback(attempt))
    )


def test_drill_is_one_line_with_the_slip_made_most_often() -> None:
    sheet = sheet_of(DRILL_SETTINGS)
    forgets = attempt_with_drill(sheet, lambda step, zero, shown: shown)
    right = attempt_with_drill(sheet, lambda step, zero, shown: shown - zero)
    assert drill_lines(forgets, TEXTS) == (
        "Reading drill: 6 of 10 scales within half a step. Most often: the zero forgotten, or taken off the "
        "wrong way. Look again at scale 3, 5, 8, 10.",
    )
    assert drill_lines(right, TEXTS) == ("Reading drill: 10 of 10 scales within half a step.",)
    assert drill_lines(accepted(1), TEXTS) == ()
