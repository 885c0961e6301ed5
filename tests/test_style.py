"""The look: contrast worked out from the colours, sizes, and entries that show by a border.

Contrast: WCAG 2.2, relative luminance and contrast ratio; 4.5 for text (1.4.3), 3 for borders (1.4.11).
"""

import re
import tomllib
from pathlib import Path

import pytest

from sheetgen.texts.templates import read_template

STYLE = tomllib.loads(read_template("style.toml"))
BASE = STYLE["base"]
WORDS = {word: {**BASE, **table} for word, table in STYLE.items() if word not in ("base", "chart")}
PAPER = "#FFFFFF"
FOR_PAPER = ("paper_", "run_", "slip")
"""Words of what is printed and cut up: their sizes are those on paper."""

UNSEEN = ("covered", "unseen")
"""Words that hide a number on purpose; beside them it is said so."""


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_as_the_guideline_defines_it() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("word", sorted(set(WORDS) - set(UNSEEN)))
def test_text_stands_out_from_what_is_behind_it(word: str) -> None:
    table = WORDS[word]
    assert contrast(table["font_color"], table.get("bg_color", PAPER)) >= 4.5


def test_text_that_stands_on_an_emphasis_is_readable_too() -> None:
    """A conditional format changes what is behind a text, and keeps its ink."""
    inks = {
        table["font_color"]
        for word, table in WORDS.items()
        if word not in UNSEEN and table.get("bg_color", PAPER) == PAPER
    }
    for emphasis in ("wanted", "lit", "lit_entry", "not_open"):
        assert [ink for ink in inks if contrast(ink, WORDS[emphasis]["bg_color"]) < 4.5] == [], emphasis


@pytest.mark.parametrize("word", sorted(word for word in WORDS if word.startswith("entry_")))
def test_entries_show_by_a_visible_border_and_not_by_a_colour(word: str) -> None:
    table = WORDS[word]
    assert contrast(table["border_color"], PAPER) >= 3
    assert table["border"] in (1, 2, 7)
    assert (table["bg_color"], table["locked"]) == (PAPER, False)


def test_lit_entry_shows_by_a_border_that_differs_from_that_of_the_others() -> None:
    assert contrast(WORDS["lit_entry"]["border_color"], PAPER) >= 4.5
    assert contrast(WORDS["lit_entry"]["border_color"], WORDS["lit"]["bg_color"]) >= 4.5


def test_backgrounds_are_pale_but_for_the_bar_so_that_a_print_in_grey_reads_the_same() -> None:
    dark = {word for word, table in WORDS.items() if contrast(table.get("bg_color", PAPER), PAPER) > 1.5}
    assert dark == {"bar", "bar_title"}


def test_letters_are_plain_and_large_enough_to_read_on_a_screen() -> None:
    """12 points or more, in a typeface without serifs; smaller only on paper."""
    assert BASE["font_name"] == "Arial"
    small = {
        word for word, table in WORDS.items() if table["font_size"] < 12 and not word.startswith(FOR_PAPER)
    }
    assert small == set()


PALETTE = {
    "#22312C", "#12343B", "#0B5563", "#4F5D60", "#6B7B7E", "#B9C4C3", "#7A4100", "#B45309", "#E6F2F1",
    "#F3F6F5", "#FFF4D6", "#ECEFEE", "#FFFFFF",
}  # fmt: skip
"""Ink, bar, deep and muted tones, borders, amber for what is next, pale grounds, paper."""
ROOT = Path(__file__).resolve().parents[1]


def test_workbooks_have_one_palette_and_the_code_has_none() -> None:
    style = (ROOT / "templates" / "style.toml").read_text(encoding="utf-8")
    assert set(re.findall(r"#[0-9A-Fa-f]{6}", style)) == PALETTE
    sources = (ROOT / "sheetgen").rglob("*.py")
    assert [path.name for path in sources if re.search(r"#[0-9A-Fa-f]{6}\b", path.read_text("utf-8"))] == []


def test_bars_and_lines_of_charts_stand_out_from_the_paper() -> None:
    chart = STYLE["chart"]
    for name in ("line_1", "line_2", "ink"):
        assert contrast(chart[name], chart["paper"]) >= 3, name
