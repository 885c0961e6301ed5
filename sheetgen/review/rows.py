"""What a review workbook shows: one row a sheet, an answer, a correction and a file that needs a look."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.lesson import takes_turns
from sheetgen.class_folder.decisions import (
    CONFIRM_WORDS,
    FILE_WORDS,
    OBSERVED_STEPS,
    Decision,
    Key,
    current,
    ground_of,
    is_day,
)
from sheetgen.class_folder.records import CopyRecord, Person
from sheetgen.class_folder.scores import WHOLE, Score
from sheetgen.finding import Finding, Shown, Values, listed, term, typed
from sheetgen.marking.marking import about_title, reason_text
from sheetgen.marking.marks import decided_value, given_for, grounds_of, with_answer_marks
from sheetgen.marking.scheme import Marking, ToBeMarked
from sheetgen.protocols.names import entry_names, own_decimals
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import number_of, repeat_difference
from sheetgen.returned.attempt import LATE_CODES, STATUSES, Attempt, file_id, is_late
from sheetgen.returned.corrections import number_in
from sheetgen.review.drawing import CORRECTION_ROWS, ReviewContents, ReviewRow
from sheetgen.texts.findings import worded
from sheetgen.texts.languages import Texts, shown_number
from sheetgen.workbook.addresses import column_letters
from sheetgen.workbook.layout import Layout, Value

_LONGEST_TEXT = 4_000
_ABOUT_SHEETS = ("mark", "comment", "answer-mark")
"""Kinds of decisions that keep a sheet in the review, also when its files are gone."""
_ABOUT_ANOTHER = ("identity-copy-twice", "identity-newer-counts")


class Reviewed(Struct, frozen=True):
    """What came back in a session, for a person to look at.
    records : sheets handed out in this session, none of the teacher's own. markings : copy code to the marks
    of the file that counts, without points given by a person. people : for their names. scores : of the
    session, also of sheets whose files are gone. unusable_of : students of whom a file came that is no sheet,
    or that of another session. entries : every entry of these sheets as `entries_listed` gives them."""

    session: int
    records: Sequence[CopyRecord]
    attempts: Sequence[Attempt]
    markings: Mapping[str, Marking]
    people: Sequence[Person] = ()
    scores: Sequence[Score] = ()
    unusable_of: Collection[str] = ()
    entries: Sequence[str] = ()


class _Sheet(Struct, frozen=True):
    """One sheet: whose, the file that counts, its marks, and what was decided about it. attempt : where none
    counts yet, the first that may. unusable : something else came in its place."""

    copy_code: str
    student_id: str
    attempt: Attempt | None
    marking: Marking | None
    decided: Mapping[Key, Decision]
    unusable: bool = False

    @property
    def protocol(self) -> Protocol | None:
        return self.attempt.built_with.protocol if self.attempt and self.attempt.built_with else None

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
    texts : of review workbook and marks. decisions : the whole journal. unplaced : incomplete corrections."""
    latest = current(decision for decision in decisions if decision.session == reviewed.session)
    by_code = _counting(reviewed.attempts)
    sheets = _sheets(reviewed, by_code, latest)
    names = {who.student_id: who.full_name for who in reviewed.people}
    scores = {score.sheet: score for score in reviewed.scores if score.item == WHOLE and score.sheet}
    withdrawn = (key[0] for key, one in latest.items() if key[1] == "withdrawn" and one.value)
    scored = dict.fromkeys((*scores, *withdrawn))
    answers = [row for sheet in sheets for row in _answer_rows(texts, sheet)]
    incomplete = [{**line, "check": texts["review.incomplete"]} for line in unplaced]
    corrections = [*_correction_rows(texts, by_code, latest, reviewed.entries)]
    corrections += map(ReviewRow, incomplete[: CORRECTION_ROWS * 10])
    # Question by question; of each those that wait first.
    answers.sort(key=lambda row: (str(row.values["cell_name"]), row.values["points"] is not None))
    rows = {
        "review": [_sheet_row(texts, sheet, names, scores.get(sheet.copy_code)) for sheet in sheets],
        "answers": answers,
        "corrections": corrections,
        "files": list(_file_rows(texts, reviewed.attempts, latest)),
        "observed": list(_observed_rows(texts, reviewed, decisions, latest)),
        "marks": [_mark_row(texts, code, scores.get(code), names, latest) for code in scored],
    }
    drawn = max((decision.sequence for decision in decisions), default=0)
    return ReviewContents(class_code, reviewed.session, drawn, rows, reviewed.entries)


def entries_listed(layouts: Iterable[Layout]) -> tuple[str, ...]:
    """Return every entry of some sheets: place, words and name, as the tab Corrections lists them."""
    cells = ((tab, cell) for layout in layouts for tab in layout.tabs for cell in tab.cells)
    entries = (
        f"{tab.title} {column_letters(cell.column)}{cell.row + 1}: {cell.rule.title} ({cell.name})"
        for tab, cell in cells
        if cell.role == "entry" and cell.rule is not None
    )
    return tuple(dict.fromkeys(entries))


def review_findings(contents: ReviewContents, texts: Texts) -> tuple[Finding, ...]:
    """Return what has to be said of decisions: values that cannot be used, and grounds that have changed."""
    findings = []
    for key, row in ((key, row) for key, rows in contents.rows.items() for row in rows):
        values, title, check = row.values, texts[f"review_tab.{key}"], str(row.values.get("check"))
        named = ("student_id",) if key == "observed" else ("copy_code", "cell_name", "file_id")
        subject = (values.get(column) for column in named)
        about = " ".join(str(value) for value in subject if value)
        for word, case in (("changed", ""), ("other_answer", "answer")):
            if check == texts[f"review.{word}"]:
                findings.append(Finding("class-review-ground-changed", {"about": about}, title, case=case))
        unused = check == texts["review.unused"] or values.get("maximum", 0) is None
        if key == "review" and unused and (values["mark"] or values["comment"]):
            findings.append(Finding("class-review-value", {"about": about}, title, case="no-file"))
        if key == "files" and check.startswith(texts["review.not_used"].partition("{")[0]):
            # The words are those of a screen; of a correction its own finding says as much.
            refused: Values = {"about": about, "why": check}
            findings.append(Finding("class-review-value", refused, title, case="not-used"))
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
    if not is_day(signed := str(values.get("signed_off") or "")) and signed:
        yield "signed-off", signed, term("day-written")
    for value in (values.get(step) for step in OBSERVED_STEPS):
        if value and value not in CONFIRM_WORDS:
            yield "observed", str(value), listed(CONFIRM_WORDS, "or")
    for column, words in (("accept", FILE_WORDS), ("withdrawn", CONFIRM_WORDS)):
        if values.get(column) and values[column] not in words:
            yield column, str(values[column]), listed(words, "or")


def _counting(attempts: Sequence[Attempt]) -> dict[str, Attempt]:
    """Copy code to the file that counts; where none does yet, to the first that may."""
    ordered = sorted(attempts, key=lambda one: (STATUSES.index(one.status), one.file, one.sha256))
    return {one.record.copy_code: one for one in reversed(ordered) if one.record is not None}


def _sheets(
    reviewed: Reviewed, by_code: Mapping[str, Attempt], latest: Mapping[Key, Decision]
) -> list[_Sheet]:
    """The sheets handed out, marked, or decided about, by student."""
    decided: dict[str, dict[Key, Decision]] = defaultdict(dict)
    for about, decision in latest.items():
        decided[about[0]][about] = decision
    marks = {key[0] for key, one in latest.items() if one.value and key[1] in _ABOUT_SHEETS}
    owners = dict.fromkeys(marks, "")
    for code, attempt in by_code.items():
        if attempt.record is not None and (code in reviewed.markings or not reviewed.records):
            owners[code] = attempt.record.student_id
    owners |= {record.copy_code: record.student_id for record in reviewed.records}
    return [
        _Sheet(code, owner, by_code.get(code), reviewed.markings.get(code), decided[code],
               owner in reviewed.unusable_of)
        for code, owner in sorted(owners.items(), key=lambda pair: pair[::-1])
    ]  # fmt: skip


def _row(texts: Texts, values: Mapping[str, Value], ground: str, *decisions: Decision | None) -> ReviewRow:
    """A row with what stands under Look at: a decision without a ground was made where nothing was seen."""
    grounds = {decision.ground for decision in decisions if decision is not None and decision.value}
    return ReviewRow({"check": texts["review.changed"] if grounds - {ground, ""} else "", **values}, ground)


def _mark_row(
    texts: Texts, code: str, kept: Score | None, names: Mapping[str, str], latest: Mapping[Key, Decision]
) -> ReviewRow:
    score, withdrawn = kept or Score(0, "", WHOLE, None, 0.0, "", ""), latest.get((code, "withdrawn", ""))
    values: dict[str, Value] = {
        "student_id": score.student_id, "name": names.get(score.student_id, ""), "copy_code": code,
        "score": score.points, "maximum": score.out_of, "scored_on": score.scored_on,
        "withdrawn": withdrawn.value if withdrawn else None,
    }  # fmt: skip
    return _row(texts, values, ground_of(score.points, score.out_of), withdrawn)


def _sheet_row(texts: Texts, sheet: _Sheet, names: Mapping[str, str], kept: Score | None) -> ReviewRow:
    """kept : the score of the sheet; where no file is there now it stands in place of the marks."""
    marking, attempt = sheet.marking, sheet.attempt
    digest = file_id(attempt) if attempt else ""
    seen: list[object] = [None, None]
    status, reasons = texts["review.unusable" if sheet.unusable else "review.missing"], ""
    if marking is not None:
        whys = [why for item in marking.items for why in item.reasons]
        seen = [marking.score, marking.maximum]
        seen += [f"{why.code} {why.about} {why.count} {[fit.word for fit in why.slips]}" for why in whys]
        marking = with_answer_marks(marking, sheet.decided.values(), sheet.copy_code)
        reasons = _reasons(texts, marking, sheet.protocol)
    if attempt is not None:
        words = (marking.status if marking else "", attempt.status)
        status = _status(texts, *(word for word in words if word != "accepted"))
    mark, comment = sheet.decision("mark"), sheet.decision("comment")
    values: dict[str, Value] = {
        "student_id": sheet.student_id, "name": names.get(sheet.student_id, ""), "copy_code": sheet.copy_code,
        "status": status, "score": marking.score if marking else kept.points if kept else None,
        "maximum": marking.maximum if marking else kept.out_of if kept else None, "reasons": reasons,
        "mark": _number(mark), "comment": comment.value if comment else "",
    }  # fmt: skip
    row = _row(texts, values, ground_of(digest, *seen), mark, comment)
    if kept and attempt is None:
        # The file is gone, not changed: only what is typed now comes too late.
        grounds = {one.ground for one in (mark, comment) if one and one.value}
        check = texts["review.unused"] if row.ground in grounds else ""
        row = replace(row, values={**values, "status": texts["review.kept"], "check": check})
    return replace(row, file_ground=ground_of(digest))


def _status(texts: Texts, *statuses: str) -> str:
    return "; ".join(texts[f"review_status.{word.replace(' ', '-')}"] for word in statuses if word)


def _reasons(texts: Texts, marking: Marking, protocol: Protocol | None) -> str:
    """A line an item that lost points; those with all of them together on the last."""
    lines, full = [], []
    for item in marking.items:
        points = f"{item.title} {item.score:g}/{item.maximum:g}"
        if item.score == item.maximum and not item.exempt:
            full.append(points)
        else:
            reasons = [reason_text(why, protocol, texts) if protocol else why.code for why in item.reasons]
            lines.append(f"{points}: {'; '.join(reasons)}".removesuffix(": "))
    if full:
        lines.append(f"{texts['review.full']}: {', '.join(full)}")
    return "\n".join(lines)[:_LONGEST_TEXT]


def _answer_rows(texts: Texts, sheet: _Sheet) -> Iterator[ReviewRow]:
    """The answers that wait, and those with points of which the file is not there now."""
    asked = {answer.about: answer for answer in (sheet.marking.to_be_marked if sheet.marking else ())}
    decided = sheet.decided.values()
    given = [one.name for one in decided if one.kind in ("answer-mark", "comment") and one.name and one.value]
    for about in dict.fromkeys((*asked, *given)):
        answer, points = asked.get(about), sheet.decision("answer-mark", about)
        comment = sheet.decision("comment", about)
        title = about.removeprefix("answer_").removeprefix("own_")
        called = about_title(title, sheet.protocol, texts) if sheet.protocol else title
        values: dict[str, Value] = {
            "student_id": sheet.student_id, "copy_code": sheet.copy_code,
            "question": texts.get(f"working.question_{title}", called), "cell_name": about,
            "typed": _typed(texts, answer) if answer else texts["review.no_file"],
            "compare": _to_compare(texts, sheet, answer, title) if answer else "",
            "possible": answer.points if answer else None, "points": _number(points),
            "comment": comment.value if comment else "",
        }  # fmt: skip
        if answer is None:
            # The file is gone, not changed.
            ground = next((one.ground for one in (points, comment) if one), "") or ground_of(about)
            yield ReviewRow({**values, "check": ""}, ground)
            continue
        changed = points is not None and points.value and not given_for(answer, points)
        values["check"] = texts["review.other_answer"] if changed else ""
        yield ReviewRow(values, answer.seal or grounds_of(answer)[0])


def _typed(texts: Texts, answer: ToBeMarked) -> str:
    """What was typed, and what a line of own working would be from the readings."""
    if answer.expected is None:
        return answer.text[:_LONGEST_TEXT]
    decimals = own_decimals(answer.about.removeprefix("own_"))
    shown = texts["review.expected"].format(value=f"{round(answer.expected, decimals):g}")
    return f"{answer.text[:_LONGEST_TEXT]} {shown}".strip()


def _to_compare(texts: Texts, sheet: _Sheet, answer: ToBeMarked, title: str) -> str:
    """The true fact of this sheet, where there is one, and the model answer."""
    results = sheet.attempt.results if sheet.attempt else None
    lines = [answer.model or texts.get(f"model_answer.{title}", "")]
    if results and sheet.attempt and sheet.protocol:
        entries, sites = sheet.attempt.entries, results.sites
        apart = {site.site: repeat_difference(entries, site) for site in sites}
        zero, counted = number_of(entries, "zero_mm"), sum(site.value_mm is not None for site in sites)
        most = max((gap for gap in apart.values() if gap is not None), default=None)
        if title == "repeat" and most is not None:
            named = [about_title(site, sheet.protocol, texts) for site, gap in apart.items() if gap == most]
            told = {"sites": ", ".join(named), "value": shown_number(most, texts)}
            lines.insert(0, texts["review.fact_repeat"].format(**told))
        if title == "zero" and zero is not None and counted:
            told = {"zero": shown_number(zero, texts), "value": shown_number(round(zero * counted, 2), texts)}
            lines.insert(0, texts["review.fact_zero"].format(**told, count=counted))
    return "\n".join(filter(None, lines))


def _correction_rows(
    texts: Texts, by_code: Mapping[str, Attempt], latest: Mapping[Key, Decision], entries: Sequence[str]
) -> Iterator[ReviewRow]:
    listed = {entry.rpartition("(")[2].removesuffix(")"): entry for entry in reversed(entries)}
    for (code, kind, name), decision in latest.items():
        if kind != "correction" or not decision.value:
            continue
        attempt, entry = by_code.get(code), listed.get(name, name)
        values = {"copy_code": code, "cell_name": entry, "typed": "", "value": decision.value}
        values["reason"] = decision.reason
        if attempt is None:
            values["check"] = texts["review.unknown_copy"]
        elif attempt.built_with and name not in entry_names(attempt.built_with.protocol):
            values["check"] = texts["review.unknown_cell"]
        for finding in attempt.findings if attempt else ():
            if f"{finding.tab} {finding.cell}:" in entry:
                said = worded(finding, texts)
                if finding.code == "entry-corrected":
                    values["typed"] = said.found
                elif finding.code == "entry-correction-unusable":
                    values["check"] = texts["review.not_used"].format(found=said.found, wanted=said.expected)
        yield _row(texts, values, ground_of(file_id(attempt) if attempt else ""), decision)


def _file_rows(
    texts: Texts, attempts: Sequence[Attempt], latest: Mapping[Key, Decision]
) -> Iterator[ReviewRow]:
    decided = [decision for decision in latest.values() if decision.kind == "which-file" and decision.value]
    answered = {decision.name: decision for decision in decided}
    shown = set()
    for attempt in sorted(attempts, key=lambda file: (file.file, file.sha256)):
        identifier = file_id(attempt)
        decision = answered.get(identifier)
        if identifier in shown or not (decision or _waits(attempt)):
            continue
        shown.add(identifier)
        # Names stand on this tab, so nothing that was measured or typed does.
        telling = [
            f"{one.code}: {worded(one, texts, on_screen=True).found}"
            for one in attempt.findings
            if one.severity != "note" or one.code in (*LATE_CODES, *_ABOUT_ANOTHER)
        ]
        # What is said of another file is no ground: once one was chosen it is not said any more.
        codes = [one.code for one in attempt.findings if one.code not in _ABOUT_ANOTHER]
        values: dict[str, Value] = {
            "file": "\n".join(dict.fromkeys((attempt.file, attempt.came_as))),
            "copy_code": attempt.record.copy_code if attempt.record else "",
            "file_id": identifier, "status": _status(texts, attempt.status),
            "findings": "\n".join(telling)[:_LONGEST_TEXT], "accept": decision.value if decision else None,
        }  # fmt: skip
        if decision and decision.value == FILE_WORDS[0] and attempt.status in ("refused", "superseded"):
            why = [worded(one, texts, on_screen=True) for one in attempt.findings[:1]]
            found, wanted = (why[0].found, why[0].expected) if why else ("", "")
            values["check"] = texts["review.not_used"].format(found=found, wanted=wanted)
        yield _row(texts, values, ground_of(identifier, *codes), decision)
    for name, decision in answered.items():
        if name not in shown:
            gone = {"file": texts["review.no_file"], "file_id": name, "accept": decision.value}
            yield ReviewRow(gone, decision.ground)


def _waits(attempt: Attempt) -> bool:
    """Whether the teacher may say yes to a file, also to one that gave way to another in time, or newer."""
    gave_way = is_late(attempt) or any(finding.code in _ABOUT_ANOTHER for finding in attempt.findings)
    return attempt.status in ("review", "refused") or (attempt.status == "superseded" and gave_way)


def _observed_rows(
    texts: Texts, reviewed: Reviewed, decisions: Sequence[Decision], latest: Mapping[Key, Decision]
) -> Iterator[ReviewRow]:
    """A row a student of the class, or decided about, with what was seen in earlier sessions."""
    names = {who.student_id: who.full_name for who in reviewed.people if takes_turns(who)}
    decided = [key[0] for key, one in latest.items() if key[1] in ("observed", "signed-off") and one.value]
    before = current(one for one in decisions if one.session < reviewed.session and one.kind == "observed")
    for student in dict.fromkeys((*names, *decided)):
        seen = [step for step in OBSERVED_STEPS if decided_value(before, student, "observed", step)]
        values = {step: decided_value(latest, student, "observed", step) or None for step in OBSERVED_STEPS}
        about: dict[str, Value] = {
            "student_id": student, "name": names.get(student, ""), "check": "",
            "seen": ", ".join(texts[f"review_column.{step}"] for step in seen),
            "signed_off": decided_value(latest, student, "signed-off"),
        }  # fmt: skip
        yield ReviewRow(about | values)


def _number(decision: Decision | None) -> Value:
    """A mark as a number; what is none stays as it was typed."""
    text = decision.value if decision else ""
    number = number_in(text)
    return text or None if number is None else number
