"""Simulated classes of 30 with a known truth, as Attempts, and what the package finds in them."""

import random
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.records import ClassBook, CopyRecord, Person
from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, recalculate
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.calipers import caliper_report
from sheetgen.statistics.precision import WorstSite, site_precision, worst_site
from sheetgen.statistics.readings_frame import readings_frame, rounds_of
from sheetgen.statistics.repeatability import Undefined
from sheetgen.statistics.same_numbers import same_numbers, without_pairs
from tests.sheets import SETTINGS

FOLDS = {
    "chest": 11.0, "midaxillary": 12.0, "triceps": 14.0, "subscapular": 14.0, "abdominal": 19.0,
    "suprailiac": 16.0, "thigh": 20.0,
}  # fmt: skip
ERRORS = {
    "chest": 0.5, "midaxillary": 0.6, "triceps": 0.6, "subscapular": 0.7, "abdominal": 1.9,
    "suprailiac": 0.9, "thigh": 0.9,
}  # fmt: skip
"""Error within a measurer [mm]; the abdominal fold is the worst for its thickness."""
HABIT, HABIT_AT_SITE = 0.25, 0.5
"""How measurers differ [mm]: at all sites alike, and at each site of each person."""
STUDENTS, CALIPERS = 30, 10
OFF_CALIPER, OFF_MM = "C04", 1.0
SHARED_PAIR = ("S05", "S20")
HONEST_PAIR = ("S11", "S12")
"""Both measure the person of S10 from the same marks, so that only their reading error differs."""


class Design(Struct, frozen=True):
    """How a class is simulated.

    measurers : students who measure each person. teacher : measures everyone too, with another caliper.
    division : of all scales [mm]. off_mm : what the off caliper reads when closed, not in the register.
    shared : whether one student hands in the readings of another.
    """

    measurers: int
    teacher: bool = False
    division: float = 0.5
    off_mm: float = OFF_MM
    shared: bool = True


@lru_cache(maxsize=1)
def protocol() -> Protocol:
    """Return the protocol of seven sites."""
    return find_protocol("seven-sites")


def _calipers(division: float) -> tuple[Caliper, ...]:
    return tuple(Caliper(f"C{number:02}", "spring", division, 60.0, 0.0) for number in range(CALIPERS + 1))


PEOPLE = (
    *(Person(f"S{one:02}", "", "", participant_code=f"P{one:02}") for one in range(STUDENTS)),
    Person("T1", "", "", role="teacher", participant_code="PT1"),
)
BOOK = ClassBook("SIM", "simulated", replace(SETTINGS, calipers=_calipers(0.5)), PEOPLE, ())


def attempt_of(
    student: str,
    participant: str,
    entries: Entries,
    settings: SheetSettings = BOOK.settings,
    session: int = 1,
    status: str = "accepted",
) -> Attempt:
    """Return a returned sheet with these entries, recomputed."""
    code = f"{student}-{participant}-{session}"
    caliper = str(entries.get("caliper_id", ""))
    record = CopyRecord(
        code, session, student, participant, participant, caliper, "d", f"{code}.xlsx", "", {}
    )
    results = recalculate(protocol(), settings, entries)
    return Attempt(f"{code}.xlsx", code, status, record, "seven-sites", entries, results, ())


def simulated_class(design: Design, seed: int) -> tuple[ClassBook, list[Attempt]]:
    """Return a class and its sheets; the same seed and design give the same class."""
    dice = random.Random(f"class {seed}")
    settings = replace(BOOK.settings, calipers=_calipers(design.division))
    habits = {person.student_id: dice.gauss(0, HABIT) for person in PEOPLE}
    sheets: dict[tuple[str, str], dict[str, str | float | None]] = {}
    for number in range(STUDENTS):
        build = dice.lognormvariate(0, 0.3)
        folds = {site: fold * build * dice.lognormvariate(0, 0.18) for site, fold in FOLDS.items()}
        measurers = [(number + step) % STUDENTS for step in range(1, design.measurers + 1)]
        who = [(f"S{one:02}", f"C{one % CALIPERS + 1:02}") for one in measurers]
        if design.teacher:
            who.append(("T1", "C00"))
        for student, caliper in who:
            marked = student not in HONEST_PAIR or number != 10
            entries = _sheet(dice, design, folds, habits[student] if marked else 0.0, caliper, marked)
            sheets[student, f"P{number:02}"] = entries
    if design.shared:
        one, other = (next(key for key in sheets if key[0] == student) for student in SHARED_PAIR)
        readings = {name: value for name, value in sheets[one].items() if name.startswith("reading_")}
        kept = {name: value for name, value in sheets[other].items() if not name.startswith("reading_")}
        sheets[other] = {**kept, **readings}
        # Two readings changed, so that the files are not the same throughout.
        for name in ("reading_1_chest", "reading_2_thigh"):
            value = readings[name]
            assert isinstance(value, float)
            sheets[other][name] = value + design.division
    book = replace(BOOK, settings=settings)
    return book, [attempt_of(*key, entries, settings) for key, entries in sheets.items()]


def _sheet(
    dice: random.Random, design: Design, folds: dict[str, float], habit: float, caliper: str, marked: bool
) -> dict[str, str | float | None]:
    entries: dict[str, str | float | None] = {
        "data_source": "measured", "caliper_id": caliper, "zero_mm": 0.0, "side": "right",
        "sex_equation": "sum-only", "age_years": 25.0,
    }  # fmt: skip
    zero = design.off_mm if caliper == OFF_CALIPER else 0.0
    at_site = {site: dice.gauss(0, HABIT_AT_SITE) if marked else 0.0 for site in folds}
    for number in (1, 2):
        for site, fold in folds.items():
            reading = fold + habit + at_site[site] + zero + dice.gauss(0, ERRORS[site])
            steps = max(round(reading / design.division), 1)
            entries[f"reading_{number}_{site}"] = round(steps * design.division, 2)
    # Where the first two are more than 2 mm apart a third is taken, by dice of its own.
    third = random.Random(repr(entries))
    for site, fold in folds.items():
        first, second = (float(str(entries[f"reading_{number}_{site}"])) for number in (1, 2))
        reading = fold + habit + at_site[site] + zero + third.gauss(0, ERRORS[site])
        if abs(first - second) > 2:
            steps = max(round(reading / design.division), 1)
            entries[f"reading_3_{site}"] = round(steps * design.division, 2)
    return entries


def found_in(design: Design, seed: int, settled: bool = True) -> dict[str, bool]:
    """Return what the package found in one simulated class.

    settled : leave both files of a pair with the same numbers out of the calipers.
    """
    book, attempts = simulated_class(design, seed)
    readings = readings_frame(attempts, book)
    rounds = rounds_of(readings)
    alike = same_numbers(rounds)
    worst = worst_site(site_precision(rounds))
    used = without_pairs(rounds, alike) if settled else rounds
    report = caliper_report(readings, used, book.settings.calipers)
    offsets = () if isinstance(report.offsets, Undefined) else report.offsets
    flagged = {one.caliper_id for one in offsets if one.near_mm is not None}
    beyond = {one.caliper_id for one in offsets if one.beyond_chance}
    pairs = [frozenset((one.first_student, one.second_student)) for one in alike.pairs]
    others = [pair for pair in pairs if pair != frozenset(SHARED_PAIR)]
    found = {
        "worst site found": isinstance(worst, WorstSite) and worst.site == "abdominal" and worst.stands_out,
        "caliper found": OFF_CALIPER in flagged,
        "caliper cannot be told": isinstance(report.offsets, Undefined),
        "another caliper blamed": bool(beyond - {OFF_CALIPER}),
        "shared pair flagged": frozenset(SHARED_PAIR) in pairs,
        "an innocent pair flagged": bool(others),
    }
    if design.measurers >= 2:
        found["honest pair left alone"] = frozenset(HONEST_PAIR) not in pairs
    return found


def rates(design: Design, seeds: Sequence[int]) -> dict[str, float]:
    """Return the share of simulated classes in which each was found."""
    counts: Counter[str] = Counter()
    for seed in seeds:
        counts.update({name: int(found) for name, found in found_in(design, seed).items()})
    return {name: count / len(seeds) for name, count in counts.items()}
