"""Words of lists, in whatever language they were typed."""

import pytest

from sheetgen.errors import TemplateError
from sheetgen.texts.languages import (
    DECIMAL_SIGN,
    code_word,
    load_texts,
    plain_word,
    shown_number,
    shown_word,
    with_decimal_sign,
)


def _from(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sheetgen.texts.templates.read_template", lambda relative: text)


def test_texts_of_english_by_section_and_key() -> None:
    english = load_texts("en")
    assert english["tab.start"] == "Start"
    assert english["step.done"].startswith("Done. Save this file")
    assert {value for value in english.values() if not isinstance(value, str)} == set()


def test_texts_are_flattened(monkeypatch: pytest.MonkeyPatch) -> None:
    _from(monkeypatch, '[tab]\nstart = "Inicio"\n[step]\ndone = "fin"\n')
    assert load_texts("es") == {"tab.start": "Inicio", "step.done": "fin"}


@pytest.mark.parametrize("language", ["xx", "../findings", "../../pyproject"])
def test_language_that_is_not_there(language: str) -> None:
    with pytest.raises(TemplateError):
        load_texts(language)


# what the file holds, what the message says
FAULTS = (
    ("[tab]\nstart = 3\n", "tab.start is no text in a section"),
    ('[tab]\nstart = ["a"]\n', "tab.start is no text in a section"),
    ('start = "Start"\n', "start is no text in a section"),
    ("[tab\n", "a TOML file of texts"),
)


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_file_with_a_fault(monkeypatch: pytest.MonkeyPatch, text: str, message: str) -> None:
    _from(monkeypatch, text)
    with pytest.raises(TemplateError, match=message) as caught:
        load_texts("es")
    assert caught.value.place == "text/es.toml"


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
    [(" Práctica ", "practice"), ("practice", "practice"), ("practica", "practice"), ("medido", "measured")],
)
def test_shown_word_as_the_formulas_of_a_sheet_take_it(typed: str, taken_for: str) -> None:
    """They take no notice of case and accents."""
    assert shown_word(typed, CODES, WORDS["es"]) == taken_for


def test_plain_word_of_the_words_with_hyphens() -> None:
    assert plain_word("Sólo - suma") == "solosuma"


def test_number_with_the_decimal_sign_of_the_language() -> None:
    texts = {DECIMAL_SIGN: ","}
    assert shown_number(0.5, texts) == "0,5"
    assert shown_number(120.0, texts) == "120"
    assert with_decimal_sign("0.00043499", texts) == "0,00043499"


def test_number_in_texts_without_a_sign_keeps_its_point() -> None:
    assert shown_number(-0.4, {}) == "-0.4"
