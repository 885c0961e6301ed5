"""A review workbook for tests: an invented class, its marks, and a teacher who types into the file."""

from collections.abc import Mapping

from msgspec.structs import replace

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.marking.scheme import ItemMark, Marking, Reason, ToBeMarked
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt
from sheetgen.workbook.layout import Value
from tests.report.invented import PROTOCOL, SETTINGS, accepted, record
from tests.typed_cells import Place, with_typed


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
    """Type into the review workbook of session 1, as a teacher does.

    changes : (what the row is about, heading) to the value. The row is found by any cell of it; `new` is the
        first row that is empty.
    """
    path = folder.review(1)

    def in_its_row(shown: Mapping[Place, str]) -> dict[Place, Value]:
        headings = {text: column for (row, column), text in shown.items() if row == 3}
        below = {place: text for place, text in shown.items() if place[0] > 3}
        taken = {row for row, column in below if column < 2}
        free = next(row for row in range(4, 10_000) if row not in taken)
        rows = {text: row for (row, _), text in sorted(below.items(), reverse=True)} | {"new": free}
        cells: dict[Place, Value] = {}
        for (about, heading), value in changes.items():
            cells[rows[about], headings[heading]] = value
            rows.setdefault(str(value), rows[about])
        return cells

    path.write_bytes(with_typed(path.read_bytes(), tab, in_its_row))
