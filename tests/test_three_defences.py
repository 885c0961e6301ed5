"""A parent asks about a mark: the page of feedback answers, with nothing else at hand."""

import openpyxl
import pytest

from tests.classes import built_class, filled_sheet, record_of, returned, run
from tests.reviews import typed

Page = list[list[str]]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Page]:
    """One wrong sum, one third reading missing, one answer with two of five points."""
    folder = built_class(tmp_path_factory.mktemp("defences") / "class")
    wrong: dict[str, dict[str, str | float | None]] = {
        "S01": {"own_sum_mm": 99.0},
        "S02": {"reading_1_thigh": 12.0, "reading_2_thigh": 18.0, "reading_3_thigh": None},
        "S03": {},
    }
    for student, change in wrong.items():
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student, change))
    run("read", folder.root)
    # Answers stand question by question: the first row of S03 is about sources of error.
    typed(folder, "Answers", {("S03", "Points given"): 2, ("S03", "Comment"): "One source, no remedy."})
    run("read", folder.root)
    found = {}
    for student in wrong:
        sheet = openpyxl.load_workbook(folder.feedback(1) / record_of(folder, student).file_name).active
        assert sheet is not None
        rows = sheet.iter_rows(values_only=True)
        found[student] = [[str(value) for value in row if value is not None] for row in rows]
    return found


def row_of(page: Page, begins: str) -> list[str]:
    return next(row for row in page if row and row[0].startswith(begins))


def test_why_are_there_no_points_for_the_sum(pages: dict[str, Page]) -> None:
    line = row_of(pages["S01"], "Sum of the sites, mm")
    # Yours, from the line above, from the readings.
    assert (line[1], line[2] == line[3]) == ("99", True)
    said = line[4]
    assert said.startswith("Not right; the mistake was not recognised. Work this line out again. Numbers: ")
    numbers = said.partition("Numbers: ")[2].partition(". ")[0]
    assert sum(map(float, numbers.split(" + "))) == pytest.approx(float(line[2]))
    assert said.endswith(". 0 of 10 points.")
    assert row_of(pages["S01"], "Density")[1:3] == ["15", "15"]


def test_why_are_points_missing_for_third_readings(pages: dict[str, Page]) -> None:
    item = row_of(pages["S02"], "Third reading where needed")
    assert item[1:] == ["6", "10", "Third reading where needed: 1 of 7 not as it should be"]
    assert ["Thigh", "6", "yes", "no", "A third reading was asked for here"] in pages["S02"]


def test_why_only_two_points_for_an_answer(pages: dict[str, Page]) -> None:
    answer = row_of(pages["S03"], "Name two sources of error")
    assert answer[1:] == ["2", "5", "One source, no remedy."]
