"""A review workbook for tests: an invented class, its marks, and a teacher who types into the file."""

import io
from collections.abc import Mapping
from dataclasses import replace

import openpyxl

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.marking.scheme import ItemMark, Marking, Reason, ToBeMarked
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt
from sheetgen.workbook.layout import Value
from tests.report.invented import PROTOCOL, SETTINGS, accepted, record


def attempt(number: int, sha256: str = "", status: str = "accepted") -> Attempt:
    """Return the file of student 100N."""
    one = accepted(number)
    digest = (sha256 or f"a{number}") * 16
    return replace(one, sha256=digest, status=status, built_with=BuiltWith(SETTINGS, PROTOCOL, 1))


def records(*numbers: int) -> tuple[CopyRecord, ...]:
    """Return the sheets handed out to some students."""
    return tuple(record(number) for number in numbers)


def marking(score: float = 30.0, answer: str = "hold the fold") -> Marking:
    """Return marks out of 50, 5 of them for an answer that waits."""
    items = (
        ItemMark("sums", "Sum", score, 45.0, False, (Reason("blank", "sum_mm"),)),
        ItemMark("answers", "Answers", 0.0, 5.0, False, (Reason("to-be-marked", "error"),)),
    )
    waiting = (ToBeMarked("answers", "answer_error", 5.0, answer),)
    return Marking("usual", items, score, 50.0, waiting)


def typed(folder: ClassFolder, tab: str, changes: Mapping[tuple[str, str], Value]) -> None:
    """Type into the review workbook of session 1, as a teacher does at a spreadsheet program.

    changes : (what the row is about, heading) to the value. The row is found by any cell of it; `new` is the
        first row that is empty.
    """
    path = folder.review(1)
    book = openpyxl.load_workbook(io.BytesIO(path.read_bytes()))
    sheet = book[tab]
    headings = {cell.value: cell.column for cell in sheet[4]}
    for (about, heading), value in changes.items():
        row = next(
            row[0].row
            for row in sheet.iter_rows(min_row=5)
            if (about == "new" and not any(cell.value for cell in row[:2]))
            or any(cell.value == about for cell in row)
        )
        sheet.cell(row, headings[heading]).value = value
    book.save(path)
