"""The tab Marks, and the rows of marks.csv read back."""

import csv
import io
import math
from collections import Counter, defaultdict
from collections.abc import Sequence

from sheetgen.errors import FolderError, UsageError
from sheetgen.marking.marks import MARK_STATUSES, MarkRow
from sheetgen.report.page import Column, Page, Section, SessionResults, Texts, named, table
from sheetgen.report.tables import MARKS
from sheetgen.texts.csv_cells import as_meant

_ON_ONE_PAGE = 30
"""Students whose marks are printed on one page, with the items, in a type that can be read."""


def marks_page(results: SessionResults, texts: Texts) -> Page:
    """Return the tab Marks: by student, and by item of the scheme what the class has reached.

    Who is not on the roster stands at the end; nobody is ranked.
    """
    statuses = {status: texts[f"report_mark_status.{status.replace(' ', '-')}"] for status in MARK_STATUSES}
    place = {person.student_id: number for number, person in enumerate(results.book.people)}
    marks = sorted(results.marks, key=lambda mark: place.get(mark.student_id, len(place)))
    counts = ", ".join(
        f"{count} {word}" for status, word in statuses.items()
        if (count := sum(mark.status == status for mark in marks))
    )  # fmt: skip
    columns = (
        Column("report_heading.student", 30, lambda mark: f"{mark.given_name} {mark.family_name}".strip()),
        Column("report_heading.student_id", 12, "student_id"),
        Column("report_marks.score", 11, "score", "result_2"),
        Column("report_marks.of", 11, "max_score", "result_2"),
        Column("report_heading.status", 20, lambda mark: statuses[mark.status], "label"),
    )
    said = f"{texts['report_marks.never_body']} {counts}." if marks else texts["report_marks.nothing"]
    return Page(
        *named("report_marks", texts, session=results.session),
        (said,),
        *table(columns if marks else (), marks, texts),
        more=_by_item(results, texts),
        single=len(marks) <= _ON_ONE_PAGE,
    )


def _by_item(results: SessionResults, texts: Texts) -> tuple[Section, ...]:
    """What the class has reached of each item of the scheme; none where nothing is scored."""
    scored = [one for one in results.scores if one.points is not None and one.item in results.items]
    reached, possible = defaultdict[str, float](float), defaultdict[str, float](float)
    for one in scored:
        reached[one.item] += one.points or 0.0
        possible[one.item] += one.out_of
    sheets = Counter(one.item for one in scored)
    columns = (
        Column("report_marks.item", 30, lambda word: results.items[word]),
        Column("report_heading.sheets", 12, lambda word: sheets[word], "text"),
        Column("report_marks.mean", 11, lambda word: reached[word] / sheets[word], "result_1"),
        Column("report_marks.of", 11, lambda word: possible[word] / sheets[word], "result_1"),
    )
    words = [word for word in results.items if sheets[word]]
    return (Section(texts["report_marks.by_item"], (), *table(columns, words, texts)),) if words else ()


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
