"""A class for each finding about a class as a whole, simulated."""

from collections.abc import Callable, Mapping

from sheetgen.class_folder.records import ClassBook
from sheetgen.protocols.recalculation import Entries
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, class_analysis
from tests.simulation import Design, attempt_of, simulated_class

HONEST = Design(1, shared=False)
COMPARED = Design(3)


def _analysis(design: Design, change: Callable[[int, Entries], Entries] | None = None) -> ClassAnalysis:
    book, attempts = simulated_class(design, 2)
    if change is not None:
        attempts = [_changed(book, one, change(number, one.entries)) for number, one in enumerate(attempts)]
    return class_analysis(attempts, book, 1)


def _changed(book: ClassBook, attempt: Attempt, entries: Entries) -> Attempt:
    assert attempt.record is not None
    return attempt_of(attempt.record.student_id, attempt.record.participant_code, entries, book.settings)


def _second_rounds(entries: Entries, less: float) -> Entries:
    changed = dict(entries)
    for name, value in entries.items():
        if name.startswith("reading_1_") and isinstance(value, float):
            changed[name.replace("reading_1_", "reading_2_")] = value - less
    return changed


def _whole_millimetres(number: int, entries: Entries) -> Entries:
    return {
        name: float(int(value)) if name.startswith("reading_") and isinstance(value, float) else value
        for name, value in entries.items()
    }


CLASSES: Mapping[str, Callable[[], ClassAnalysis]] = {
    "class-same-numbers": lambda: _analysis(Design(1)),
    "class-rounds-identical": lambda: _analysis(HONEST, lambda n, e: e if n else _second_rounds(e, 0.0)),
    "class-second-round-thinner": lambda: _analysis(HONEST, lambda n, e: e if n else _second_rounds(e, 0.5)),
    "class-digit-preference": lambda: _analysis(HONEST, _whole_millimetres),
    "class-site-stands-out": lambda: _analysis(HONEST),
    "class-zero-forgotten": lambda: _analysis(COMPARED),
    # Half a division of 2 mm away from any whole one.
    "class-caliper-off": lambda: _analysis(Design(3, division=2.0, off_mm=5.0, shared=False)),
}
