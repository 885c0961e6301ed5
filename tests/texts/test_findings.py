"""Findings in the language of a class."""

from collections.abc import Iterator

import pytest

from sheetgen.finding import (
    SEVERITIES,
    Finding,
    FindingKind,
    Shown,
    Worded,
    amount,
    listed,
    measured,
    quoted,
    term,
    too_large,
    typed,
    written,
)
from sheetgen.texts import findings as catalogue
from sheetgen.texts.findings import completed, in_words, load_catalogue, refusal_in_words, worded

FAMILIES = {"file", "identity", "sheet", "entry", "procedure", "working", "class"}


@pytest.fixture(autouse=True)
def _fresh() -> Iterator[None]:
    load_catalogue.cache_clear()
    yield
    load_catalogue.cache_clear()


def test_every_kind_says_what_it_means_and_what_to_do() -> None:
    kinds = load_catalogue()
    assert len(kinds) > 40
    assert {kind.code.partition("-")[0] for kind in kinds.values()} <= FAMILIES
    assert {kind.severity for kind in kinds.values()} == set(SEVERITIES)
    assert [kind.code for kind in kinds.values() if not kind.means.endswith(".")] == []
    assert [kind.code for kind in kinds.values() if not kind.remedy.removesuffix('"').endswith(".")] == []


def test_kind_with_an_open_question() -> None:
    assert load_catalogue()["entry-date"].question is True
    assert load_catalogue()["entry-formula"].question is False


def of_texts(monkeypatch: pytest.MonkeyPatch, **texts: str) -> None:
    found = {f"file-odd.{name}": text for name, text in texts.items()}
    monkeypatch.setattr(catalogue, "texts_in", lambda *_: found)


def test_kind_as_it_stands_in_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    of_texts(monkeypatch, severity="note", means="Odd.", remedy="Look.", found="this", expected="that")
    assert load_catalogue() == {"file-odd": FindingKind("file-odd", "note", False, "Odd.", "Look.")}


CATALOGUE = {
    kind.code: kind
    for kind in (
        FindingKind("file-empty", "error", False, "Empty.", "Ask for it again."),
        FindingKind("file-foreign-content", "note", False, "Macros.", "Nothing to do."),
        FindingKind("identity-changed", "error", False, "Another.", "Talk to the student."),
        FindingKind("sheet-formula-changed", "error", False, "Another.", "Open the file."),
        FindingKind("sheet-result-differs", "warning", False, "Differs.", "Open the file."),
        FindingKind("entry-date", "error", True, "A date.", "Ask the student."),
        FindingKind("entry-not-a-number", "error", False, "A word.", "Ask the student."),
        FindingKind("class-same-numbers", "warning", True, "The same.", "Ask both."),
    )
}


def _findings(*codes: str) -> tuple[Finding, ...]:
    return completed([Finding(code) for code in codes], CATALOGUE)


def test_completed_adds_the_severity() -> None:
    assert _findings("file-empty") == (Finding("file-empty", severity="error"),)


def test_completed_with_a_code_that_is_not_in_the_catalogue() -> None:
    with pytest.raises(KeyError, match="file-lost"):
        _findings("file-lost")


TEXTS = {
    "number.decimal": ",",
    "term.and": "y",
    "term.nothing": "nada",
    "term.between": "de {low} a {high}",
    "a.expected": "what its family says",
    "a-b.found": "{value}",
    "a-b.found-other": "another: {value}",
    "a-b.remedy": "Look.",
}
# value, in a table, on a screen
VALUES: tuple[tuple[str | float | tuple[str | Shown, ...] | Shown, str, str], ...] = (
    ("C1", "C1", "C1"),
    (1200, "1200", "1200"),
    (0.5, "0,5", "0,5"),
    (60.0, "60", "60"),
    (("a", quoted("b")), "a, 'b'", "a, 'b'"),
    (amount(20_000_000), "20,000,000", "20,000,000"),
    (listed(("a", "b", "c"), "and"), "a y b y c", "a y b y c"),
    (quoted("it's"), '"it\'s"', '"it\'s"'),
    (quoted(None), "None", "None"),
    (quoted("x" * 90), "'" + "x" * 79, "'" + "x" * 79),
    (measured(61.5), "61,5", "..."),
    (typed("61,5 kg"), "'61,5 kg'", "..."),
    (typed("x" * 70), "'" + "x" * 60 + "'", "..."),
    (typed(0.5), "0.5", "..."),
    (written("=B9*1.05"), "=B9*1.05", "..."),
    (written("abcdef", 3), "abc", "..."),
    (term("nothing"), "nada", "nada"),
    (term("between", low=0.5, high=measured(3)), "de 0,5 a 3", "de 0,5 a ..."),
)


@pytest.mark.parametrize(("value", "shown", "on_screen"), VALUES)
def test_every_kind_of_value_in_a_table_and_on_a_screen(
    value: str | float | tuple[str | Shown, ...] | Shown, shown: str, on_screen: str
) -> None:
    finding = Finding("a-b", {"value": value}, "Readings", "C5", severity="note")
    whole = Worded("a-b", "note", shown, "what its family says", "Look.", "Readings", "C5")
    assert worded(finding, TEXTS) == whole
    assert worded(finding, TEXTS, on_screen=True).found == on_screen


def test_a_case_has_a_template_of_its_own_or_that_of_its_code() -> None:
    for case, found in (("other", "another: 1"), ("unheard", "1"), ("", "1")):
        assert worded(Finding("a-b", {"value": 1}, case=case), TEXTS).found == found


def test_a_finding_without_any_template_cannot_be_worded() -> None:
    with pytest.raises(KeyError, match=r"c\.found"):
        worded(Finding("c-d"), TEXTS)


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
