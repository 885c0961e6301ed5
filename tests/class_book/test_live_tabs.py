"""The hidden tab, the tab Stations, and what the live checks say of a book that is written out; the formulas
of the checks are worked out in test_tabs."""

import io
from collections.abc import Iterator, Mapping
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.live_tabs import (
    STATIONS_FIRST_ROW,
    blocks_off,
    check_again_by,
    first_caliper_check,
    first_pair_check,
    full_name,
    zero_is_large,
)
from sheetgen.class_book.table import FIRST_ROW, HIDDEN_AT, TABLES, Places
from sheetgen.class_folder.records import CaliperCheck, Pairing
from sheetgen.protocols.settings import Caliper
from sheetgen.workbook.layout import Value
from tests.class_books import BOOK, book_bytes, layout, protocols, texts
from tests.office.client import Office

C1 = Caliper("C1", "spring", 0.5, 60.0, 0.0)


@pytest.mark.parametrize(
    ("given", "family", "expected"),
    [("Bo", "Ek", "Bo Ek"), ("Bo", "", "Bo"), (" Bo  B", "Ek ", "Bo B Ek"), ("", "", "")],
)
def test_full_name(given: str, family: str, expected: str) -> None:
    assert full_name(given, family) == expected


def fixed_in(key: str) -> list[Value]:
    """What stands below the heading of a column of the hidden tab."""
    cells = layout().tab("calculator").cells
    return [cell.value for cell in cells if cell.row >= FIRST_ROW and cell.column == HIDDEN_AT[key]]


def test_calculator_tab_holds_the_codes_given_out() -> None:
    coded = [person for person in BOOK.people if person.participant_code]
    assert fixed_in("coded_ids") == [person.student_id for person in coded]
    assert fixed_in("given_codes") == [person.participant_code for person in coded]


def test_calculator_tab_holds_the_protocols() -> None:
    assert fixed_in("protocols") == [protocol.identifier for protocol in protocols()]
    assert fixed_in("site_counts") == [len(protocol.sites) for protocol in protocols()]


@pytest.mark.parametrize(("zero", "large"), [(1.0, False), (-1.0, False), (1.01, True), (-1.1, True)])
def test_zero_is_large(zero: float, large: bool) -> None:
    assert zero_is_large(replace(C1, zero=zero)) is large


BLOCKS = [
    # zero, step, readings, those that are off; 10.6 - 0.1 - 10 is exactly 0.5
    (0.1, 0.5, ((10.0, 10.6),), ()),
    (0.0, 0.5, ((10.0, 10.6), (20.0, 19.5)), ((10.0, 10.6),)),
    (-0.4, 0.2, ((30.0, 29.4), (40.0, 39.3)), ((40.0, 39.3),)),
    (0.0, 0.5, (), ()),
]


@pytest.mark.parametrize(("zero", "step", "readings", "off"), BLOCKS)
def test_blocks_off(
    zero: float, step: float, readings: tuple[tuple[float, float], ...], off: tuple[tuple[float, float], ...]
) -> None:
    assert blocks_off(replace(C1, zero=zero, division=step), CaliperCheck("C1", readings)) == off


def test_check_again_by() -> None:
    assert check_again_by(CaliperCheck("C1", checked_on="1999-12-31")) == "2000-12-31"
    assert check_again_by(CaliperCheck("C1")) == ""


CALIPERS = [
    # zero, readings, day, in service, said
    (2.0, ((10.0, 30.0),), "", True, "use for practice only or have it adjusted"),
    (0.0, ((10.0, 30.0),), "", True, "off on a block by more than one step"),
    (0.0, (), "", True, "no check on record"),
    (0.0, (), "2027-03-31", True, ""),
    (2.0, ((10.0, 30.0),), "", False, ""),
]


@pytest.mark.parametrize(("zero", "readings", "day", "used", "said"), CALIPERS)
def test_first_caliper_check(
    zero: float, readings: tuple[tuple[float, float], ...], day: str, used: bool, said: str
) -> None:
    caliper = replace(C1, zero=zero, in_service=used)
    assert first_caliper_check(texts(), caliper, CaliperCheck("C1", readings, day)) == said


def test_first_pair_check_of_pairs_with_something_to_say() -> None:
    together = Pairing("S11", "007", "C1")
    people = tuple(replace(each, status="left") if each.student_id == "s08" else each for each in BOOK.people)
    said = first_pair_check(texts(), replace(BOOK, people=people, pairings=(*BOOK.pairings, together)))
    assert list(said.values()) == [
        *["left the class: this line is left out"] * 2,
        # S11 is measured there in the wave in which the last line asks S11 to measure.
        "one of the two is elsewhere in this wave", "", "", "these two are to be kept apart",
    ]  # fmt: skip


def test_checks_know_no_clock() -> None:
    """First results would be wrong the day after, and the same class book would not be the same file."""
    places = Places(texts(), {"roster": 10, "calipers": 3, "pairs": 10, "protocols": 2})
    columns = [(table.key, column.formula) for table in TABLES.values() for column in table.columns]
    made = [places.formula(text, key, 0) for key, text in columns if text]
    assert len(made) == 7
    assert [text for text in made if "TODAY" in text or "NOW(" in text] == []
    assert max(map(len, made)) < 8192


SUMMARY: list[list[object]] = [["Stations", row, 1] for row in range(2, 9)]


def shown(values: Mapping[tuple[int, int], object], line: int) -> list[object]:
    return [values[STATIONS_FIRST_ROW + line, column] for column in range(8)]


def test_stations_tab_of_five_people_with_two_calipers() -> None:
    """Two measure each other with C1, three go round with C 2: 3 waves. Seven sites at 40 s are 14 readings,
    9.33 minutes, with third readings 12.13, with marking and changing 19.63, rounded up 20: 60 in all. Of a
    lesson of 60 minutes 45 are left, 2 waves; 2 lessons. No family name stands there."""
    tab = layout().tab("stations")
    values = {(cell.row, cell.column): cell.value for cell in tab.cells}
    assert [values[row, 1] for row in range(2, 9)] == [2, 5, 3, 20, 60, 2, 2]
    assert [shown(values, line) for line in range(6)] == [
        ["C1", 1, 1, 0, 20, "007", "Zoë", "Bo"],
        ["C1", 1, 2, 20, 40, "s08", "Bo", "Zoë"],
        ["C 2", 1, 1, 0, 20, "=1+1", "<Ada & Co>", "New"],
        ["C 2", 1, 2, 20, 40, "S11", "New", "Last"],
        ["C 2", 2, 3, 0, 20, "s12", "Last", "<Ada & Co>"],
        [""] * 8,
    ]
    assert not {"Müller", "Comer", "One"} & {str(value) for value in values.values()}


def test_stations_tab_is_to_be_printed() -> None:
    """The headings on every page, and not the spare lines of which there are 200."""
    tab = layout().tab("stations")
    headings = [cell.value for cell in tab.cells if cell.row == tab.repeat]
    assert headings == [
        "Station (caliper)", "Lesson", "Wave", "From, min", "To, min", "Measurer id", "Measurer", "Measures",
    ]  # fmt: skip
    assert tab.printed_rows == STATIONS_FIRST_ROW + 5 + 10
    assert {cell.role for cell in tab.cells} == {"label", "formula"}


@pytest.fixture(scope="module")
def book(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    path = Path(tmp_path_factory.mktemp("stations")) / "book.xlsx"
    path.write_bytes(book_bytes())
    with office.workbook(path) as handle:
        yield handle


CASES = [
    # what is typed, summary (calipers, pairs, waves, minutes of one, of all, waves a lesson, lessons), a line
    # and what stands there
    ({"seconds_a_reading": None}, [2, 5, 3, 22, 66, 2, 2], 1, ["C1", 1, 2, 22, 44, "s08", "Bo", "Zoë"]),
    ({"protocol": "two-folds"}, [2, 5, 3, 11, 33, 4, 1], 1, ["C1", 1, 2, 11, 22, "s08", "Bo", "Zoë"]),
    ({"protocol": None}, [2, 5, 3, 20, 60, 2, 2], 0, ["C1", 1, 1, 0, 20, "007", "Zoë", "Bo"]),
    # As a new class has them: 6 and 3 minutes, 12.13 + 9 = 21.13; 90 minutes.
    (
        {"marking_minutes": None, "changing_minutes": None, "lesson_minutes": None},
        [2, 5, 3, 22, 66, 3, 1], 4, ["C 2", 1, 3, 44, 66, "s12", "Last", "<Ada & Co>"],
    ),
    ({"lesson_minutes": 30}, [2, 5, 3, 20, 60, 0, 3], 1, ["C1", 2, 2, 0, 20, "s08", "Bo", "Zoë"]),
    (
        {"demonstration": "s08"},
        [2, 5, 5, 20, 100, 2, 3], 4, ["C 2", 3, 5, 0, 20, "s12", "Last", "<Ada & Co>"],
    ),
    ({"roster_2_status": "left"}, [2, 3, 3, 20, 60, 2, 2], 0, [""] * 8),
    # Line 6 without a caliper gets the next in turn by line: of two, the second.
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "S11"},
        [2, 6, 4, 20, 80, 2, 2], 5, ["C 2", 2, 4, 20, 40, "s08", "Bo", "New"],
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "S11", "caliper_3_in_service": "yes"},
        [3, 6, 3, 20, 60, 2, 2], 5, ["C3", 1, 1, 0, 20, "s08", "Bo", "New"],
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "S11", "pair_6_caliper": "c1"},
        [2, 6, 3, 20, 60, 2, 2], 5, ["c1", 2, 3, 0, 20, "s08", "Bo", "New"],
    ),
    # The teacher measures besides.
    ({"pair_6_measurer": "t1", "pair_6_participant": "s08"}, [2, 5, 3, 20, 60, 2, 2], 5, [""] * 8),
    ({"pair_6_measurer": "t1", "pair_6_participant": "s99"}, [2, 5, 3, 20, 60, 2, 2], 5, [""] * 8),
]  # fmt: skip


@pytest.mark.office
@pytest.mark.parametrize(("changes", "summary", "line", "expected"), CASES)
def test_stations_tab_follows_what_is_typed(
    office: Office,
    book: int,
    changes: dict[str, str | int | None],
    summary: list[float],
    line: int,
    expected: list[object],
) -> None:
    titles = {tab.key: tab.title for tab in layout().tabs}
    at = {name: [titles[key], row, column] for name, (key, row, column) in layout().places().items()}
    places = [*SUMMARY, *(["Stations", STATIONS_FIRST_ROW + line, column] for column in range(8))]
    found = office.cases(book, places, [[[*at[name], value] for name, value in changes.items()]])[0]
    before = {cell.name: cell.value for tab in layout().tabs for cell in tab.cells if cell.role == "entry"}
    office.set(book, [[*at[name], before[name]] for name in changes])
    assert list(found) == [*summary, *expected]


def test_stations_tab_prints_its_headings_on_every_page_and_no_spare_pages() -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(book_bytes()))
    assert workbook["Stations"].print_title_rows == "$11:$11"
    assert workbook["Stations"].print_area == "'Stations'!$A$1:$H$26"
    assert workbook["Roster"].print_title_rows == "$5:$5"
    assert workbook["Roster"].print_area == "'Roster'!$A$1:$N$21"
    assert workbook["Calipers"].print_area == "'Calipers'!$A$1:$N$18"
