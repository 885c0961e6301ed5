"""Sentences of findings in another language."""

import pytest

from sheetgen.checking.phrases import phrase_of, phrased, translated
from sheetgen.model.finding import Finding

PHRASES = sorted(
    (
        phrase_of("{number} mm", "{number} mm", ","),
        phrase_of("at most {number} mm", "como máximo {number} mm", ","),
        phrase_of("copy code {code} also in {others}", "código {code} también en {others}"),
        phrase_of("{file} counts: {reason}", "cuenta {file}: {reason}"),
        phrase_of("it is complete", "está completo"),
        phrase_of("{a} or {b}", "{a} o {b}"),
    ),
    key=lambda phrase: -phrase.weight,
)


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
    assert translated(english, PHRASES) == spanish


def test_phrase_with_other_places_is_refused() -> None:
    with pytest.raises(ValueError, match="not the same places"):
        phrase_of("copy code {code}", "código {codigo}")


def test_finding_without_phrases_stays_as_it_is() -> None:
    finding = Finding("entry-beyond-opening", "warning", "61 mm", "at most 60 mm", "Look again.")
    assert phrased(finding, ()) is finding
    assert phrased(finding, PHRASES).expected == "como máximo 60 mm"
    assert phrased(finding, PHRASES).remedy == "Look again."
