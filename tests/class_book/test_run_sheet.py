"""The run sheet in sentences: counts, whether it fits, rules, and what to do meanwhile."""

import re

from sheetgen.class_book.lesson import AFTER_A_TURN, BEFORE_A_TURN
from tests.class_book.test_hand_outs import SPARES, TEXTS, layout_of, texts_on


def test_the_run_sheet_counts_pairs_calipers_waves_and_minutes() -> None:
    """Worked out by hand: two pairs at two calipers, so 4 lines and 2 waves; 14 readings of 45 s are 10.5
    minutes, with third readings 13.65, 6 to mark and 3 to change, rounded up 23: 46 minutes; 10 before, 5
    after, and of 90 minutes 29 are left. All four are busy in each wave, so nobody is free to record; one
    caliper more would not change that."""
    run = " ".join(map(str, texts_on(layout_of().tab("run"))))
    assert "Measurements: 4. Calipers: 2 (C1, C2). Waves: 2, of 23 minutes each:" in run
    assert "Measuring in all: 46 minutes" in run
    assert "Yes, into one lesson of 90 minutes, with 29 minutes to spare. One more" in run
    assert "One more caliper would save nothing." in run
    assert "nobody is free to record: another adult does" in run
    assert "Minute 10 to 56:" in run
    assert "Minute 56 to 85: type" in run
    assert "Minute 85 to 90:" in run
    assert "Who waits Nobody: in every wave" in run


def test_the_run_sheet_splits_what_does_not_fit_between_turns() -> None:
    """Of 50 minutes 35 are for measuring: a wave of 23 a lesson, two lessons; 61 minutes would hold both."""
    layout = layout_of(lesson_minutes=50)
    run = " ".join(map(str, texts_on(layout.tab("run"))))
    assert "Not into one lesson of 50 minutes; one of 61 would do. It takes 2 lessons:" in run
    assert "lesson 1 wave 1, lesson 2 wave 2 Split between turns only" in run
    assert "lesson less" not in run
    assert "Minute 10 to 33:" in run
    slips = texts_on(layout.tab("slips"))
    assert "Lesson 2, caliper C1, wave 2: minute 0" in slips
    short = " ".join(map(str, texts_on(layout_of(lesson_minutes=30).tab("run"))))
    assert "Not one turn fits: a lesson of 30 minutes leaves 15 for measuring, and a turn takes 23." in short
    # With 7 sites at 80 s a turn takes 34 minutes.
    long = " ".join(map(str, texts_on(layout_of(lesson_minutes=49, seconds_a_reading=80.0).tab("run"))))
    assert "Typing and own working: while waiting, and at home." in long


def test_the_run_sheet_carries_rules_cautions_spare_files_and_the_due_date() -> None:
    run = texts_on(layout_of().tab("run"))
    cautions = [text for text in run if re.match(r"\d+\. ", str(text))]
    assert len(cautions) == 13
    assert str(cautions[10]).endswith("delete on the date your teacher names. In this class: 2027-07-31.")
    joined = " ".join(map(str, run))
    assert "Third reading where two differ by more than 2 mm." in joined
    assert "spare/spare-1_2222-3333.xlsx" in joined
    assert "Whoever is under 18, or may be, gets one with limbs in its name" in joined
    alone = layout_of(SPARES[:1]).tab("run")
    assert "limbs" not in " ".join(map(str, texts_on(alone)))
    assert "Due on 2027-03-31." in joined
    without = " ".join(map(str, texts_on(layout_of((), "").tab("run"))))
    assert "There is no spare sheet" in without
    assert "Due on" not in without
    assert "In this class" not in without


def test_the_run_sheet_names_the_sites_that_are_really_on_the_sheets() -> None:
    run = texts_on(layout_of().tab("run"))
    assert "On 3 of the sheets: Triceps, Thigh." in run
    assert "On 1 of the sheets: Chest, Abdominal, Thigh." in run


def test_every_way_of_waiting_has_a_text() -> None:
    for task in {*BEFORE_A_TURN, *AFTER_A_TURN}:
        assert len(TEXTS[f"run.wait_{task}"]) > 10
