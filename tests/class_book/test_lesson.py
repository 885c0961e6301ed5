"""The plan of a lesson against lessons worked out by hand."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from sheetgen.class_book.lesson import (
    LessonFrame,
    LessonPlan,
    Turn,
    Waiting,
    in_circuit_order,
    lesson_frame,
    lesson_plan,
    minutes_of_a_wave,
    waves_of,
)
from sheetgen.class_book.pairing import pairs_for_the_rest
from sheetgen.class_folder.records import ClassBook, Pairing, Person
from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.settings import Caliper
from tests.sheets import SETTINGS


def frame_of(people: int, calipers: int, length: int, size: int = 3) -> LessonFrame:
    """A class in groups as the program makes them: s1 measures s2, s2 measures s3, and so on; seven sites."""
    register = tuple(Caliper(f"C{number}", "", 0.5, 60.0, 0.0) for number in range(1, calipers + 1))
    everybody = tuple(Person(f"s{number}", "", "") for number in range(1, people + 1))
    book = ClassBook("CODE23", "Class", replace(SETTINGS, calipers=register), everybody, ())
    book = replace(book, group_size=size, lesson_minutes=length)
    return lesson_frame(replace(book, pairings=pairs_for_the_rest(book).pairings), 7)


MINUTES = [
    # readings a circuit, seconds, marking, changing, minutes: readings x 2 x seconds x 1.3 / 60 + others, up
    (7, 45, 0, 0, 14),  # 13.65
    (10, 60, 0, 0, 26),  # 26 exactly
    (3, 30, 0, 0, 4),  # 3.9
    (4, 45, 0, 0, 8),  # 7.8
    (7, 45, 6, 3, 23),  # 22.65
    (7, 45, 8, 3.35, 25),  # 25 exactly
]


@pytest.mark.parametrize(("readings", "seconds", "marking", "changing", "minutes"), MINUTES)
def test_minutes_of_a_wave(
    readings: int, seconds: float, marking: float, changing: float, minutes: int
) -> None:
    frame = LessonFrame((), 1, readings, seconds, marking, changing, 90)
    assert minutes_of_a_wave(frame) == minutes


def figures(plan: LessonPlan) -> tuple[int, ...]:
    return (
        plan.waves, plan.minutes_a_wave, plan.waves_a_lesson, plan.lessons, plan.needed, plan.needed_split,
        plan.saved,
    )  # fmt: skip


def test_24_people_with_8_calipers_in_lessons_of_50_minutes() -> None:
    """By hand: 8 threes, 24 turns, 8 at once with their recorders: 3 waves, and nobody waits. A turn is
    14 readings at 45 s, 10.5 min, with third readings 13.65, 6 to mark and 3 to change: 22.65, so 23. Of
    50 min 10 and 5 go to beginning and end: 35 are left, which is 1 wave. So 3 lessons, a wave each; in
    one it would take 10 + 69 + 5 = 84 min, in two, of 2 waves, 10 + 46 + 5 = 61. A ninth caliper would find
    no three to use it: it saves nothing."""
    plan = lesson_plan(frame_of(24, 8, 50))
    assert figures(plan) == (3, 23, 1, 3, 84, 61, 0)
    assert plan.waiting == ()
    # s1 measures s2, s3 records; then s2 measures s3; then s3 s1: a lesson each, from its minute 0 on.
    assert plan.turns[:3] == (
        Turn("C1", 1, 1, 0, 23, "s3"), Turn("C1", 2, 2, 0, 23, "s1"), Turn("C1", 3, 3, 0, 23, "s2"),
    )  # fmt: skip
    assert plan.turns[21:] == (
        Turn("C8", 1, 1, 0, 23, "s24"), Turn("C8", 2, 2, 0, 23, "s22"), Turn("C8", 3, 3, 0, 23, "s23"),
    )  # fmt: skip


def test_30_people_with_10_calipers_in_lessons_of_45_minutes_and_in_a_double_one() -> None:
    """By hand: 10 threes at 10 calipers, 3 waves of 23 min. A lesson of 45 min has 30 for measuring: 1 wave;
    two of them do not do, it takes three, and two would have to last 61 min each. A double lesson of 90 min
    has 75: 3 waves, 69 min, fit; one lesson."""
    single = lesson_plan(frame_of(30, 10, 45))
    assert figures(single) == (3, 23, 1, 3, 84, 61, 0)
    assert Counter(turn.lesson for turn in single.turns) == {1: 10, 2: 10, 3: 10}
    double = lesson_plan(frame_of(30, 10, 90))
    assert figures(double) == (3, 23, 3, 1, 84, 0, 0)
    assert [(turn.wave, turn.from_minute, turn.to_minute) for turn in double.turns[:3]] == [
        (1, 0, 23), (2, 23, 46), (3, 46, 69),
    ]  # fmt: skip


def test_13_people_with_3_calipers() -> None:
    """By hand: three threes and a four, 13 turns; 3 calipers take 13 / 3, so 5 waves, 115 min. Of 90 min 75
    are for measuring: 3 waves; 2 lessons, waves 1 to 3 and 4 to 5. A fourth caliper has a recorder, since
    13 / 3 is over 4, and makes it 4 waves: it saves one.

    C1 has the first five turns: those of s1, s2, s3 and two of s4, s5, s6; C2 the third of these, those of
    s7, s8, s9, and the first of s10 to s13; C3 the other three. In wave 1 stand s1 and s2, s6 and s4, s11 and
    s12; s3, s5 and s13 record (s13 is whom s12 measures); s7, s8, s9 and s10 wait, and mark landmarks."""
    plan = lesson_plan(frame_of(13, 3, 90))
    assert figures(plan) == (5, 23, 3, 2, 130, 130, 1)
    assert [turn.station for turn in plan.turns] == ["C1"] * 5 + ["C2"] * 5 + ["C3"] * 3
    first = {turn.station: turn.recorder for turn in plan.turns if turn.wave == 1}
    assert first == {"C1": "s3", "C2": "s5", "C3": "s13"}
    assert plan.waiting[0] == Waiting(1, 1, "landmarks", ("s7", "s8", "s9", "s10"))
    assert plan.turns[3] == Turn("C1", 2, 4, 0, 23, "s6")
    # Wave 4: C1 s4 and s5, C2 s9 and s7; C3 is through. s6 and s8 record, the others wait.
    fourth = [(waiting.task, waiting.people) for waiting in plan.waiting if waiting.wave == 4]
    assert sorted(person for _, people in fourth for person in people) == sorted(
        f"s{number}" for number in (1, 2, 3, 10, 11, 12, 13)
    )
    # s1 had turns in waves 1 and 3 and recorded in 2: the first time to wait after a turn.
    assert next(task for task, people in fourth if "s1" in people) == "working"


def test_pairs_wait_and_record_for_each_other() -> None:
    """By hand: 24 people, 12 pairs, 12 calipers. Only 24 / 3 = 8 turns have a recorder at once, so 8 calipers
    are used: 24 turns, 3 waves; 16 stand, 8 record, nobody waits."""
    plan = lesson_plan(frame_of(24, 12, 90, size=2))
    assert (plan.waves, len({turn.station for turn in plan.turns})) == (3, 8)
    assert all(turn.recorder for turn in plan.turns)
    assert plan.waiting == ()


def test_two_people_have_no_third() -> None:
    """Two turns, and nobody is left to record; another caliper is of no use."""
    plan = lesson_plan(frame_of(2, 4, 90))
    assert [turn.recorder for turn in plan.turns] == ["", ""]
    assert figures(plan) == (2, 23, 3, 1, 61, 0, 0)


def test_a_lesson_too_short_for_a_turn() -> None:
    """Of 30 min 15 are left, and a turn takes 23: as if one fitted, two lessons; 38 min would do for each."""
    plan = lesson_plan(frame_of(2, 1, 30))
    assert (plan.waves_a_lesson, plan.lessons) == (0, 2)
    assert plan.turns[1] == Turn("C1", 2, 2, 0, 23, "")


def test_without_a_drill_on_the_sheets_nobody_is_sent_to_it() -> None:
    """Ten with one caliper wait often."""
    frame = frame_of(10, 1, 90)
    for drill in (True, False):
        tasks = {waiting.task for waiting in lesson_plan(replace(frame, drill=drill)).waiting}
        assert tasks == {"landmarks", "halving", "working", "questions", *(["drill"] if drill else [])}


def test_one_person_for_everyone_to_measure_makes_a_wave_each() -> None:
    """Three measure the fourth with two calipers: one after the other all the same."""
    turns = (("a", "d", "C1"), ("b", "d", "C2"), ("c", "d", "C1"))
    plan = lesson_plan(LessonFrame(turns, 2, 7, 45, 6, 3, 90, one_by_one=True))
    assert [turn.wave for turn in plan.turns] == [1, 2, 3]
    assert plan.saved == 0
    assert all(turn.recorder for turn in plan.turns)


def test_a_lesson_without_pairs() -> None:
    plan = lesson_plan(LessonFrame((), 1, 7, 45, 6, 3, 90))
    assert (plan.turns, plan.waves, plan.minutes, plan.lessons, plan.waiting) == ((), 0, 0, 0, ())


def test_teachers_and_leavers_stand_in_no_wave() -> None:
    people = (
        Person("a", "", ""), Person("b", "", ""), Person("c", "", "", status="left"),
        Person("t", "", "", role="teacher"),
    )  # fmt: skip
    pairs = (Pairing("a", "b", "C1"), Pairing("b", "c", "C1"), Pairing("t", "a", "C1"))
    frame = lesson_frame(ClassBook("CODE23", "Class", SETTINGS, people, pairs), 7)
    assert frame.turns == (("a", "b", "C1"),)


@given(st.integers(2, 40), st.integers(1, 12), st.integers(2, 6))
def test_everybody_has_one_place_in_a_wave_and_nobody_is_forgotten(
    people: int, calipers: int, size: int
) -> None:
    frame = frame_of(people, calipers, 90, size)
    plan = lesson_plan(frame)
    for wave in range(1, plan.waves + 1):
        standing = [
            (*frame.turns[number][:2], turn.recorder)
            for number, turn in enumerate(plan.turns)
            if turn.wave == wave
        ]
        waiting = [person for each in plan.waiting if each.wave == wave for person in each.people]
        places = [person for turn in standing for person in turn if person] + waiting
        assert sorted(places) == sorted(f"s{number}" for number in range(1, people + 1))
        assert people < 3 or all(recorder for _, _, recorder in standing)
    assert [turn.wave for turn in plan.turns] == waves_of(turn.station for turn in plan.turns)


def test_fewest_turns_is_front_side_back() -> None:
    protocol = find_protocol("seven-sites")
    assert in_circuit_order(protocol, "protocol") == protocol
    sites = [site.word for site in in_circuit_order(protocol, "fewest-turns").sites]
    assert sites == ["chest", "abdominal", "thigh", "midaxillary", "suprailiac", "triceps", "subscapular"]
    four = [site.word for site in in_circuit_order(find_protocol("four-sites"), "fewest-turns").sites]
    assert four == ["biceps", "suprailiac", "triceps", "subscapular"]
