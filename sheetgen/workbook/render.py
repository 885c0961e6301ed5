"""A Layout becomes an .xlsx file, the same bytes for the same inputs; many copies of one by stamping.

Stamping: the master is rendered once with a mark in place of every value that differs by copy, and its parts
are cut at the marks. A copy is the pieces joined with its own values between them. It holds the same cells as
a workbook rendered on its own.
"""

import html
import io
import math
import re
import struct
from collections.abc import Iterable, Mapping
from datetime import datetime
from itertools import chain
from typing import Any

import xlsxwriter
from msgspec import Struct
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from sheetgen.texts.templates import style_tables
from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.charts import place_chart, place_plot
from sheetgen.workbook.layout import Cell, Emphasis, Identity, Image, Layout, Rule, Tab, Value
from sheetgen.workbook.packages import OWNER_ONLY, packed, parts_of, with_language

_FIXED_DATE = datetime(2000, 1, 1)
"""The creation date in every file: a real one would make each run's bytes differ."""

_TYPEFACE_OF_PAGES = {"font_name": "Arial", "font_size": 10, "font_scheme": False}
"""Columns are as wide as digits of the workbook's own typeface. Where pages have a scale, it is this one:
what stands in for the usual one is so wide that a column would go to another page."""

_ROW_PIXELS = 20
"""Of a row whose height nobody set [px at 100 %]."""

_PNG = b"\x89PNG\r\n\x1a\n"

_FIRST_NUMBER = 7_310_000_000
"""Marks for numbers count from here; no entry, code or coefficient is as large."""
_MARK = re.compile(rb"\x7f\x7f([a-z0-9_]+)\x7f\x7f|(?<=[<:]v>)(731\d{7})(?=</)")

_LAST_COLUMN = re.compile(rb'(<col min="\d+" max=")\d+(" width="0" hidden="1" customWidth="1"/></cols>)')
"""Only the one after all columns of a bare tab has no style."""

Formats = Mapping[str, Format]


class _PlainTab(Worksheet):  # type: ignore[misc]  # the library has no types
    """A tab whose formulas are written as they stand: the library looks through each for thirty newer
    functions, which is a third of the time of a class book."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


def rendered(
    layout: Layout, identity: Identity, style_text: str, figures: Mapping[str, bytes] | None = None
) -> bytes:
    """Return the workbook of one copy.
    identity : values of the identity cells, of entries handed out filled in, and of first results that follow
    from them, by cell name. style_text : the text of templates/style.toml. figures : PNG files by name, at
    least those that the Layout asks for.
    Raises KeyError: a cell asks for a format word that the style does not have, or the Layout for a figure
    that is not given. ValueError: a figure is no PNG file, or a text or a rule is longer than the file format
    allows: it would be left out unseen."""
    return packed(_rendered_parts(layout, identity, style_text, figures or {}), OWNER_ONLY)


def _rendered_parts(
    layout: Layout, identity: Identity, style_text: str, figures: Mapping[str, bytes]
) -> dict[str, bytes]:
    stream = io.BytesIO()
    scaled = any(tab.scale or tab.bare for tab in layout.tabs)
    typeface = {"default_format_properties": _TYPEFACE_OF_PAGES} if scaled else {}
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True, **typeface})
    workbook.set_properties({"title": layout.title, "subject": layout.subject, "created": _FIXED_DATE})
    workbook.set_custom_property("language", layout.language, "text")
    workbook.set_size(1366, 768)
    words, colours = style_tables(style_text)
    used = {each.format for tab in layout.tabs for each in chain[Cell | Emphasis](tab.cells, tab.emphases)}
    formats = {word: workbook.add_format(words[word]) for word in sorted({"text", *used})}
    titles = {tab.key: tab.title for tab in layout.tabs}
    for tab in layout.tabs:
        sheet = _write_tab(workbook, tab, identity.values, formats, titles)
        # Page numbers only: what differs by copy must not stand in a part of its own tab.
        sheet.set_footer("&C" + layout.page_text.format(page="&P", pages="&N"))
        for image in tab.images:
            _place_image(sheet, image, figures[image.name])
        for chart in tab.charts:
            place_chart(workbook, sheet, tab.title, chart, colours)
        for plot in tab.plots:
            said = str(identity.values[plot.alternative])
            place_plot(workbook, sheet, plot, titles[plot.tab], said, colours)
        for cell in (cell for cell in tab.cells if cell.named):
            workbook.define_name(cell.defined_name, f"={in_tab(tab.title, absolute(cell.row, cell.column))}")
    workbook.get_worksheet_by_name(layout.tabs[0].title).activate()
    workbook.close()
    return _finished(parts_of(stream.getvalue()), layout.language)


def _write_tab(
    workbook: Workbook, tab: Tab, values: Mapping[str, Value], formats: Formats, titles: Mapping[str, str]
) -> Worksheet:
    sheet = workbook.add_worksheet(tab.title, worksheet_class=_PlainTab)
    if tab.hidden:
        sheet.very_hidden()
    for column, width in enumerate(tab.widths):
        sheet.set_column(column, column, width, formats["text"], {"hidden": not width})
    if tab.bare:
        sheet.hide_row_col_headers()
        sheet.set_column(len(tab.widths), len(tab.widths), None, None, {"hidden": True})
    for row, height in tab.heights:
        sheet.set_row(row, height)
    for cell in tab.cells:
        if cell.across > 1:
            last = cell.column + cell.across - 1
            sheet.merge_range(cell.row, cell.column, cell.row, last, "", formats[cell.format])
        if _write_cell(sheet, cell, values, formats[cell.format]):
            raise _too_long("text", tab, cell.row, cell.column)
        if cell.link:
            target = f"internal:{in_tab(titles[cell.link], 'A1')}"
            sheet.write_url(cell.row, cell.column, target, formats[cell.format], str(cell.value))
    for rule, (first, *others) in _blocks_by_rule(tab.cells).items():
        if sheet.data_validation(*first, {**_validation(rule), "other_cells": others}):
            raise _too_long("rule", tab, *first[:2])
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
    reachable = tab.bare or not any(cell.role == "entry" for cell in tab.cells)
    options = {"select_locked_cells": reachable, "select_unlocked_cells": True}
    if tab.filtered:
        last = max(cell.row for cell in tab.cells)
        sheet.autofilter(tab.filtered, 0, max(last, tab.filtered + 1), sum(map(bool, tab.widths)) - 1)
        options["autofilter"] = True
    sheet.protect("", options)
    _print_setup(sheet, tab)
    return sheet


def _blocks_by_rule(cells: Iterable[Cell]) -> dict[Rule, list[list[int]]]:
    """The blocks of cells that share a rule, the first cell first: written a cell each, thousands of rules
    would make a program slow to open the file."""
    blocks: dict[Rule, list[list[int]]] = {}
    open_at: dict[tuple[Rule, int], list[int]] = {}
    for cell in cells:
        if cell.rule is None:
            continue
        block = open_at.get((cell.rule, cell.column))
        if block is None or block[2] != cell.row - 1:
            block = open_at[cell.rule, cell.column] = [cell.row, cell.column, cell.row, cell.column]
            blocks.setdefault(cell.rule, []).append(block)
        block[2] = cell.row
    return blocks


def _too_long(what: str, tab: Tab, row: int, column: int) -> ValueError:
    place = in_tab(tab.title, absolute(row, column))
    return ValueError(f"{place}: a {what} longer than the file format allows")


def _place_image(sheet: Worksheet, image: Image, data: bytes) -> None:
    """Put a drawing in its place; it moves with its cell and keeps its shape."""
    # The header of the format begins with width and height in dots.
    width, height = struct.unpack(">2L", data[16:24]) if data[:8] == _PNG and len(data) >= 24 else (0, 0)
    scale = min(image.width / width, image.height / height) if width and height else 0
    options = {"image_data": io.BytesIO(data), "object_position": 2, "description": image.alternative_text}
    options |= {"x_offset": image.x_offset, "y_offset": image.y_offset, "x_scale": scale, "y_scale": scale}
    if not scale or sheet.insert_image(image.row, image.column, f"{image.name}.png", options):
        raise ValueError(f"figure {image.name}: not a PNG file")


def _write_cell(sheet: Worksheet, cell: Cell, values: Mapping[str, Value], shape: Format) -> bool:
    """Write a cell, and return whether the writing library refused it."""
    value = values.get(cell.name, cell.value) if cell.name else cell.value
    if cell.role == "formula":
        first = "" if value is None else value
        return bool(sheet.write_formula(cell.row, cell.column, cell.formula, shape, first))
    write = sheet.write_string if isinstance(value, str) else sheet.write_number
    if value is None or value == "":
        write = sheet.write_blank
    return bool(write(cell.row, cell.column, value, shape))


def _validation(rule: Rule) -> dict[str, Any]:
    test: dict[str, Any] = {"criteria": "between", "minimum": rule.minimum, "maximum": rule.maximum}
    if rule.kind == "list":
        test = {"source": rule.formula or list(rule.words)}
    elif rule.kind == "custom":
        # With "ignore blank" on, a rule that looks at a blank cell would accept anything.
        test = {"value": rule.formula, "ignore_blank": False}
    prompt = {"input_title": rule.title[:32], "input_message": rule.prompt[:255]} if rule.prompt else {}
    return {
        "validate": "integer" if rule.kind == "whole" else rule.kind,
        **test,
        **prompt,
        "error_title": rule.title[:32],
        "error_message": rule.error[:255],
        "error_type": "stop",
        "show_error": rule.refuses,
    }


def _print_setup(sheet: Worksheet, tab: Tab) -> None:
    """One page wide on A4; the margins leave what A4 and Letter share. A bare tab is printed without its
    hidden columns, whose numbers would be shown as signs of a column too narrow."""
    sheet.set_paper(9)
    if tab.landscape:
        sheet.set_landscape()
    if tab.scale:
        sheet.set_print_scale(tab.scale)
        sheet.center_horizontally()
    else:
        sheet.fit_to_pages(1, tab.pages)
    sheet.set_h_pagebreaks(list(tab.page_breaks))
    sheet.repeat_rows(tab.repeat)
    if tab.bare:
        sheet.set_margins(left=0.35, right=0.35, top=0.35, bottom=0.5)
        sheet.center_horizontally()
        sheet.print_area(tab.printed_from, 0, *_printed_last(tab))
    else:
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
    if tab.printed_rows:
        sheet.print_area(0, 0, tab.printed_rows - 1, len(tab.widths) - 1)


def _printed_last(tab: Tab) -> tuple[int, int]:
    """The last row that holds anything, and the last column that shows something where rows scroll."""
    rows = [cell.row for cell in tab.cells]
    rows += [chart.row + math.ceil(chart.height / _ROW_PIXELS) for chart in tab.charts]
    scrolling = 0 if tab.freeze is None else tab.freeze[0]
    columns = [
        cell.column + cell.across - 1
        for cell in tab.cells
        if cell.row >= scrolling and tab.widths[cell.column]
        if cell.role != "label" or cell.value is not None
    ]
    return max(rows), max(columns)


def _finished(parts: Mapping[str, bytes], language: str) -> dict[str, bytes]:
    """Forbid to add, rename or move tabs, and say the language: the writing library has no call for it. And
    hide every column from the first hidden one of a bare tab on: it would go through each of them."""
    book, views = "xl/workbook.xml", b"<bookViews>"
    protected = parts[book].replace(views, b'<workbookProtection lockStructure="1"/>' + views, 1)
    widened = {
        name: _LAST_COLUMN.sub(rb"\g<1>16384\2", part)
        for name, part in parts.items()
        if name.startswith("xl/worksheets/sheet")
    }
    return with_language({**parts, **widened, book: protected}, language)


class Master(Struct, frozen=True):
    """A rendered workbook, cut at the marks.
    same : the parts without a mark, packed. parts : the others by name, each as pieces of text and the value
    names between them. kinds : value name to whether it is a number."""

    same: bytes
    parts: Mapping[str, tuple[tuple[bytes, ...], tuple[str, ...]]]
    kinds: Mapping[str, bool]


def master_of(
    layout: Layout, example: Identity, style_text: str, figures: Mapping[str, bytes] | None = None
) -> Master:
    """Return the master of a Layout.
    example : the identity of any copy; every other copy has the same names, and a number where it has one.
    Raises what `rendered` raises."""
    names = sorted(name for name, value in example.values.items() if value is not None)
    kinds = {name: not isinstance(example.values[name], str) for name in names}
    marks: dict[str, Value] = {
        name: _FIRST_NUMBER + index if kinds[name] else f"\x7f\x7f{name}\x7f\x7f"
        for index, name in enumerate(names)
    }
    same, cut = {}, {}
    for part_name, part in _rendered_parts(layout, Identity(marks), style_text, figures or {}).items():
        # A mark in the dots of a picture would be chance.
        pieces = _MARK.split(part) if part_name.endswith((".xml", ".rels")) else [part]
        # The pattern has two groups, of which one is empty at each mark.
        found = tuple(
            text.decode("ascii") if text else names[int(number) - _FIRST_NUMBER]
            for text, number in zip(pieces[1::3], pieces[2::3], strict=True)
        )
        if found:
            cut[part_name] = (tuple(pieces[::3]), found)
        else:
            same[part_name] = part
    return Master(packed(same), cut, kinds)


def stamped(master: Master, identity: Identity) -> bytes:
    """Return the workbook of one copy; ValueError where a value is missing, or a text where the master has a
    number, or the other way round."""
    texts = {name: _text(name, identity.values.get(name), number) for name, number in master.kinds.items()}
    parts = {}
    for part, (pieces, names) in master.parts.items():
        between = (texts[name] + piece for name, piece in zip(names, pieces[1:], strict=True))
        parts[part] = b"".join((pieces[0], *between))
    return packed(parts, first=master.same)


def _text(name: str, value: Value, number: bool) -> bytes:
    """A value as it stands in a part."""
    if value is None or isinstance(value, str) == number:
        raise ValueError(f"{name} must be {'a number' if number else 'a text'} in every copy, not {value!r}")
    text = html.escape(value, quote=False) if isinstance(value, str) else f"{value:.16G}"
    return text.replace('"', "&quot;").encode("utf-8")
