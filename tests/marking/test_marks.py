"""Marks of a session: by copy, and one row a student."""

from pathlib import Path

import pytest
from msgspec.structs import fields, replace

from sheetgen.class_book.book import load_book
from sheetgen.class_folder.decisions import Decision, ground_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook
from sheetgen.class_folder.scores import WHOLE, Score
from sheetgen.errors import TemplateError
from sheetgen.marking.marks import (
    MarkRow,
    adjusted_mark,
    adjusted_marks,
    comment_given,
    criterion_measures,
    mark_rows,
    marked_attempts,
    merged_scores,
    scheme_of,
    sheet_scores,
    sheet_slips,
    with_answer_marks,
    with_less_measured,
    with_unusable,
    with_wholes,
    withdrawn_sheets,
)
from sheetgen.marking.scheme import ItemMark, Marking, Reason, SlipFit, StepMark, ToBeMarked
from sheetgen.report.tables import MARKS
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.whose import on_record
from sheetgen.workbook.layout import Value
from tests.classes import PEOPLE, attempt_of, built_class, filled_sheet, returned
from tests.wording import said

WAITING = ToBeMarked("interpretation", "answer_zero", 5, "It would be off.")


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> tuple[ClassFolder, ClassBook, list[Attempt]]:
    folder = built_class(tmp_path_factory.mktemp("marking") / "class")
    book = load_book(folder)
    known = on_record(folder)
    attempts = []
    for student in PEOPLE[:3]:
        path = returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
        attempts.append(attempt_of(path, path.name, known))
    return folder, book, attempts


def _marking(score: float, maximum: float, *waiting: ToBeMarked) -> Marking:
    return Marking("usual", (), score, maximum, waiting)


def test_scheme_of_a_class_without_its_own(tmp_path: Path) -> None:
    assert scheme_of(ClassFolder(tmp_path)).identifier == "usual"


def test_titles_of_the_usual_scheme_are_in_the_language_of_the_class(tmp_path: Path) -> None:
    items = scheme_of(ClassFolder(tmp_path), "es").items
    assert [item.title for item in items][-3:] == [
        "Interpretación y fuentes de error", "Cuidado de la persona", "Precisión frente al profesorado",
    ]  # fmt: skip


def test_scheme_of_a_class_with_faults_names_its_line(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    folder.keep.mkdir()
    folder.marking_scheme.write_text("identifier = 7\n", encoding="utf-8")
    with pytest.raises(TemplateError, match=r"marking\.toml"):
        scheme_of(folder)


def test_marked_attempts_of_sheets_without_a_fault(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    folder, book, attempts = session
    markings = marked_attempts(book, attempts, scheme_of(folder))
    assert {marking.status for marking in markings.values()} == {"to be marked"}
    # All but the 15 points of the short answers, which a person marks.
    assert [marking.score for marking in markings.values()] == [85.0, 85.0, 85.0]


def test_a_reading_that_points_elsewhere_earns_nothing_until_the_teacher_says_yes(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    """Round 2 of every site is =B8 and the like: 14 readings asked for, 7 of them wait."""
    folder, book, attempts = session
    names = [name for name in attempts[0].entries if name.startswith("reading_2_")]
    pointing = replace(attempts[0], formula_names=tuple(names))
    scores = {}
    for status in ("review", "accepted"):
        (marking,) = marked_attempts(book, [replace(pointing, status=status)], scheme_of(folder)).values()
        scores[status] = {item.word: item.score for item in marking.items}
    lost = {word for word, score in scores["accepted"].items() if scores["review"][word] < score}
    assert scores["review"]["recording"] == 0
    assert "recording" in lost
    # Where no pair can be judged, nobody has shown when a third reading is taken.
    assert (scores["review"]["third-reading"], scores["accepted"]["third-reading"]) == (0, 10)


def test_marked_attempts_leave_out_teachers_and_refused_files(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    folder, book, attempts = session
    people = (replace(book.people[0], role="teacher"), *book.people[1:])
    some = [attempts[0], replace(attempts[1], status="refused"), attempts[2]]
    markings = marked_attempts(replace(book, people=people), some, scheme_of(folder))
    assert list(markings) == [attempts[2].record.copy_code]  # type: ignore[union-attr]


def test_criterion_measures_are_those_of_teachers_only(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    _, book, attempts = session
    first = attempts[0]
    assert first.record is not None
    assert first.results is not None
    people = (replace(book.people[0], role="teacher"), *book.people[1:])
    expected = {site.site: site.value_mm for site in first.results.sites}
    assert criterion_measures(replace(book, people=people), attempts) == {
        first.record.participant_code: expected
    }
    practice = replace(first, entries={**first.entries, "data_source": "practice"})
    assert criterion_measures(replace(book, people=people), [practice]) == {}
    assert criterion_measures(book, attempts) == {}


def test_mark_rows_are_made_of_whole_sheets_alone(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    """Lines of items, and the line of a student over all sheets, are no sheet besides."""
    _, book, _ = session
    student = book.people[0].student_id
    scores = [
        Score(1, student, "sum", 5.0, 10.0, "final", "2027-04-02", "K1"),
        Score(1, student, WHOLE, 40.0, 80.0, "final", "2027-04-02", "K1"),
        Score(1, student, WHOLE, 99.0, 100.0, "final", "2027-04-02"),
    ]
    row = mark_rows(book, scores, 100.0)[0]
    assert (row.score, row.status) == (50.0, "final")


def test_sheet_on_which_nothing_could_be_marked_is_out_of_nothing(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    _, _, attempts = session
    assert attempts[0].record is not None
    (whole,) = sheet_scores(attempts[:1], {attempts[0].record.copy_code: _marking(0, 0)}, {}, 1, "2027-04-09")
    assert (whole.item, whole.points, whole.out_of, whole.status) == (WHOLE, None, 0.0, "exempt")


# markings of the three sheets, adjusted marks by number of sheet, (score, status) of the first three people
ROWS: tuple[tuple[tuple[Marking, ...], dict[int, float], tuple[tuple[float | None, str], ...]], ...] = (
    (
        (_marking(80, 100), _marking(40, 80), _marking(0, 0)),
        {},
        ((80, "final"), (50, "final"), (None, "exempt")),
    ),
    (
        (_marking(85, 100, WAITING),) * 3,
        {1: 91.5},
        ((85, "to be marked"), (91.5, "final"), (85, "to be marked")),
    ),
    # Out of the sheet's own maximum: who left something out with good reason loses nothing by it.
    (
        (_marking(60, 75, WAITING), _marking(60, 75, WAITING), _marking(0, 0)),
        {0: 75, 1: 72, 2: 64},
        ((100, "final"), (96, "final"), (64, "final")),
    ),
)


@pytest.mark.parametrize(("markings", "adjusted", "expected"), ROWS)
def test_mark_rows(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
    markings: tuple[Marking, ...],
    adjusted: dict[int, float],
    expected: tuple[tuple[float | None, str], ...],
) -> None:
    folder, book, attempts = session
    codes = [attempt.record.copy_code for attempt in attempts if attempt.record is not None]
    scores = sheet_scores(
        attempts,
        dict(zip(codes, markings, strict=True)),
        {codes[number]: mark for number, mark in adjusted.items()},
        1,
        "2027-04-09",
    )
    rows = mark_rows(book, scores, scheme_of(folder).total)
    assert [(row.score, row.status) for row in rows] == [*expected, (None, "missing")]
    assert [row.scored_on for row in rows] == ["2027-04-09"] * 3 + [""]
    assert {row.max_score for row in rows} == {100}


ALL_SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")
PART = "the whole sheet; {} of 100 points are taken out of the maximum"


# entries, found, expected: recording 15, thirds 10, site values 10, sum 10, density 15, per cent fat 10
@pytest.mark.parametrize(
    ("changes", "found", "expected"),
    [
        (
            {f"not_taken_{site}": "skin" for site in ALL_SITES}
            | {f"reading_{number}_{site}": None for number in (1, 2, 3) for site in ALL_SITES},
            "nothing measured: all 7 sites left out",
            PART.format(70),
        ),
        (
            {"not_taken_chest": "declined", "reading_1_chest": None, "reading_2_chest": None},
            "1 of 7 sites left out, so no sum and no estimate",
            PART.format(35),
        ),
        ({"sex_equation": "sum-only"}, "the sum only, as chosen", PART.format(25)),
        ({"age_years": 80}, "an age that no equation takes", PART.format(25)),
    ],
)
def test_the_teacher_is_told_what_less_measuring_takes_out(
    tmp_path: Path, changes: dict[str, Value], found: str, expected: str
) -> None:
    folder = built_class(tmp_path / "class")
    book, scheme = load_book(folder), scheme_of(folder)
    path = returned(folder, "S01.xlsx", filled_sheet(folder, "S01", changes))
    attempts = [attempt_of(path, path.name, on_record(folder))]
    told = with_less_measured(attempts, marked_attempts(book, attempts, scheme), scheme)
    (finding,) = [one for one in said(told[0].findings) if one.code == "procedure-less-measured"]
    assert (finding.severity, finding.found, finding.expected) == ("warning", found, expected)
    assert told[0].status == "accepted"


def test_nothing_is_told_of_a_whole_sheet_or_one_that_does_not_count(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    folder, book, attempts = session
    scheme = scheme_of(folder)
    markings = marked_attempts(book, attempts, scheme)
    assert with_less_measured(attempts, markings, scheme) == attempts
    refused = [replace(attempt, status="refused") for attempt in attempts]
    assert with_less_measured(refused, markings, scheme) == refused


def test_fields_of_a_mark_are_the_columns_of_the_table() -> None:
    assert [field.name for field in fields(MarkRow)] == [field.name for field in MARKS.fields]


def _sheet(code: str, points: float | None, day: str, status: str = "final", student: str = "S01") -> Score:
    return Score(1, student, WHOLE, points, 80.0 if points is not None else 0.0, status, day, code)


KEPT = (_sheet("K1", 40.0, "2027-03-31"), _sheet("K2", 60.0, "2027-04-02", "to be marked"))
# copy codes taken away, (score, status, day) of S01
WITHDRAWN: tuple[tuple[set[str], tuple[float | None, str, str]], ...] = (
    (set(), (62.5, "to be marked", "2027-04-02")),
    ({"K2"}, (50.0, "final", "2027-03-31")),
    ({"K1", "K2"}, (None, "missing", "2027-04-02")),
)


@pytest.mark.parametrize(("withdrawn", "expected"), WITHDRAWN)
def test_a_sheet_whose_score_was_taken_away_is_in_no_score(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
    withdrawn: set[str],
    expected: tuple[float | None, str, str],
) -> None:
    row = mark_rows(session[1], KEPT, 100.0, withdrawn)[0]
    assert (row.score, row.status, row.scored_on) == expected


def test_withdrawn_sheets_are_those_with_a_yes_now() -> None:
    decisions = (
        Decision(1, 1, "K1", "withdrawn", "", "yes"),
        Decision(2, 1, "K2", "withdrawn", "", "yes"),
        Decision(3, 1, "K2", "withdrawn", "", ""),
        Decision(4, 1, "K3", "withdrawn", "", "perhaps"),
    )
    assert withdrawn_sheets(decisions) == {"K1"}


def test_merged_scores_change_their_day_only_with_their_points() -> None:
    """A sheet of which no file counts any more keeps its score; one that counts is scored anew."""
    now = (_sheet("K2", 60.0, "2027-05-01", "to be marked"), _sheet("K3", 10.0, "2027-05-01"))
    assert merged_scores(KEPT, now, "2027-05-01") == (*KEPT, now[1])
    (changed,) = merged_scores(KEPT[1:], (_sheet("K2", 61.0, "2027-05-01"),), "2027-05-01")
    assert (changed.points, changed.scored_on) == (61.0, "2027-05-01")


def test_what_came_and_cannot_be_used_is_no_missing_work_and_takes_no_score_away() -> None:
    rows = (
        MarkRow("S01", "Ada", "Fen", None, 100.0, "missing"),
        MarkRow("S02", "Bo", "Heath", 70.0, 100.0, "final"),
        MarkRow("S03", "Cy", "Moor", None, 100.0, "missing"),
        MarkRow("S04", "Di", "Wold", None, 100.0, "missing"),
        # a score that was taken away
        MarkRow("S05", "Ed", "Reef", None, 100.0, "missing", "2027-03-01"),
    )
    because = dict.fromkeys(("S01", "S02", "S05"), "file-pdf") | {"S03": "entry-nothing-typed"}
    told = with_unusable(rows, because)
    assert [(row.status, row.unusable_because) for row in told] == [
        ("unusable", "file-pdf"), ("final", ""), ("unusable", "entry-nothing-typed"), ("missing", ""),
        ("missing", ""),
    ]  # fmt: skip
    kept = Score(1, "S01", WHOLE, 12.0, 100.0, "final", "2027-03-01")
    assert with_wholes((), told[:1], [kept], 1) == (kept,)


def test_with_wholes_adds_a_line_a_student() -> None:
    """Of whom nothing counts now, or who is not on the roster any more, the line stays."""
    rows = (MarkRow("S01", "Ada", "Fen", 62.5, 100.0, "final", "2027-04-02"),
            MarkRow("S02", "Bo", "Heath", None, 100.0, "missing", "2027-03-01"))  # fmt: skip
    gone = tuple(Score(1, student, WHOLE, 12.0, 100.0, "final", "2027-03-01") for student in ("S02", "S09"))
    assert with_wholes(KEPT, rows, gone, 1) == (
        Score(1, "S01", WHOLE, 62.5, 100.0, "final", "2027-04-02"),
        *KEPT,
        *gone,
    )


def test_with_wholes_keeps_the_order_of_the_roster() -> None:
    """S02 stands before S01 there; S09 is not on it any more."""
    rows = [MarkRow(student, "", "", 50.0, 100.0, "final", "2027-04-02") for student in ("S02", "S01")]
    gone = Score(1, "S09", WHOLE, 12.0, 100.0, "final", "2027-03-01")
    assert [one.student_id for one in with_wholes((), rows, [gone], 1)] == ["S02", "S01", "S09"]


def test_sheet_scores_hold_every_item_of_a_sheet_and_the_sheet(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    folder, book, attempts = session
    markings = marked_attempts(book, attempts, scheme_of(folder))
    first = attempts[0].record
    assert first is not None
    items = [
        one for one in sheet_scores(attempts, markings, {}, 1, "2027-04-09") if one.sheet == first.copy_code
    ]
    marking = markings[first.copy_code]
    assert [score.item for score in items] == [*(item.word for item in marking.items), WHOLE]
    given = [item.score for item in marking.items if not item.exempt]
    assert [score.points for score in items if score.status != "exempt"] == [*given, 85.0]
    assert (items[-1].out_of, items[-1].status) == (100.0, "to be marked")


def test_a_mark_given_instead_of_the_score_is_final(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    folder, book, attempts = session
    markings = marked_attempts(book, attempts, scheme_of(folder))
    code = next(iter(markings))
    scores = sheet_scores(attempts, markings, {code: 41.5}, 1, "2027-04-09")
    (whole,) = (one for one in scores if (one.item, one.sheet) == (WHOLE, code))
    assert (whole.points, whole.out_of, whole.status) == (41.5, 100.0, "final")


def test_what_a_person_marks_is_sealed_with_the_secret_of_the_class(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    """By name and text, so that another answer has another seal; without a secret there is none."""
    folder, book, attempts = session
    secret = "0a" * 32
    for given in ("", secret):
        markings = marked_attempts(book, attempts, scheme_of(folder), given)
        waiting = [one for marking in markings.values() for one in marking.to_be_marked]
        sealed = [ground_of(one.about, one.text, secret=secret) if given else "" for one in waiting]
        assert len(waiting) == 9
        assert [one.seal for one in waiting] == sealed


CODE = "7K3F-9QXM"
SEALED = ToBeMarked("questions", "answer_zero", 5.0, "More.", seal="k0123456789abcdef")
LINE = ToBeMarked("sum", "own_sum_mm", 10.0, "=A1")
OPEN = Marking(
    "usual",
    (
        ItemMark("questions", "Questions", 5.0, 15.0, False,
                 (Reason("to-be-marked", "zero"), Reason("no-answer", "error"))),
        ItemMark("sum", "Sum", 0.0, 10.0, False, (Reason("formula", "sum_mm"),)),
    ),
    5.0, 25.0, (SEALED, LINE),
)  # fmt: skip
"""5 of 25 points so far; an answer and a line wait."""


def decision(kind: str, value: str, name: str = "", ground: str = "") -> Decision:
    return Decision(1, 1, CODE, kind, name, value, "", ground)


def test_points_for_an_answer_count_in_its_item_and_no_longer_wait() -> None:
    marking = with_answer_marks(OPEN, [decision("answer-mark", "4", "answer_zero")], CODE)
    assert (marking.score, marking.to_be_marked, marking.given) == (9.0, (LINE,), ((SEALED, 4.0),))
    questions, total = marking.items
    assert (questions.score, questions.reasons) == (9.0, (Reason("no-answer", "error"),))
    assert total == OPEN.items[1]
    assert with_answer_marks(OPEN, [decision("answer-mark", "4", "answer_zero")], "another") == OPEN


# what was typed as points out of 5, the score of the sheet
@pytest.mark.parametrize(
    ("typed", "score"),
    [("0", 5.0), ("5", 10.0), ("2.5", 7.5), ("5.5", 5.0), ("-1", 5.0), ("many", 5.0), ("", 5.0)],
)
def test_points_for_an_answer_are_from_nothing_to_what_is_possible(typed: str, score: float) -> None:
    marking = with_answer_marks(OPEN, [decision("answer-mark", typed, "answer_zero")], CODE)
    assert marking.score == score
    assert (SEALED in marking.to_be_marked) == (typed not in ("0", "5", "2.5"))


def test_points_for_another_answer_count_and_wait_to_be_confirmed() -> None:
    decided = [
        decision("answer-mark", "4", "answer_zero", ground_of("answer_zero", "Less.", 5.0)),
        replace(decision("answer-mark", "10", "own_sum_mm", "kfedcba9876543210"), sequence=2),
    ]
    marking = with_answer_marks(OPEN, decided, CODE)
    assert (marking.score, marking.to_be_marked) == (19.0, (SEALED, LINE))
    assert [item.reasons for item in marking.items] == [
        (Reason("no-answer", "error"), Reason("other-answer", "zero")),
        (Reason("formula", "sum_mm"), Reason("other-answer", "sum_mm")),
    ]


# the ground of points given before there were seals, the seal, and none
@pytest.mark.parametrize("ground", [ground_of("answer_zero", "More.", 5.0), SEALED.seal, ""])
def test_points_for_this_very_answer_need_no_confirmation(ground: str) -> None:
    marking = with_answer_marks(OPEN, [decision("answer-mark", "4", "answer_zero", ground)], CODE)
    assert marking.to_be_marked == (LINE,)


# what was typed, maximum of the sheet, mark
@pytest.mark.parametrize(
    ("typed", "maximum", "mark"),
    [
        ("41.5", 100.0, 41.5),
        ("0", 100.0, 0.0),
        ("100", 100.0, 100.0),
        ("100.5", 100.0, None),
        ("-1", 100.0, None),
        ("good", 100.0, None),
        # nothing on the sheet could be marked, so there is no limit
        ("120", 0.0, 120.0),
    ],
)
def test_adjusted_mark_is_from_nothing_to_the_maximum(typed: str, maximum: float, mark: float | None) -> None:
    decided = [decision("mark", typed)]
    assert adjusted_mark(decided, CODE, maximum) == mark
    assert adjusted_mark(decided, "another", maximum) is None
    markings = {CODE: _marking(10.0, maximum), "another": _marking(20.0, maximum)}
    assert adjusted_marks(markings, {CODE: decided}) == ({} if mark is None else {CODE: mark})


def test_comment_on_a_sheet_is_not_one_on_an_answer() -> None:
    decided = [decision("comment", "Well read."), decision("comment", "Which way?", "answer_zero")]
    assert comment_given(decided, CODE) == "Well read."
    assert comment_given(decided, CODE, "answer_zero") == "Which way?"
    assert comment_given(decided, CODE, "answer_error") == ""


def test_slips_of_a_sheet_share_what_a_line_lost(
    session: tuple[ClassFolder, ClassBook, list[Attempt]],
) -> None:
    """A mistake that has cost already loses nothing more."""
    _, _, attempts = session
    assert attempts[0].record is not None
    code, student = attempts[0].record.copy_code, attempts[0].record.student_id

    def line(step: str, state: str, score: float, *words: str) -> StepMark:
        slips = tuple(SlipFit(word) for word in words)
        return StepMark(step, state, 1.0, 1.0, 1.0, 0.1, slips, score, 10.0, 0.0, Reason("slip", step, slips))

    lines = (
        line("site_chest", "wrong", 2.0, "centimetres", "decimal-slip"),
        # the same slip with two details
        line("site_thigh", "wrong", 0.0, "site-twice", "site-twice"),
        line("sum_mm", "wrong", 0.0),
        line("density_g_ml", "again", 10.0, "zero-left-in"),
        line("fat_percent", "right", 10.0),
        line("fat_mass_kg", "blank", 0.0),
    )
    marking = Marking("usual", (ItemMark("sum", "Sum", 0.0, 10.0, False, (), lines),), 0.0, 10.0, ())
    assert [
        (one.session, one.student_id, one.line, one.slip, one.points_lost, one.copy_code)
        for one in sheet_slips(attempts, {code: marking}, 3)
    ] == [
        (3, student, "site_chest", "centimetres", 4.0, code),
        (3, student, "site_chest", "decimal-slip", 4.0, code),
        (3, student, "site_thigh", "site-twice", 10.0, code),
        (3, student, "sum_mm", "none-fits", 10.0, code),
        (3, student, "density_g_ml", "zero-left-in", 0.0, code),
    ]
