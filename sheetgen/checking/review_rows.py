"""What a review workbook shows: one row a sheet, an answer, a correction and a file that needs a look."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence

from sheetgen.checking.catalogue import worded
from sheetgen.checking.corrections import number_in, with_answer_marks
from sheetgen.checking.late import LATE_CODES, is_late
from sheetgen.checking.marking_words import about_title, reason_text
from sheetgen.checking.review import Key, current
from sheetgen.layout.review import CORRECTION_ROWS, FILE_WORDS, ReviewContents, ReviewRow
from sheetgen.layout.vocabulary import entry_names
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.decision import Decision
from sheetgen.model.finding import Finding, Shown, Values, listed, term, typed
from sheetgen.model.layout import Value
from sheetgen.model.marking import Marking, Reason, ToBeMarked
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Person

__all__ = ["file_id", "review_contents", "review_findings"]

_LONGEST_TEXT = 4_000
_ABOUT_ANOTHER = ("identity-copy-twice", "identity-newer-counts")

Texts = Mapping[str, str]
Latest = Mapping[Key, Decision]


def file_id(attempt: Attempt) -> str:
    """Return what a file is known by in decisions: the start of its digest, or its name."""
    return attempt.sha256[:16] or attempt.file


def review_contents(
    texts: Texts,
    class_code: str,
    session: int,
    records: Sequence[CopyRecord],
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    decisions: Sequence[Decision],
    unplaced: Sequence[Mapping[str, str]] = (),
    people: Sequence[Person] = (),
) -> ReviewContents:
    """Return what is drawn; whatever was decided stands in it, also about a file that is not there any more.

    Parameters
    ----------
    texts : those of the review workbook and of marks.
    records : sheets handed out in this session, none of the teacher's own.
    markings : copy code to the marks of the file that counts, without points given by a person.
    decisions : the whole journal. unplaced : lines of the tab Corrections that are not complete.
    """
    latest = current(one for one in decisions if one.session == session)
    by_code = _counting(attempts)
    sheets = {record.copy_code: record.student_id for record in records}
    for code, attempt in by_code.items():
        if attempt.record is not None and (code in markings or not records):
            sheets.setdefault(code, attempt.record.student_id)
    for (subject, kind, _), one in latest.items():
        if kind in ("mark", "comment", "answer-mark") and one.value:
            sheets.setdefault(subject, "")
    of_code: dict[str, dict[Key, Decision]] = {}
    for about, one in latest.items():
        of_code.setdefault(about[0], {})[about] = one
    names = {person.student_id: f"{person.given_name} {person.family_name}".strip() for person in people}
    ordered = sorted(sheets, key=lambda code: (sheets[code], code))
    rows = {
        "review": [
            _sheet_row(
                texts, code, sheets[code], names, by_code.get(code), markings.get(code), of_code.get(code, {})
            )
            for code in ordered
        ],
        "answers": _answer_rows(texts, ordered, sheets, by_code, markings, of_code),
        "corrections": _correction_rows(texts, by_code, latest, unplaced),
        "files": _file_rows(texts, attempts, latest),
    }
    drawn = max((one.sequence for one in decisions), default=0)
    return ReviewContents(class_code, session, drawn, rows)


def review_findings(contents: ReviewContents, texts: Texts) -> tuple[Finding, ...]:
    """Return what has to be said of decisions: values that cannot be used, and grounds that have changed."""
    findings = []
    for key, rows in contents.rows.items():
        for row in rows:
            about = " ".join(
                plain
                for column in ("copy_code", "cell_name", "file_id")
                if (plain := str(row.values.get(column) or ""))
            )
            title = texts[f"review_tab.{key}"]
            if row.values.get("check") == texts["review.changed"]:
                findings.append(Finding("class-review-ground-changed", {"about": about}, title))
            if key == "review" and row.values.get("maximum") is None and _decided(row):
                findings.append(Finding("class-review-value", {"about": about}, title, case="no-file"))
            for column, value in _unusable(row):
                values: Values = {"about": about, "value": typed(value, 40), "wanted": _wanted(row, column)}
                findings.append(Finding("class-review-value", values, title, case=column))
    return tuple(findings)


def _decided(row: ReviewRow) -> bool:
    return any(str(row.values.get(column) or "") for column in ("mark", "comment"))


def _unusable(row: ReviewRow) -> Iterable[tuple[str, str]]:
    for column in ("mark", "points"):
        value = row.values.get(column)
        number = value if not isinstance(value, str) else None
        possible = row.values.get("possible" if column == "points" else "maximum")
        # Where nothing on a sheet could be marked its maximum is 0, and whatever is given holds.
        highest = float(possible) if isinstance(possible, float | int) and possible else float("inf")
        if value not in (None, "") and (number is None or not 0 <= number <= highest):
            yield column, str(value)
    accept = row.values.get("accept")
    if accept and accept not in FILE_WORDS:
        yield "accept", str(accept)


def _wanted(row: ReviewRow, column: str) -> Shown:
    if column == "accept":
        return listed(FILE_WORDS, "or")
    possible = row.values.get("possible" if column == "points" else "maximum")
    if isinstance(possible, float | int) and possible:
        return term("number-between", low=0, high=possible)
    return term("number-from-0")


def _counting(attempts: Sequence[Attempt]) -> dict[str, Attempt]:
    """Copy code to the file that counts; where none does yet, to the first that may."""
    order = ("accepted", "review", "refused", "superseded")
    found: dict[str, Attempt] = {}
    for attempt in sorted(attempts, key=lambda one: (order.index(one.status), one.file, one.sha256)):
        if attempt.record is not None:
            found.setdefault(attempt.record.copy_code, attempt)
    return found


def _sheet_row(
    texts: Texts,
    code: str,
    student_id: str,
    names: Mapping[str, str],
    attempt: Attempt | None,
    marking: Marking | None,
    own: Latest,
) -> ReviewRow:
    digest = file_id(attempt) if attempt is not None else ""
    reasons: list[Reason] = [] if marking is None else [one for item in marking.items for one in item.reasons]
    told = [f"{one.code} {one.about} {one.count} {[fit.word for fit in one.slips]}" for one in reasons]
    score, maximum = (marking.score, marking.maximum) if marking is not None else (None, None)
    ground = _digest(digest, score, maximum, *told)
    mark, comment = own.get((code, "mark", "")), own.get((code, "comment", ""))
    shown = None if marking is None else with_answer_marks(marking, own.values(), code)
    values: dict[str, Value] = {
        "student_id": student_id,
        "name": names.get(student_id, ""),
        "copy_code": code,
        "status": _status(texts, attempt, shown),
        "score": None if shown is None else shown.score,
        "maximum": maximum,
        "reasons": _reasons(texts, attempt, shown),
        "mark": _number(mark),
        "comment": "" if comment is None else comment.value,
        "check": _check(texts, ground, mark, comment),
    }
    return ReviewRow(values, ground, _digest(digest))


def _status(texts: Texts, attempt: Attempt | None, marking: Marking | None) -> str:
    if attempt is None:
        return texts["review.missing"]
    return "; ".join(
        _status_word(texts, word)
        for word in ("" if marking is None else marking.status, attempt.status)
        if word and word != "accepted"
    )


def _status_word(texts: Texts, status: str) -> str:
    return texts[f"review_status.{status.replace(' ', '-')}"]


def _reasons(texts: Texts, attempt: Attempt | None, marking: Marking | None) -> str:
    if marking is None or attempt is None:
        return ""
    lines, full = [], []
    for item in marking.items:
        points = f"{item.title} {item.score:g}/{item.maximum:g}"
        if item.score == item.maximum and not item.exempt:
            full.append(points)
            continue
        told = "; ".join(_reason(texts, reason, attempt) for reason in item.reasons)
        lines.append(f"{points}: {told}".removesuffix(": "))
    if full:
        lines.append(f"{texts['review.full']}: {', '.join(full)}")
    return "\n".join(lines)[:_LONGEST_TEXT]


def _reason(texts: Texts, reason: Reason, attempt: Attempt) -> str:
    protocol = _protocol(attempt)
    return reason.code if protocol is None else reason_text(reason, protocol, texts)


def _protocol(attempt: Attempt | None) -> Protocol | None:
    return None if attempt is None or attempt.built_with is None else attempt.built_with.protocol


def _answer_rows(
    texts: Texts,
    ordered: Sequence[str],
    sheets: Mapping[str, str],
    by_code: Mapping[str, Attempt],
    markings: Mapping[str, Marking],
    of_code: Mapping[str, Latest],
) -> list[ReviewRow]:
    """The answers that wait first; then those with points, also where the file is not there now."""
    rows: list[ReviewRow] = []
    for code in ordered:
        marking = markings.get(code)
        waiting = () if marking is None else marking.to_be_marked
        own = of_code.get(code, {})
        given = [one for one in own.values() if one.kind == "answer-mark" and one.value]
        asked = {one.about: one for one in waiting}
        for about in (*asked, *(one.name for one in given if one.name not in asked)):
            decision = own.get((code, "answer-mark", about))
            rows.append(
                _answer_row(texts, code, sheets[code], by_code.get(code), about, asked.get(about), decision)
            )
    return sorted(rows, key=lambda row: row.values["points"] is not None)


def _answer_row(
    texts: Texts,
    code: str,
    student_id: str,
    attempt: Attempt | None,
    about: str,
    asked: ToBeMarked | None,
    decision: Decision | None,
) -> ReviewRow:
    ground = _digest(about, *(() if asked is None else (asked.text, asked.points)))
    protocol = _protocol(attempt)
    title = about.removeprefix("answer_").removeprefix("own_")
    values: dict[str, Value] = {
        "student_id": student_id,
        "copy_code": code,
        "question": title if protocol is None else about_title(title, protocol, texts),
        "cell_name": about,
        "typed": texts["review.no_file"] if asked is None else asked.text[:_LONGEST_TEXT],
        "possible": None if asked is None else asked.points,
        "points": _number(decision),
        "check": _check(texts, ground, decision),
    }
    return ReviewRow(values, ground)


def _correction_rows(
    texts: Texts, by_code: Mapping[str, Attempt], latest: Latest, unplaced: Sequence[Mapping[str, str]]
) -> list[ReviewRow]:
    rows = []
    for (code, kind, name), one in latest.items():
        if kind != "correction" or not one.value:
            continue
        attempt = by_code.get(code)
        protocol = _protocol(attempt)
        ground = _digest("" if attempt is None else file_id(attempt))
        check = _check(texts, ground, one)
        if attempt is None:
            check = texts["review.unknown_copy"]
        elif protocol is not None and name not in entry_names(protocol):
            check = texts["review.unknown_cell"]
        values = {
            "copy_code": code,
            "cell_name": name,
            "value": one.value,
            "reason": one.reason,
            "check": check,
        }
        rows.append(ReviewRow(values, ground))
    room = CORRECTION_ROWS * 10
    return [*rows, *(ReviewRow({**one, "check": texts["review.incomplete"]}) for one in unplaced[:room])]


def _file_rows(texts: Texts, attempts: Sequence[Attempt], latest: Latest) -> list[ReviewRow]:
    answered = {name: one for (_, kind, name), one in latest.items() if kind == "which-file" and one.value}
    rows = []
    seen = set()
    for attempt in sorted(attempts, key=lambda one: (one.file, one.sha256)):
        identifier = file_id(attempt)
        decision = answered.get(identifier)
        # One gave way to another that came in time, or is newer: the teacher may still say yes to it.
        waits = attempt.status in ("review", "refused") or (
            attempt.status == "superseded" and (is_late(attempt) or _gave_way(attempt))
        )
        if identifier in seen or (not waits and decision is None):
            continue
        seen.add(identifier)
        told = [
            f"{one.code}: {worded(one, texts).found}"
            for one in attempt.findings
            if one.severity != "note" or one.code in (*LATE_CODES, *_ABOUT_ANOTHER)
        ]
        # What is said of another file is no ground: once one was chosen it is not said any more.
        codes = [one.code for one in attempt.findings if one.code not in _ABOUT_ANOTHER]
        ground = _digest(identifier, *codes)
        values: dict[str, Value] = {
            "file": attempt.file,
            "copy_code": "" if attempt.record is None else attempt.record.copy_code,
            "file_id": identifier,
            "status": _status_word(texts, attempt.status),
            "findings": "\n".join(told)[:_LONGEST_TEXT],
            "accept": None if decision is None else decision.value,
            "check": _check(texts, ground, decision),
        }
        rows.append(ReviewRow(values, ground))
    for name, one in answered.items():
        if name not in seen:
            gone = {"file": texts["review.no_file"], "file_id": name, "accept": one.value}
            rows.append(ReviewRow(gone, one.ground))
    return rows


def _gave_way(attempt: Attempt) -> bool:
    return any(finding.code in _ABOUT_ANOTHER for finding in attempt.findings)


def _check(texts: Texts, ground: str, *decisions: Decision | None) -> str:
    """What stands under Look at: a decision without a ground was made where nothing could be seen."""
    grounds = {one.ground for one in decisions if one is not None and one.value}
    return texts["review.changed"] if grounds - {ground, ""} else ""


def _number(decision: Decision | None) -> Value:
    """A mark as a number; what is none stays as it was typed."""
    if decision is None or not decision.value:
        return None
    number = number_in(decision.value)
    return decision.value if number is None else number


def _digest(*parts: object) -> str:
    text = "\x1f".join(str(part) for part in parts)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:12]
