"""Findings in the language of a class."""

from sheetgen.flows.wording import in_words, refusal_in_words
from sheetgen.model.finding import Finding, measured
from sheetgen.store.catalogue import load_catalogue
from sheetgen.workbook.refusal import too_large

FINDING = Finding("entry-off-scale", {"reading": measured(10.3), "division": 0.5}, severity="warning")


def test_findings_in_english_and_in_spanish() -> None:
    (english,), (spanish,) = (in_words([FINDING], language, on_screen=False) for language in ("en", "es"))
    assert (english.found, english.expected) == ("10.3 mm", "steps of 0.5 mm")
    assert (spanish.found, spanish.expected) == ("10,3 mm", "pasos de 0,5 mm")
    assert (english.severity, english.code) == (spanish.severity, spanish.code)
    assert english.remedy == load_catalogue()["entry-off-scale"].remedy
    assert spanish.remedy == load_catalogue("es")["entry-off-scale"].remedy


def test_a_screen_shows_no_reading() -> None:
    (finding,) = in_words([FINDING], "es")
    assert (finding.found, finding.expected) == ("... mm", "pasos de 0,5 mm")


def test_refusal_of_a_file_of_the_teacher_is_worded_as_a_finding() -> None:
    told = refusal_in_words(too_large("entries", count=401, most=400))
    assert (told.code, told.found, told.expected) == ("file-too-large", "401 entries", "at most 400 entries")
