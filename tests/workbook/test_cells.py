import pytest

from sheetgen.texts.languages import texts_in
from sheetgen.workbook.cells import (
    column_pixels,
    entry,
    formula,
    heading_row,
    height_for,
    identity,
    label,
    lines_needed,
    number_rule,
    text_pixels,
    text_rule,
    words_rule,
)
from sheetgen.workbook.layout import Cell, Rule

RULE = Rule("whole", "Age", "Whole years.", "A whole number.", minimum=5, maximum=110)


def test_label_is_fixed_and_not_named() -> None:
    assert label(2, 1, "Site") == Cell(2, 1, "label", "Site")


def test_entry_is_named_and_has_its_rule() -> None:
    assert entry(2, 1, "age_years", RULE, "entry_number") == Cell(
        2, 1, "entry", None, name="age_years", format="entry_number", rule=RULE, named=True
    )


def test_formula_starts_with_an_empty_result() -> None:
    assert formula(2, 1, "={sum_mm}") == Cell(2, 1, "formula", "", formula="={sum_mm}")


def test_identity_has_no_value_of_its_own() -> None:
    assert identity(2, 1, "copy_code", named=True) == Cell(
        2, 1, "identity", None, name="copy_code", named=True
    )


def test_heading_row_starts_at_column_a() -> None:
    assert heading_row(3, ["Site", "Fold"]) == [
        Cell(3, 0, "label", "Site", format="heading"),
        Cell(3, 1, "label", "Fold", format="heading"),
    ]


TEXTS = texts_in("en", "sheet")


def test_words_rule_offers_a_list() -> None:
    assert words_rule(TEXTS, ("right", "left"), "Side", "Which side.") == Rule(
        "list", "Side", "Which side.", "Choose one of: right, left.", words=("right", "left")
    )


def test_words_rule_cuts_a_message_that_is_too_long() -> None:
    words = tuple(f"word-{at:03}" for at in range(60))
    assert len(words_rule(TEXTS, words, "Word", "A word.").error) == 255


def test_number_rule_says_the_range_before_and_after() -> None:
    assert number_rule(TEXTS, "whole", 5, 110, "Age", "whole years") == Rule(
        "whole",
        "Age",
        "whole years. Type a whole number from 5 to 110.",
        "Type a whole number from 5 to 110.",
        minimum=5,
        maximum=110,
    )


def test_text_rule_limits_the_length() -> None:
    assert text_rule(TEXTS, 12, "Code", "A code.") == Rule(
        "length", "Code", "A code.", "Type at most 12 characters.", minimum=0, maximum=12
    )


def test_number_rule_without_a_prompt_has_none() -> None:
    assert number_rule(TEXTS, "decimal", -10, 10, "Zero", "").prompt == ""


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
