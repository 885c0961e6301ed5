from collections.abc import Sequence

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import LineSlip
from sheetgen.finding import Finding, Worded
from sheetgen.marking.scheme import Marking, ToBeMarked
from sheetgen.protocols.settings import BuiltWith
from sheetgen.report.page import Section, SessionResults
from sheetgen.report.today import (
    Talk,
    came_back,
    class_summary_page,
    could_not,
    count_words,
    drill_sections,
    missing_sheets,
    names_page,
    place_of,
    to_talk_to,
    to_teach,
    today_page,
)
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.came_back import unusable_files
from sheetgen.statistics.analysis import class_analysis
from tests.class_samples import CLASSES
from tests.marking.test_drill import CODES, Reader
from tests.marking.test_drill import SETTINGS as DRILL_SETTINGS
from tests.marking.test_drill import attempt_of as attempt_with_drill
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import (
    BOOK,
    PROTOCOL,
    SETTINGS,
    TEXTS,
    accepted,
    finding,
    record,
    refused_without_record,
    returned,
)
from tests.sheets import sheet_of
from tests.simulation import BOOK as BOOK_of_class_summary
from tests.simulation import attempt_of

HANDED_OUT = (record(1), record(2), record(3))


def results_of(
    attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord], book: ClassBook = BOOK
) -> SessionResults:
    unusable = unusable_files(attempts, (), book, 1)
    return SessionResults(book, attempts, 1, handed_out, class_analysis(attempts, book, 1), unusable=unusable)


def test_came_back_counts_what_there_is_of_every_status() -> None:
    attempts = [
        accepted(1),
        returned(1, "superseded", file="old.xlsx"),
        returned(2, "review"),
        refused_without_record(),
    ]
    assert came_back(results_of(attempts, HANDED_OUT), TEXTS) == (
        "Sheets handed out: 3. Files that came back: 4. Count: 1; for you to decide: 1; cannot be used: 1; "
        "replaced by another file of the same sheet: 1.",
    )
    assert came_back(results_of([], HANDED_OUT), TEXTS) == ("Sheets handed out: 3. Files that came back: 0.",)


def test_came_back_does_not_tell_practice() -> None:
    practice = results_of([accepted(1, data_source="practice")], HANDED_OUT)
    assert came_back(practice, TEXTS) == came_back(results_of([accepted(1)], HANDED_OUT), TEXTS)


def test_came_back_leaves_out_other_sessions_and_counts_their_strays() -> None:
    results = replace(results_of([], [record(1), record(1, session=2)]), strays=3)
    assert came_back(results, TEXTS) == (
        "Sheets handed out: 1. Files that came back: 0.",
        "Sheets of other sessions among the files: 3. They count when that session is read.",
    )


def test_came_back_counts_spare_sheets_apart() -> None:
    spare = replace(record(1), copy_code="S1", student_id="")
    said = came_back(results_of([], [record(1), spare]), TEXTS)
    assert said == ("Sheets handed out: 1. Files that came back: 0.", "Spare sheets handed out besides: 1.")
    assert missing_sheets(results_of([], [spare]), TEXTS) == ()


def test_missing_sheets_with_what_came_back() -> None:
    changed = Finding("identity-unknown-copy", {"code": "2345-6789"}, severity="error")
    attempts = [accepted(1), replace(returned(2, "refused", file="copy.xlsx"), findings=(changed,))]
    came = "that is identity-unknown-copy (copy.xlsx)"
    assert missing_sheets(results_of(attempts, HANDED_OUT[::-1]), TEXTS) == (
        ("=Tam Reeve", "1002", came),
        ("Ines Holt", "1003", "nothing"),
    )


def test_missing_sheets_tell_a_file_that_only_its_name_connects_and_an_untouched_one() -> None:
    pdf = Finding("file-pdf", {"found": "a PDF"}, severity="error")
    untouched = Finding("entry-nothing-typed", severity="warning")
    attempts = [
        accepted(1),
        replace(refused_without_record(), file="Ines Holt/s.pdf", findings=(pdf,)),
        replace(returned(2, "review", file="s.xlsx"), findings=(untouched,)),
    ]
    assert [row[2] for row in missing_sheets(results_of(attempts, HANDED_OUT), TEXTS)] == [
        "nothing is typed in it yet (s.xlsx)",
        "that is file-pdf (Ines Holt/s.pdf, theirs by its name)",
    ]


def test_missing_sheets_where_all_came_back() -> None:
    attempts = [accepted(1), returned(2, "review"), accepted(3)]
    assert missing_sheets(results_of(attempts, HANDED_OUT), TEXTS) == ()


def test_missing_sheets_of_who_has_left_are_not_waited_for() -> None:
    people = tuple(
        replace(person, status="left") if person.student_id == "1003" else person for person in BOOK.people
    )
    missing = missing_sheets(results_of([], HANDED_OUT, replace(BOOK, people=people)), TEXTS)
    assert "1003" not in [one[1] for one in missing]
    assert len(missing) == 2


def parts(results: SessionResults, *talks: Talk) -> dict[str, Section]:
    return {part.title: part for part in today_page(results, talks, ("Nothing more.",), TEXTS).more}


def test_today_says_where_to_click_for_what_waits() -> None:
    wanted = ToBeMarked("questions", "answer_zero", 15.0, "x")
    marking = Marking("usual", (), 2.0, 25.0, (wanted, replace(wanted, about="answer_error")))
    attempts = [accepted(1), returned(2, "review"), refused_without_record()]
    results = replace(results_of(attempts, HANDED_OUT), markings={"K1": marking})
    assert [(row[0], row[1], row[2].target) for row in parts(results)["Waits for you"].rows] == [  # type: ignore[union-attr]
        ("answers to mark: 2", "", "external:../../review/session-1.xlsx#'Answers'!A1"),
        ("files to decide on: 1", "1002", "external:../../review/session-1.xlsx#'Files'!A1"),
        ("unusable files: 1", "", "internal:'Sheets'!A1"),
        ("who is missing", "", "external:missing.txt"),
    ]


def test_today_where_nothing_waits() -> None:
    found = parts(results_of([accepted(1), accepted(2), accepted(3)], HANDED_OUT))
    said = {title: part.sentences for title, part in found.items() if not part.rows}
    assert said == {
        "Missing, or cannot be used": ("Everybody's sheet is here.",),
        "Waits for you": ("Nothing.",),
        "To teach again": ("Nothing stands out.",),
        "To talk to": ("Nobody.",),
        "Could not be given": ("Nothing more.",),
    }


def test_today_names_whom_to_talk_to_and_counts_the_rest() -> None:
    one = Talk(("1001", "1002"), "", "their sheets hold the same numbers")
    talk = parts(results_of([], HANDED_OUT), *[one] * 12)["To talk to"]
    assert len(talk.rows) == 8
    assert talk.rows[0] == ("Odile Marsh + =Tam Reeve", "1001, 1002", "Their sheets hold the same numbers.")
    assert talk.sentences == ("And 4 more: see the tab Sheets.",)


def test_to_teach_is_what_most_people_need() -> None:
    """A finding about the class concerns everybody; then slips and habits by the people who have them."""
    zero = finding("procedure-zero-differs", "warning")
    slips = [
        LineSlip(1, student, "sum_mm", "site-left-out", 5.0, "K1") for student in ("1001", "1002", "1003")
    ]
    worst = Worded("class-site-stands-out", "note", "Triceps repeats worst", "all alike", "Show it again.")
    results = replace(
        results_of([returned(1, "accepted", zero), returned(2, "accepted", zero)], HANDED_OUT),
        slips=slips,
        class_findings=[worst],
    )
    assert [row[:2] for row in to_teach(results, TEXTS)] == [
        ("A site was left out", 3),
        ("That is procedure-zero-differs", 2),
        ("Triceps repeats worst", 2),
    ]


def test_to_teach_names_the_kind_of_drawn_scale_that_most_people_misread() -> None:
    """Two read one mark too far where steps are 1 mm, one forgets every zero: at the zeroed scale of 1 mm
    all three are wrong, and most of them one mark too far."""

    def too_far(step: float, zero: float, shown: float) -> float:
        return shown - zero + (1.0 if step == 1.0 else 0.0)

    _, two, three = _drilled(3, too_far)
    forgets, _, _ = _drilled(3, lambda step, zero, shown: shown)
    (row,) = to_teach(results_of([forgets, two, three], HANDED_OUT), TEXTS)
    assert row == (
        "Reading drill, steps of 1 mm, with a zero to take off: One mark off, too high", 3,
        "Draw such a scale on the board and read it together.",
    )  # fmt: skip
    right, _, _ = _drilled(3, lambda step, zero, shown: shown - zero)
    assert to_teach(results_of([right], HANDED_OUT), TEXTS) == []


def test_could_not_says_in_one_line_what_is_not_given_and_why() -> None:
    (line,) = could_not(alone()[2], TEXTS)
    assert line.startswith("Agreement with the teacher (the teacher handed in no sheet of their own ")
    assert line.endswith("; agreement between students (nobody was measured by two students).")
    assert could_not(compared()[2], TEXTS) == ()


def test_names_are_for_the_teacher_alone() -> None:
    page = names_page(results_of([], HANDED_OUT), TEXTS)
    assert not page.printed
    assert page.rows[0] == ("Odile Marsh", "1001", "P01", "K1")


# count, of, what the class is shown
@pytest.mark.parametrize(
    ("count", "of", "words"),
    [(0, 30, "fewer than 5"), (4, 30, "fewer than 5"), (5, 30, "5"), (25, 30, "25"), (26, 30, "nearly all")],
)
def test_count_words(count: int, of: int, words: str) -> None:
    assert count_words(count, of, TEXTS) == words


def test_class_summary_names_the_site_to_work_on() -> None:
    page = class_summary_page(compared()[2], "1", TITLES, TEXTS)
    assert page.wall
    assert page.sentences == (
        "90 sheets are in this picture.",
        "The site to work on: Abdominal. It repeats worst, by more than chance.",
        "No final digit stands out among the readings.",
    )


def test_class_summary_holds_no_code_and_no_small_count() -> None:
    page = class_summary_page(compared()[2], "1", TITLES, TEXTS)
    assert {row[0] for row in page.rows} == set(TITLES.values())
    counts = [row[2] for row in page.rows]
    assert "fewer than 5" in counts
    assert all(int(str(count)) >= 5 for count in counts if str(count).isdigit())


def test_class_summary_tells_digits_that_pile_up() -> None:
    page = class_summary_page(CLASSES["class-digit-preference"](), "1", TITLES, TEXTS)
    assert page.sentences[-1] == (
        "Scales of 0.5 mm: readings pile up on the digit 0: read what the scale shows, not rounder."
    )


def test_class_summary_of_few_students_shows_nothing() -> None:
    sheets = [attempt_of(f"S{number:02}", "P20", {"reading_1_chest": 10.0}) for number in range(4)]
    page = class_summary_page(class_analysis(sheets, BOOK_of_class_summary, 1), "1", TITLES, TEXTS)
    assert page.sentences == ("Fewer than 5 students handed in a sheet that counts: nothing is shown.",)
    assert (page.headings, page.rows, page.charts) == ((), (), ())


PLACE = ("Readings", "E9", "", "warning")
MISSING = Finding("procedure-third-missing", {"apart": 4.0}, *PLACE, name="reading_3_front_thigh")
BUILT_WITH = BuiltWith(settings=SETTINGS, protocol=PROTOCOL, layout_version=3)


def about(*findings: Finding, number: int = 1, status: str = "accepted") -> tuple[Talk, ...]:
    attempt = replace(returned(number, status, *findings), built_with=BUILT_WITH)
    return to_talk_to([attempt], class_analysis([attempt], BOOK, 1), TEXTS)


def test_a_line_says_who_where_and_what_in_plain_words() -> None:
    (talk,) = about(MISSING)
    assert talk.line(TEXTS, "1001") == (
        "1001, front thigh: rounds 1 and 2 are 4 mm apart and there is no third reading."
    )
    assert talk.line(TEXTS) == "Front thigh: rounds 1 and 2 are 4 mm apart and there is no third reading."


def test_a_person_has_one_line_with_the_gravest_first() -> None:
    grave = finding("sheet-formula-changed", "error", "Sites", "A2")
    (talk,) = about(MISSING, grave, finding("entry-number-as-text", "note"))
    assert talk.line(TEXTS, "1001") == "1001, tab Sites: that is sheet-formula-changed. (1 more to ask.)"


def test_nobody_is_asked_about_a_note_or_about_what_was_left_out_by_right() -> None:
    assert about(finding("entry-number-as-text", "note"), finding("procedure-less-measured", "warning")) == ()


@pytest.mark.parametrize("status", ["refused", "superseded"])
def test_nobody_is_asked_about_a_file_that_does_not_count(status: str) -> None:
    assert about(MISSING, status=status) == ()


def test_two_people_with_the_same_numbers_come_first() -> None:
    _, attempts, analysis = compared()
    first = to_talk_to(attempts, analysis, TEXTS)[0]
    assert first.people == ("S05", "S20")
    assert first.words.startswith(
        "their sheets hold the same numbers at 5 sites; ask first for an innocent cause"
    )


def test_a_second_round_that_is_thinner_everywhere_is_asked_about() -> None:
    analysis = CLASSES["class-second-round-thinner"]()
    (talk,) = to_talk_to((), analysis, TEXTS)
    assert talk.line(TEXTS, talk.people[0]).startswith("S01: round 2 thinner in 7 of 7 pairs that differ")


def test_a_quiet_class_has_nobody_to_talk_to() -> None:
    _, attempts, analysis = alone()
    assert [talk.people for talk in to_talk_to(attempts, analysis, TEXTS)] == []


# name of the cell, the place in words
PLACES = (
    ("age_years", "age of the person measured (tab Start)"),
    ("reading_2_triceps", "triceps"),
    ("not_taken_triceps", "triceps"),
    ("own_sum_mm", "tab Start"),
)


@pytest.mark.parametrize(("name", "place"), PLACES)
def test_place_of_a_finding_in_words(name: str, place: str) -> None:
    one = Finding("entry-missing", tab="Start", cell="B6", name=name)
    assert place_of(replace(accepted(1), built_with=BUILT_WITH), one, TEXTS) == place


def test_place_of_a_finding_about_the_whole_file_is_empty() -> None:
    assert place_of(accepted(1), Finding("file-template"), TEXTS) == ""


def _drilled(people: int, reader: Reader) -> list[Attempt]:
    attempts = [
        attempt_with_drill(sheet_of(DRILL_SETTINGS, copy_code=CODES[at % 3]), reader) for at in range(people)
    ]
    return [
        replace(attempt, record=replace(attempt.record, student_id=f"S{at:02}"))
        for at, attempt in enumerate(attempts)
        if attempt.record is not None
    ]


def test_class_summary_tells_which_drawn_scale_is_misread_and_which_way() -> None:
    """Everybody forgets the zero of 0.2 mm scales and reads one mark too far where steps are 1 mm; the scales
    with a zero are 3 (1 mm), 5 and 8 (0.2 mm), and 10 (0.5 mm)."""

    def reader(step: float, zero: float, shown: float) -> float:
        return {0.5: shown - zero, 0.2: shown, 1.0: shown - zero + 1.0}[step]

    (section,) = drill_sections(_drilled(6, reader), TEXTS)
    assert section.title == "Reading drill: which scale is misread"
    assert [row[:3] for row in section.rows] == [
        ("steps of 0.2 mm", 6, 0),
        ("steps of 0.2 mm, with a zero to take off", 12, 12),
        ("steps of 0.5 mm", 18, 0),
        ("steps of 0.5 mm, with a zero to take off", 6, 0),
        ("steps of 1 mm", 12, 12),
        ("steps of 1 mm, with a zero to take off", 6, 6),
    ]
    words = [row[3] for row in section.rows]
    assert str(words[1]).startswith("The zero forgotten, or taken off the wrong way")
    assert (words[0], words[2], words[3]) == ("", "", "")
    assert words[4:] == ["One mark off, too high"] * 2
    page = class_summary_page(
        class_analysis([], BOOK_of_class_summary, 1), "1", TITLES, TEXTS, _drilled(6, reader)
    )
    assert page.more == (section,)
    assert page.wall


def test_class_summary_of_a_drill_of_four_people_or_none_has_no_table() -> None:
    assert drill_sections(_drilled(4, lambda step, zero, shown: shown), TEXTS) == ()
    assert drill_sections(_drilled(5, lambda step, zero, shown: None), TEXTS) == ()
    assert len(drill_sections(_drilled(5, lambda step, zero, shown: shown), TEXTS)) == 1
