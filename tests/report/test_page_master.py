"""A workbook made from a master shows what one shows that the writing library made alone."""

import io
import zipfile
from collections.abc import Mapping
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from openpyxl.cell.rich_text import CellRichText
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.report.page_master import BOOK, SHEET, Cells, PageMaster, master_cut, write_samples
from sheetgen.workbook.repack import packer

WORDS = ("plain", "bold")
LOOKS = {"plain": {"font_size": 9}, "bold": {"bold": True, "num_format": "0.00"}, "other": {"italic": True}}

Written = tuple[int, int, str | float | None, str]

CELLS: tuple[Written, ...] = (
    (0, 0, "=1+1 & <b>", "bold"),
    (1, 2, 0.1, "plain"),
    (1, 0, "  kept  ", "plain"),
    (1, 1, None, "bold"),
    (3, 0, "one", "bold"),
    (3, 1, "Größe\nzwei", "plain"),
    (3, 2, "=1+1 & <b>", "plain"),
    (4, 0, "_x0041_ and \r", "plain"),
    (4, 1, 12345678.25, "bold"),
    (4, 2, 7, "plain"),
)
HEIGHTS = {0: 22, 2: 6, 3: 17.5}


def master() -> bytes:
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream)
    formats = {word: workbook.add_format(look) for word, look in LOOKS.items()}
    sheet = workbook.add_worksheet("A & B")
    sheet.set_column(0, 2, 20)
    sheet.protect()
    write_samples(sheet, formats, WORDS, 3)
    workbook.close()
    return stream.getvalue()


def cut(data: bytes) -> PageMaster:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return master_cut({name: package.read(name) for name in (SHEET, BOOK)}, WORDS)


def stamped(cells: Cells, printed_rows: int = 1) -> Worksheet:
    data = master()
    made = packer(data)(cells.parts(cut(data), printed_rows))
    (sheet,) = openpyxl.load_workbook(io.BytesIO(made)).worksheets
    return sheet


def write_all(sheet: Any, formats: Mapping[str, Any]) -> None:
    """The cells of the sample, on a tab of either kind."""
    for row, column, value, word in (*CELLS, (5, 0, "across", "bold")):
        if value is None:
            sheet.write_blank(row, column, None, formats[word])
        elif isinstance(value, str):
            sheet.write_string(row, column, value, formats[word])
        else:
            sheet.write_number(row, column, value, formats[word])
    for row, height in HEIGHTS.items():
        sheet.set_row(row, height)


def plain() -> Worksheet:
    """The same cells, written by the writing library into a workbook of their own."""
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream)
    formats = {word: workbook.add_format(look) for word, look in LOOKS.items()}
    sheet = workbook.add_worksheet("A & B")
    sheet.set_column(0, 2, 20)
    sheet.protect()
    sheet.merge_range(5, 0, 5, 2, "", formats["bold"])
    write_all(sheet, formats)
    sheet.print_area(0, 0, 5, 2)
    workbook.close()
    (read,) = openpyxl.load_workbook(io.BytesIO(stream.getvalue())).worksheets
    return read


def seen(sheet: Worksheet) -> dict[str, object]:
    """All that a person sees of a tab."""
    cells = {
        cell.coordinate: (
            cell.value,
            cell.data_type,
            cell.number_format,
            cell.font.b,
            cell.font.sz,
            cell.font.i,
        )
        for row in sheet.iter_rows()
        for cell in row
    }
    heights = {number: one.height for number, one in sheet.row_dimensions.items() if one.height}
    merged = sorted(str(one) for one in sheet.merged_cells.ranges)
    widths = {letter: one.width for letter, one in sheet.column_dimensions.items()}
    return {
        "title": sheet.title, "cells": cells, "heights": heights, "merged": merged, "widths": widths,
        "extent": sheet.dimensions, "printed": sheet.print_area, "protected": sheet.protection.sheet,
    }  # fmt: skip


def drawn() -> Cells:
    formats, cells = cut(master()).formats, Cells()
    cells.merge_row(5, 2, formats["bold"])
    write_all(cells, formats)
    return cells


def test_cells_put_into_a_master_equal_those_of_a_workbook_of_their_own() -> None:
    assert seen(stamped(drawn(), printed_rows=6)) == seen(plain())


def test_parts_are_the_same_bytes_for_the_same_cells() -> None:
    assert drawn().parts(cut(master()), 6) == drawn().parts(cut(master()), 6)


def test_cell_that_is_written_twice_holds_the_last() -> None:
    cells = Cells()
    cells.write_string(0, 0, "first", 1)
    cells.write_number(0, 0, 2.5, 1)
    assert stamped(cells)["A1"].value == 2.5


def test_nothing_merged_and_no_cell() -> None:
    sheet = stamped(Cells())
    assert sheet.merged_cells.ranges == set()
    assert sheet["A1"].value is None


def test_text_between_tags_of_the_format_is_a_text() -> None:
    """The writing library would take it for a text with several looks, and the file could not be opened."""
    cells = Cells()
    cells.write_string(0, 0, "<r>one & two</r>", 1)
    value = stamped(cells)["A1"].value
    assert value == "<r>one & two</r>"
    assert not isinstance(value, CellRichText)


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_number_that_no_cell_can_hold(number: float) -> None:
    with pytest.raises(ValueError, match="row 3"):
        Cells().write_number(2, 0, number, 1)


def test_format_that_the_samples_do_not_have() -> None:
    assert sorted(cut(master()).formats) == ["bold", "plain"]


def test_samples_of_a_format_that_is_not_there() -> None:
    workbook = xlsxwriter.Workbook(io.BytesIO())
    with pytest.raises(KeyError, match="bold"):
        write_samples(workbook.add_worksheet(), {"plain": workbook.add_format()}, WORDS, 2)


def test_workbook_that_is_no_master() -> None:
    with pytest.raises(ValueError, match="a master has merged cells"):
        master_cut({SHEET: b"<worksheet/>", BOOK: b"<workbook/>"}, WORDS)
