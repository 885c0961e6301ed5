"""Sentences of findings in other languages, from the templates."""

from sheetgen.checking.phrases import translated
from sheetgen.store.phrases import load_phrases


def test_english_needs_no_phrases() -> None:
    assert load_phrases("en") == ()


def test_phrases_with_the_most_letters_of_their_own_come_first() -> None:
    weights = [phrase.weight for phrase in load_phrases("es")]
    assert weights == sorted(weights, reverse=True)


def test_numbers_in_spanish_phrases_have_a_comma() -> None:
    assert translated("steps of 0.5 mm", load_phrases("es")) == "pasos de 0,5 mm"
