"""Marks as OneRoster CSV (1EdTech), 1.1 or 1.2: lineItems.csv, results.csv and manifest.csv in one zip."""

import csv
import io
import uuid
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from msgspec import Struct

from sheetgen.errors import UsageError
from sheetgen.marking.marks import MarkRow
from sheetgen.texts.csv_cells import harmless
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import DEFAULT_LANGUAGE

VERSIONS = ("1.1", "1.2")

SCORE_STATUSES = ("fully graded", "partially graded", "submitted", "not submitted", "exempt")

_LINE_ITEM = (
    "sourcedId", "status", "dateLastModified", "title", "description", "assignDate", "dueDate",
    "classSourcedId", "categorySourcedId", "gradingPeriodSourcedId", "resultValueMin", "resultValueMax",
)  # fmt: skip
_RESULT = (
    "sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId", "scoreStatus",
    "score", "scoreDate", "comment",
)  # fmt: skip
_FILES = (
    "academicSessions", "categories", "classes", "classResources", "courses", "courseResources",
    "demographics", "enrollments", "lineItems", "orgs", "resources", "results", "users",
)  # fmt: skip
# Columns and files that 1.2 adds: from memory of the standard.
_ADDED_TO_LINE_ITEM = ("schoolSourcedId",)
_ADDED_TO_RESULT = ("textScore", "classSourcedId", "inProgress", "incomplete", "late", "missing")
_ADDED_FILES = (
    "lineItemLearningObjectiveIds", "lineItemScoreScales", "resultLearningObjectiveIds",
    "resultScoreScales", "roles", "scoreScales", "userProfiles", "userResources",
)  # fmt: skip


class ResultsFrame(Struct, frozen=True):
    """What the results belong to. class_code, session : the sourcedIds are derived from these and the
    student_id. title : of the class. day : of the assignment and of the scores. class_id, category_id,
    period_id : sourcedIds of the school's system; empty class_id: the class code. version : one of VERSIONS.
    partial : scores of which a part is still to be marked go out too. language : of comments."""

    class_code: str
    session: int
    title: str
    day: date
    class_id: str = ""
    category_id: str = ""
    period_id: str = ""
    version: str = "1.1"
    partial: bool = False
    language: str = DEFAULT_LANGUAGE


def score_status(mark: MarkRow, partial: bool) -> str:
    """Return the scoreStatus of a mark, one of SCORE_STATUSES. Work that was ever scored was submitted, also
    where its score waits or was taken away.

    >>> score_status(MarkRow("S01", "", "", None, 20.0, "missing", "2027-03-31"), False)
    'submitted'
    """
    if mark.status == "missing":
        return "submitted" if mark.scored_on else "not submitted"
    if mark.status in ("to be marked", "unusable"):
        return "partially graded" if partial and mark.status == "to be marked" else "submitted"
    return "exempt" if mark.status == "exempt" else "fully graded"


def oneroster_zip(marks: Sequence[MarkRow], frame: ResultsFrame) -> bytes:
    """Return the zip: the same marks and the same frame give the same bytes.

    Whose work never came is `not submitted`, who is exempt `exempt`; a score that waits for a person or was
    taken away is `submitted`, and so is what cannot be used, with the reason as the comment: all without a
    score. The student_id goes out as studentSourcedId, exactly as the roster has it. UsageError where the
    version is not one of VERSIONS, or the marks are not all out of the same score."""
    if frame.version not in VERSIONS:
        found = f"version {frame.version!r}"
        raise UsageError("OneRoster", found, " or ".join(VERSIONS), "Choose one of these.")
    newer = frame.version == VERSIONS[-1]
    files = {f"file.{name}": "absent" for name in (*_FILES, *(_ADDED_FILES if newer else ()))}
    manifest = {"manifest.version": "1.0", "oneroster.version": frame.version, **files}
    manifest |= {"file.lineItems": "bulk", "file.results": "bulk"}
    manifest |= {"source.systemName": "sheetgen", "source.systemCode": "sheetgen"}
    properties = [{"propertyName": name, "value": value} for name, value in manifest.items()]
    of_line_item = (*_LINE_ITEM, *(_ADDED_TO_LINE_ITEM if newer else ()))
    of_result = (*_RESULT, *(_ADDED_TO_RESULT if newer else ()))
    parts = {
        "manifest.csv": _csv(("propertyName", "value"), properties),
        "lineItems.csv": _csv(of_line_item, [_line_item(marks, frame)]),
        "results.csv": _csv(of_result, (_result(mark, frame) for mark in marks)),
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as package:
        for name, text in parts.items():
            # Its time is a constant, so that equal marks give equal bytes.
            package.writestr(zipfile.ZipInfo(name), text.encode("utf-8"), zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def _line_item(marks: Sequence[MarkRow], frame: ResultsFrame) -> dict[str, str]:
    most = sorted({mark.max_score for mark in marks if mark.max_score is not None})
    if len(most) != 1:
        found = "no highest score" if not most else f"{len(most)} different highest scores"
        remedy = "Run `sheetgen read` again; it makes the marks anew."
        raise UsageError("marks", found, "marks that are all out of the same", remedy)
    return {
        "sourcedId": _sourced_id(frame),
        "title": harmless(f"{frame.title or frame.class_code}, session {frame.session}"),
        "description": "Skinfold measurement: method and arithmetic",
        "assignDate": frame.day.isoformat(), "dueDate": frame.day.isoformat(),
        "classSourcedId": frame.class_id or frame.class_code, "categorySourcedId": frame.category_id,
        "gradingPeriodSourcedId": frame.period_id,
        "resultValueMin": "0", "resultValueMax": f"{most[0]:.10g}",
    }  # fmt: skip


def _result(mark: MarkRow, frame: ResultsFrame) -> dict[str, str]:
    status = score_status(mark, frame.partial)
    reason = load_catalogue(frame.language).get(mark.unusable_because)
    scored = status in ("fully graded", "partially graded") and mark.score is not None
    return {
        "sourcedId": _sourced_id(frame, mark.student_id), "lineItemSourcedId": _sourced_id(frame),
        "studentSourcedId": mark.student_id, "scoreStatus": status,
        "score": f"{mark.score:.10g}" if scored else "", "scoreDate": frame.day.isoformat(),
        "comment": reason.means if reason else "", "classSourcedId": frame.class_id or frame.class_code,
        "missing": "true" if status == "not submitted" else "false",
    }  # fmt: skip


def _sourced_id(frame: ResultsFrame, student_id: str = "") -> str:
    """The same every time, safe in every system, and nothing of the student can be read from it."""
    words = ("sheetgen", frame.class_code, str(frame.session), student_id)
    return str(uuid.uuid5(uuid.NAMESPACE_OID, "\x1f".join(words)))


def _csv(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> str:
    """A table; what a row does not say is empty, as status and dateLastModified are in a bulk file."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, columns, extrasaction="ignore", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()
