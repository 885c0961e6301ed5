"""A Layout becomes an .xlsx file, the same bytes for the same inputs."""

import io
import struct
import tomllib
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.layout.address import absolute, in_tab
from sheetgen.model.layout import Cell, Identity, Image, Layout, Rule, Tab, Value
from sheetgen.workbook.chart import place_chart
from sheetgen.workbook.repack import PROPERTIES, language_written, with_parts_changed

__all__ = ["rendered"]

_FIXED_DATE = datetime(2000, 1, 1, tzinfo=UTC)
"""The creation date in every file: a real one would make each run's bytes differ."""

_TYPEFACE_OF_PAGES = {"font_name": "Arial", "font_size": 10, "font_scheme": False}
"""Columns are as wide as digits of the workbook's own typeface. Where pages have a scale, it is this one:
what stands in for the usual one is so wide that a column would go to another page."""

_PNG = b"\x89PNG\r\n\x1a\n"

Formats = Mapping[str, Format]


def rendered(
    layout: Layout, identity: Identity, style_text: str, figures: Mapping[str, bytes] | None = None
) -> bytes:
    """Return the workbook of one copy.

    Parameters
    ----------
    identity : values of the identity cells, of entries handed out filled in, and of first results that
        follow from them, by cell name.
    style_text : the text of templates/style.toml.
    figures : PNG files by name, at least those that the Layout asks for.

    Raises
    ------
    KeyError : a cell asks for a format word that the style does not have, or the Layout for a figure that is
        not given.
    ValueError : a figure is no PNG file, or a text or a rule is longer than the file format allows: it would
        be left out unseen.
    """
    stream = io.BytesIO()
    options: dict[str, Any] = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    if any(tab.scale for tab in layout.tabs):
        options["default_format_properties"] = _TYPEFACE_OF_PAGES
    workbook = xlsxwriter.Workbook(stream, options)
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
        sheet = workbook.get_worksheet_by_name(tab.title)
        # Page numbers only: what differs by copy must not stand in a part of its own tab.
        sheet.set_footer("&C" + layout.page_text.format(page="&P", pages="&N"))
        for image in tab.images:
            _place_image(sheet, image, (figures or {})[image.name])
        for chart in tab.charts:
            place_chart(workbook, sheet, tab, chart)
    for tab in layout.tabs:
        for cell in tab.cells:
            if cell.named:
                place = in_tab(tab.title, absolute(cell.row, cell.column))
                workbook.define_name(cell.defined_name, f"={place}")
    workbook.get_worksheet_by_name(layout.tabs[0].title).activate()
    workbook.close()
    return _finished(stream.getvalue(), layout.language)


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


def _place_image(sheet: Worksheet, image: Image, data: bytes) -> None:
    """Put a drawing in its place; it moves with its cell and keeps its shape."""
    # The header of the format begins with width and height in dots.
    width, height = struct.unpack(">2L", data[16:24]) if data[:8] == _PNG and len(data) >= 24 else (0, 0)
    if not width or not height:
        raise ValueError(f"figure {image.name}: not a PNG file")
    scale = min(image.width / width, image.height / height)
    options = {
        "image_data": io.BytesIO(data),
        "x_offset": image.x_offset,
        "y_offset": image.y_offset,
        "x_scale": scale,
        "y_scale": scale,
        "object_position": 2,
        "description": image.alternative_text,
    }
    if sheet.insert_image(image.row, image.column, f"{image.name}.png", options):
        raise ValueError(f"figure {image.name}: not a PNG file")


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
    if tab.scale:
        sheet.set_print_scale(tab.scale)
        sheet.center_horizontally()
    else:
        sheet.fit_to_pages(1, 0)
    sheet.set_h_pagebreaks(list(tab.page_breaks))
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
    sheet.repeat_rows(tab.repeat)
    if tab.printed_rows:
        sheet.print_area(0, 0, tab.printed_rows - 1, len(tab.widths) - 1)


def _finished(data: bytes, language: str) -> bytes:
    """Forbid to add, rename or move tabs, and say the language: the writing library has no call for it."""

    def protect(part: bytes) -> bytes:
        return part.replace(b"<bookViews>", b'<workbookProtection lockStructure="1"/><bookViews>', 1)

    def speak(part: bytes) -> bytes:
        return language_written(part, language)

    return with_parts_changed(data, {"xl/workbook.xml": protect, PROPERTIES: speak})
