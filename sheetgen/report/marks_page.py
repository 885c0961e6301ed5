"""The tab Marks: names and scores in the order of the roster, and how many scores are in each band."""

from collections.abc import Sequence
from itertools import pairwise

from sheetgen.model.mark_row import MARK_STATUSES, MarkRow
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Chart, Column, Heading, Page, Section, Texts, Value, table

__all__ = ["marks_page"]

_BOUNDS = (50, 60, 70, 80, 90)


def marks_page(book: ClassBook, marks: Sequence[MarkRow], session: int, texts: Texts) -> Page:
    """Return the tab Marks. Who is not on the roster stands at the end; nobody is ranked."""
    statuses = {status: texts[f"report_mark_status.{status.replace(' ', '-')}"] for status in MARK_STATUSES}
    place = {person.student_id: number for number, person in enumerate(book.people)}
    counts = ", ".join(
        f"{sum(mark.status == status for mark in marks)} {word}" for status, word in statuses.items()
    )
    sentences = (
        texts["report_marks.never_body"],
        f"{counts}." if marks else texts["report_marks.nothing"],
    )
    columns: tuple[Column[MarkRow], ...] = (
        Column("report_heading.student", 32, lambda mark: f"{mark.given_name} {mark.family_name}".strip()),
        Column("report_heading.student_id", 18, lambda mark: mark.student_id),
        Column("report_marks.score", 15, lambda mark: mark.score, "result_2"),
        Column("report_marks.of", 15, lambda mark: mark.max_score, "result_2"),
        Column("report_heading.status", 20, lambda mark: statuses[mark.status], "label"),
    )
    ordered = sorted(marks, key=lambda mark: place.get(mark.student_id, len(place)))
    roster = table(columns if marks else (), ordered, texts)
    tab, title = texts["report_marks.tab"], texts["report_marks.title"].format(session=session)
    final = [
        (mark.score, mark.max_score)
        for mark in marks
        if mark.status == "final" and mark.score is not None and mark.max_score
    ]
    if not final:
        return Page(tab, title, sentences, *roster)
    return Page(
        tab,
        title,
        sentences,
        (Heading(texts["report_marks.band"], 32), Heading(texts["report_marks.students"], 18, "text")),
        _bands(final, texts),
        charts=(Chart("column", texts["report_marks.chart"], 0, 1),),
        more=(Section(texts["report_marks.roster"], (), *roster),),
    )


def _bands(final: Sequence[tuple[float, float]], texts: Texts) -> tuple[tuple[Value, ...], ...]:
    # No quotient: it might miss a bound by its rounding.
    reached = [sum(100 * score >= bound * of for score, of in final) for bound in _BOUNDS]
    reached = [len(final), *reached, 0]
    words = [
        texts["report_marks.below"].format(bound=_BOUNDS[0]),
        *(texts["report_marks.between"].format(low=low, high=high) for low, high in pairwise(_BOUNDS)),
        texts["report_marks.above"].format(bound=_BOUNDS[-1]),
    ]
    return tuple((word, more - fewer) for word, (more, fewer) in zip(words, pairwise(reached), strict=True))
