"""A Layout becomes an .xlsx file, the same bytes for the same inputs."""

import io
import tomllib
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.layout.address import absolute, in_tab
from sheetgen.model.layout import Cell, Identity, Layout, Rule, Tab, Value
from sheetgen.workbook.repack import with_part_changed

__all__ = ["rendered"]

_FIXED_DATE = datetime(2000, 1, 1, tzinfo=UTC)
"""The creation date in every file: a real one would make each run's bytes differ."""

Formats = Mapping[str, Format]


def rendered(layout: Layout, identity: Identity, style_text: str) -> bytes:
    """Return the workbook of one copy.

    Parameters
    ----------
    identity : values of the identity cells, of entries handed out filled in, and of first results that
        follow from them, by cell name.
    style_text : the text of templates/style.toml.

    Raises
    ------
    KeyError : a cell asks for a format word that the style does not have.
    ValueError : a text or a rule is longer than the file format allows; it would be left out unseen.
    """
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(
        stream, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    workbook.set_properties(
        {"title": layout.title, "subject": layout.subject, "created": _FIXED_DATE.replace(tzinfo=None)}
    )
    workbook.set_custom_property("language", layout.language, "text")
    workbook.set_size(1366, 768)
    style = tomllib.loads(style_text)
    base = style.pop("base")
    formats = {word: workbook.add_format({**base, **table}) for word, table in style.items()}
    for tab in layout.tabs:
        _write_tab(workbook, tab, identity.values, formats)
    for tab in layout.tabs:
        for cell in tab.cells:
            if cell.named:
                workbook.define_name(cell.name, "=" + in_tab(tab.title, absolute(cell.row, cell.column)))
    workbook.get_worksheet_by_name(layout.tabs[0].title).activate()
    workbook.close()
    return _structure_protected(stream.getvalue())


def _write_tab(workbook: Workbook, tab: Tab, values: Mapping[str, Value], formats: Formats) -> None:
    sheet = workbook.add_worksheet(tab.title)
    if tab.hidden:
        sheet.very_hidden()
    for column, width in enumerate(tab.widths):
        sheet.set_column(column, column, width, formats["text"])
    for row, height in tab.heights:
        sheet.set_row(row, height)
    for cell in tab.cells:
        refused = _write_cell(sheet, cell, values, formats[cell.format])
        if cell.rule is not None and not refused:
            place = (cell.row, cell.column, cell.row, cell.column)
            refused = sheet.data_validation(*place, _validation(cell.rule))
        if refused:
            place_text = in_tab(tab.title, absolute(cell.row, cell.column))
            raise ValueError(f"{place_text}: a text or rule longer than the file format allows")
    for emphasis in tab.emphases:
        sheet.conditional_format(
            emphasis.first_row, emphasis.first_column, emphasis.last_row, emphasis.last_column,
            {"type": "formula", "criteria": emphasis.formula, "format": formats[emphasis.format]},
        )  # fmt: skip
    if tab.freeze is not None:
        sheet.freeze_panes(*tab.freeze)
    if tab.first_entry is not None:
        sheet.set_selection(*tab.first_entry, *tab.first_entry)
    sheet.hide_gridlines(2)
    sheet.protect("", {"select_locked_cells": not _has_entries(tab), "select_unlocked_cells": True})
    _print_setup(sheet, tab)


def _has_entries(tab: Tab) -> bool:
    return any(cell.role == "entry" for cell in tab.cells)


def _write_cell(sheet: Worksheet, cell: Cell, values: Mapping[str, Value], shape: Format) -> int:
    """Write a cell; a number other than 0 says that the writing library refused it."""
    value = values.get(cell.name, cell.value) if cell.name else cell.value
    written: int
    if cell.role == "formula":
        first = "" if value is None else value
        written = sheet.write_formula(cell.row, cell.column, cell.formula, shape, first)
    elif value is None or value == "":
        written = sheet.write_blank(cell.row, cell.column, None, shape)
    elif isinstance(value, str):
        written = sheet.write_string(cell.row, cell.column, value, shape)
    else:
        written = sheet.write_number(cell.row, cell.column, value, shape)
    return written


def _validation(rule: Rule) -> dict[str, Any]:
    shared = {
        "input_title": rule.title[:32],
        "input_message": rule.prompt[:255],
        "error_title": rule.title[:32],
        "error_message": rule.error[:255],
        "error_type": "stop",
    }
    if rule.kind == "list":
        return {**shared, "validate": "list", "source": list(rule.words)}
    if rule.kind == "custom":
        # With "ignore blank" on, a rule that looks at a blank cell would accept anything.
        return {**shared, "validate": "custom", "value": rule.formula, "ignore_blank": False}
    word = {"whole": "integer", "decimal": "decimal", "length": "length"}[rule.kind]
    return {
        **shared,
        "validate": word,
        "criteria": "between",
        "minimum": rule.minimum,
        "maximum": rule.maximum,
    }


def _print_setup(sheet: Worksheet, tab: Tab) -> None:
    """One page wide on A4; the margins leave what A4 and Letter share."""
    sheet.set_paper(9)
    if tab.landscape:
        sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
    sheet.repeat_rows(0)
    sheet.set_footer("&C&P / &N")


def _structure_protected(data: bytes) -> bytes:
    """Forbid adding, renaming and moving tabs; the writing library has no call for it."""

    def protect(part: bytes) -> bytes:
        return part.replace(b"<bookViews>", b'<workbookProtection lockStructure="1"/><bookViews>', 1)

    return with_part_changed(data, "xl/workbook.xml", protect)
