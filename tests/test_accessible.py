"""Every workbook that is made, against a checklist for accessible spreadsheets.

After the checklist of the UK Government Statistical Service and WCAG 2.2: title in A1, no merged cells,
meaningful tab names, alternative texts, language and title of the document, plain letters of 12 points, the
cursor on the first entry, everything within reach of the arrows.
Contrast and borders: test_style.
"""

import io
import re
import zipfile
from collections.abc import Mapping
from functools import lru_cache

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from tests.classes import built_class, filled_sheet, returned, run
from tests.sheets import settings_with, sheet_of

PROTOCOLS = (
    "seven-sites", "three-sites-men", "three-sites-women", "four-sites", "folds-only", "youth-two-sites",
)  # fmt: skip
TYPED_INTO = (*PROTOCOLS, "class book", "review")
"""Workbooks with entries; the others are read only."""

NAMES = (*TYPED_INTO, "report", "feedback")


@pytest.fixture(scope="module")
def workbooks(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, bytes]:
    """The workbooks of a class of four of whom all handed in, and a sheet of every protocol."""
    folder = built_class(tmp_path_factory.mktemp("class") / "class")
    for student in ("S01", "S02", "S03", "S04"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    assert run("read", folder.root).exit_code == 0
    feedback = sorted(folder.feedback(1).glob("*.xlsx"))
    return {
        **{protocol: sheet_of(settings_with(protocol_id=protocol)).data for protocol in PROTOCOLS},
        "class book": folder.book.read_bytes(),
        "review": folder.review(1).read_bytes(),
        "report": folder.report(1).read_bytes(),
        "feedback": feedback[0].read_bytes(),
    }


@lru_cache(maxsize=16)
def _visible(data: bytes) -> tuple[Worksheet, ...]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    return tuple(tab for tab in book.worksheets if tab.sheet_state == "visible")


def _parts(data: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        names = [name for name in package.namelist() if name.endswith(".xml")]
        return {name: package.read(name).decode("utf-8") for name in names}


@pytest.fixture(params=NAMES)
def data(request: pytest.FixtureRequest, workbooks: Mapping[str, bytes]) -> bytes:
    return workbooks[request.param]


def test_title_of_every_tab_stands_in_its_first_cell(data: bytes) -> None:
    assert [tab.title for tab in _visible(data) if not isinstance(tab["A1"].value, str)] == []


def test_no_cells_of_a_table_are_merged(data: bytes) -> None:
    """A sentence may run over a whole row of its own; the points of Care and the cards of Sites, which are
    text from side to side, over columns of their row."""
    shared = [
        (tab.title, str(merged))
        for tab in _visible(data)
        for merged in tab.merged_cells.ranges
        if merged.min_row != merged.max_row
        or (
            tab.title not in ("Care", "Sites")
            and [cell.column for cell in tab[merged.min_row] if cell.value is not None] != [1]
        )
    ]
    assert shared == []


def test_names_of_tabs_mean_something(data: bytes) -> None:
    names = [tab.title for tab in _visible(data)]
    assert [name for name in names if re.fullmatch(r"(Sheet|Tab|Table)? ?\d*", name)] == []
    assert len({name.casefold() for name in names}) == len(names)


def test_every_drawing_and_chart_has_an_alternative_text(data: bytes) -> None:
    drawings = [part for name, part in _parts(data).items() if name.startswith("xl/drawings/drawing")]
    shapes = [shape for part in drawings for shape in re.findall(r"<xdr:cNvPr [^>]*>", part)]
    assert [shape for shape in shapes if not re.search(r'descr="[^"]{10,}"', shape)] == []


def test_document_says_its_title_and_its_language(data: bytes) -> None:
    properties = _parts(data)["docProps/core.xml"]
    assert re.search(r"<dc:title>[^<]{5,}</dc:title>", properties)
    assert "<dc:language>en</dc:language>" in properties


def test_workbook_opens_on_its_first_tab(data: bytes) -> None:
    assert re.search(r'activeTab="[1-9]', _parts(data)["xl/workbook.xml"]) is None


def test_every_tab_prints_one_page_wide_with_the_number_of_the_page(data: bytes) -> None:
    for tab in _visible(data):
        # Sites has a scale of its own.
        if tab.page_setup.scale is None:
            assert tab.sheet_properties.pageSetUpPr.fitToPage is True, tab.title
            assert tab.page_setup.fitToWidth in (None, 1)
        assert re.fullmatch(r"\D+&P\D+&N", tab.oddFooter.center.text), tab.title


@pytest.mark.parametrize("name", TYPED_INTO)
def test_letters_are_plain_and_of_12_points(workbooks: Mapping[str, bytes], name: str) -> None:
    fonts = {
        (cell.font.name, cell.font.size)
        for tab in _visible(workbooks[name])
        for row in tab.iter_rows()
        for cell in row
        if cell.value is not None or not cell.protection.locked
    }
    assert {font for font, _ in fonts} == {"Arial"}
    assert min(size for _, size in fonts) >= 12


@pytest.mark.parametrize("name", TYPED_INTO)
def test_everything_can_be_reached_and_the_cursor_waits_on_an_entry(
    workbooks: Mapping[str, bytes], name: str
) -> None:
    for tab in _visible(workbooks[name]):
        entries = [cell for row in tab.iter_rows() for cell in row if not cell.protection.locked]
        if not entries:
            continue
        assert tab.protection.sheet is True
        # The class book and the review are filled in by Tab from entry to entry.
        assert tab.protection.selectLockedCells is (name not in PROTOCOLS), tab.title
        assert tab[tab.sheet_view.selection[-1].activeCell] in entries, tab.title


@pytest.mark.parametrize("protocol", PROTOCOLS)
def test_cursor_waits_on_the_first_empty_entry_of_a_sheet(
    workbooks: Mapping[str, bytes], protocol: str
) -> None:
    care, start, _, readings, working, *_ = _visible(workbooks[protocol])
    for tab in (care, start, readings, working):
        entries = [cell for row in tab.iter_rows() for cell in row if not cell.protection.locked]
        first = next(cell.coordinate for cell in entries if cell.value is None)
        assert tab.sheet_view.selection[-1].activeCell == first
