from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.layout.class_book_plan import StationLine, minutes_of_a_wave, stations_plan
from sheetgen.layout.pairing import make_pairs
from sheetgen.model.settings import Caliper, Pairing, Person

MINUTES = [
    # readings a circuit, seconds, minutes: readings x 2 x seconds x 1.3 / 60, rounded up
    (7, 45, 14),  # 13.65
    (10, 60, 26),  # 26 exactly
    (3, 30, 4),  # 3.9
    (4, 45, 8),  # 7.8
]


@pytest.mark.parametrize(("readings", "seconds", "minutes"), MINUTES)
def test_minutes_of_a_wave(readings: int, seconds: float, minutes: int) -> None:
    assert minutes_of_a_wave(readings, seconds) == minutes


def test_stations_plan_of_30_students_with_10_calipers() -> None:
    """Worked out by hand: 30 students are 15 pairs, 30 lines. Ten calipers go round by pair: pairs 1 to 10
    get one each, pairs 11 to 15 get C1 to C5 again. So C1 to C5 have 2 pairs, 4 turns, and C6 to C10 have
    1 pair, 2 turns: 4 waves. Seven sites at 45 s are 14 readings, 10.5 minutes, with third readings 13.65,
    rounded up 14: in all 56 minutes. Pair 11 begins in wave 3, at minute 28.
    """
    students = [Person(f"s{number}", "", "") for number in range(1, 31)]
    calipers = [Caliper(f"C{number}", "", 0.5, 60.0, 0.0) for number in range(1, 11)]
    plan = stations_plan(make_pairs(students, calipers).pairings, 7, 45.0)
    assert (plan.waves, plan.minutes_a_wave, plan.minutes) == (4, 14, 56)
    turns = Counter(line.station for line in plan.lines)
    assert turns == {f"C{number}": 4 if number < 6 else 2 for number in range(1, 11)}
    assert plan.lines[:2] == (StationLine("C1", 1, 0, 14), StationLine("C1", 2, 14, 28))
    assert plan.lines[20:22] == (StationLine("C1", 3, 28, 42), StationLine("C1", 4, 42, 56))


def test_stations_plan_of_no_pairs() -> None:
    plan = stations_plan([], 7, 45.0)
    assert (plan.lines, plan.waves, plan.minutes) == ((), 0, 0)


@given(st.lists(st.sampled_from(["C1", "C2", "C3"])))
def test_stations_plan_has_one_turn_at_a_caliper_a_wave(calipers: list[str]) -> None:
    plan = stations_plan([Pairing("a", "b", one) for one in calipers], 7, 45.0)
    turns = [(line.station, line.wave) for line in plan.lines]
    assert len(set(turns)) == len(turns)
    assert [line.station for line in plan.lines] == calipers
    assert plan.waves == max([calipers.count(one) for one in calipers], default=0)
