"""The tab Marks: names and scores in the order of the roster, and how many scores are in each band."""

from collections.abc import Sequence
from itertools import pairwise

from sheetgen.model.mark_row import MARK_STATUSES, MarkRow
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Chart, Heading, Page, Section, Value

__all__ = ["marks_page"]

_BOUNDS = (50, 60, 70, 80, 90)


def marks_page(book: ClassBook, marks: Sequence[MarkRow], session: int) -> Page:
    """Return the tab Marks. Who is not on the roster stands at the end; nobody is ranked."""
    place = {person.student_id: number for number, person in enumerate(book.people)}
    ordered = sorted(marks, key=lambda one: place.get(one.student_id, len(place)))
    numbers = {status: sum(one.status == status for one in marks) for status in MARK_STATUSES}
    counts = ", ".join(f"{number} {status}" for status, number in numbers.items())
    sentences = (
        "For method and arithmetic, never for a value of a body. In the order of the roster, not ranked.",
        f"{counts}." if marks else "Nothing is marked yet.",
    )
    rows = tuple(
        (f"{one.given_name} {one.family_name}".strip(), one.student_id, one.score, one.max_score, one.status)
        for one in ordered
    )
    title = f"Marks, session {session}"
    final = [one for one in marks if _has_percent(one)]
    if not final:
        return Page("Marks", title, sentences, _ROSTER if marks else (), rows)
    chart = Chart("column", "Final scores by band, in per cent of the points", 0, 1)
    return Page(
        "Marks",
        title,
        sentences,
        (Heading("Band", 32), Heading("Students", 18, "text")),
        _bands(final),
        charts=(chart,),
        more=(Section("Roster", (), _ROSTER, rows),),
    )


_ROSTER = (
    Heading("Student", 32),
    Heading("Student id", 18),
    Heading("Score", 15, "result_2"),
    Heading("of", 15, "result_2"),
    Heading("Status", 20, "label"),
)


def _has_percent(one: MarkRow) -> bool:
    return one.status == "final" and one.score is not None and bool(one.max_score)


def _bands(final: Sequence[MarkRow]) -> tuple[tuple[Value, ...], ...]:
    reached = [
        sum(100 * (one.score or 0) >= bound * (one.max_score or 1) for one in final) for bound in _BOUNDS
    ]
    numbers = [len(final) - reached[0], *(a - b for a, b in pairwise([*reached, 0]))]
    between = [f"{low} to below {high} %" for low, high in pairwise(_BOUNDS)]
    words = [f"below {_BOUNDS[0]} %", *between, f"{_BOUNDS[-1]} % and above"]
    return tuple(zip(words, numbers, strict=True))
