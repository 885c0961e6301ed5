"""Findings in the language of a class."""

from sheetgen.flows.wording import attempt_in_words, in_words
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.store.catalogue import load_catalogue

FINDING = Finding("entry-off-scale", "", "10.3 mm", "steps of 0.5 mm", "")


def test_findings_in_english_and_in_spanish() -> None:
    """The severity and the code are those of the one catalogue."""
    (english,), (spanish,) = in_words([FINDING], "en"), in_words([FINDING], "es")
    assert (english.found, english.expected) == ("10.3 mm", "steps of 0.5 mm")
    assert (spanish.found, spanish.expected) == ("10,3 mm", "pasos de 0,5 mm")
    assert (english.severity, english.code) == (spanish.severity, spanish.code)
    assert english.remedy == load_catalogue()["entry-off-scale"].remedy
    assert spanish.remedy == load_catalogue("es")["entry-off-scale"].remedy


def test_attempt_in_english_is_left_alone() -> None:
    attempt = Attempt("s.xlsx", "a1", "refused", None, "", {}, None, (FINDING,))
    assert attempt_in_words(attempt, "en") is attempt
    assert attempt_in_words(attempt, "es").findings[0].found == "10,3 mm"
