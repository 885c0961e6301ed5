"""What a review workbook shows: one row a sheet, an answer, a correction and a file that needs a look."""

import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.class_folder.decisions import FILE_WORDS, Decision, Key, current
from sheetgen.class_folder.records import CopyRecord, Person
from sheetgen.finding import Finding, Shown, Values, listed, term, typed
from sheetgen.marking.marking import about_title, reason_text
from sheetgen.marking.marks import with_answer_marks
from sheetgen.marking.scheme import Marking
from sheetgen.protocols.names import entry_names
from sheetgen.protocols.protocol import Protocol
from sheetgen.returned.attempt import LATE_CODES, Attempt, file_id, is_late
from sheetgen.returned.corrections import number_in
from sheetgen.review.drawing import CORRECTION_ROWS, ReviewContents, ReviewRow
from sheetgen.texts.findings import worded
from sheetgen.workbook.layout import Value

_LONGEST_TEXT = 4_000
_ABOUT_ANOTHER = ("identity-copy-twice", "identity-newer-counts")

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Reviewed:
    """What came back in a session, for a person to look at.

    records : sheets handed out in this session, none of the teacher's own.
    markings : copy code to the marks of the file that counts, without points given by a person.
    people : for their names.
    """

    session: int
    records: Sequence[CopyRecord]
    attempts: Sequence[Attempt]
    markings: Mapping[str, Marking]
    people: Sequence[Person] = ()


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet: whose, the file that counts, its marks, and what was decided about it.

    attempt : where none counts yet, the first that may.
    """

    copy_code: str
    student_id: str
    attempt: Attempt | None
    marking: Marking | None
    decided: Mapping[Key, Decision]

    @property
    def protocol(self) -> Protocol | None:
        built_with = None if self.attempt is None else self.attempt.built_with
        return None if built_with is None else built_with.protocol

    def decision(self, kind: str, name: str = "") -> Decision | None:
        return self.decided.get((self.copy_code, kind, name))


def review_contents(
    texts: Texts,
    reviewed: Reviewed,
    class_code: str,
    decisions: Sequence[Decision],
    unplaced: Sequence[Mapping[str, str]] = (),
) -> ReviewContents:
    """Return what is drawn; whatever was decided stands in it, also about a file that is not there any more.

    texts : those of the review workbook and of marks.
    decisions : the whole journal. unplaced : lines of the tab Corrections that are not complete.
    """
    latest = current(decision for decision in decisions if decision.session == reviewed.session)
    by_code = _counting(reviewed.attempts)
    sheets = _sheets(reviewed, by_code, latest)
    names = {who.student_id: f"{who.given_name} {who.family_name}".strip() for who in reviewed.people}
    incomplete = texts["review.incomplete"]
    answers = [row for sheet in sheets for row in _answer_rows(texts, sheet)]
    rows = {
        "review": [_sheet_row(texts, sheet, names.get(sheet.student_id, "")) for sheet in sheets],
        # Those that wait first.
        "answers": sorted(answers, key=lambda row: row.values["points"] is not None),
        "corrections": [
            *_correction_rows(texts, by_code, latest),
            *(ReviewRow({**line, "check": incomplete}) for line in unplaced[: CORRECTION_ROWS * 10]),
        ],
        "files": list(_file_rows(texts, reviewed.attempts, latest)),
    }
    drawn = max((decision.sequence for decision in decisions), default=0)
    return ReviewContents(class_code, reviewed.session, drawn, rows)


def review_findings(contents: ReviewContents, texts: Texts) -> tuple[Finding, ...]:
    """Return what has to be said of decisions: values that cannot be used, and grounds that have changed."""
    findings = []
    for key, rows in contents.rows.items():
        title = texts[f"review_tab.{key}"]
        for row in rows:
            values = row.values
            subject = (values.get(column) for column in ("copy_code", "cell_name", "file_id"))
            about = " ".join(str(value) for value in subject if value)
            if values.get("check") == texts["review.changed"]:
                findings.append(Finding("class-review-ground-changed", {"about": about}, title))
            if key == "review" and values["maximum"] is None and (values["mark"] or values["comment"]):
                findings.append(Finding("class-review-value", {"about": about}, title, case="no-file"))
            for column, value, wanted in _unusable(values):
                shown: Values = {"about": about, "value": typed(value, 40), "wanted": wanted}
                findings.append(Finding("class-review-value", shown, title, case=column))
    return tuple(findings)


def _unusable(values: Mapping[str, Value]) -> Iterator[tuple[str, str, Shown]]:
    """What stands in the entries of a row and cannot be used, and what could stand there."""
    for column, limit in (("mark", "maximum"), ("points", "possible")):
        value, possible = values.get(column), values.get(limit)
        # Where nothing on a sheet could be marked its maximum is 0, and whatever is given holds.
        highest = float(possible) if isinstance(possible, float | int) and possible else float("inf")
        if value in (None, "") or (isinstance(value, float | int) and 0 <= value <= highest):
            continue
        bounded = term("number-between", low=0, high=highest)
        yield column, str(value), bounded if highest < float("inf") else term("number-from-0")
    accept = values.get("accept")
    if accept and accept not in FILE_WORDS:
        yield "accept", str(accept), listed(FILE_WORDS, "or")


def _counting(attempts: Sequence[Attempt]) -> dict[str, Attempt]:
    """Copy code to the file that counts; where none does yet, to the first that may."""
    order = ("accepted", "review", "refused", "superseded")
    found: dict[str, Attempt] = {}
    for attempt in sorted(attempts, key=lambda file: (order.index(file.status), file.file, file.sha256)):
        if attempt.record is not None:
            found.setdefault(attempt.record.copy_code, attempt)
    return found


def _sheets(
    reviewed: Reviewed, by_code: Mapping[str, Attempt], latest: Mapping[Key, Decision]
) -> list[_Sheet]:
    """The sheets handed out, marked, or decided about, by student."""
    owners = {record.copy_code: record.student_id for record in reviewed.records}
    for code, attempt in by_code.items():
        if attempt.record is not None and (code in reviewed.markings or not reviewed.records):
            owners.setdefault(code, attempt.record.student_id)
    of_code: dict[str, dict[Key, Decision]] = defaultdict(dict)
    for about, decision in latest.items():
        subject, kind, _ = about
        of_code[subject][about] = decision
        if kind in ("mark", "comment", "answer-mark") and decision.value:
            owners.setdefault(subject, "")
    return [
        _Sheet(code, owner, by_code.get(code), reviewed.markings.get(code), of_code.get(code, {}))
        for code, owner in sorted(owners.items(), key=lambda pair: pair[::-1])
    ]


def _sheet_row(texts: Texts, sheet: _Sheet, name: str) -> ReviewRow:
    marking = sheet.marking
    digest = "" if sheet.attempt is None else file_id(sheet.attempt)
    seen: list[object] = [digest, None, None]
    if marking is not None:
        reasons = [reason for item in marking.items for reason in item.reasons]
        seen = [digest, marking.score, marking.maximum]
        seen += [f"{why.code} {why.about} {why.count} {[fit.word for fit in why.slips]}" for why in reasons]
        marking = with_answer_marks(marking, sheet.decided.values(), sheet.copy_code)
    ground = _digest(*seen)
    mark, comment = sheet.decision("mark"), sheet.decision("comment")
    values: dict[str, Value] = {
        "student_id": sheet.student_id,
        "name": name,
        "copy_code": sheet.copy_code,
        "status": _status(texts, sheet, marking),
        "score": None if marking is None else marking.score,
        "maximum": None if marking is None else marking.maximum,
        "reasons": _reasons(texts, sheet, marking),
        "mark": _number(mark),
        "comment": comment.value if comment else "",
        "check": _check(texts, ground, mark, comment),
    }
    return ReviewRow(values, ground, _digest(digest))


def _status(texts: Texts, sheet: _Sheet, marking: Marking | None) -> str:
    if sheet.attempt is None:
        return texts["review.missing"]
    words = ("" if marking is None else marking.status, sheet.attempt.status)
    return "; ".join(_status_word(texts, word) for word in words if word and word != "accepted")


def _status_word(texts: Texts, status: str) -> str:
    return texts[f"review_status.{status.replace(' ', '-')}"]


def _reasons(texts: Texts, sheet: _Sheet, marking: Marking | None) -> str:
    """A line an item that lost points; those with all of them together on the last."""
    if marking is None or sheet.attempt is None:
        return ""
    protocol, lines, full = sheet.protocol, [], []
    for item in marking.items:
        points = f"{item.title} {item.score:g}/{item.maximum:g}"
        if item.score == item.maximum and not item.exempt:
            full.append(points)
            continue
        reasons = [reason_text(why, protocol, texts) if protocol else why.code for why in item.reasons]
        lines.append(f"{points}: {'; '.join(reasons)}".removesuffix(": "))
    if full:
        lines.append(f"{texts['review.full']}: {', '.join(full)}")
    return "\n".join(lines)[:_LONGEST_TEXT]


def _answer_rows(texts: Texts, sheet: _Sheet) -> Iterator[ReviewRow]:
    """The answers that wait, and those with points of which the file is not there now."""
    asked = {} if sheet.marking is None else {answer.about: answer for answer in sheet.marking.to_be_marked}
    decided = sheet.decided.values()
    given = [decision.name for decision in decided if decision.kind == "answer-mark" and decision.value]
    for about in dict.fromkeys((*asked, *given)):
        answer, points = asked.get(about), sheet.decision("answer-mark", about)
        ground = _digest(about, *(() if answer is None else (answer.text, answer.points)))
        title = about.removeprefix("answer_").removeprefix("own_")
        values: dict[str, Value] = {
            "student_id": sheet.student_id,
            "copy_code": sheet.copy_code,
            "question": title if sheet.protocol is None else about_title(title, sheet.protocol, texts),
            "cell_name": about,
            "typed": texts["review.no_file"] if answer is None else answer.text[:_LONGEST_TEXT],
            "possible": None if answer is None else answer.points,
            "points": _number(points),
            "check": _check(texts, ground, points),
        }
        yield ReviewRow(values, ground)


def _correction_rows(
    texts: Texts, by_code: Mapping[str, Attempt], latest: Mapping[Key, Decision]
) -> Iterator[ReviewRow]:
    for (code, kind, name), decision in latest.items():
        if kind != "correction" or not decision.value:
            continue
        attempt = by_code.get(code)
        built_with = None if attempt is None else attempt.built_with
        ground = _digest("" if attempt is None else file_id(attempt))
        check = _check(texts, ground, decision)
        if attempt is None:
            check = texts["review.unknown_copy"]
        elif built_with is not None and name not in entry_names(built_with.protocol):
            check = texts["review.unknown_cell"]
        values = {"copy_code": code, "cell_name": name, "value": decision.value, "reason": decision.reason}
        yield ReviewRow({**values, "check": check}, ground)


def _file_rows(
    texts: Texts, attempts: Sequence[Attempt], latest: Mapping[Key, Decision]
) -> Iterator[ReviewRow]:
    decided = [decision for decision in latest.values() if decision.kind == "which-file" and decision.value]
    answered = {decision.name: decision for decision in decided}
    seen = set()
    for attempt in sorted(attempts, key=lambda file: (file.file, file.sha256)):
        identifier = file_id(attempt)
        decision = answered.get(identifier)
        if identifier in seen or (not _waits(attempt) and decision is None):
            continue
        seen.add(identifier)
        worth_saying = [
            f"{finding.code}: {worded(finding, texts).found}"
            for finding in attempt.findings
            if finding.severity != "note" or finding.code in (*LATE_CODES, *_ABOUT_ANOTHER)
        ]
        # What is said of another file is no ground: once one was chosen it is not said any more.
        codes = [finding.code for finding in attempt.findings if finding.code not in _ABOUT_ANOTHER]
        ground = _digest(identifier, *codes)
        values: dict[str, Value] = {
            "file": attempt.file,
            "copy_code": "" if attempt.record is None else attempt.record.copy_code,
            "file_id": identifier,
            "status": _status_word(texts, attempt.status),
            "findings": "\n".join(worth_saying)[:_LONGEST_TEXT],
            "accept": None if decision is None else decision.value,
            "check": _check(texts, ground, decision),
        }
        yield ReviewRow(values, ground)
    for name, decision in answered.items():
        if name not in seen:
            gone = {"file": texts["review.no_file"], "file_id": name, "accept": decision.value}
            yield ReviewRow(gone, decision.ground)


def _waits(attempt: Attempt) -> bool:
    """Whether the teacher may say yes to a file, also to one that gave way to another in time, or newer."""
    gave_way = is_late(attempt) or any(finding.code in _ABOUT_ANOTHER for finding in attempt.findings)
    return attempt.status in ("review", "refused") or (attempt.status == "superseded" and gave_way)


def _check(texts: Texts, ground: str, *decisions: Decision | None) -> str:
    """What stands under Look at: a decision without a ground was made where nothing could be seen."""
    grounds = {decision.ground for decision in decisions if decision is not None and decision.value}
    return texts["review.changed"] if grounds - {ground, ""} else ""


def _number(decision: Decision | None) -> Value:
    """A mark as a number; what is none stays as it was typed."""
    text = decision.value if decision else ""
    number = number_in(text) if text else None
    return text or None if number is None else number


def _digest(*parts: object) -> str:
    text = "\x1f".join(str(part) for part in parts)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:12]
