"""The tab Marks, and the rows of marks.csv read back."""

import csv
import io
import math
from collections import Counter
from collections.abc import Sequence
from statistics import fmean

from sheetgen.errors import FolderError, UsageError
from sheetgen.marking.marks import MARK_STATUSES, MarkRow
from sheetgen.report.page import Column, Page, Section, SessionResults, named, table
from sheetgen.report.tables import MARKS
from sheetgen.texts.csv_cells import as_meant
from sheetgen.texts.languages import Texts

_ON_ONE_PAGE = 30
"""Students whose marks are printed on one page, with the items, in a type that can be read."""


def marks_page(results: SessionResults, texts: Texts) -> Page:
    """Return the tab Marks: by student, and by item of the scheme what the class has reached. Who is not on
    the roster stands at the end; nobody is ranked."""
    statuses = {status: texts[f"report_mark_status.{status.replace(' ', '-')}"] for status in MARK_STATUSES}
    place = {person.student_id: number for number, person in enumerate(results.book.people)}
    marks = sorted(results.marks, key=lambda mark: place.get(mark.student_id, len(place)))
    numbers = Counter(mark.status for mark in marks)
    counts = ", ".join(f"{numbers[status]} {word}" for status, word in statuses.items() if numbers[status])
    columns = (
        Column("report_heading.student", 30, lambda mark: f"{mark.given_name} {mark.family_name}".strip()),
        Column("report_heading.student_id", 12, "student_id"),
        Column("report_marks.score", 11, "score", "result_2"),
        Column("report_marks.of", 11, "max_score", "result_2"),
        Column("report_heading.status", 20, lambda mark: statuses[mark.status], "label"),
    )
    said = f"{texts['report_marks.never_body']} {counts}." if marks else texts["report_marks.nothing"]
    name, shown = named("report_marks", texts, session=results.called), columns if marks else ()
    more, single = _by_item(results, texts), len(marks) <= _ON_ONE_PAGE
    return Page(*name, (said,), *table(shown, marks, texts), more=more, single=single)


def _by_item(results: SessionResults, texts: Texts) -> tuple[Section, ...]:
    """What the class has reached of each item of the scheme; none where nothing is scored."""
    rows = []
    for word, title in results.items.items():
        scores = [(one.points, one.out_of) for one in results.scores if one.item == word]
        own = [both for both in scores if both[0] is not None]
        rows += [(title, len(own), *map(fmean, zip(*own, strict=True)))] if own else []
    columns = (
        Column("report_marks.item", 30, "0"),
        Column("report_heading.sheets", 12, "1", "text"),
        Column("report_marks.mean", 11, "2", "result_1"),
        Column("report_marks.of", 11, "3", "result_1"),
    )
    return (Section(texts["report_marks.by_item"], (), *table(columns, rows, texts)),) if rows else ()


_REMEDY = "Run `sheetgen read` again; it makes the file anew."
_NAMES = tuple(field.name for field in MARKS.fields)


def marks_from(data: bytes, place: object) -> tuple[MarkRow, ...]:
    """Return the rows of marks.csv, in its order; place : the file, for messages. FolderError where it is not
    as `marks_table` writes it, UsageError where a student stands in it twice."""
    try:
        records = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as fault:
        raise FolderError(place, f"it cannot be read ({fault})", "CSV in UTF-8", _REMEDY) from fault
    if not records or tuple(records[0]) != _NAMES:
        found = f"the headings {', '.join(records[0])}" if records else "no headings"
        raise FolderError(f"{place}:1", found, ", ".join(_NAMES), _REMEDY)
    rows = {line: _row(f"{place}:{line}", cells) for line, cells in enumerate(records[1:], start=2) if cells}
    first: dict[str, int] = {}
    for line, row in rows.items():
        earlier = first.setdefault(row.student_id.casefold(), line)
        if earlier != line:
            found = f"student_id {row.student_id!r} on lines {earlier} and {line}"
            raise UsageError(place, found, "each student once", _REMEDY)
    return tuple(rows.values())


def _row(place: str, cells: Sequence[str]) -> MarkRow:
    if len(cells) != len(_NAMES):
        raise FolderError(place, f"{len(cells)} cells", f"{len(_NAMES)}", _REMEDY)
    student_id, given_name, family_name = map(as_meant, cells[:3])
    score, max_score, (status, *rest) = _score(place, cells[3]), _score(place, cells[4]), cells[5:]
    if not student_id:
        raise FolderError(place, "no student_id", "one in every line", _REMEDY)
    if status not in MARK_STATUSES:
        raise FolderError(place, f"the status {status!r}", f"one of {', '.join(MARK_STATUSES)}", _REMEDY)
    if status == "final" and score is None:
        raise FolderError(place, "no score", "a number, since the mark is final", _REMEDY)
    return MarkRow(student_id, given_name, family_name, score, max_score, status, *rest)


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
