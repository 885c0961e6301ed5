"""Simulated classes and what they say, worked out once for all tests of the report."""

from functools import lru_cache

from msgspec.structs import replace

from sheetgen.class_folder.records import ClassBook
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, class_analysis
from tests.simulation import Design, attempt_of, protocol, simulated_class

TITLES = {site.word: site.title for site in protocol().sites}
CODES = {f"S{number:02}": f"P{number:02}" for number in range(30)} | {"T1": "PT1"}


@lru_cache(maxsize=1)
def compared() -> tuple[ClassBook, tuple[Attempt, ...], ClassAnalysis]:
    """Return a class in which three students and the teacher measure each person; C04 has a zero of 1 mm.

    The first sheet has a typed zero that is not the registered one.
    """
    book, attempts = simulated_class(Design(3, teacher=True), 1)
    attempts[0] = _changed(attempts[0], book, zero_mm=-0.5)
    return book, tuple(attempts), class_analysis(attempts, book, 1)


@lru_cache(maxsize=1)
def alone() -> tuple[ClassBook, tuple[Attempt, ...], ClassAnalysis]:
    """Return a class in which each person is measured by one student, and no two files are alike."""
    book, attempts = simulated_class(Design(1, shared=False), 2)
    return book, tuple(attempts), class_analysis(attempts, book, 1)


@lru_cache(maxsize=1)
def retested() -> tuple[ClassBook, tuple[Attempt, ...], ClassAnalysis]:
    """Return a second session: the first person has another caliper, the second 8 mm more everywhere, all
    others half a millimetre more or less at a site."""
    book, before, _ = alone()
    after = [_changed(attempt, book, session=2, **_about(attempt)) for attempt in before]
    after[0] = _changed(before[0], book, session=2, caliper_id="C09", **_about(before[0]))
    more = {
        name: value + 8.0
        for name, value in before[1].entries.items()
        if name.startswith("reading_") and isinstance(value, float)
    }
    after[1] = _changed(before[1], book, session=2, **more)
    return book, tuple(after), class_analysis(after, book, 2, before)


def _about(attempt: Attempt) -> dict[str, float]:
    """By turns half a millimetre more and less at a site, in every round: a sheet that equals an earlier one
    is a copy."""
    shifts = {site.word: (0.5, -0.5)[number % 2] for number, site in enumerate(protocol().sites)}
    return {
        name: value + shifts[name.split("_", 2)[2]]
        for name, value in attempt.entries.items()
        if name.startswith("reading_") and isinstance(value, float)
    }


def _changed(attempt: Attempt, book: ClassBook, session: int = 1, **entries: str | float) -> Attempt:
    assert attempt.record is not None
    typed = {**attempt.entries, **entries}
    changed = attempt_of(
        attempt.record.student_id, attempt.record.participant_code, typed, book.settings, session
    )
    return replace(changed, status=attempt.status)
