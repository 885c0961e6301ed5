import random
from dataclasses import replace

import pytest

from sheetgen.layout.vocabulary import entry_names
from sheetgen.model.layout import Value
from sheetgen.model.marking import SlipFit, ToBeMarked
from tests.checking.given import without
from tests.checking.marking_given import BASE, PROTOCOL, RIGHT, SCHEME, changed, item_of, mark_of, step_of
from tests.own_working import lines_by_hand
from tests.sheets import SETTINGS

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
    strict = replace(SCHEME, slip_shares=())
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
    assert marking.to_be_marked == (ToBeMarked("sum", "own_sum_mm", 10, ""),)


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


def test_a_reading_that_is_missing_without_a_reason_leaves_its_lines_unassessed() -> None:
    marking = mark_of(without(RIGHT, "reading_2_chest"))
    assert step_of(marking, "site_chest").state == "not-assessable"
    assert step_of(marking, "sum_mm").reason.code == "no-ground"
    assert step_of(marking, "site_thigh").state == "right"


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
    wide = replace(SCHEME, tolerances=(("sum", 0.5),))
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
