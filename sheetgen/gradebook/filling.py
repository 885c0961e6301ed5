"""Marks put into a gradebook export: one column changes, every other byte stays."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.errors import UsageError
from sheetgen.gradebook.columns import (
    GradebookTable,
    Wanted,
    header_row,
    key_column,
    plain_key,
    refuse_doubtful_rows,
    score_column,
    table_of,
)
from sheetgen.marking.marks import MarkRow
from sheetgen.texts.csv_cells import CsvFault, CsvRow, decoded, encoded, with_value

_PLAIN_NUMBER = re.compile(r"[-+]?\d+(?:([.,])\d+)?")
_EXPORT = "Export the gradebook again, and do not mend it by hand."


@dataclass(frozen=True, slots=True)
class Change:
    """One cell: what stands in it and what is put there. old : empty where the cell is."""

    line: int
    student_id: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class NotWritten:
    """A student of both tables whose cell is left as it is. status : that of the mark."""

    line: int
    student_id: str
    status: str


@dataclass(frozen=True, slots=True)
class MarkedGradebook:
    """What became of a gradebook.

    data : the whole new file. key_kind : `student_id` or `email`.
    changes : cells that get another content. same : students whose cell says so already.
    left : cells left as they are, by the status of the mark.
    not_in_marks : (line, key) of rows that no mark belongs to. not_in_file : students without a row.
    notes : what the teacher should know before writing.
    """

    data: bytes
    encoding: str
    delimiter: str
    decimal_mark: str
    key_column: str
    key_kind: str
    score_column: str
    changes: tuple[Change, ...]
    same: tuple[str, ...]
    left: tuple[NotWritten, ...]
    not_in_marks: tuple[tuple[int, str], ...]
    not_in_file: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def matched(self) -> int:
        """How many rows of the file belong to a mark."""
        return len(self.changes) + len(self.same) + len(self.left)


def with_marks(
    data: bytes, place: object, marks: Sequence[MarkRow], emails: Mapping[str, str], wanted: Wanted
) -> MarkedGradebook:
    """Return a gradebook export with the marks in it.

    Any delimiter of comma, semicolon, tab and bar; UTF-8, UTF-16 or Windows-1252; rows whose key is not
    known are left as they are. Marks that are missing or exempt leave the cell as it is, never 0.

    Parameters
    ----------
    place : the file, for messages.
    emails : address to student_id, as the roster has them.

    Raises
    ------
    UsageError : the file cannot be cut into cells, a column cannot be told, or a student stands in it twice.
    """
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        remedy = "Export the gradebook as CSV, and name that file."
        raise UsageError(place, "a workbook", "a CSV file", remedy)
    by_id = {plain_key(row.student_id): row for row in marks}
    known = {
        "student_id": {plain: row.student_id for plain, row in by_id.items()},
        "email": {plain_key(address): student for address, student in emails.items()},
    }
    try:
        source = decoded(data)
        table = table_of(source.text, known)
    except CsvFault as fault:
        raise UsageError(f"{place}:{fault.line}", fault.found, "cells in plain quotes", _EXPORT) from fault
    header = header_row(place, table, wanted)
    headings = table.rows[header].cells
    key = key_column(place, table, header, wanted.key)
    score = score_column(place, headings, wanted, key.column)
    refuse_doubtful_rows(place, table.rows, key, score, len(headings))
    mark_of = {row: by_id[plain_key(who)] for row, who in key.students.items() if plain_key(who) in by_id}
    decimal_mark = _decimal_mark(place, table, header, score, mark_of.values())
    changes, same, left, cells = [], [], [], []
    for number, mark in mark_of.items():
        row = table.rows[number]
        old, new = row.cells[score].value.strip(), _score_text(mark, decimal_mark, wanted.partial)
        if new is None:
            left.append(NotWritten(row.line, mark.student_id, mark.status))
        elif _as_number(old) == _as_number(new):
            same.append(mark.student_id)
        else:
            changes.append(Change(row.line, mark.student_id, old, new))
            cells.append((row.cells[score], new))
    found = {mark.student_id for mark in mark_of.values()}
    return MarkedGradebook(
        data=encoded(with_value(source.text, cells, table.delimiter), source),
        encoding=source.encoding,
        delimiter=table.delimiter,
        decimal_mark=decimal_mark,
        key_column=headings[key.column].value.strip(),
        key_kind=key.kind,
        score_column=headings[score].value.strip(),
        changes=tuple(changes),
        same=tuple(same),
        left=tuple(left),
        not_in_marks=tuple(
            (row.line, "".join(row.values[key.column : key.column + 1]).strip())
            for number, row in enumerate(table.rows)
            if number > header and number not in mark_of and not row.blank
        ),
        not_in_file=tuple(mark.student_id for mark in marks if mark.student_id not in found),
        notes=tuple(_notes(table.rows[header + 1 : min(mark_of, default=header)], score, marks)),
    )


def _decimal_mark(
    place: object, table: GradebookTable, header: int, score: int, marks: Iterable[MarkRow]
) -> str:
    """The decimal mark of the score column; else of the other columns; else that of the delimiter's habit."""
    below = table.rows[header + 1 :]
    own = _marks_in(value for row in below for value in row.values[score : score + 1])
    if len(own) == 2 and any(mark.score is not None and mark.score % 1 for mark in marks):
        found = f"decimal points and decimal commas in {table.rows[header].cells[score].value.strip()!r}"
        remedy = "Make them alike in the gradebook, and export again."
        raise UsageError(place, found, "one of the two", remedy)
    for seen in (own, _marks_in(value for row in below for value in row.values)):
        if len(seen) == 1:
            return next(iter(seen))
    return "," if table.delimiter == ";" else "."


def _marks_in(values: Iterator[str]) -> set[str]:
    found = (_PLAIN_NUMBER.fullmatch(value.strip()) for value in values)
    return {match[1] for match in found if match is not None and match[1]}


def _score_text(mark: MarkRow, decimal_mark: str, partial: bool) -> str | None:
    """The score as text, None where the cell is to be left as it is."""
    if mark.score is None or mark.status not in (("final", "to be marked") if partial else ("final",)):
        return None
    # Ten digits: what a sum of points adds in binary dust is not a mark.
    return f"{mark.score:.10g}".replace(".", decimal_mark)


def _as_number(text: str) -> float | str:
    """A number where the text is one, so that 8, 8.0 and 8,0 are the same; else the text."""
    return float(text.replace(",", ".")) if _PLAIN_NUMBER.fullmatch(text) else text


def _notes(between: Sequence[CsvRow], score: int, marks: Sequence[MarkRow]) -> Iterator[str]:
    most = Counter(mark.max_score for mark in marks if mark.max_score is not None)
    for row in between:
        text = "".join(row.values[score : score + 1]).strip()
        points = _as_number(text)
        if isinstance(points, float) and most and points not in most:
            yield f"line {row.line} gives {text} for this column, and the marks are out of {max(most):g}"
