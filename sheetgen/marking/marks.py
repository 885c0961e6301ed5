"""The marks of a session: sheets that count, points given by a person, one score a student."""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from sheetgen.class_folder.decisions import Decision, Key, current
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import WHOLE, Score
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import Marking, MarkingScheme
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.recalculation import text_of
from sheetgen.returned.attempt import COUNTED, Attempt
from sheetgen.returned.corrections import number_in
from sheetgen.texts.languages import DEFAULT_LANGUAGE, texts_in

MARK_STATUSES = ("final", "to be marked", "missing", "exempt")


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One row of marks.csv; the fields are its columns.

    score : None where nothing came back or the student is exempt, never 0 for that.
    max_score : the points that can be had.
    status : one of MARK_STATUSES; `to be marked`: the score is the score so far.
    """

    student_id: str
    given_name: str
    family_name: str
    score: float | None
    max_score: float | None
    status: str


def scheme_of(folder: ClassFolder, language: str = DEFAULT_LANGUAGE) -> MarkingScheme:
    """Return the class's own marking scheme, else the usual one.

    Parameters
    ----------
    language : of the titles that the usual scheme gave; those that a teacher changed stay.

    Raises
    ------
    TemplateError : the scheme has faults; every one is named with its line.
    """
    path = folder.marking_scheme
    scheme = find_scheme(str(path) if path.is_file() else "usual")
    usual, texts = texts_in(DEFAULT_LANGUAGE, "marking"), texts_in(language, "marking")
    items = tuple(
        replace(item, title=texts[key]) if usual.get(key := f"mark_item.{item.word}") == item.title else item
        for item in scheme.items
    )
    return replace(scheme, items=items)


def _counted(attempts: Iterable[Attempt]) -> Iterator[tuple[CopyRecord, Attempt]]:
    for attempt in attempts:
        if attempt.record is not None and attempt.status in COUNTED:
            yield attempt.record, attempt


def marked_attempts(
    book: ClassBook, attempts: Sequence[Attempt], scheme: MarkingScheme
) -> dict[str, Marking]:
    """Return the marks of every sheet that counts, by copy code; a teacher's own sheets are not marked."""
    students = {person.student_id for person in book.people if person.role == "student"}
    criterion = criterion_measures(book, attempts)
    markings = {}
    for record, attempt in _counted(attempts):
        built_with, results = attempt.built_with, attempt.results
        if record.student_id in students and built_with is not None and results is not None:
            seen = Seen(built_with.protocol, built_with.settings, attempt.entries, results, attempt.findings)
            teachers = criterion.get(record.participant_code)
            markings[record.copy_code] = marked(scheme, seen, attempt.formula_names, teachers)
    return markings


def criterion_measures(book: ClassBook, attempts: Sequence[Attempt]) -> dict[str, dict[str, float]]:
    """Return the teacher's own site values [mm] by participant code and site; practice readings are none."""
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    values: dict[str, dict[str, float]] = defaultdict(dict)
    for record, attempt in _counted(attempts):
        is_practice = text_of(attempt.entries, "data_source") == "practice"
        as_planned = ("", record.participant_code.casefold())
        elsewhere = text_of(attempt.entries, "participant_today") not in as_planned
        if record.student_id in teachers and attempt.results and not (is_practice or elsewhere):
            sites = {site.site: site.value_mm for site in attempt.results.sites if site.value_mm is not None}
            values[record.participant_code] |= sites
    return dict(values)


def mark_rows(
    book: ClassBook,
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    scheme: MarkingScheme,
    adjusted: Mapping[str, float],
) -> tuple[MarkRow, ...]:
    """Return one row a student, in roster order.

    Parameters
    ----------
    adjusted : copy code to the mark the teacher gave instead, out of the maximum of that sheet.

    Notes
    -----
    What is exempt on a sheet is not in its maximum, so its score is stretched to the scheme's total, and a
    mark given instead with it: the review workbook and the feedback show it beside that maximum. Who
    measured several people gets the mean of their sheets. Nothing returned is `missing`, never 0.
    """
    sheets: dict[str, list[str]] = defaultdict(list)
    for record, _ in _counted(attempts):
        if record.copy_code in markings:
            sheets[record.student_id].append(record.copy_code)
    rows = []
    for person in book.people:
        if person.role != "student":
            continue
        codes, points, waits = sheets[person.student_id], [], False
        for code in codes:
            marking = markings[code]
            if code in adjusted or marking.maximum:
                given = adjusted.get(code, marking.score)
                points.append(given / marking.maximum * scheme.total if marking.maximum else given)
                waits = waits or (code not in adjusted and bool(marking.to_be_marked))
        status = "to be marked" if waits else "final" if points else "exempt" if codes else "missing"
        score = round(sum(points) / len(points), 2) if points else None
        names = (person.student_id, person.given_name, person.family_name)
        rows.append(MarkRow(*names, score, scheme.total, status))
    return tuple(rows)


def with_kept_scores(rows: Iterable[MarkRow], kept: Iterable[Score], session: int) -> tuple[MarkRow, ...]:
    """Return the rows with the scores that are kept of this session, where no file can be marked any more.

    Files may be forgotten, lost or unreadable: a score is not.
    """
    whole = {score.student_id: score for score in kept if (score.session, score.item) == (session, WHOLE)}
    return tuple(
        replace(row, score=score.points, max_score=score.out_of, status=score.status)
        if row.status == "missing" and (score := whole.get(row.student_id)) is not None
        else row
        for row in rows
    )


def scores_to_keep(
    rows: Iterable[MarkRow],
    attempts: Iterable[Attempt],
    markings: Mapping[str, Marking],
    kept: Iterable[Score],
    session: int,
    today: str,
) -> tuple[Score, ...]:
    """Return the scores of a session as they are to be kept, in the order of the rows.

    Parameters
    ----------
    rows : as `mark_rows` gives them. kept : what was kept so far; of whom nothing can be marked now, it
        stays, and what has not changed keeps its day. today : YYYY-MM-DD.
    """
    made: dict[str, list[Score]] = defaultdict(list)
    for record, _ in _counted(attempts):
        if record.copy_code in markings:
            marking, student = markings[record.copy_code], record.student_id
            for item in marking.items:
                points, status = (None, "exempt") if item.exempt else (item.score, marking.status)
                made[student].append(
                    Score(session, student, item.word, points, item.maximum, status, today, record.copy_code)
                )
    before: dict[str, list[Score]] = defaultdict(list)
    for score in kept:
        if score.session == session:
            before[score.student_id].append(score)
    days = {
        replace(score, scored_on=today): score.scored_on for scores in before.values() for score in scores
    }
    after = {}
    for row in rows:
        whole = Score(session, row.student_id, WHOLE, row.score, row.max_score or 0.0, row.status, today)
        new = [replace(score, scored_on=days.get(score, today)) for score in (whole, *made[row.student_id])]
        after[row.student_id] = before[row.student_id] if row.status == "missing" else new
    others = (scores for student, scores in before.items() if student not in after)
    return tuple(chain(*after.values(), *others))


def _given(latest: Mapping[Key, Decision], copy_code: str, kind: str, name: str = "") -> str:
    decision = latest.get((copy_code, kind, name))
    return decision.value if decision else ""


def with_answer_marks(marking: Marking, decisions: Iterable[Decision], copy_code: str) -> Marking:
    """Return the marks of one sheet with the points that the teacher gave; only the rest waits on.

    Points that are no number from 0 to what is possible are not counted.
    """
    latest, items = current(decisions), {item.word: item for item in marking.items}
    waiting, added = [], 0.0
    for wanted in marking.to_be_marked:
        points = number_in(_given(latest, copy_code, "answer-mark", wanted.about))
        if points is None or not 0 <= points <= wanted.points:
            waiting.append(wanted)
            continue
        item = items[wanted.item]
        settled = ("to-be-marked", wanted.about.removeprefix("answer_"))
        reasons = tuple(reason for reason in item.reasons if (reason.code, reason.about) != settled)
        items[wanted.item] = replace(item, score=round(item.score + points, 2), reasons=reasons)
        added += points
    score = round(marking.score + added, 2)
    return replace(marking, items=tuple(items.values()), score=score, to_be_marked=tuple(waiting))


def adjusted_mark(decisions: Iterable[Decision], copy_code: str, maximum: float = math.inf) -> float | None:
    """Return the mark that replaces the score of a sheet, None where there is none from 0 to the maximum.

    maximum : of the sheet; 0 where nothing on it could be marked, and then there is no limit.
    """
    mark = number_in(_given(current(decisions), copy_code, "mark"))
    return mark if mark is not None and 0 <= mark <= (maximum or math.inf) else None


def comment_given(decisions: Iterable[Decision], copy_code: str) -> str:
    """Return the teacher's comment on a sheet, or the empty text."""
    return _given(current(decisions), copy_code, "comment")
