"""What every tab of a sheet begins with, and how an entry comes to be lit."""

import re

import pytest

from sheetgen.protocols.names import STEPS
from sheetgen.sheet.heading import (
    COLUMN_HEADINGS,
    HEAD_HEIGHTS,
    TABS,
    column_headings,
    head,
    lit,
    next_here,
    number_entry,
    words_entry,
)
from sheetgen.workbook.cells import column_pixels, text_pixels
from sheetgen.workbook.layout import Cell, Emphasis, Tab
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import sheet_of

SHEET = sheet_of()
PROTOCOL, TEXTS = SHEET.source.protocol, SHEET.source.texts
PIXELS_A_POINT = 96 / 72


def _visible(language: str = "en") -> list[Tab]:
    return [tab for tab in sheet_in(language).layout.tabs if not tab.hidden]


@pytest.mark.parametrize("language", LANGUAGES)
def test_heading_takes_120_pixels_at_most(language: str) -> None:
    for tab in _visible(language):
        heights = dict(tab.heights)
        assert sum(heights[row] for row in range(COLUMN_HEADINGS)) * PIXELS_A_POINT <= 120


@pytest.mark.parametrize("language", LANGUAGES)
def test_heading_and_column_headings_stay_when_the_rows_scroll(language: str) -> None:
    for tab in _visible(language):
        columns = [cell.row for cell in tab.cells if cell.format == "column"]
        assert tab.freeze is not None
        assert tab.freeze[0] == (max(columns) + 1 if columns else COLUMN_HEADINGS)


def test_heading_is_high_enough_for_its_letters() -> None:
    """A line is a quarter higher than its type: titles of 18 points, steps of 12, the next step of 16."""
    assert [height >= 1.25 * size for (_, height), size in zip(HEAD_HEIGHTS, (18, 12, 16), strict=True)] == [
        True,
        True,
        True,
    ]


@pytest.mark.parametrize("tab", TABS)
def test_heading_says_title_codes_steps_and_next_step(tab: str) -> None:
    cells = {(cell.row, cell.column): cell for cell in head(tab, 5, 2, PROTOCOL, TEXTS)}
    assert set(cells) == {(row, column) for row in range(3) for column in range(5)}
    assert (cells[0, 0].value, cells[0, 0].format) == (TEXTS[f"{tab}.title"], "bar_title")
    assert (cells[0, 2].role, cells[0, 2].name) == ("identity", "sheet_line")
    assert cells[1, 0].formula == "={counted_step_line}"
    here = f'OR({{next_tab}}="",{{next_tab}}="{TEXTS[f"tab.{tab}"]}")'
    assert cells[2, 0].formula == f'="▶  "&IF({here},"",{{next_tab}}&" ▸ ")&{{next_step}}'
    formats = [{cells[row, column].format for column in range(5)} for row in range(3)]
    assert formats == [{"bar_title", "bar"}, {"steps", "steps_link"}, {"next"}]


def test_each_tab_leads_to_the_next_and_the_last_back_to_the_first() -> None:
    links = {tab.key: [(cell.value, cell.link) for cell in tab.cells if cell.link] for tab in _visible()}
    assert links == {
        "care": [("Start ▸", "start")],
        "start": [("Sites ▸", "sites")],
        "sites": [("Readings ▸", "readings")],
        "readings": [("Working ▸", "working")],
        "working": [("Results ▸", "results")],
        "results": [("About ▸", "about")],
        "about": [("◂ Care", "care")],
    }


def test_first_line_of_steps_names_every_step_and_what_is_now() -> None:
    cells = {(cell.row, cell.column): cell for cell in head("care", 5, 2, PROTOCOL, TEXTS)}
    assert cells[1, 0].value == (
        "▶ Care ○ Start ○ Sites ○ Round 1 ○ Round 2 ○ Thirds ○ Working ○ Hand in   0 of 14 readings"
    )
    assert str(cells[1, 0].value).count("○") == len(STEPS) - 1
    assert cells[2, 0].value == "▶  Read the points below, then choose yes at the foot"


@pytest.mark.parametrize("narrow", [False, True], ids=["usual", "narrow"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_of_the_heading_is_cut_in_a_wide_typeface(language: str, narrow: bool) -> None:
    """Title and steps run over empty cells to the right, up to the next cell that holds something.

    A digit of the widest stand-in for the typeface is 8.48 px wide where a column counts 7.
    """
    sheet = sheet_in(language, narrow=narrow)
    around = 9 + 6  # an indent, and the room that a cell leaves at its sides
    for tab in (tab for tab in sheet.layout.tabs if not tab.hidden):
        at = {(cell.row, cell.column): cell for cell in tab.cells}
        pixels = [column_pixels(width) * 8.48 / 7 if width else 0 for width in tab.widths]
        codes_at = next(column for (row, column), cell in at.items() if row == 0 and cell.name)
        link_at = next(column for (row, column), cell in at.items() if cell.link)
        title, steps, link, first = (
            _pixels(str(at[place].value), points)
            for place, points in (((0, 0), 18.0), ((1, 0), 12.0), ((1, link_at), 12.0), ((2, 0), 16.0))
        )
        assert title + around <= sum(pixels[:codes_at]), tab.key
        assert text_pixels(str(sheet.identity.values["sheet_line"])) + around <= sum(pixels[codes_at:])
        assert steps + around <= sum(pixels[:link_at]), tab.key
        assert link + around <= pixels[link_at], tab.key
        assert first + around <= sum(pixels), tab.key


def _pixels(text: str, points: float) -> float:
    """Width in bold letters; no sign of a step is wider than a w."""
    return text_pixels(re.sub("[▶▸◂○✓]", "w", text), bold=True, points=points)


def test_readings_are_not_counted_where_the_tab_is_too_narrow() -> None:
    cells = {(cell.row, cell.column): cell for cell in head("sites", 4, 1, PROTOCOL, TEXTS, counted=False)}
    assert cells[1, 0].formula == "={step_line}"
    assert str(cells[1, 0].value).endswith("○ Hand in ")


def test_column_headings_stand_below_the_heading() -> None:
    assert column_headings(["Site", "Fold"]) == [
        Cell(3, 0, "label", "Site", format="column"),
        Cell(3, 1, "label", "Fold", format="column"),
    ]


def test_number_entry_in_whole_numbers_or_decimals() -> None:
    age = number_entry(4, 1, "age_years", "Age", TEXTS)
    zero = number_entry(5, 1, "zero_mm", "Zero", TEXTS)
    assert (age.format, zero.format) == ("entry_whole", "entry_reading")
    assert age.rule is not None
    assert (age.rule.kind, age.rule.minimum, age.rule.maximum, age.rule.prompt) == ("whole", 5, 110, "")
    assert age.rule.error == "Type a whole number from 5 to 110."


def test_words_entry_of_code_words_is_named_itself() -> None:
    cell = words_entry(4, 1, "side", "Side", {"right": "right", "left": "left"}, TEXTS, "right")
    assert (cell.value, cell.defined_name) == ("right", "side")
    assert cell.rule is not None
    assert (cell.rule.words, cell.rule.codes, cell.rule.refuses) == (("right", "left"), (), True)
    assert cell.rule.error == "Choose one of: right, left."


def test_words_entry_of_other_words_leaves_its_name_to_the_code_word() -> None:
    cell = words_entry(4, 1, "side", "Lado", {"right": "derecho", "left": "izquierdo"}, TEXTS, "right")
    assert (cell.value, cell.name, cell.defined_name) == ("derecho", "side", "typed_side")
    assert cell.rule is not None
    assert (cell.rule.words, cell.rule.codes) == (("derecho", "izquierdo"), ("right", "left"))


def test_list_with_accents_refuses_nothing() -> None:
    """A list compares letter by letter; whoever types without accents is understood by the sheet itself."""
    cell = words_entry(4, 1, "cautions_confirmed", "Leído", {"yes": "sí"}, TEXTS)
    assert cell.rule is not None
    assert (cell.rule.words, cell.rule.refuses) == (("sí",), False)


def test_title_and_message_of_a_long_list_are_cut_to_what_the_format_holds() -> None:
    words = {f"word-{at:03}": f"word-{at:03}" for at in range(60)}
    cell = words_entry(4, 1, "side", "A title that is longer than a title may be", words, TEXTS)
    assert cell.rule is not None
    assert (len(cell.rule.title), len(cell.rule.error)) == (32, 255)


def test_row_of_the_next_step_is_lit_and_so_is_its_entry() -> None:
    assert lit([4, 9, 6], (0, 2), 1, 6) == (
        Emphasis(4, 1, 9, 1, "=$G5=1", "lit_entry"),
        Emphasis(4, 0, 9, 2, "=$G5=1", "lit"),
    )


def test_cell_beside_an_entry_tells_whether_it_comes_next() -> None:
    assert next_here(4, 6, "zero_mm") == Cell(
        4,
        6,
        "formula",
        0,
        name="next_zero_mm",
        formula="=IF({next_rank}=0,0,IF({rank_zero_mm}={next_rank},1,0))",
        format="unseen",
    )
    assert next_here(4, 6, "cautions_confirmed").value == 1
