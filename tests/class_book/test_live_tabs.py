"""The hidden tab, the tab Stations, and what the live checks say of a book that is written out; the formulas
of the checks are worked out in test_tabs."""

import io
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

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
    assert tab.printed_rows == STATIONS_FIRST_ROW + 5 + 10
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
    assert workbook["Stations"].print_area == "'Stations'!$A$1:$G$24"
    assert workbook["Roster"].print_title_rows == "$5:$5"
    assert workbook["Roster"].print_area == "'Roster'!$A$1:$M$21"
    assert workbook["Calipers"].print_area == "'Calipers'!$A$1:$N$18"
