"""Words of lists, in whatever language they were typed."""

import pytest

from sheetgen.checking.list_words import code_word, plain_word, shown_word

CODES = ("measured", "practice")
WORDS = {
    "en": {"measured": "measured", "practice": "practice"},
    "es": {"measured": "medido", "practice": "práctica"},
}


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("practice", "practice"),
        ("PRACTICE ", "practice"),
        ("práctica", "practice"),
        ("Practica", "practice"),
        ("pra\u0301ctica", "practice"),
        ("medido", "measured"),
        ("medida", None),
        ("", None),
        ("-", None),
        ("practice" + " " * 900, "practice"),
        ("practice" + "\u0323\u0301" * 100_000, None),
    ],
)
def test_code_word(typed: str, code: str | None) -> None:
    """Case, accents, spaces and hyphens make no difference; another word is none."""
    assert code_word(typed, CODES, WORDS) == code


def test_code_word_without_words_of_any_language() -> None:
    assert code_word("Practice", CODES, {}) == "practice"
    assert code_word("práctica", CODES, {}) is None


def test_code_word_is_one_of_the_list_asked_for() -> None:
    assert code_word("práctica", ("measured",), WORDS) is None


@pytest.mark.parametrize(
    ("typed", "taken_for"),
    [(" Práctica ", "practice"), ("practice", "practice"), ("practica", "practica"), ("medido", "measured")],
)
def test_shown_word_as_the_formulas_of_a_sheet_take_it(typed: str, taken_for: str) -> None:
    """They take no notice of case, but of accents."""
    assert shown_word(typed, CODES, WORDS["es"]) == taken_for


def test_plain_word_of_the_words_with_hyphens() -> None:
    assert plain_word("Sólo - suma") == "solosuma"
