"""The marks of a session: sheets that count, points given by a person, one score a student."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.decisions import CONFIRM_WORDS, Decision, Key, current, ground_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, ClassBook, CopyRecord
from sheetgen.class_folder.scores import NONE_FITS, WHOLE, LineSlip, Score
from sheetgen.finding import Finding
from sheetgen.marking.drill import drill_result
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import Marking, MarkingScheme, Reason, ToBeMarked
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.recalculation import Results, text_of
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt, has_work, with_findings
from sheetgen.returned.corrections import number_in
from sheetgen.texts.languages import DEFAULT_LANGUAGE, texts_in

MARK_STATUSES = ("final", "to be marked", "missing", "unusable", "exempt")
NOTHING_MARKED = ("missing", "unusable")
"""The statuses of who has no work that could be marked: nothing came, or what came cannot be used."""


class MarkRow(Struct, frozen=True):
    """One row of marks.csv; the fields are its columns. score : None where nothing came back or the student
    is exempt, never 0 for that. max_score : the points that can be had. status : one of MARK_STATUSES; `to be
    marked`: the score is the score so far. scored_on : the day the score is of, YYYY-MM-DD; without a score:
    it was taken away. unusable_because : code of the finding for which what came cannot be used."""

    student_id: str
    given_name: str
    family_name: str
    score: float | None
    max_score: float | None
    status: str
    scored_on: str = ""
    unusable_because: str = ""


class Marks(Struct, frozen=True):
    """The marks of a session. markings : by copy code, of the sheets that count, with points given by a
    person. adjusted : copy code to the mark the teacher gave instead. withdrawn : sheets whose score was
    taken away. scores : as `merged_scores` gives them, also of sheets whose files are gone."""

    markings: Mapping[str, Marking]
    adjusted: Mapping[str, float]
    scores: tuple[Score, ...]
    withdrawn: frozenset[str] = frozenset()

    @property
    def gone(self) -> dict[str, str]:
        """Copy code to student of the sheets with a score of which no file counts any more."""
        sheets = {score.sheet: score.student_id for score in self.scores if score.sheet}
        without = {*self.markings, *self.withdrawn}
        return {code: student for code, student in sheets.items() if code not in without}


def scheme_of(folder: ClassFolder, language: str = DEFAULT_LANGUAGE) -> MarkingScheme:
    """Return the class's own marking scheme, else the usual one.
    language : of the titles that the usual scheme gave; those that a teacher changed stay.
    TemplateError : the scheme has faults; every one is named with its line."""
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
        if attempt.record is not None and attempt.record.exercise == EXERCISES[0] and has_work(attempt):
            yield attempt.record, attempt


def _seen(attempt: Attempt, built_with: BuiltWith, results: Results) -> Seen:
    """What is looked at: a reading that points at another cell earns nothing until the teacher's yes."""
    readings = {name for name in attempt.formula_names if name.startswith("reading_")}
    waiting = readings if attempt.status == "review" else set()
    entries = {name: value for name, value in attempt.entries.items() if name not in waiting}
    closed = {name.split("_", 2)[2] for name in waiting}
    sites = (replace(site, third_needed="") if site.site in closed else site for site in results.sites)
    results = replace(results, sites=tuple(sites))
    drill = drill_result(attempt)
    return Seen(built_with.protocol, built_with.settings, entries, results, attempt.findings, drill)


def marked_attempts(
    book: ClassBook, attempts: Sequence[Attempt], scheme: MarkingScheme, secret: str = ""
) -> dict[str, Marking]:
    """Return the marks of every sheet that counts, by copy code; a teacher's own sheets are not marked.
    secret : of the class; with it what a person marks carries its seal."""
    students = {person.student_id for person in book.people if person.role == "student"}
    criterion = criterion_measures(book, attempts)
    markings = {}
    for record, attempt in _counted(attempts):
        built_with, results = attempt.built_with, attempt.results
        if record.student_id in students and built_with is not None and results is not None:
            seen = _seen(attempt, built_with, results)
            teachers = criterion.get(record.participant_code)
            marking = marked(scheme, seen, attempt.formula_names, teachers)
            sealed = (
                replace(one, seal=ground_of(one.about, one.text, secret=secret) if secret else "")
                for one in marking.to_be_marked
            )
            markings[record.copy_code] = replace(marking, to_be_marked=tuple(sealed))
    return markings


_LESS_BY_THE_STATE = ("sum-only", "sex-outside", "age-outside", "sum-below", "sum-above", "fat-outside")
"""States of the estimate that take lines of working out of a sheet that has them."""


def with_less_measured(
    attempts: Iterable[Attempt], markings: Mapping[str, Marking], scheme: MarkingScheme
) -> list[Attempt]:
    """Return the attempts with a finding where less was measured or worked out than the sheet has lines for.
    It says how many points that takes out. What the set-up leaves out (minors, folds only) is not told."""
    points = {item.word: item.points for item in scheme.items}

    def told(attempt: Attempt) -> Attempt:
        marking = markings.get(attempt.record.copy_code) if attempt.record else None
        if marking is None or attempt.results is None or not has_work(attempt):
            return attempt
        sites = [site.not_taken for site in attempt.results.sites if site.not_taken != "under-18"]
        left_out, state = sum(map(bool, sites)), attempt.results.estimate_state
        case = "nothing" if left_out == len(sites) else "sites" if left_out else state
        out = sum(points[item.word] for item in marking.items if Reason("exempt") in item.reasons)
        if not out or case not in ("nothing", "sites", *_LESS_BY_THE_STATE):
            return attempt
        values = {"count": left_out, "sites": len(sites), "points": out, "total": scheme.total}
        return with_findings(attempt, [Finding("procedure-less-measured", values, case=case)])

    return [told(attempt) for attempt in attempts]


def criterion_measures(book: ClassBook, attempts: Sequence[Attempt]) -> dict[str, dict[str, float]]:
    """Return the teacher's own site values [mm] by participant code and site; practice readings are none."""
    teachers = book.teachers
    values: dict[str, dict[str, float]] = defaultdict(dict)
    for record, attempt in _counted(attempts):
        as_planned = ("", record.participant_code.casefold())
        elsewhere = text_of(attempt.entries, "participant_today") not in as_planned
        if record.student_id in teachers and attempt.results and not (attempt.is_practice or elsewhere):
            sites = {site.site: site.value_mm for site in attempt.results.sites if site.value_mm is not None}
            values[record.participant_code] |= sites
    return dict(values)


def sheet_scores(
    attempts: Iterable[Attempt],
    markings: Mapping[str, Marking],
    adjusted: Mapping[str, float],
    session: int,
    today: str,
) -> tuple[Score, ...]:
    """Return the scores of every sheet that counts: a line an item, and under WHOLE what the sheet was given
    out of its own maximum. adjusted : copy code to the mark the teacher gave instead. today : YYYY-MM-DD."""
    scores = []
    for record, _ in _counted(attempts):
        code = record.copy_code
        if (marking := markings.get(code)) is None:
            continue
        lines = [
            (item.word, *((None, item.maximum, "exempt") if item.exempt else (item.score, item.maximum, "")))
            for item in marking.items
        ]
        given, status = adjusted.get(code, marking.score), "final" if code in adjusted else marking.status
        nothing = code not in adjusted and not marking.maximum
        lines.append((WHOLE, *((None, 0.0, "exempt") if nothing else (given, marking.maximum, status))))
        scores += [
            Score(session, record.student_id, item, points, out_of, word or marking.status, today, code)
            for item, points, out_of, word in lines
        ]
    return tuple(scores)


def sheet_slips(
    attempts: Iterable[Attempt], markings: Mapping[str, Marking], session: int
) -> tuple[LineSlip, ...]:
    """Return the wrong lines of every sheet that counts, a row a slip that fits; no line is more than one
    mistake, so what it lost is shared out among them."""
    slips = []
    for record, _ in _counted(attempts):
        marking = markings.get(record.copy_code)
        for line in (step for item in marking.items for step in item.steps) if marking else ():
            if line.state in ("wrong", "again"):
                words = dict.fromkeys(fit.word for fit in line.slips) or (NONE_FITS,)
                lost = (line.points - line.score) / len(words)
                slips += [
                    LineSlip(session, record.student_id, line.step, word, lost, record.copy_code)
                    for word in words
                ]
    return tuple(slips)


def merged_scores(before: Iterable[Score], now: Sequence[Score], today: str) -> tuple[Score, ...]:
    """Return the scores kept of a session with those of sheets that count now in their places. Files may be
    forgotten, lost or unreadable: a score is not. What has not changed keeps its day."""
    before, marked = tuple(before), {score.sheet for score in now}
    days = {replace(score, scored_on=today): score.scored_on for score in before}
    stay = (score for score in before if score.sheet not in marked)
    return (*stay, *(replace(score, scored_on=days.get(score, today)) for score in now))


def mark_rows(
    book: ClassBook, scores: Iterable[Score], total: float, withdrawn: Collection[str] = ()
) -> tuple[MarkRow, ...]:
    """Return one row a student, in roster order.
    scores : of the session, as `merged_scores` gives them. total : of the scheme.
    withdrawn : copy codes of sheets whose score the teacher took away.

    What is exempt on a sheet is not in its maximum, so its score is stretched to the scheme's total, and a
    mark given instead with it: the review workbook and the feedback show it beside that maximum. Who
    measured several people gets the mean of their sheets. Nothing returned is `missing`, never 0; so is a
    score that was taken away, whose day stays."""
    sheets: dict[str, list[Score]] = defaultdict(list)
    for score in scores:
        if score.item == WHOLE and score.sheet:
            sheets[score.student_id].append(score)
    rows = []
    for person in book.people:
        if person.role != "student":
            continue
        left = [score for score in sheets[person.student_id] if score.sheet not in withdrawn]
        given = [(score, score.points) for score in left if score.points is not None]
        points = [value / one.out_of * total if one.out_of else value for one, value in given]
        waits = any(one.status == "to be marked" for one, _ in given)
        status = "to be marked" if waits else "final" if given else "exempt" if left else "missing"
        whole = round(sum(points) / len(points), 2) if points else None
        day = max((one.scored_on for one in left or sheets[person.student_id]), default="")
        names = (person.student_id, person.given_name, person.family_name)
        rows.append(MarkRow(*names, whole, total, status, day))
    return tuple(rows)


def with_unusable(rows: Iterable[MarkRow], because: Mapping[str, str]) -> tuple[MarkRow, ...]:
    """Return the rows, those `unusable` where nothing was ever scored and what came cannot be used.
    because : student_id to the code of the reason."""
    return tuple(
        replace(row, status="unusable", unusable_because=because[row.student_id])
        if row.status == "missing" and not row.scored_on and row.student_id in because
        else row
        for row in rows
    )


def with_wholes(
    scores: Sequence[Score], rows: Iterable[MarkRow], before: Iterable[Score], session: int
) -> tuple[Score, ...]:
    """Return the scores of a session as they are kept: with a line a student, in the order of the rows.
    scores : as `merged_scores` gives them. before : what was kept so far; where a student has no score now,
    or is not on the roster any more, their line stays as it was."""
    wholes = {
        one.student_id: one for one in before if (one.session, one.item) == (session, WHOLE) and not one.sheet
    }
    for row in rows:
        if row.status not in NOTHING_MARKED:
            wholes[row.student_id] = Score(
                session, row.student_id, WHOLE, row.score, row.max_score or 0.0, row.status, row.scored_on
            )
    order = {row.student_id: place for place, row in enumerate(rows)}
    every, last = (*wholes.values(), *(score for score in scores if score.sheet)), len(order)
    return tuple(sorted(every, key=lambda one: (order.get(one.student_id, last), one.student_id)))


def adjusted_marks(
    markings: Mapping[str, Marking], decided: Mapping[str, Sequence[Decision]]
) -> dict[str, float]:
    """Return the mark that replaces the score of each sheet that has one; decided : decisions by subject."""
    marks = {code: adjusted_mark(decided.get(code, ()), code, one.maximum) for code, one in markings.items()}
    return {code: mark for code, mark in marks.items() if mark is not None}


def withdrawn_sheets(decisions: Iterable[Decision]) -> frozenset[str]:
    """Return the copy codes of the sheets whose score the teacher took away."""
    latest = current(decisions).values()
    words = ((one.subject, one.value) for one in latest if one.kind == "withdrawn")
    return frozenset(code for code, word in words if word in CONFIRM_WORDS)


def decided_value(latest: Mapping[Key, Decision], subject: str, kind: str, name: str = "") -> str:
    """Return what holds of all decisions about something, the empty text where none was made."""
    decision = latest.get((subject, kind, name))
    return decision.value if decision else ""


def grounds_of(wanted: ToBeMarked) -> tuple[str, ...]:
    """Return the grounds under which points for what a person marks were given for this very text, that of
    earlier versions first: without a key, and with the points possible."""
    return ground_of(wanted.about, wanted.text, wanted.points), wanted.seal


def given_for(wanted: ToBeMarked, points: Decision) -> bool:
    """Tell whether points were given for what stands there now, as far as their ground tells."""
    return points.ground in ("", *grounds_of(wanted))


def with_answer_marks(marking: Marking, decisions: Iterable[Decision], copy_code: str) -> Marking:
    """Return the marks of one sheet with the points that the teacher gave; only the rest waits on. Points
    that are no number from 0 to what is possible are not counted. Those given for another answer are, and
    wait to be confirmed: the score stays a score so far."""
    latest, items = current(decisions), {item.word: item for item in marking.items}
    waiting, given = [], []
    for wanted in marking.to_be_marked:
        points = number_in(decided_value(latest, copy_code, "answer-mark", wanted.about))
        if points is None or not 0 <= points <= wanted.points:
            waiting.append(wanted)
            continue
        item, about = items[wanted.item], wanted.about.removeprefix("answer_")
        reasons = tuple(one for one in item.reasons if (one.code, one.about) != ("to-be-marked", about))
        if not given_for(wanted, latest[copy_code, "answer-mark", wanted.about]):
            waiting.append(wanted)
            reasons += (Reason("other-answer", about.removeprefix("own_")),)
        items[wanted.item] = replace(item, score=round(item.score + points, 2), reasons=reasons)
        given.append((wanted, points))
    score = round(marking.score + sum(points for _, points in given), 2)
    return replace(
        marking, items=tuple(items.values()), score=score, to_be_marked=tuple(waiting), given=tuple(given)
    )


def adjusted_mark(decisions: Iterable[Decision], copy_code: str, maximum: float = math.inf) -> float | None:
    """Return the mark that replaces the score of a sheet, None where there is none from 0 to the maximum.
    maximum : of the sheet; 0 where nothing on it could be marked, and then there is no limit."""
    mark = number_in(decided_value(current(decisions), copy_code, "mark"))
    return mark if mark is not None and 0 <= mark <= (maximum or math.inf) else None


def comment_given(decisions: Iterable[Decision], copy_code: str, about: str = "") -> str:
    """Return the teacher's comment on a sheet, or on one answer of it; the empty text where there is none."""
    return decided_value(current(decisions), copy_code, "comment", about)
