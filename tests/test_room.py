"""Nothing is cut off: every text of a student sheet fits its cell at 100 % on a small screen.

Measured with a wide typeface, so that a program without the usual one has room as well. Every text that a
formula may show counts, not only the first.
"""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from sheetgen.protocols.names import STEPS
from sheetgen.sheet.calculator import NOTES
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import column_pixels, height_for, lines_needed, text_pixels
from sheetgen.workbook.layout import Cell, Tab
from tests.sheets import Sheet, settings_with, sheet_of

SCREEN = 1366 - 60
"""A screen of 1366 pixels less the row numbers and the scroll bar."""

STYLE = tomllib.loads(read_template("style.toml"))
PROTOCOLS = (
    "seven-sites", "three-sites-men", "three-sites-women", "four-sites", "folds-only", "youth-two-sites",
)  # fmt: skip
WARNINGS = {
    "age_years": ("age",), "caliper_id": ("caliper",), "zero_mm": ("zero_differs", "zero_sign"),
    "caliper_id_2": ("second",), "data_source": ("source",),
}  # fmt: skip
STEP_SHOWN = re.compile(r"(?<!Calculator!)(?<!Calculadora!)\$B\$3(?!\d)")


@dataclass(frozen=True)
class Shown:
    """A text that a cell may show. bold : as it is, or as a conditional format makes it."""

    tab: Tab
    cell: Cell
    text: str
    bold: bool


@pytest.fixture(params=PROTOCOLS, scope="module")
def protocol_id(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(params=[{}, {"cover_round_1": True, "show_results": "always"}, {"under_18": True},
                        {"language": "es"}],
                ids=["usual", "covered", "under 18", "Spanish"], scope="module")  # fmt: skip
def sheet(request: pytest.FixtureRequest, protocol_id: str) -> Sheet:
    return sheet_of(settings_with(protocol_id=protocol_id, **request.param))


def _texts(sheet: Sheet, tab: Tab, cell: Cell) -> Iterator[str]:
    """What the cell may show: first of all what it holds, then what its formula can come to."""
    texts = sheet.source.texts
    value = sheet.identity.values.get(cell.name, cell.value) if cell.name else cell.value
    yield str("" if value is None else value)
    if cell.role != "formula":
        return
    yield from (text.replace('""', '"') for text in re.findall(r'"((?:[^"]|"")*)"', cell.formula))
    if cell.name == "shown_next_step" or STEP_SHOWN.search(cell.formula):
        yield from (texts[f"step.{word}"] for word in STEPS)
    if cell.name.startswith("shown_to_do_"):
        yield from (texts[f"note.{word}"] for word in NOTES)
    if tab.key == "start" and cell.column == 2:
        entry = next(one.name for one in tab.cells if one.row == cell.row and one.column == 1)
        for word in WARNINGS.get(entry, ()):
            yield texts["warning.check"] + texts[f"warning.{word}"].format(age=18) + " -0.4"
    if tab.key == "readings" and cell.format == "wanted_words":
        pair = [texts["warning.check"] + texts[f"warning.{word}"] for word in ("caliper", "zero_sign")]
        yield f"{pair[0]}C2; {pair[1]}-0.4"


def _shown(sheet: Sheet) -> Iterator[Shown]:
    for tab in sheet.layout.tabs:
        if tab.hidden:
            continue
        for cell in tab.cells:
            bold = STYLE[cell.format].get("bold", False) or any(
                STYLE[one.format].get("bold", False)
                for one in tab.emphases
                if one.first_row <= cell.row <= one.last_row
                and one.first_column <= cell.column <= one.last_column
            )
            for text in _texts(sheet, tab, cell):
                if text:
                    yield Shown(tab, cell, text, bold)


def _points(shown: Shown) -> float:
    return float(STYLE[shown.cell.format].get("font_size", STYLE["base"]["font_size"]))


def _room(shown: Shown) -> float:
    """Pixels to the right of the cell's left edge that nothing else takes; numbers must fit their cell."""
    tab, cell = shown.tab, shown.cell
    taken = [one.column for one in tab.cells if one.row == cell.row and one.column > cell.column
             and (one.role != "label" or one.value)]  # fmt: skip
    end = min(taken, default=None)
    pixels = [column_pixels(width) for width in tab.widths]
    return sum(pixels[cell.column : end]) if end is not None else SCREEN - sum(pixels[: cell.column])


def _cut(shown: Shown) -> bool:
    cell, style = shown.cell, STYLE[shown.cell.format]
    indent = int(style.get("indent", 0))
    if style.get("text_wrap"):
        lines = lines_needed(shown.text, shown.tab.widths[cell.column], shown.bold, indent)
        height = dict(shown.tab.heights).get(cell.row)
        return bool(height is not None and height_for(lines) > height)
    return text_pixels(shown.text, shown.bold, _points(shown)) + 9 * indent + 6 > _room(shown)


def test_no_text_is_cut_off(sheet: Sheet) -> None:
    cut = [
        (shown.tab.key, shown.cell.row, shown.cell.column, shown.text)
        for shown in _shown(sheet)
        if _cut(shown)
    ]
    assert cut == []


def test_words_of_lists_fit_their_entries(sheet: Sheet) -> None:
    """An entry has a border and an indent, and its list a button beside it."""
    cut = [
        (cell.name, word)
        for tab in sheet.layout.tabs
        for cell in tab.cells
        if cell.rule is not None
        for word in cell.rule.words
        if text_pixels(word) + 15 > column_pixels(tab.widths[cell.column])
    ]
    assert cut == []


def test_columns_fit_a_small_screen(sheet: Sheet) -> None:
    wide = {tab.key: sum(map(column_pixels, tab.widths)) for tab in sheet.layout.tabs if not tab.hidden}
    assert {key: pixels for key, pixels in wide.items() if pixels > SCREEN} == {}


def test_headings_stay_in_view_on_tabs_with_a_table(sheet: Sheet) -> None:
    """What stays takes at most a third of a screen of 768 pixels."""
    for tab in sheet.layout.tabs:
        if tab.key not in ("start", "readings", "results", "working", "sites"):
            continue
        assert tab.freeze is not None
        heights = dict(tab.heights)
        held = sum(heights.get(row, 16.0) for row in range(tab.freeze[0])) * 96 / 72
        assert held < 768 / 3, tab.key
        headings = {cell.row for cell in tab.cells if cell.format == "heading"}
        assert tab.freeze[0] - 1 in headings


def test_every_tab_shows_the_next_step_and_whose_copy_it_is(sheet: Sheet) -> None:
    for tab in sheet.layout.tabs:
        if tab.hidden:
            continue
        values = [cell.value for cell in tab.cells if cell.role == "formula"]
        assert sheet.source.texts["step.cautions"] in values, tab.key
        assert [cell.row for cell in tab.cells if cell.name == "sheet_line"] == [0]


def test_label_stands_left_of_every_entry(sheet: Sheet) -> None:
    for tab in sheet.layout.tabs:
        names = {cell.row for cell in tab.cells if cell.column == 0 and cell.role == "label" and cell.value}
        assert [cell.name for cell in tab.cells if cell.role == "entry" and cell.row not in names] == []
        assert {cell.column for cell in tab.cells if cell.role == "entry"} <= set(range(1, len(tab.widths)))


def test_input_messages_say_what_to_do_in_few_sentences(sheet: Sheet) -> None:
    rules = [cell.rule for tab in sheet.layout.tabs for cell in tab.cells if cell.rule is not None]
    assert [rule.prompt for rule in rules if rule.prompt.count(". ") > 2 or len(rule.prompt) > 150] == []
