"""The plan of the stations, the tab, and its formulas worked out by the spreadsheet program."""

import io
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.class_book.pairing import make_pairs
from sheetgen.class_book.stations import (
    STATIONS_FIRST_ROW,
    StationLine,
    minutes_of_a_wave,
    stations_plan,
)
from sheetgen.class_folder.records import Pairing, Person
from sheetgen.protocols.settings import Caliper
from tests.class_books import book_bytes, layout
from tests.office.client import Office

MINUTES = [
    # readings a circuit, seconds, minutes: readings x 2 x seconds x 1.3 / 60, rounded up
    (7, 45, 14),  # 13.65
    (10, 60, 26),  # 26 exactly
    (3, 30, 4),  # 3.9
    (4, 45, 8),  # 7.8
]


@pytest.mark.parametrize(("readings", "seconds", "minutes"), MINUTES)
def test_minutes_of_a_wave(readings: int, seconds: float, minutes: int) -> None:
    assert minutes_of_a_wave(readings, seconds) == minutes


def test_stations_plan_of_30_students_with_10_calipers() -> None:
    """Worked out by hand: 30 students are 15 pairs, 30 lines. Ten calipers go round by pair: pairs 1 to 10
    get one each, pairs 11 to 15 get C1 to C5 again. So C1 to C5 have 2 pairs, 4 turns, and C6 to C10 have
    1 pair, 2 turns: 4 waves. Seven sites at 45 s are 14 readings, 10.5 minutes, with third readings 13.65,
    rounded up 14: in all 56 minutes. Pair 11 begins in wave 3, at minute 28.
    """
    students = [Person(f"s{number}", "", "") for number in range(1, 31)]
    calipers = [Caliper(f"C{number}", "", 0.5, 60.0, 0.0) for number in range(1, 11)]
    plan = stations_plan(make_pairs(students, calipers).pairings, 7, 45.0)
    assert (plan.waves, plan.minutes_a_wave, plan.minutes) == (4, 14, 56)
    turns = Counter(line.station for line in plan.lines)
    assert turns == {f"C{number}": 4 if number < 6 else 2 for number in range(1, 11)}
    assert plan.lines[:2] == (StationLine("C1", 1, 0, 14), StationLine("C1", 2, 14, 28))
    assert plan.lines[20:22] == (StationLine("C1", 3, 28, 42), StationLine("C1", 4, 42, 56))


def test_stations_plan_of_no_pairs() -> None:
    plan = stations_plan([], 7, 45.0)
    assert (plan.lines, plan.waves, plan.minutes) == ((), 0, 0)


@given(st.lists(st.sampled_from(["C1", "C2", "C3"])))
def test_stations_plan_has_one_turn_at_a_caliper_a_wave(calipers: list[str]) -> None:
    plan = stations_plan([Pairing("a", "b", one) for one in calipers], 7, 45.0)
    turns = [(line.station, line.wave) for line in plan.lines]
    assert len(set(turns)) == len(turns)
    assert [line.station for line in plan.lines] == calipers
    assert plan.waves == max([calipers.count(one) for one in calipers], default=0)


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
