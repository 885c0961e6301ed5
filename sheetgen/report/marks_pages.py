"""The tab Marks, and the rows of marks.csv read back."""

import csv
import io
import math
from collections.abc import Sequence
from itertools import pairwise

from sheetgen.class_folder.records import ClassBook
from sheetgen.errors import FolderError, UsageError
from sheetgen.marking.marks import MARK_STATUSES, MarkRow
from sheetgen.report.page import Chart, Column, Page, Section, Texts, named, table
from sheetgen.report.tables import MARKS
from sheetgen.texts.csv_cells import as_meant

_BOUNDS = (50, 60, 70, 80, 90)


def marks_page(book: ClassBook, marks: Sequence[MarkRow], session: int, texts: Texts) -> Page:
    """Return the tab Marks. Who is not on the roster stands at the end; nobody is ranked."""
    statuses = {status: texts[f"report_mark_status.{status.replace(' ', '-')}"] for status in MARK_STATUSES}
    place = {person.student_id: number for number, person in enumerate(book.people)}
    counts = ", ".join(
        f"{sum(mark.status == status for mark in marks)} {word}" for status, word in statuses.items()
    )
    sentences = (texts["report_marks.never_body"], f"{counts}." if marks else texts["report_marks.nothing"])
    columns = (
        Column("report_heading.student", 32, lambda mark: f"{mark.given_name} {mark.family_name}".strip()),
        Column("report_heading.student_id", 18, "student_id"),
        Column("report_marks.score", 15, "score", "result_2"),
        Column("report_marks.of", 15, "max_score", "result_2"),
        Column("report_heading.status", 20, lambda mark: statuses[mark.status], "label"),
        Column("report_marks.scored_on", 14, "scored_on"),
    )
    bands = (Column("report_marks.band", 32, "0"), Column("report_marks.students", 18, "1", "text"))
    ordered = sorted(marks, key=lambda mark: place.get(mark.student_id, len(place)))
    roster = table(columns if marks else (), ordered, texts)
    name = named("report_marks", texts, session=session)
    final = [
        (mark.score, mark.max_score)
        for mark in marks
        if mark.status == "final" and mark.score is not None and mark.max_score
    ]
    if not final:
        return Page(*name, sentences, *roster)
    return Page(
        *name,
        sentences,
        *table(bands, _bands(final, texts), texts),
        charts=(Chart("column", texts["report_marks.chart"], 0, 1),),
        more=(Section(texts["report_marks.roster"], (), *roster),),
    )


def _bands(final: Sequence[tuple[float, float]], texts: Texts) -> list[tuple[str, int]]:
    # No quotient: it might miss a bound by its rounding.
    reached = [len(final), *(sum(100 * score >= bound * of for score, of in final) for bound in _BOUNDS), 0]
    words = [
        texts["report_marks.below"].format(bound=_BOUNDS[0]),
        *(texts["report_marks.between"].format(low=low, high=high) for low, high in pairwise(_BOUNDS)),
        texts["report_marks.above"].format(bound=_BOUNDS[-1]),
    ]
    return [(word, more - fewer) for word, (more, fewer) in zip(words, pairwise(reached), strict=True)]


_REMEDY = "Run `sheetgen read` again; it makes the file anew."
_NAMES = tuple(field.name for field in MARKS.fields)


def marks_from(data: bytes, place: object) -> tuple[MarkRow, ...]:
    """Return the rows of marks.csv, in its order.

    Parameters
    ----------
    place : the file, for messages.

    Raises
    ------
    FolderError : it is not as `marks_table` writes it.
    UsageError : a student stands in it twice.
    """
    try:
        records = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as fault:
        raise FolderError(place, f"it cannot be read ({fault})", "CSV in UTF-8", _REMEDY) from fault
    if not records or tuple(records[0]) != _NAMES:
        found = "no headings" if not records else f"the headings {', '.join(records[0])}"
        raise FolderError(f"{place}:1", found, ", ".join(_NAMES), _REMEDY)
    rows: list[MarkRow] = []
    first: dict[str, int] = {}
    for line, cells in enumerate(records[1:], start=2):
        if cells:
            rows.append(_row(f"{place}:{line}", cells))
            identifier = rows[-1].student_id
            earlier = first.setdefault(identifier.casefold(), line)
            if earlier != line:
                found = f"student_id {identifier!r} on lines {earlier} and {line}"
                raise UsageError(place, found, "each student once", _REMEDY)
    return tuple(rows)


def _row(place: str, cells: Sequence[str]) -> MarkRow:
    if len(cells) != len(_NAMES):
        raise FolderError(place, f"{len(cells)} cells", f"{len(_NAMES)}", _REMEDY)
    student_id, given_name, family_name = map(as_meant, cells[:3])
    score, max_score, (status, scored_on) = _score(place, cells[3]), _score(place, cells[4]), cells[5:]
    if not student_id:
        raise FolderError(place, "no student_id", "one in every line", _REMEDY)
    if status not in MARK_STATUSES:
        raise FolderError(place, f"the status {status!r}", f"one of {', '.join(MARK_STATUSES)}", _REMEDY)
    if status == "final" and score is None:
        raise FolderError(place, "no score", "a number, since the mark is final", _REMEDY)
    return MarkRow(student_id, given_name, family_name, score, max_score, status, scored_on)


def _score(place: str, text: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise FolderError(place, f"the score {text!r}", "a number with a decimal point", _REMEDY)
    return value
