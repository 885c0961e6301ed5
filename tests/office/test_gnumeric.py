"""A third spreadsheet program, in the nightly form: Gnumeric works out filled sheets, saves them, and what it
saved is read back.

Each sheet is handed over as a file of its own without one stored result.
"""

from pathlib import Path

import openpyxl
import pytest

from sheetgen.protocols.names import live_names
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled
from tests.evidence.engines import Line, by_gnumeric, line_of
from tests.evidence.twins import PROTOCOLS, Twin, twins_of
from tests.office.test_engines import FILLED, VARIANTS, Variant, cases_of, different, sheet_of_variant
from tests.sheets import Sheet

pytestmark = [pytest.mark.nightly, pytest.mark.usefixtures("gnumeric")]

SHEETS = 5
"""Of each protocol and language: filled with care, and as many with gaps, edges and slips."""


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda variant: "-".join(variant[:2]))
def test_filled_sheets_equal_the_core(tmp_path: Path, variant: Variant) -> None:
    sheet = sheet_of_variant(variant)
    cases = cases_of(sheet)
    path, back = tmp_path / "sheet.xlsx", tmp_path / "back.xlsx"
    differences = []
    for case in (*cases[:SHEETS], *cases[FILLED : FILLED + SHEETS]):
        path.write_bytes(filled(sheet.data, sheet.layout, case))
        by_gnumeric(path, back)
        differences += different(sheet, case, live_results(sheet, back))
    assert differences == []


def live_results(sheet: Sheet, path: Path) -> list[Value]:
    """The stored result of every live formula of a file."""
    book = openpyxl.load_workbook(path, data_only=True)
    places = (sheet.places[name] for name in live_names(sheet.source.protocol))
    return [book[title].cell(row + 1, column + 1).value for title, row, column in places]


@pytest.fixture(scope="module")
def twins(tmp_path_factory: pytest.TempPathFactory) -> tuple[Twin, ...]:
    """Two sheets each of six protocols, on record."""
    return twins_of(tmp_path_factory.mktemp("twins"), PROTOCOLS, 2)


@pytest.mark.parametrize(
    ("suffix", "notes"),
    [
        (".xlsx", ("sheet-structure-open", "sheet-tab-shown")),
        (".ods", ("sheet-protection-off", "sheet-saved-as-ods", "sheet-structure-open")),
    ],
)
def test_sheets_that_it_saved_are_read_back_as_honest(
    twins: tuple[Twin, ...], suffix: str, notes: tuple[str, ...]
) -> None:
    found = line_of("Gnumeric", by_gnumeric, suffix, twins)
    assert found == Line(f"Gnumeric {suffix}", 12, 12, 12, 12, 12, notes)
