import pytest

from sheetgen.checking.class_analysis import class_analysis
from sheetgen.report.class_summary import class_summary_page, count_words
from tests.class_samples import CLASSES
from tests.report.analysed import TITLES, compared
from tests.report.invented import TEXTS
from tests.simulation import BOOK, attempt_of


# count, of, what the class is shown
@pytest.mark.parametrize(
    ("count", "of", "words"),
    [(0, 30, "fewer than 5"), (4, 30, "fewer than 5"), (5, 30, "5"), (25, 30, "25"), (26, 30, "nearly all")],
)
def test_count_words(count: int, of: int, words: str) -> None:
    assert count_words(count, of, TEXTS) == words


def test_class_summary_names_the_site_to_work_on() -> None:
    page = class_summary_page(compared()[2], TITLES, TEXTS)
    assert page.wall
    assert page.sentences == (
        "90 sheets are in this picture.",
        "The site to work on: Abdominal. It repeats worst, by more than chance.",
        "No final digit stands out among the readings.",
    )


def test_class_summary_holds_no_code_and_no_small_count() -> None:
    page = class_summary_page(compared()[2], TITLES, TEXTS)
    assert {row[0] for row in page.rows} == set(TITLES.values())
    counts = [row[2] for row in page.rows]
    assert "fewer than 5" in counts
    assert all(int(str(count)) >= 5 for count in counts if str(count).isdigit())


def test_class_summary_tells_digits_that_pile_up() -> None:
    page = class_summary_page(CLASSES["class-digit-preference"](), TITLES, TEXTS)
    assert page.sentences[-1] == (
        "Scales of 0.5 mm: readings pile up on the digit 0: read what the scale shows, not rounder."
    )


def test_class_summary_of_few_students_shows_nothing() -> None:
    sheets = [attempt_of(f"S{number:02}", "P20", {"reading_1_chest": 10.0}) for number in range(4)]
    page = class_summary_page(class_analysis(sheets, BOOK, 1), TITLES, TEXTS)
    assert page.sentences == ("Fewer than 5 students handed in a sheet that counts: nothing is shown.",)
    assert (page.headings, page.rows, page.charts) == ((), (), ())
