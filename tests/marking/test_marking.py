import random
import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.finding import Finding, gathered
from sheetgen.marking.drill import DrillResult
from sheetgen.marking.marking import CHECKS, Seen, about_title, marked, reason_text
from sheetgen.marking.scheme import ItemMark, Reason, SchemeItem, SlipFit, StepMark, ToBeMarked
from sheetgen.marking.slips import FAMILIES
from sheetgen.protocols.names import ANSWERS, entry_names, own_steps
from sheetgen.protocols.recalculation import recalculate
from sheetgen.texts.languages import load_texts
from sheetgen.workbook.layout import Value
from tests.marking.marking_given import (
    BASE,
    PROTOCOL,
    RIGHT,
    SCHEME,
    changed,
    item_of,
    mark_of,
    step_of,
)
from tests.own_working import lines_by_hand
from tests.returned.given import without
from tests.sheets import SETTINGS, settings_with


def seen(entries: dict[str, Value], *codes: str) -> Seen:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    return Seen(PROTOCOL, SETTINGS, entries, results, [Finding(code) for code in codes])


@pytest.mark.parametrize("check", [check for check in CHECKS if check != "drill-read"])
def test_a_sheet_without_a_fault_has_no_lapse(check: str) -> None:
    lapses, chances = CHECKS[check](seen(RIGHT))
    assert (lapses, chances > 0) == (0, True)


# check, what is entered, findings, lapses and chances
@pytest.mark.parametrize(
    ("check", "changes", "codes", "expected"),
    [
        ("cautions-confirmed", {"cautions_confirmed": None}, (), (1, 1)),
        ("side-recorded", {"side": "front"}, (), (1, 1)),
        ("caliper-chosen", {"caliper_id": "C9"}, (), (1, 1)),
        ("caliper-issued", {}, ("procedure-other-caliper",), (1, 1)),
        ("zero-read", {"zero_mm": "none"}, (), (1, 1)),
        ("zero-as-registered", {}, ("procedure-zero-differs",), (1, 1)),
        ("lengths-typed", {"length_thigh_cm": None}, (), (1, 2)),
        ("readings-complete", {"reading_1_chest": None, "reading_2_thigh": "x"}, (), (2, 14)),
        ("readings-complete", {"not_taken_chest": "skin"}, (), (0, 12)),
        ("readings-on-scale", {}, ("entry-off-scale", "entry-not-above-zero"), (2, 16)),
        ("rounds-in-order", {}, ("procedure-round-2-without-round-1",), (1, 16)),
        ("reason-or-readings", {}, ("entry-not-taken-with-readings",), (1, 7)),
        # three findings of one change are one lapse
        ("change-complete", {}, ("procedure-change-incomplete",) * 3, (1, 1)),
        ("third-where-needed", {}, ("procedure-third-missing",), (1, 7)),
        ("third-only-there", {}, ("procedure-third-not-needed",), (1, 7)),
    ],
)
def test_lapses(
    check: str, changes: dict[str, Value], codes: tuple[str, ...], expected: tuple[int, int]
) -> None:
    assert CHECKS[check](seen({**RIGHT, **changes}, *codes)) == expected


def test_nothing_measured_gives_no_chance() -> None:
    assert CHECKS["third-where-needed"](seen({})) == (0, 0)
    assert CHECKS["readings-on-scale"](seen({})) == (0, 0)


ANSWERED = {"answer_repeat": "Thigh.", "answer_zero": "More.", "answer_error": "Marks."}


def test_three_numbers_of_a_line() -> None:
    """The line above is wrong: density 1.0361 is right from the student's own sum of 150 mm."""
    own = lines_by_hand(PROTOCOL, SETTINGS, BASE, {"sum_mm": 150.0})
    line = step_of(mark_of({**BASE, **own}), "density_g_ml")
    # 1.097 - 0.00046971 x 150 + 0.00000056 x 22500 - 0.00012828 x 24 = 1.03606
    assert (line.state, line.yours) == ("right", 1.0361)
    assert line.from_line_above == pytest.approx(1.03606478)
    assert line.from_readings == pytest.approx(1.04612424)
    assert 0.00005 < line.tolerance < 0.00006


def test_a_mistake_of_no_known_kind_costs_its_own_line_only() -> None:
    own = lines_by_hand(PROTOCOL, SETTINGS, BASE, {"sum_mm": 127.0})
    marking = mark_of({**BASE, **own})
    assert item_of(marking, "sum").score == 0
    assert item_of(marking, "sum").reasons[0].code == "not-recognised"
    assert (item_of(marking, "density").score, item_of(marking, "fat-percent").score) == (15, 10)


def test_a_line_may_follow_from_the_chain_behind_the_line_above() -> None:
    """Density was written to three places and per cent worked out from the density on the calculator."""
    marking = mark_of({**RIGHT, "own_density_g_ml": 1.046, "own_fat_percent": 23.18})
    assert step_of(marking, "density_g_ml").slips == (SlipFit("density-rounded-3"),)
    assert step_of(marking, "fat_percent").state == "right"


def test_the_scheme_gives_a_share_for_a_rounded_density() -> None:
    marking = mark_of({**RIGHT, "own_density_g_ml": 1.046})
    assert item_of(marking, "density").score == 10.5
    strict = replace(SCHEME, slip_shares={})
    assert item_of(mark_of({**RIGHT, "own_density_g_ml": 1.046}, strict), "density").score == 0


def test_a_blank_line_costs_itself_and_nothing_below_it() -> None:
    marking = mark_of(without(RIGHT, "own_sum_mm"))
    assert step_of(marking, "sum_mm").state == "blank"
    assert (item_of(marking, "sum").score, item_of(marking, "density").score) == (0, 15)


# what becomes of the points, score of the item, its maximum, what waits
@pytest.mark.parametrize(
    ("way", "score", "maximum", "waits"),
    [("ask", 0, 15, ["own_density_g_ml"]), ("leave-out", 0, 0, []), ("no-marks", 0, 15, [])],
)
def test_a_line_below_a_blank_that_follows_from_nothing(
    way: str, score: float, maximum: float, waits: list[str]
) -> None:
    """It is never called wrong."""
    entries = {**without(RIGHT, "own_sum_mm", "own_fat_percent"), "own_density_g_ml": 1.0521}
    marking = mark_of(entries, replace(SCHEME, not_assessable=way))
    assert step_of(marking, "density_g_ml").state == "not-assessable"
    assert (item_of(marking, "density").score, item_of(marking, "density").maximum) == (score, maximum)
    assert [one.about for one in marking.to_be_marked] == waits


def test_the_line_below_one_that_cannot_be_assessed_follows_from_it() -> None:
    own = lines_by_hand(PROTOCOL, SETTINGS, BASE, {"density_g_ml": 1.0521})
    marking = mark_of(without({**BASE, **own}, "own_sum_mm"))
    assert item_of(marking, "fat-percent").score == 10


def test_correct_answer_only() -> None:
    """A mistake above costs again, and a blank above excuses nothing."""
    own = lines_by_hand(PROTOCOL, SETTINGS, BASE, {"sum_mm": 150.0})
    scheme = changed("density", carry_forward=False)
    assert step_of(mark_of({**BASE, **own}, scheme), "density_g_ml").state == "wrong"
    assert step_of(mark_of(RIGHT, scheme), "density_g_ml").state == "right"
    no_sum = {**without(RIGHT, "own_sum_mm"), "own_density_g_ml": 1.0521}
    assert step_of(mark_of(no_sum, scheme), "density_g_ml").state == "wrong"


def test_a_formula_that_takes_the_result_gets_no_marks_and_carries_on() -> None:
    marking = mark_of(RIGHT, formula_names={"own_sum_mm"})
    assert (step_of(marking, "sum_mm").state, item_of(marking, "sum").score) == ("formula", 0)
    assert item_of(marking, "density").score == 15


def test_a_formula_that_broke_waits_for_a_person() -> None:
    marking = mark_of({**RIGHT, "own_sum_mm": None}, formula_names={"own_sum_mm"})
    assert step_of(marking, "sum_mm").reason.code == "formula-broken"
    assert marking.to_be_marked == (ToBeMarked("sum", "own_sum_mm", 10, "", expected=118.5),)


def test_a_text_where_a_number_is_wanted_waits_for_a_person() -> None:
    marking = mark_of({**RIGHT, "own_sum_mm": None})
    assert (step_of(marking, "sum_mm").state, step_of(marking, "sum_mm").waits) == ("unreadable", 10)
    assert item_of(marking, "density").score == 15


def test_nothing_typed_is_blank_everywhere_and_wrong_nowhere() -> None:
    marking = mark_of({})
    states = {step.state for item in marking.items for step in item.steps}
    assert states == {"blank"}
    assert (marking.score, marking.maximum, marking.status) == (0, 100, "final")


@pytest.mark.parametrize("kept_back", ["age_years", "sex_equation"])
def test_what_a_participant_keeps_back_costs_the_measurer_nothing(kept_back: str) -> None:
    """Density and per cent fat wait for a person; an empty line there is not a wrong one."""
    own = ("own_density_g_ml", "own_fat_percent", "own_fat_mass_kg", "own_fat_free_mass_kg")
    marking = mark_of(without(RIGHT, kept_back, *own))
    assert {step_of(marking, name.removeprefix("own_")).state for name in own} == {"not-assessable"}
    assert {item.score for item in marking.items if item.word == "sum"} == {10}
    assert {wanted.item for wanted in marking.to_be_marked} >= {"density"}


def test_a_reading_that_is_missing_leaves_one_site_unassessed_and_the_lines_below_it_right() -> None:
    marking = mark_of(without(RIGHT, "reading_2_chest"))
    waiting = {step.step for item in marking.items for step in item.steps if step.state == "not-assessable"}
    assert waiting == {"site_chest"}
    assert (item_of(marking, "sum").score, item_of(marking, "density").score) == (10, 15)
    assert item_of(marking, "fat-percent").score == 10
    wrong = mark_of({**without(RIGHT, "reading_2_chest"), "own_sum_mm": 93.25})
    assert step_of(wrong, "sum_mm").slips == (SlipFit("site-left-out", "thigh"),)


def test_an_age_that_is_missing_leaves_the_density_alone_unassessed() -> None:
    marking = mark_of(without(RIGHT, "age_years"))
    assert step_of(marking, "density_g_ml").reason.code == "no-ground"
    assert item_of(marking, "fat-percent").score == 10
    assert marking.to_be_marked == (ToBeMarked("density", "own_density_g_ml", 15, "1.0461"),)
    # 457 / 1.0461 - 414.2
    wrong = mark_of({**without(RIGHT, "age_years"), "own_fat_percent": 22.7})
    assert step_of(wrong, "fat_percent").slips == (SlipFit("other-conversion", "brozek"),)


def test_a_zero_that_is_missing_is_one_question_and_costs_nothing_below() -> None:
    marking = mark_of(without(RIGHT, "zero_mm"))
    item = item_of(marking, "zero-correction")
    assert (item.score, item.reasons) == (0, (Reason("no-zero", "zero_mm"),))
    assert marking.to_be_marked == (
        ToBeMarked("zero-correction", "zero_mm", 10, "11; 13.5; 17.5; 13; 23.5; 14.75; 25.25"),
    )
    assert [item_of(marking, word).score for word in ("sum", "density", "fat-percent")] == [10, 15, 10]


def test_third_readings_that_nobody_can_judge_wait_for_a_person() -> None:
    """In per cent of the fold, without a zero."""
    percent = settings_with(tolerance_kind="percent", tolerance=10.0)
    entries = without(RIGHT, "zero_mm")
    results = recalculate(PROTOCOL, percent, entries)
    for way, maximum, waits in (("ask", 10, [10]), ("leave-out", 0, []), ("no-marks", 10, [])):
        scheme = replace(SCHEME, not_assessable=way)
        marking = marked(scheme, Seen(PROTOCOL, percent, entries, results, ()))
        item = item_of(marking, "third-reading")
        assert (item.score, item.maximum) == (0, maximum)
        assert item.reasons == (Reason("thirds-unknown", "third-where-needed"),)
        assert [one.points for one in marking.to_be_marked if one.item == "third-reading"] == waits


def test_per_cent_typed_with_its_sign_is_right() -> None:
    """23.2 % is stored as 0.232; masses may be worked out from what the cell holds."""
    for below in ({}, {"own_fat_mass_kg": 0.1, "own_fat_free_mass_kg": 59.9}):
        marking = mark_of({**RIGHT, "own_fat_percent": 0.232, **below})
        line = step_of(marking, "fat_percent")
        assert (line.state, line.yours, line.reason.code) == ("right", 0.232, "percent-sign")
        assert item_of(marking, "fat-percent").score == 10
    # The density without the term of the age is 1.0492: 495 / 1.0492 - 450 = 21.8 %, from the student's own.
    own = {"own_density_g_ml": 1.0492, "own_fat_percent": 0.218, "own_fat_mass_kg": 13.1}
    marking = mark_of({**RIGHT, **own, "own_fat_free_mass_kg": 46.9})
    assert item_of(marking, "fat-percent").score == 10


def test_a_site_that_was_declined_costs_nothing() -> None:
    entries = without(RIGHT, *(name for name in RIGHT if name.endswith(("_chest", "_mm", "_ml", "_percent"))))
    entries |= {"zero_mm": -0.5, "not_taken_chest": "declined"}
    marking = mark_of(without(entries, "own_fat_mass_kg", "own_fat_free_mass_kg") | ANSWERED)
    exempt = {item.word for item in marking.items if item.exempt}
    assert exempt == {"sum", "density", "fat-percent"}
    assert (marking.score, marking.maximum) == (50, 65)


def test_sum_only_leaves_density_and_fat_out() -> None:
    entries = without(RIGHT, "age_years", "own_density_g_ml", "own_fat_percent", "own_fat_mass_kg")
    marking = mark_of({**entries, "sex_equation": "sum-only"})
    assert {item.word for item in marking.items if item.exempt} == {"density", "fat-percent"}
    assert (marking.score, marking.maximum) == (60, 75)


def test_a_body_mass_left_empty_leaves_its_points_to_per_cent_fat() -> None:
    entries = without(RIGHT, "mass_kg", "own_fat_mass_kg", "own_fat_free_mass_kg")
    assert step_of(mark_of(entries), "fat_percent").points == 10
    assert step_of(mark_of(RIGHT), "fat_percent").points == 6


def test_no_mark_depends_on_a_value_of_a_body() -> None:
    thick = {
        name: float(value) + 9 if name.startswith("reading_") else value for name, value in BASE.items()
    } | {"age_years": 51, "mass_kg": 99.0}
    thick |= lines_by_hand(PROTOCOL, SETTINGS, thick)
    assert mark_of(thick).score == mark_of(RIGHT).score == 85


def test_practice_data_is_marked_the_same() -> None:
    assert mark_of({**RIGHT, "data_source": "practice"}) == mark_of(RIGHT)


def test_short_answers_wait_for_a_person_unless_they_are_empty() -> None:
    marking = mark_of({**RIGHT, "answer_zero": "Seven times 0.5 mm less.", "answer_error": "  "})
    assert marking.to_be_marked == (ToBeMarked("questions", "answer_zero", 5, "Seven times 0.5 mm less."),)
    assert [reason.code for reason in item_of(marking, "questions").reasons] == [
        "no-answer", "to-be-marked", "no-answer",
    ]  # fmt: skip


# uncorrected sites, and the zero deducted once from their sum
SAME = {
    **{name: float(value) - 0.5 for name, value in RIGHT.items() if name.startswith("own_site_")},
    "own_sum_mm": 115.5,
}  # fmt: skip


def test_slips_of_one_family_cost_in_the_first_item_only() -> None:
    own = lines_by_hand(
        PROTOCOL, SETTINGS, BASE, {name.removeprefix("own_"): value for name, value in SAME.items()}
    )
    marking = mark_of({**BASE, **own})
    assert (item_of(marking, "zero-correction").score, item_of(marking, "sum").score) == (0, 10)
    assert step_of(marking, "sum_mm").state == "again"
    assert step_of(marking, "sum_mm").slips == (SlipFit("zero-once-from-sum"),)


def test_the_same_slip_in_one_item_costs_for_each_line_or_once() -> None:
    sites = {**RIGHT, **{name: value for name, value in SAME.items() if "site" in name}}
    once = mark_of(sites, changed("zero-correction", same_slip="once"))
    assert item_of(once, "zero-correction").score == 8.57
    assert item_of(mark_of(sites), "zero-correction").score == 0


def test_the_scheme_may_allow_more_than_the_rounding() -> None:
    wide = replace(SCHEME, tolerances={"sum": 0.5})
    assert step_of(mark_of({**RIGHT, "own_sum_mm": 119.0}), "sum_mm").state == "wrong"
    assert step_of(mark_of({**RIGHT, "own_sum_mm": 119.0}, wide), "sum_mm").state == "right"


# the lapses found, score of the item
@pytest.mark.parametrize(
    ("codes", "score"),
    [
        ([], 15),
        (["entry-off-scale"], 12),
        (["entry-off-scale", "entry-beyond-opening"], 9),
        (["entry-off-scale"] * 4, 4.5),
        (["entry-off-scale"] * 5, 0),
    ],
)
def test_bands_of_lapses(codes: list[str], score: float) -> None:
    assert item_of(mark_of(RIGHT, codes=codes), "recording").score == score


def test_third_reading_item_gives_nothing_where_nothing_was_read() -> None:
    assert item_of(mark_of({}), "third-reading").reasons[0].code == "nothing-seen"
    assert item_of(mark_of(RIGHT, codes=["procedure-third-missing"]), "third-reading").score == 6


def test_a_finding_that_stands_for_several_places_is_as_many_lapses() -> None:
    three = gathered([Finding("procedure-third-missing", tab="Readings")] * 3)
    assert CHECKS["third-where-needed"](replace(seen(RIGHT), findings=three)) == (3, 7)


# Site values 11 and 25.25 mm; limits 2 mm and 10 %, so 2.5 mm at 25 mm.
@pytest.mark.parametrize(
    ("criterion", "score"),
    [
        ({"chest": 13.0, "thigh": 27.75}, 10),
        ({"chest": 13.5, "thigh": 25.0}, 7.5),
        ({"chest": 14.5, "thigh": 25.0}, 5),
    ],
)
def test_precision_against_the_teacher(criterion: dict[str, float], score: float) -> None:
    scheme = changed("precision", off=False)
    marking = mark_of(RIGHT, scheme, criterion=criterion)
    assert item_of(marking, "precision").score == score
    assert marking.maximum == 110


def test_precision_is_off_and_exempt_without_the_teachers_own_measurement() -> None:
    assert "precision" not in {item.word for item in mark_of(RIGHT).items}
    scheme = changed("precision", off=False)
    assert item_of(mark_of(RIGHT, scheme), "precision").exempt
    practice = {**RIGHT, "data_source": "practice"}
    assert item_of(mark_of(practice, scheme, criterion={"chest": 11.0}), "precision").exempt


def test_whatever_is_typed_is_marked() -> None:
    """No entry makes marking fail, and no score leaves the range from 0 to the maximum."""
    dice = random.Random("whatever")
    odd: tuple[Value, ...] = (None, 0, -1, -0.5, 1e-300, 999_999.9, 1e300, "x", 0.005, 12.5, 1.04, 400)
    names = [name for name in entry_names(PROTOCOL) if name != "answer_repeat"]
    for _ in range(300):
        typed = {name: dice.choice(odd) for name in dice.sample(names, dice.randint(1, 40))}
        marking = mark_of({**RIGHT, **typed})
        assert 0 <= marking.score <= marking.maximum <= 100


def test_every_item_of_a_sheet_with_right_working() -> None:
    """Nothing is wrong, and no question is answered."""
    marking = mark_of(RIGHT)
    assert (marking.scheme, marking.score, marking.maximum, marking.to_be_marked) == (
        "usual",
        85.0,
        100.0,
        (),
    )
    right = (Reason("all-right"),)
    assert [replace(item, steps=()) for item in marking.items] == [
        ItemMark("setting-up", "Setting up and zero", 6.0, 6.0, False, right),
        ItemMark("midpoints", "Setting up: midpoints", 4.0, 4.0, False, right),
        ItemMark("recording", "Recording and scale", 15.0, 15.0, False, right),
        ItemMark("third-reading", "Third reading where needed, and only there", 10.0, 10.0, False, right),
        ItemMark("zero-correction", "Zero correction and site values", 10.0, 10.0, False, right),
        ItemMark("sum", "Sum", 10.0, 10.0, False, right),
        ItemMark("density", "Density", 15.0, 15.0, False, right),
        ItemMark("fat-percent", "Per cent fat and masses", 10.0, 10.0, False, right),
        ItemMark("questions", "Interpretation and sources of error", 0.0, 15.0, False,
                 tuple(Reason("no-answer", word) for word in ("repeat", "zero", "error"))),
        ItemMark("care", "Care of the person", 5.0, 5.0, False, right),
    ]  # fmt: skip


def test_every_field_of_a_right_line_and_of_one_with_a_slip() -> None:
    """The thigh of 25.25 mm is left out of the sum of 118.5 mm; half of 0.07 mm is left by seven sites."""
    right, wrong = (step_of(mark_of({**RIGHT, "own_sum_mm": typed}), "sum_mm") for typed in (118.5, 93.25))
    slips = (SlipFit("site-left-out", "thigh"),)
    assert replace(right, tolerance=0.0) == StepMark(
        "sum_mm", "right", 118.5, 118.5, 118.5, 0.0, (), 10.0, 10.0, 0.0, Reason("right", "sum_mm")
    )
    assert replace(wrong, tolerance=0.0) == StepMark(
        "sum_mm", "wrong", 93.25, 118.5, 118.5, 0.0, slips, 0.0, 10.0, 0.0, Reason("slip", "sum_mm", slips)
    )
    assert (right.tolerance, wrong.tolerance) == pytest.approx((0.04, 0.04))


def test_tolerance_without_carrying_forward_and_with_more_allowed() -> None:
    """From the readings alone the sum is exact: half a unit, and what the scheme adds."""
    strict = changed("sum", carry_forward=False)
    wide = replace(SCHEME, tolerances={"sum": 0.5})
    assert step_of(mark_of(RIGHT, strict), "sum_mm").tolerance < 0.0401
    assert step_of(mark_of(RIGHT, wide), "sum_mm").tolerance == pytest.approx(0.54)


# entries changed, formulas, state, code of the reason
STATES: tuple[tuple[dict[str, Value], set[str], str, str], ...] = (
    ({}, set(), "right", "right"),
    ({"own_sum_mm": 93.25}, set(), "wrong", "slip"),
    ({"own_sum_mm": 127.0}, set(), "wrong", "not-recognised"),
    ({}, {"own_sum_mm"}, "formula", "formula"),
    ({"own_sum_mm": None}, {"own_sum_mm"}, "unreadable", "formula-broken"),
    ({"own_sum_mm": None}, set(), "unreadable", "unreadable"),
    ({"reading_1_chest": None, "own_site_chest": None}, set(), "not-assessable", "no-ground"),
)


@pytest.mark.parametrize(("entries", "formulas", "state", "code"), STATES)
def test_state_of_a_line_and_why(
    entries: dict[str, Value], formulas: set[str], state: str, code: str
) -> None:
    line = step_of(mark_of({**RIGHT, **entries}, formula_names=formulas), "sum_mm")
    assert (line.state, line.reason.code, line.reason.about) == (state, code, "sum_mm")


def test_a_line_kept_back_by_the_participant_has_no_ground() -> None:
    for entries in (without(RIGHT, "age_years"), without(RIGHT, "age_years", "own_density_g_ml")):
        line = step_of(mark_of(entries), "density_g_ml")
        assert (line.state, line.slips, line.reason) == (
            "not-assessable", (), Reason("no-ground", "density_g_ml"),
        )  # fmt: skip
        assert (line.waits, line.points, line.score) == (15, 15, 0)


def test_two_slips_that_fit_are_both_in_the_reason_and_the_better_share_counts() -> None:
    """1.1 for 11 mm: in centimetres, or a slip of the decimal point."""
    entries = {**RIGHT, "own_site_chest": 1.1}
    line = step_of(mark_of(entries), "site_chest")
    assert (line.reason.code, [fit.word for fit in line.slips]) == (
        "slip-either", ["centimetres", "decimal-slip"],
    )  # fmt: skip
    shares = replace(SCHEME, slip_shares={"centimetres": 0.25, "decimal-slip": 0.75})
    line = step_of(mark_of(entries, shares), "site_chest")
    assert line.score == pytest.approx(0.75 * 10 / 7)


@pytest.mark.parametrize("points", [5.0, 10.0, 20.0, 0.05])
def test_points_that_wait_never_exceed_those_of_the_item(points: float) -> None:
    """Three answers, and the seven site values typed as words."""
    words = {name: "about ten" for name in RIGHT if name.startswith("own_site_")}
    for item in ("questions", "zero-correction"):
        marking = mark_of({**RIGHT, **ANSWERED, **words}, changed(item, points=points))
        waits = [one.points for one in marking.to_be_marked if one.item == item]
        assert round(sum(waits), 9) == points


def test_a_slip_that_the_other_lines_contradict_is_not_named() -> None:
    """10.5 mm is the chest with the zero left in; the six other sites have it deducted."""
    line = step_of(mark_of({**RIGHT, "own_site_chest": 10.5}), "site_chest")
    assert (line.state, line.slips, line.reason.code) == ("wrong", (), "not-recognised")


def test_a_line_left_empty_says_so() -> None:
    marking = mark_of(without(RIGHT, "own_sum_mm"))
    assert step_of(marking, "sum_mm").reason == Reason("blank", "sum_mm")
    assert item_of(marking, "sum").reasons == (Reason("blank", "sum_mm"),)


def test_points_of_three_answers_add_up_to_what_they_are_in_hundredths() -> None:
    """0.625 each: 0.62, then 1.25 and 1.875 in all."""
    marking = mark_of({**RIGHT, **ANSWERED}, changed("questions", points=1.875))
    assert [one.points for one in marking.to_be_marked] == [0.62, 0.63, 0.63]


def test_points_of_three_answers_are_rounded_to_hundredths() -> None:
    scheme = changed("questions", points=5.0)
    marking = mark_of({**RIGHT, **ANSWERED}, scheme)
    assert marking.to_be_marked == (
        ToBeMarked("questions", "answer_repeat", 1.67, "Thigh."),
        ToBeMarked("questions", "answer_zero", 1.66, "More."),
        ToBeMarked("questions", "answer_error", 1.67, "Marks."),
    )
    assert item_of(marking, "questions") == ItemMark(
        "questions", "Interpretation and sources of error", 0.0, 5.0, False,
        tuple(Reason("to-be-marked", word) for word in ("repeat", "zero", "error")),
    )  # fmt: skip


def test_every_field_of_the_precision_item() -> None:
    """Chest 3 mm off its 2 mm gives half; a site of which the teacher has no value is left out."""
    scheme = changed("precision", off=False)
    title = "Precision against the teacher"
    exempt = ItemMark("precision", title, 0.0, 0.0, True, (Reason("no-criterion"),))
    assert item_of(mark_of(RIGHT, scheme), "precision") == exempt
    assert item_of(mark_of(RIGHT, scheme, criterion={"calf": 11.0}), "precision") == exempt
    assert item_of(
        mark_of(RIGHT, scheme, criterion={"chest": 14.0, "thigh": 25.25}), "precision"
    ) == ItemMark("precision", title, 7.5, 10.0, False, (Reason("apart", "chest"),))
    assert item_of(mark_of(RIGHT, scheme, criterion={"chest": 11.0}), "precision") == ItemMark(
        "precision", title, 10.0, 10.0, False, (Reason("all-right"),)
    )


def test_a_site_may_have_a_limit_of_its_own() -> None:
    scheme = changed("precision", off=False, site_limits_mm={"chest": 4.0})
    assert item_of(mark_of(RIGHT, scheme, criterion={"chest": 15.0}), "precision").score == 10


def test_lapses_are_counted_in_the_reason() -> None:
    """Of 20 readings two are off the scale; an item without any lapse is all right."""
    item = item_of(mark_of(RIGHT, codes=["entry-off-scale", "entry-off-scale"]), "recording")
    (reason,) = item.reasons
    assert (reason.code, reason.about, reason.slips, reason.count) == (
        "lapses", "readings-on-scale", (), 2,
    )  # fmt: skip
    assert reason.chances > 2


def test_procedure_items_of_a_sheet_with_nothing_typed() -> None:
    """Nothing recorded gives nothing, and the points stay in the maximum."""
    assert item_of(mark_of({}), "third-reading") == ItemMark(
        "third-reading", "Third reading where needed, and only there", 0.0, 10.0, False,
        (Reason("nothing-seen"),),
    )  # fmt: skip


def test_what_waits_shows_what_was_typed() -> None:
    """A number as it was typed; a text as it stands."""
    marking = mark_of({**without(RIGHT, "age_years"), "own_density_g_ml": 1.05})
    waiting = {one.about: one for one in marking.to_be_marked}
    assert waiting["own_density_g_ml"] == ToBeMarked("density", "own_density_g_ml", 15.0, "1.05")


TEXTS = load_texts("marking.en")
MARKING_ROOM = Path(__file__).resolve().parents[2] / "sheetgen" / "marking"


def keys(section: str) -> set[str]:
    return {key.partition(".")[2] for key in TEXTS if key.startswith(f"{section}.")}


# reason, sentence
@pytest.mark.parametrize(
    ("reason", "sentence"),
    [
        (Reason("blank", "sum_mm"), "sum of the sites: left empty"),
        (
            Reason("slip", "sum_mm", (SlipFit("site-twice", "thigh"),)),
            "sum of the sites: a site was counted twice (Thigh). Redo the sum with every site once.",
        ),
        (
            Reason("slip-either", "site_chest", (SlipFit("centimetres"), SlipFit("decimal-slip"))),
            "corrected value, Chest: one of these, which fit equally well: centimetres were used for"
            " millimetres; the decimal point is in another place. Redo this line in millimetres. Redo this"
            " line and look at the decimal point.",
        ),
        (
            Reason("lapses", "readings-complete", (), 2, 14),
            "readings of rounds 1 and 2: 2 of 14 not as it should be",
        ),
        (Reason("all-right"), "all right"),
    ],
)
def test_reason_text(reason: Reason, sentence: str) -> None:
    assert reason_text(reason, PROTOCOL, TEXTS) == sentence


def test_a_conversion_is_called_by_its_title() -> None:
    title = PROTOCOL.conversion("brozek").title
    reason = Reason("slip", "fat_percent", (SlipFit("other-conversion", "brozek"),))
    assert title in reason_text(reason, PROTOCOL, TEXTS)


def test_the_same_advice_stands_there_once() -> None:
    fits = (SlipFit("site-twice", "chest"), SlipFit("site-left-out", "thigh"))
    sentence = reason_text(Reason("slip-either", "sum_mm", fits), PROTOCOL, TEXTS)
    assert sentence.count("Redo the sum with every site once.") == 1


def test_every_slip_has_its_texts_and_every_text_its_slip() -> None:
    assert keys("slip") == keys("slip_redo") == set(FAMILIES)


def test_everything_a_reason_can_be_about_has_a_title() -> None:
    abouts = [*CHECKS, *ANSWERS, *(name for _, name in own_steps(PROTOCOL)), "chest"]
    assert [about for about in abouts if about_title(about, PROTOCOL, TEXTS) == about] == []


def test_every_reason_has_a_text_and_every_text_a_reason() -> None:
    code = "".join((MARKING_ROOM / name).read_text(encoding="utf-8") for name in ("marking.py", "marks.py"))
    quoted = set(re.findall(r'"([a-z-]+)"', code))
    assert keys("mark_reason") - quoted == set()
    assert set(re.findall(r'Reason\(\s*"([a-z-]+)"', code)) <= keys("mark_reason")


# Within half a mark, whether the sheet has a drill, score, exempt. Bands: up to 2 lapses all, up to 5 half.
DRILLED: tuple[tuple[int | None, bool, float, bool], ...] = (
    (10, True, 8.0, False),
    (8, True, 8.0, False),
    (6, True, 4.0, False),
    (4, True, 0.0, False),
    (None, True, 0.0, False),
    (None, False, 0.0, True),
)


@pytest.mark.parametrize(("within", "on", "score", "exempt"), DRILLED)
def test_drill_is_marked_only_where_the_scheme_says_so(
    within: int | None, on: bool, score: float, exempt: bool
) -> None:
    item = SchemeItem("drill", "Drill", 8.0, "procedure", checks=("drill-read",), bands=((2, 1.0), (5, 0.5)))
    drill = None if within is None else DrillResult("7K3F-9QXM", (), within, 10, "")
    whole = replace(seen(RIGHT), settings=replace(SETTINGS, reading_drill=on), drill=drill)
    mark = marked(replace(SCHEME, items=(*SCHEME.items, item)), whole).items[-1]
    assert (mark.word, mark.score, mark.exempt) == ("drill", score, exempt)
    usual = [one.word for one in SCHEME.items if not one.off]
    assert [one.word for one in marked(SCHEME, whole).items] == usual
