import pytest

from sheetgen.layout.printed import (
    LARGEST_SCALE,
    PAGE_POINTS,
    PAGE_WIDTH,
    Row,
    broken,
    cells_of,
    first_rows,
    heights_of,
    scale_for,
    width_in_characters,
)
from sheetgen.layout.text_size import column_pixels, text_pixels

ROWS = (Row(20.0, ((0, "one", "text"), (2, 3.5, "paper_number"))), Row(5.0))


def test_rows_stand_one_below_the_other() -> None:
    found = [(cell.row, cell.column, cell.value, cell.format) for cell in cells_of((*ROWS, *ROWS))]
    assert found == [
        (0, 0, "one", "text"),
        (0, 2, 3.5, "paper_number"),
        (2, 0, "one", "text"),
        (2, 2, 3.5, "paper_number"),
    ]
    assert heights_of(ROWS) == ((0, 20.0), (1, 5.0))


def test_broken_lines_hold_every_word_and_fit() -> None:
    text = "Say numbers quietly, to the recorder only: no calling out, no list, no ranking."
    lines = broken(text, 200, 9.0)
    assert " ".join(lines) == text
    assert len(lines) == 3
    assert max(text_pixels(line, points=9.0) for line in lines) <= 200


def test_broken_keeps_a_word_wider_than_the_line_whole() -> None:
    assert broken("a incomprehensibilities b", 60, 9.0) == ("a", "incomprehensibilities", "b")
    assert broken("", 60, 9.0) == ()


SCALES = [
    # height in points, per cent
    (0.0, 94),
    (100.0, 94),
    (739.0, 94),  # 695 / 739 = 0.9405
    (740.0, 93),  # 695 / 740 = 0.9392
    (1390.0, 50),
    (100_000.0, 10),
]


@pytest.mark.parametrize(("height", "scale"), SCALES)
def test_scale_for(height: float, scale: int) -> None:
    assert scale_for((height / 2, height / 2)) == scale


def test_a_page_fits_on_a4_and_letter_even_in_a_wide_typeface() -> None:
    """Between margins of 0.5 and 0.6 inch A4 leaves 523 points across and Letter 705.6 down. A digit of Arial
    at 10 points counts as 7 px, that of the widest stand-in, DejaVu Sans, is 8.48 px wide."""
    assert PAGE_WIDTH * 8.48 / 7 * 0.75 * LARGEST_SCALE / 100 < 523
    assert PAGE_POINTS < 705.6


@pytest.mark.parametrize("pixels", [75, 82, 130, 590])
def test_width_in_characters_undoes_column_pixels(pixels: int) -> None:
    assert abs(column_pixels(width_in_characters(pixels)) - pixels) <= 1


def test_first_rows_of_pages() -> None:
    assert first_rows([ROWS, ROWS, ROWS], 1) == (1, 3, 5)
