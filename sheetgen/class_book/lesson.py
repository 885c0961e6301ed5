"""The plan of a lesson: who measures, is measured and records in which wave, what the others do meanwhile,
whether it fits, and what would help. A turn is one person measured by one other with one caliper, both rounds
of it: it never falls on two days. Lengths of turns from experience with beginners, no standard: 20 to 25
minutes for seven sites."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from math import ceil

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.records import CIRCUITS, ClassBook, Pairing, Person
from sheetgen.protocols.protocol import Protocol

ROUNDS = 2
THIRD_READINGS = 1.3
"""Third readings take about 30 per cent more. Common practice, no standard."""
PEOPLE_A_TURN = 3
"""Measurer, participant, and a recorder, who is the third person that always stands there."""
OPENING, CLOSING = 10, 5
"""Minutes before and after the measuring. From experience with lessons, no standard."""
BEFORE_A_TURN = ("landmarks", "halving", "drill")
AFTER_A_TURN = ("working", "questions", "drill")
"""What somebody does who waits for the first, second, third time, before and after a turn of their own."""

_SIDES = {
    "chest": 0, "abdominal": 0, "thigh": 0, "biceps": 0, "calf": 0,
    "midaxillary": 1, "suprailiac": 1, "triceps": 2, "subscapular": 2,
}  # fmt: skip
"""Site to where the measurer stands: in front, at the side, behind. A site of a teacher's own comes last."""


def in_circuit_order(protocol: Protocol, circuit: str) -> Protocol:
    """Return the protocol with its sites in an order of CIRCUITS; sites of one side stay as they were."""
    if circuit == CIRCUITS[0]:
        return protocol
    sites = sorted(protocol.sites, key=lambda site: _SIDES.get(site.word, len(_SIDES)))
    return replace(protocol, sites=tuple(sites))


class LessonFrame(Struct, frozen=True):
    """What a lesson is planned from. turns : measurer, participant and caliper, in their order.
    calipers : how many are in service. readings : of one circuit. seconds_a_reading : [s]. marking,
    changing : finding and marking landmarks; undressing, dressing and changing places [min a turn].
    length : of a lesson [min]. one_by_one : everybody measures the same person. drill : sheets have one."""

    turns: tuple[tuple[str, str, str], ...]
    calipers: int
    readings: int
    seconds_a_reading: float
    marking: float
    changing: float
    length: int
    one_by_one: bool = False
    drill: bool = True


class Turn(Struct, frozen=True):
    """One turn: station is a caliper; lesson and wave count from 1, waves on over all lessons; minutes from
    where the measuring begins in its lesson. recorder : empty where everybody else is busy."""

    station: str
    lesson: int
    wave: int
    from_minute: int
    to_minute: int
    recorder: str = ""


class Waiting(Struct, frozen=True):
    """Who waits in a wave and does the same meanwhile; task : one of BEFORE_A_TURN or AFTER_A_TURN."""

    lesson: int
    wave: int
    task: str
    people: tuple[str, ...]


class LessonPlan(Struct, frozen=True):
    """Turns in the order of the frame, and what follows from them. Minutes are whole. minutes : of measuring
    in all. waves_a_lesson : 0 where a lesson is too short for one. lessons : how many it takes; where not one
    wave fits, as if one did. needed : minutes that a lesson would need to hold everything; needed_split : to
    do with one lesson less, 0 where that leaves none. saved : waves that one more caliper would save."""

    turns: tuple[Turn, ...]
    waves: int
    minutes_a_wave: int
    minutes: int
    waves_a_lesson: int
    lessons: int
    needed: int
    needed_split: int
    saved: int
    waiting: tuple[Waiting, ...]


def minutes_of_a_wave(frame: LessonFrame) -> int:
    """Return whole minutes, rounded up, for one turn: every reading of two rounds, third readings, and what
    comes before and after.

    Examples
    --------
    >>> minutes_of_a_wave(LessonFrame((), 1, 7, 45, 6, 3, 90))  # 13.65 + 6 + 3
    23
    """
    reading = frame.readings * ROUNDS * frame.seconds_a_reading * THIRD_READINGS / 60
    return ceil(round(reading + frame.marking + frame.changing, 6))


def waves_of(stations: Iterable[str], one_by_one: bool = False) -> list[int]:
    """Return the wave of each turn: those at one caliper follow each other in their order, calipers work side
    by side; with one person for everybody to measure all turns follow each other."""
    before: Counter[str] = Counter()
    waves = []
    for station in stations:
        place = "" if one_by_one else station
        before[place] += 1
        waves.append(before[place])
    return waves


def waves_needed(groups: Sequence[int], people: int, calipers: int) -> int:
    """Return the fewest waves for groups of whom one measures at a time. max(turns / calipers at work,
    rounded up; turns of the largest group); at most people / 3 calipers are at work at once, or somebody
    would have no recorder.

    Examples
    --------
    >>> waves_needed([3] * 8, 24, 8), waves_needed([3, 3, 3, 4], 13, 3), waves_needed([2] * 12, 24, 12)
    (3, 5, 3)
    """
    return max(ceil(sum(groups) / calipers_at_work(people, calipers)), *groups) if groups else 0


def calipers_at_work(people: int, calipers: int) -> int:
    """Return how many calipers can be at work at once with a third person at each, at least 1."""
    return max(1, min(calipers, people // PEOPLE_A_TURN))


def lesson_frame(book: ClassBook, readings: int) -> LessonFrame:
    """Return what the lesson of a class is planned from. Teachers are in no wave. readings : of a circuit."""
    return LessonFrame(
        tuple((pair.measurer, pair.participant, pair.caliper_id) for pair in pairs_in_turn(book)),
        sum(caliper.in_service for caliper in book.settings.calipers),
        readings,
        book.seconds_a_reading,
        book.marking_minutes,
        book.changing_minutes,
        book.lesson_minutes,
        bool(book.demonstration),
        book.settings.reading_drill,
    )


def takes_turns(person: Person) -> bool:
    """Tell whether somebody is a student of the class as it is now: neither a teacher nor one who left."""
    return person.role != "teacher" and person.status != LEFT


def pairings_that_go(book: ClassBook) -> list[Pairing]:
    """Return the pairings of a book of which nobody has left."""
    left = {person.student_id for person in book.people if person.status == LEFT}
    return [pairing for pairing in book.pairings if not {pairing.measurer, pairing.participant} & left]


def pairs_in_turn(book: ClassBook) -> list[Pairing]:
    """Return those of them that stand in the waves of a lesson: no teacher measures there."""
    teachers = book.teachers
    return [pairing for pairing in pairings_that_go(book) if pairing.measurer not in teachers]


def lesson_plan(frame: LessonFrame) -> LessonPlan:
    """Return the plan. Every turn has one measurer, one participant, and a recorder as long as somebody is
    free; a frame without turns needs no lesson."""
    minutes = minutes_of_a_wave(frame)
    waves = waves_of((station for _, _, station in frame.turns), frame.one_by_one)
    last = max(waves, default=0)
    fitting = max(0, frame.length - OPENING - CLOSING) // minutes if minutes else last
    per = max(1, fitting)
    recorders, waiting = _placed(frame, waves)
    turns = [
        Turn(station, (wave - 1) // per + 1, wave, (at := (wave - 1) % per * minutes), at + minutes, recorder)
        for (_, _, station), wave, recorder in zip(frame.turns, waves, recorders, strict=True)
    ]
    lessons = ceil(last / per)
    groups, people = _groups(frame), len(_people(frame))
    fewest, with_more = (waves_needed(groups, people, frame.calipers + more) for more in (0, 1))
    around = OPENING + CLOSING
    return LessonPlan(
        tuple(turns),
        last,
        minutes,
        last * minutes,
        fitting,
        lessons,
        around + last * minutes,
        around + ceil(last / (lessons - 1)) * minutes if lessons > 1 else 0,
        0 if frame.one_by_one else fewest - with_more,
        tuple(Waiting((wave - 1) // per + 1, wave, task, tuple(those)) for wave, task, those in waiting),
    )


def _people(frame: LessonFrame) -> list[str]:
    return list(dict.fromkeys(person for turn in frame.turns for person in turn[:2]))


def _groups(frame: LessonFrame) -> list[int]:
    """Turns of each group of people who are joined by measuring each other."""
    group_of: dict[str, set[str]] = {}
    for measurer, participant, _ in frame.turns:
        joined = group_of.get(measurer, {measurer}) | group_of.get(participant, {participant})
        group_of |= dict.fromkeys(joined, joined)
    return list(Counter(frozenset(group_of[measurer]) for measurer, _, _ in frame.turns).values())


def _placed(frame: LessonFrame, waves: Sequence[int]) -> tuple[list[str], list[tuple[int, str, list[str]]]]:
    """Who records each turn, empty where everybody is busy; and wave, task and those who do it meanwhile. The
    third of a group records, whom the participant measures or who measures the measurer; else who waits and
    recorded least. Nobody does the same thing twice before there is something else."""
    measured_by = {participant: measurer for measurer, participant, _ in frame.turns}
    measures = {measurer: participant for measurer, participant, _ in frame.turns}
    people, kinds = _people(frame), 3 if frame.drill else 2
    recorders, waiting = [""] * len(waves), []
    recorded = Counter(dict.fromkeys(people, 0))
    ahead = dict.fromkeys(people, BEFORE_A_TURN[:kinds])
    had_a_turn: set[str] = set()
    numbers_of: dict[int, list[int]] = defaultdict(list)
    for number, wave in enumerate(waves):
        numbers_of[wave].append(number)
    for wave, numbers in sorted(numbers_of.items()):
        standing = {person for number in numbers for person in frame.turns[number][:2]}
        # In their order; a dict, since somebody is looked for and taken out at every turn.
        free = {person: ahead[person] for person in people if person not in standing}
        for number in numbers:
            measurer, participant, _ = frame.turns[number]
            near = (measures.get(participant, ""), measured_by.get(measurer, ""))
            recorders[number] = next((person for person in near if person in free), "")
            free.pop(recorders[number], None)
        for number in numbers:
            if free and not recorders[number]:
                recorders[number] = min(free, key=recorded.__getitem__)
                del free[recorders[number]]
        recorded.update(recorders[number] for number in numbers)
        doing: dict[str, list[str]] = defaultdict(list)
        for person, tasks in free.items():
            doing[tasks[0]].append(person)
            if len(tasks) > 1:
                ahead[person] = tasks[1:]
        ahead |= dict.fromkeys(standing - had_a_turn, AFTER_A_TURN[:kinds])
        had_a_turn |= standing
        waiting += [(wave, task, those) for task, those in doing.items()]
    return recorders, waiting
