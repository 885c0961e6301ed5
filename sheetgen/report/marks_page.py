"""The tab Marks: names and scores in the order of the roster, and how many scores are in each band."""

from collections.abc import Sequence
from itertools import pairwise

from sheetgen.model.mark_row import MARK_STATUSES, MarkRow
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Chart, Heading, Page, Section, Texts, Value

__all__ = ["marks_page"]

_BOUNDS = (50, 60, 70, 80, 90)


def marks_page(book: ClassBook, marks: Sequence[MarkRow], session: int, texts: Texts) -> Page:
    """Return the tab Marks. Who is not on the roster stands at the end; nobody is ranked."""
    place = {person.student_id: number for number, person in enumerate(book.people)}
    ordered = sorted(marks, key=lambda one: place.get(one.student_id, len(place)))
    numbers = {status: sum(one.status == status for one in marks) for status in MARK_STATUSES}
    counts = ", ".join(f"{number} {_status(status, texts)}" for status, number in numbers.items())
    sentences = (
        texts["report_marks.never_body"],
        f"{counts}." if marks else texts["report_marks.nothing"],
    )
    rows = tuple(
        (
            f"{one.given_name} {one.family_name}".strip(),
            one.student_id,
            one.score,
            one.max_score,
            _status(one.status, texts),
        )
        for one in ordered
    )
    tab, title = texts["report_marks.tab"], texts["report_marks.title"].format(session=session)
    final = [one for one in marks if _has_percent(one)]
    if not final:
        return Page(tab, title, sentences, _roster(texts) if marks else (), rows)
    return Page(
        tab,
        title,
        sentences,
        (Heading(texts["report_marks.band"], 32), Heading(texts["report_marks.students"], 18, "text")),
        _bands(final, texts),
        charts=(Chart("column", texts["report_marks.chart"], 0, 1),),
        more=(Section(texts["report_marks.roster"], (), _roster(texts), rows),),
    )


def _status(status: str, texts: Texts) -> str:
    return texts[f"report_mark_status.{status.replace(' ', '-')}"]


def _roster(texts: Texts) -> tuple[Heading, ...]:
    return (
        Heading(texts["report_heading.student"], 32),
        Heading(texts["report_heading.student_id"], 18),
        Heading(texts["report_marks.score"], 15, "result_2"),
        Heading(texts["report_marks.of"], 15, "result_2"),
        Heading(texts["report_heading.status"], 20, "label"),
    )


def _has_percent(one: MarkRow) -> bool:
    return one.status == "final" and one.score is not None and bool(one.max_score)


def _bands(final: Sequence[MarkRow], texts: Texts) -> tuple[tuple[Value, ...], ...]:
    reached = [
        sum(100 * (one.score or 0) >= bound * (one.max_score or 1) for one in final) for bound in _BOUNDS
    ]
    numbers = [len(final) - reached[0], *(a - b for a, b in pairwise([*reached, 0]))]
    words = [
        texts["report_marks.below"].format(bound=_BOUNDS[0]),
        *(texts["report_marks.between"].format(low=low, high=high) for low, high in pairwise(_BOUNDS)),
        texts["report_marks.above"].format(bound=_BOUNDS[-1]),
    ]
    return tuple(zip(words, numbers, strict=True))
