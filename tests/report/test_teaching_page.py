from collections.abc import Mapping, Sequence

from sheetgen.class_folder.scores import NONE_FITS, LineSlip
from sheetgen.marking.scheme import ItemMark, Marking, Reason, StepMark, ToBeMarked
from sheetgen.report.page import Page, SessionResults
from sheetgen.report.teaching_page import teaching_page
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import class_analysis
from sheetgen.texts.languages import texts_in
from tests.report.invented import BOOK, PROTOCOL, finding, returned

TEXTS = texts_in("en", "sheet", "findings", "report", "marking", "feedback")
SLIPS = (
    LineSlip(1, "1001", "site_triceps", "zero-left-in", 2.0, "K1"),
    LineSlip(1, "1001", "site_front_thigh", "zero-left-in", 2.0, "K1"),
    LineSlip(1, "1002", "site_triceps", "zero-left-in", 2.0, "K2"),
    LineSlip(1, "1002", "sum_mm", NONE_FITS, 5.0, "K2"),
    LineSlip(1, "1003", "sum_mm", NONE_FITS, 5.0, "K3"),
    LineSlip(1, "1001", "sum_mm", "site-left-out", 5.0, "K1"),
)


def blank(step: str) -> StepMark:
    return StepMark(step, "blank", None, None, 1.0, 0.0, (), 0.0, 2.0, 0.0, Reason("blank", step))


def marking(*steps: StepMark) -> Marking:
    """8 of 10 points lost in the sum; of the 15 for answers all wait."""
    items = (
        ItemMark("sum", "Sum", 2.0, 10.0, False, (), steps),
        ItemMark("questions", "Questions", 0.0, 15.0, False, ()),
    )
    return Marking("usual", items, 2.0, 25.0, (ToBeMarked("questions", "answer_zero", 15.0, "x"),))


def page(
    slips: Sequence[LineSlip], marks: Mapping[str, Marking], attempts: Sequence[Attempt] = ()
) -> Page | None:
    analysis = class_analysis(attempts, BOOK, 1)
    results = SessionResults(BOOK, attempts, 1, (), analysis, slips=slips, markings=marks)
    return teaching_page(results, PROTOCOL, TEXTS)


def made(slips: Sequence[LineSlip], marks: Mapping[str, Marking], attempts: Sequence[Attempt] = ()) -> Page:
    found = page(slips, marks, attempts)
    assert found is not None
    return found


def test_slips_by_kind_with_how_many_people_the_commonest_first_the_unknown_last() -> None:
    page = made(SLIPS, {})
    assert [(row[0], row[1], row[3]) for row in page.rows] == [
        ("The zero of the caliper was not deducted", 2, 3),
        ("A site was left out", 1, 1),
        ("Not recognised: no known slip explains the line", 2, 2),
    ]


def test_where_most_points_were_lost_and_the_line_most_often_left_empty() -> None:
    marks = {
        "K1": marking(blank("density_g_ml")),
        "K2": marking(blank("density_g_ml"), blank("fat_percent")),
    }
    page = made((), marks)
    assert page.sentences == (
        "Most points were lost in: Sum (16 of 20).",
        "Most often left empty: body density (sheets: 2).",
    )


def test_the_example_for_the_board_is_the_line_of_the_commonest_slip_from_an_invented_sheet() -> None:
    """Readings 10.5 and 11.5 less 0.5 are 10 and 11 mm: 10.5 mm."""
    page = made(SLIPS, {})
    assert page.sentences == (
        "For the board, from an invented sheet. Corrected value, Triceps: readings 10.5; 11.5; zero 0.5; "
        "readings less zero 10; 11. That gives 10.5.",
    )


def test_the_page_names_nobody() -> None:
    page = made(SLIPS, {"K1": marking()})
    assert not {code for code in ("1001", "1002", "1003", "K1", "K2", "K3") if code in str(page)}


def test_habits_count_people_and_say_what_to_practise() -> None:
    zero = finding("procedure-zero-differs", "warning", "Start", "B10")
    attempts = [
        returned(1, "accepted", zero),
        returned(2, "review", zero, zero),
        returned(3, "superseded", zero),
        returned(2, "accepted", finding("sheet-names-lost", "note")),
    ]
    (section,) = made((), {}, attempts).more
    assert section.rows == (
        (
            "The zero typed is not the zero in the register",
            2,
            "The zero: close the jaws, wait for the pointer to rest, and read it twice.",
        ),
    )


def test_the_page_is_not_made_where_nothing_is_to_be_taught_again() -> None:
    assert page((), {}) is None
