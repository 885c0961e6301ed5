"""The tab Stations, and its formulas worked out by the spreadsheet program."""

import io
from collections.abc import Iterator, Mapping
from pathlib import Path

import openpyxl
import pytest

from sheetgen.layout.class_book_stations import STATIONS_FIRST_ROW
from tests.class_books import book_bytes, layout
from tests.office.client import Office

SUMMARY: list[list[object]] = [["Stations", row, 1] for row in range(2, 7)]


def shown(values: Mapping[tuple[int, int], object], line: int) -> list[object]:
    return [values[STATIONS_FIRST_ROW + line, column] for column in range(7)]


def test_stations_tab_of_five_people_with_two_calipers() -> None:
    """Two measure each other with C1, three go round with C 2: 3 waves. Seven sites at 40 s are 14 readings,
    9.33 minutes, with third readings 12.13, rounded up 13. No family name stands there."""
    tab = layout().tab("stations")
    values = {(cell.row, cell.column): cell.value for cell in tab.cells}
    assert [values[row, 1] for row in range(2, 7)] == [2, 5, 3, 13, 39]
    assert [shown(values, line) for line in range(6)] == [
        ["C1", 1, 0, 13, "007", "Zoë", "Bo"],
        ["C1", 2, 13, 26, "s08", "Bo", "Zoë"],
        ["C 2", 1, 0, 13, "=1+1", "<Ada & Co>", "New"],
        ["C 2", 2, 13, 26, "S11", "New", "Last"],
        ["C 2", 3, 26, 39, "s12", "Last", "<Ada & Co>"],
        [""] * 7,
    ]
    assert not {"Müller", "Comer", "One"} & {str(value) for value in values.values()}


def test_stations_tab_is_to_be_printed() -> None:
    """The headings on every page, and not the spare lines of which there are 200."""
    tab = layout().tab("stations")
    headings = [cell.value for cell in tab.cells if cell.row == tab.repeat]
    assert headings == [
        "Station (caliper)", "Wave", "From, min", "To, min", "Measurer id", "Measurer", "Measures",
    ]  # fmt: skip
    assert tab.printed_rows == STATIONS_FIRST_ROW + 5 + 12
    assert {cell.role for cell in tab.cells} == {"label", "formula"}


@pytest.fixture(scope="module")
def book(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    path = Path(tmp_path_factory.mktemp("stations")) / "book.xlsx"
    path.write_bytes(book_bytes())
    with office.workbook(path) as handle:
        yield handle


CASES = [
    # what is typed, summary (calipers, pairs, waves, minutes a wave, minutes), a line and what stands there
    ({"seconds_a_reading": None}, [2, 5, 3, 14, 42], 1, ["C1", 2, 14, 28, "s08", "Bo", "Zoë"]),
    ({"protocol": "two-folds"}, [2, 5, 3, 4, 12], 1, ["C1", 2, 4, 8, "s08", "Bo", "Zoë"]),
    ({"protocol": None}, [2, 5, 3, 13, 39], 0, ["C1", 1, 0, 13, "007", "Zoë", "Bo"]),
    ({"roster_2_status": "left"}, [2, 3, 3, 13, 39], 0, [""] * 7),
    # Line 6 without a caliper gets the next in turn by line: of two, the second.
    (
        {"pair_6_measurer": "t1", "pair_6_participant": "s08"},
        [2, 6, 4, 13, 52], 5, ["C 2", 4, 39, 52, "t1", "Tea", "Bo"],
    ),
    (
        {"pair_6_measurer": "t1", "pair_6_participant": "s08", "caliper_3_in_service": "yes"},
        [3, 6, 3, 13, 39], 5, ["C3", 1, 0, 13, "t1", "Tea", "Bo"],
    ),
    (
        {"pair_6_measurer": "t1", "pair_6_participant": "s08", "pair_6_caliper": "c1"},
        [2, 6, 3, 13, 39], 5, ["c1", 3, 26, 39, "t1", "Tea", "Bo"],
    ),
    ({"pair_6_measurer": "t1", "pair_6_participant": "s99"}, [2, 5, 3, 13, 39], 5, [""] * 7),
]  # fmt: skip


@pytest.mark.office
@pytest.mark.parametrize(("changes", "summary", "line", "expected"), CASES)
def test_stations_tab_follows_what_is_typed(
    office: Office,
    book: int,
    changes: dict[str, str | None],
    summary: list[float],
    line: int,
    expected: list[object],
) -> None:
    titles = {tab.key: tab.title for tab in layout().tabs}
    at = {name: [titles[key], row, column] for name, (key, row, column) in layout().places().items()}
    places = [*SUMMARY, *(["Stations", STATIONS_FIRST_ROW + line, column] for column in range(7))]
    found = office.cases(book, places, [[[*at[name], value] for name, value in changes.items()]])[0]
    before = {cell.name: cell.value for tab in layout().tabs for cell in tab.cells if cell.role == "entry"}
    office.set(book, [[*at[name], before[name]] for name in changes])
    assert list(found) == [*summary, *expected]


def test_stations_tab_prints_its_headings_on_every_page_and_no_spare_pages() -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(book_bytes()))
    assert workbook["Stations"].print_title_rows == "$9:$9"
    assert workbook["Stations"].print_area == "'Stations'!$A$1:$G$26"
    assert workbook["Roster"].print_title_rows == "$5:$5"
    assert workbook["Roster"].print_area == "'Roster'!$A$1:$M$23"
    assert not workbook["Calipers"].print_area
