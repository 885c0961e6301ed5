"""Marks as OneRoster CSV (1EdTech), 1.1 or 1.2: lineItems.csv, results.csv and manifest.csv in one zip."""

import csv
import io
import uuid
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sheetgen.errors import UsageError
from sheetgen.marking.marks import MarkRow
from sheetgen.texts.csv_cells import harmless

VERSIONS = ("1.1", "1.2")

SCORE_STATUSES = {
    "final": "fully graded",
    "to be marked": "partially graded",
    "missing": "not submitted",
    "exempt": "exempt",
}
"""Status of a mark to scoreStatus."""

_WITH_SCORE = ("final", "to be marked")
_DELTA_ONLY = ("", "")  # status and dateLastModified stay empty in a bulk file

_LINE_ITEM = (
    "sourcedId", "status", "dateLastModified", "title", "description", "assignDate", "dueDate",
    "classSourcedId", "categorySourcedId", "gradingPeriodSourcedId", "resultValueMin", "resultValueMax",
)  # fmt: skip
_RESULT = (
    "sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId", "scoreStatus",
    "score", "scoreDate", "comment",
)  # fmt: skip
# Columns and files that 1.2 adds: from memory of the standard.
_MORE_OF_LINE_ITEM = {"1.1": (), "1.2": ("schoolSourcedId",)}
_MORE_OF_RESULT = {
    "1.1": (),
    "1.2": ("textScore", "classSourcedId", "inProgress", "incomplete", "late", "missing"),
}
_FILES_1_1 = (
    "academicSessions", "categories", "classes", "classResources", "courses", "courseResources",
    "demographics", "enrollments", "lineItems", "orgs", "resources", "results", "users",
)  # fmt: skip
_FILES = {
    "1.1": _FILES_1_1,
    "1.2": (
        *_FILES_1_1, "lineItemLearningObjectiveIds", "lineItemScoreScales", "resultLearningObjectiveIds",
        "resultScoreScales", "roles", "scoreScales", "userProfiles", "userResources",
    ),
}  # fmt: skip
_PRESENT = ("lineItems", "results")


@dataclass(frozen=True, slots=True)
class ResultsFrame:
    """What the results belong to.

    class_code, session : the sourcedIds are derived from these and the student_id.
    title : of the class. day : of the assignment and of the scores.
    class_id, category_id, period_id : sourcedIds of the school's system; empty class_id: the class code.
    version : one of VERSIONS.
    """

    class_code: str
    session: int
    title: str
    day: date
    class_id: str = ""
    category_id: str = ""
    period_id: str = ""
    version: str = "1.1"


def oneroster_zip(marks: Sequence[MarkRow], frame: ResultsFrame) -> bytes:
    """Return the zip: the same marks and the same frame give the same bytes.

    A student whose work is missing is `not submitted` and one who is exempt `exempt`, both without a score.
    The student_id goes out as studentSourcedId, exactly as the roster has it.

    Raises
    ------
    UsageError : the version is not one of VERSIONS, or the marks are not all out of the same score.
    """
    if frame.version not in VERSIONS:
        found = f"version {frame.version!r}"
        raise UsageError("OneRoster", found, " or ".join(VERSIONS), "Choose one of these.")
    parts = {
        "manifest.csv": _manifest(frame.version),
        "lineItems.csv": _line_items(marks, frame),
        "results.csv": _results(marks, frame),
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name)  # its time is a constant, so that equal marks give equal bytes
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text.encode("utf-8"))
    return stream.getvalue()


def _manifest(version: str) -> str:
    rows = {"manifest.version": "1.0", "oneroster.version": version}
    rows |= {f"file.{name}": "bulk" if name in _PRESENT else "absent" for name in _FILES[version]}
    rows |= {"source.systemName": "sheetgen", "source.systemCode": "sheetgen"}
    return _csv(("propertyName", "value"), rows.items())


def _line_items(marks: Sequence[MarkRow], frame: ResultsFrame) -> str:
    most = sorted({mark.max_score for mark in marks if mark.max_score is not None})
    if len(most) != 1:
        found = "no highest score" if not most else f"{len(most)} different highest scores"
        remedy = "Run `sheetgen read` again; it makes the marks anew."
        raise UsageError("marks", found, "marks that are all out of the same", remedy)
    day = frame.day.isoformat()
    title = f"{frame.title or frame.class_code}, session {frame.session}"
    row = (
        _sourced_id(frame), *_DELTA_ONLY, harmless(title), "Skinfold measurement: method and arithmetic",
        day, day,
        _class_id(frame), frame.category_id, frame.period_id, "0", _number(most[0]),
    )  # fmt: skip
    more = _MORE_OF_LINE_ITEM[frame.version]
    return _csv((*_LINE_ITEM, *more), ((*row, *("" for _ in more)),))


def _results(marks: Sequence[MarkRow], frame: ResultsFrame) -> str:
    columns = (*_RESULT, *_MORE_OF_RESULT[frame.version])
    return _csv(columns, (_result(mark, frame) for mark in marks))


def _result(mark: MarkRow, frame: ResultsFrame) -> tuple[str, ...]:
    status = SCORE_STATUSES[mark.status]
    score = _number(mark.score) if mark.status in _WITH_SCORE else ""
    known = {"classSourcedId": _class_id(frame), "missing": "true" if mark.status == "missing" else "false"}
    return (
        _sourced_id(frame, mark.student_id), *_DELTA_ONLY, _sourced_id(frame), mark.student_id, status, score,
        frame.day.isoformat(), "", *(known.get(name, "") for name in _MORE_OF_RESULT[frame.version]),
    )  # fmt: skip


def _class_id(frame: ResultsFrame) -> str:
    return frame.class_id or frame.class_code


def _sourced_id(frame: ResultsFrame, student_id: str = "") -> str:
    """The same every time, safe in every system, and nothing of the student can be read from it."""
    words = ("sheetgen", frame.class_code, str(frame.session), student_id)
    return str(uuid.uuid5(uuid.NAMESPACE_OID, "\x1f".join(words)))


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _csv(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows(rows)
    return stream.getvalue()
