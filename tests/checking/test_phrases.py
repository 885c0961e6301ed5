"""Sentences of findings in another language."""

from dataclasses import replace

import pytest

from sheetgen.checking.phrases import Phrase, phrase_of, phrased, translated
from sheetgen.model.finding import Finding

SENTENCES = (
    ("{number} mm", "{number} mm"),
    ("at most {number} mm", "como máximo {number} mm"),
    ("copy code {code} also in {others}", "código {code} también en {others}"),
    ("{file} counts: {reason}", "cuenta {file}: {reason}"),
    ("it is complete", "está completo"),
    ("{a} or {b}", "{a} o {b}"),
    ("Measure again.", "Vuelva a medir."),
)


def phrases() -> list[Phrase]:
    """Two with a decimal comma, those with the most letters first."""
    made = [phrase_of(one, other, "," if " mm" in one else ".") for one, other in SENTENCES]
    return sorted(made, key=lambda phrase: -phrase.weight)


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("at most 60 mm", "como máximo 60 mm"),
        ("10.3 mm", "10,3 mm"),
        ("copy code K1 also in a.xlsx, b.xlsx", "código K1 también en a.xlsx, b.xlsx"),
        ("s (1).xlsx counts: it is complete", "cuenta s (1).xlsx: está completo"),
        ("1 or 0.5 or 0.2", "1 o 0.5 o 0.2"),
        ("P-GUEST", "P-GUEST"),
        ("10.3", "10.3"),
        ("", ""),
    ],
)
def test_translated(english: str, spanish: str) -> None:
    """The whole of a text, and what stands in its places by the same rule; data stays."""
    assert translated(english, phrases()) == spanish


def test_phrase_with_other_places_is_refused() -> None:
    with pytest.raises(ValueError, match="not the same places"):
        phrase_of("copy code {code}", "código {codigo}")


def test_finding_without_phrases_stays_as_it_is() -> None:
    finding = Finding("entry-beyond-opening", "warning", "61 mm", "at most 60 mm", "Look again.")
    assert phrased(finding, ()) is finding


def test_finding_with_phrases_is_translated_and_keeps_its_code_and_place() -> None:
    """A remedy is translated as a whole sentence or not at all."""
    finding = Finding("entry-beyond-opening", "warning", "61.5 mm", "at most 60 mm", "Look again.", "T", "B8")
    expected = Finding(
        "entry-beyond-opening", "warning", "61,5 mm", "como máximo 60 mm", "Look again.", "T", "B8"
    )
    assert phrased(finding, phrases()) == expected
    again = replace(finding, remedy="Measure again.")
    assert phrased(again, phrases()) == replace(expected, remedy="Vuelva a medir.")
    placed = replace(finding, remedy="at most 60 mm")
    assert phrased(placed, phrases()).remedy == "at most 60 mm"


# English, the other language, weight
WEIGHTS = (
    ("{a} or {b}", "{a} o {b}", 4),
    ("it is complete", "está completo", 14),
    ("{b}: {a}.", "{a}, {b}", 3),
)


@pytest.mark.parametrize(("english", "other", "weight"), WEIGHTS)
def test_phrase_weighs_the_letters_that_are_no_place(english: str, other: str, weight: int) -> None:
    phrase = phrase_of(english, other)
    assert (phrase.text, phrase.weight, phrase.decimal) == (other, weight, ".")


def test_phrase_with_a_place_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="have not the same places"):
        phrase_of("{a} {a}", "{a}")


# English sentence, a text, whether it fits
FITS = (
    ("{a} or {b}", "1 or 2", True),
    ("{a} or {b}", "'this or that'", False),
    ("{a} or {b}", '"this or that"', False),
    ("{a} or {b}", " or 2", False),
    ("{a} count for {b}", "'x' count for 'y'", True),
    ("{a}: more", "1: more", True),
    ("{a}: mor", "'1': mor", False),
    ("at (most) {a}", "at (most) 3", True),
    ("at (most) {a}", "at most 3", False),
    ("{a} counts", "two\nlines counts", True),
)


@pytest.mark.parametrize(("english", "text", "fits"), FITS)
def test_short_phrase_fits_nothing_that_was_typed(english: str, text: str, fits: bool) -> None:
    """What a student typed stands in quotes; a phrase of seven letters or more of its own may hold it."""
    assert bool(phrase_of(english, english).pattern.fullmatch(text)) == fits
