import pytest

from sheetgen.layout.text_size import column_pixels, height_for, lines_needed, text_pixels

# Widths of the letters of Helvetica in thousandths of the font size, as its public metrics file gives them.
HELVETICA = {
    "a": 556, "e": 556, "i": 222, "m": 833, "t": 278, "w": 722, "A": 667, "M": 833, "W": 944, "0": 556,
    " ": 278, ".": 278, ",": 278, "%": 889,
}  # fmt: skip
HELVETICA_BOLD = {"a": 556, "e": 556, "i": 278, "m": 889, "t": 333, "w": 778, "A": 722, "M": 833, "W": 944}


def test_letters_are_measured_at_least_as_wide_as_in_a_usual_typeface() -> None:
    narrow = [letter for letter, width in HELVETICA.items() if text_pixels(letter) < width * 16 / 1000]
    bold = [
        letter for letter, width in HELVETICA_BOLD.items() if text_pixels(letter, True) < width * 16 / 1000
    ]
    assert (narrow, bold) == ([], [])


def test_width_grows_with_the_size_and_with_bold_letters() -> None:
    assert text_pixels("mm", points=24.0) == 2 * text_pixels("mm", points=12.0)
    assert text_pixels("mm", bold=True) > text_pixels("mm")


def test_accents_are_as_wide_as_their_letter_and_an_unknown_letter_is_wide() -> None:
    assert text_pixels("é") == text_pixels("e")
    assert text_pixels("字") == 16.0


def test_column_in_pixels() -> None:
    assert [column_pixels(width) for width in (0, 8.43, 12)] == [5, 64, 89]


# text, width in characters, lines
WRAPPED = (
    ("", 10, 1),
    ("one two", 10, 1),
    ("one two three four", 10, 3),
    ("Donaudampfschifffahrt", 10, 3),
)


@pytest.mark.parametrize(("text", "width", "lines"), WRAPPED)
def test_lines_of_a_wrapped_text(text: str, width: float, lines: int) -> None:
    assert lines_needed(text, width) == lines


def test_indent_takes_room() -> None:
    assert (lines_needed("one two", 10), lines_needed("one two", 10, indent=2)) == (1, 2)


def test_height_of_a_row_has_an_end() -> None:
    assert [height_for(lines) for lines in (1, 3, 100)] == [19.0, 49.0, 409.0]
