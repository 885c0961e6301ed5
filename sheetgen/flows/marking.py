"""Marks of a session: every sheet by the class's scheme, and one row a student."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.checking.marking import Seen, marked
from sheetgen.checking.recalculate import text_of
from sheetgen.model.attempt import Attempt
from sheetgen.model.mark_row import MarkRow
from sheetgen.model.marking import Marking, MarkingScheme
from sheetgen.model.settings import ClassBook, Person
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.marking_schemes import find_scheme, load_scheme
from sheetgen.store.texts import DEFAULT_LANGUAGE, texts_in

__all__ = ["criterion_measures", "mark_rows", "marked_attempts", "scheme_of"]

USUAL = "usual"
_COUNTED = ("accepted", "review")


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
    scheme = load_scheme(path) if path.is_file() else find_scheme(USUAL)
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
        if attempt.status not in _COUNTED or record is None or built_with is None or results is None:
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
        if record is None or results is None or attempt.status not in _COUNTED:
            continue
        is_practice = text_of(attempt.entries, "data_source") == "practice"
        elsewhere = text_of(attempt.entries, "participant_today") not in (
            "",
            record.participant_code.casefold(),
        )
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
        if attempt.record is not None and attempt.record.copy_code in markings and attempt.status in _COUNTED:
            codes[attempt.record.student_id].append(attempt.record.copy_code)
    students = [person for person in book.people if person.role == "student"]
    return tuple(
        _row(person, codes[person.student_id], markings, scheme.total, adjusted) for person in students
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
