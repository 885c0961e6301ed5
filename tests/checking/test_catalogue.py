import pytest

from sheetgen.checking.catalogue import completed, worded
from sheetgen.model.finding import (
    Finding,
    FindingKind,
    Shown,
    Worded,
    amount,
    listed,
    measured,
    quoted,
    term,
    typed,
    written,
)

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
    finding = Finding("a-b", {"value": value}, "Readings", "B8", severity="note")
    whole = Worded("a-b", "note", shown, "what its family says", "Look.", "Readings", "B8")
    assert worded(finding, TEXTS) == whole
    assert worded(finding, TEXTS, on_screen=True).found == on_screen


def test_a_case_has_a_template_of_its_own_or_that_of_its_code() -> None:
    for case, found in (("other", "another: 1"), ("unheard", "1"), ("", "1")):
        assert worded(Finding("a-b", {"value": 1}, case=case), TEXTS).found == found


def test_a_finding_without_any_template_cannot_be_worded() -> None:
    with pytest.raises(KeyError, match=r"c\.found"):
        worded(Finding("c-d"), TEXTS)
