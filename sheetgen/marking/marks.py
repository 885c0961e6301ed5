"""The marks of a session: sheets that count, points given by a person, one score a student."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.class_folder.decisions import Decision, current
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, Person
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


def marked_attempts(
    book: ClassBook, attempts: Sequence[Attempt], scheme: MarkingScheme
) -> dict[str, Marking]:
    """Return the marks of every sheet that counts, by copy code; a teacher's own sheets are not marked."""
    students = {person.student_id for person in book.people if person.role == "student"}
    criterion = criterion_measures(book, attempts)
    markings = {}
    for attempt in attempts:
        record, built_with, results = attempt.record, attempt.built_with, attempt.results
        if attempt.status not in COUNTED or record is None or built_with is None or results is None:
            continue
        if record.student_id in students:
            markings[record.copy_code] = marked(
                scheme,
                Seen(built_with.protocol, built_with.settings, attempt.entries, results, attempt.findings),
                attempt.formula_names,
                criterion.get(record.participant_code),
            )
    return markings


def criterion_measures(book: ClassBook, attempts: Sequence[Attempt]) -> dict[str, dict[str, float]]:
    """Return the teacher's own site values [mm] by participant code and site; practice readings are none."""
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    values: dict[str, dict[str, float]] = defaultdict(dict)
    for attempt in attempts:
        record, results = attempt.record, attempt.results
        if record is None or results is None or attempt.status not in COUNTED:
            continue
        is_practice = text_of(attempt.entries, "data_source") == "practice"
        as_planned = ("", record.participant_code.casefold())
        elsewhere = text_of(attempt.entries, "participant_today") not in as_planned
        if record.student_id in teachers and not is_practice and not elsewhere:
            sites = {site.site: site.value_mm for site in results.sites if site.value_mm is not None}
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
    codes: dict[str, list[str]] = defaultdict(list)
    for attempt in attempts:
        if attempt.record is not None and attempt.record.copy_code in markings and attempt.status in COUNTED:
            codes[attempt.record.student_id].append(attempt.record.copy_code)
    return tuple(
        _row(person, codes[person.student_id], markings, scheme.total, adjusted)
        for person in book.people
        if person.role == "student"
    )


def _row(
    person: Person,
    codes: Sequence[str],
    markings: Mapping[str, Marking],
    total: float,
    adjusted: Mapping[str, float],
) -> MarkRow:
    scores = []
    status = "missing" if not codes else "exempt"
    for code in codes:
        marking = markings[code]
        if code in adjusted:
            scores.append(adjusted[code] / marking.maximum * total if marking.maximum else adjusted[code])
            status = status if status == "to be marked" else "final"
        elif marking.maximum:
            scores.append(marking.score / marking.maximum * total)
            open_answers = marking.status == "to be marked" or status == "to be marked"
            status = "to be marked" if open_answers else "final"
    score = round(sum(scores) / len(scores), 2) if scores else None
    return MarkRow(person.student_id, person.given_name, person.family_name, score, total, status)


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
    items: dict[str, list[Score]] = defaultdict(list)
    for attempt in attempts:
        record = attempt.record
        if attempt.status in COUNTED and record is not None and record.copy_code in markings:
            items[record.student_id] += [
                Score(
                    session, record.student_id, item.word, None if item.exempt else item.score, item.maximum,
                    "exempt" if item.exempt else markings[record.copy_code].status, today, record.copy_code,
                )
                for item in markings[record.copy_code].items
            ]  # fmt: skip
    before: dict[str, list[Score]] = defaultdict(list)
    for score in kept:
        if score.session == session:
            before[score.student_id].append(score)
    days = {replace(score, scored_on=""): score.scored_on for scores in before.values() for score in scores}
    after: list[Score] = []
    for row in rows:
        if row.status == "missing":
            after += before.pop(row.student_id, [])
            continue
        before.pop(row.student_id, None)
        whole = Score(session, row.student_id, WHOLE, row.score, row.max_score or 0.0, row.status, today)
        after += [
            replace(score, scored_on=days.get(replace(score, scored_on=""), today))
            for score in (whole, *items[row.student_id])
        ]
    return (*after, *(score for scores in before.values() for score in scores))


def with_answer_marks(marking: Marking, decisions: Iterable[Decision], copy_code: str) -> Marking:
    """Return the marks of one sheet with the points that the teacher gave; only the rest waits on.

    Points that are no number from 0 to what is possible are not counted.
    """
    latest = current(decisions)
    items = {item.word: item for item in marking.items}
    waiting = []
    added = 0.0
    for wanted in marking.to_be_marked:
        given = latest.get((copy_code, "answer-mark", wanted.about))
        points = None if given is None else number_in(given.value)
        if points is None or not 0 <= points <= wanted.points:
            waiting.append(wanted)
            continue
        item = items[wanted.item]
        settled = ("to-be-marked", wanted.about.removeprefix("answer_"))
        reasons = tuple(reason for reason in item.reasons if (reason.code, reason.about) != settled)
        items[wanted.item] = replace(item, score=round(item.score + points, 2), reasons=reasons)
        added += points
    return replace(
        marking,
        items=tuple(items.values()),
        score=round(marking.score + added, 2),
        to_be_marked=tuple(waiting),
    )


def adjusted_mark(decisions: Iterable[Decision], copy_code: str, maximum: float = math.inf) -> float | None:
    """Return the mark that replaces the score of a sheet, None where there is none from 0 to the maximum.

    maximum : of the sheet; 0 where nothing on it could be marked, and then there is no limit.
    """
    given = current(decisions).get((copy_code, "mark", ""))
    mark = None if given is None else number_in(given.value)
    return mark if mark is not None and 0 <= mark <= (maximum or math.inf) else None


def comment_given(decisions: Iterable[Decision], copy_code: str) -> str:
    """Return the teacher's comment on a sheet, or the empty text."""
    given = current(decisions).get((copy_code, "comment", ""))
    return "" if given is None else given.value
