import pytest

from sheetgen.workbook.addresses import absolute, column_letters, in_tab, resolved, text_literal

PLACES = {
    "low": ("calculator", 2, 3),
    "high": ("calculator", 5, 3),
    "sum_mm": ("results", 8, 1),
}
TITLES = {"calculator": "Calculator", "results": "My results"}

# column, letters
COLUMNS = ((0, "A"), (1, "B"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA"))


@pytest.mark.parametrize(("column", "letters"), COLUMNS)
def test_column_letters(column: int, letters: str) -> None:
    assert column_letters(column) == letters


def test_absolute_of_the_first_and_of_a_far_cell() -> None:
    assert absolute(0, 0) == "$A$1"
    assert absolute(998, 27) == "$AB$999"


# tab title, address with its tab
TABS = (
    ("Readings", "Readings!$B$9"),
    ("My_tab", "My_tab!$B$9"),
    ("My tab", "'My tab'!$B$9"),
    ("R1", "'R1'!$B$9"),
    ("it's", "'it''s'!$B$9"),
    ("Übung", "'Übung'!$B$9"),
)


@pytest.mark.parametrize(("title", "expected"), TABS)
def test_in_tab_quotes_a_title_where_needed(title: str, expected: str) -> None:
    assert in_tab(title, "$B$9") == expected


def test_text_literal_doubles_quotes() -> None:
    assert text_literal('a "b"') == '"a ""b"""'


def test_text_literal_of_the_longest_text_a_formula_holds() -> None:
    assert text_literal("x" * 255) == '"' + "x" * 255 + '"'
    with pytest.raises(ValueError, match="at most 255 characters, not 256"):
        text_literal("x" * 256)


# template, tab it stands on, formula
FORMULAS = (
    ("={sum_mm}/2", "results", "=$B$9/2"),
    ("={sum_mm}/2", "calculator", "='My results'!$B$9/2"),
    ("=SUM({low}:{high})", "calculator", "=SUM($D$3:$D$6)"),
    ("=SUM({low}:{high})", "results", "=SUM(Calculator!$D$3:$D$6)"),
    ("={low}-{high}", "results", "=Calculator!$D$3-Calculator!$D$6"),
    ('="no braces"', "results", '="no braces"'),
)


@pytest.mark.parametrize(("template", "tab", "expected"), FORMULAS)
def test_resolved(template: str, tab: str, expected: str) -> None:
    assert resolved(template, tab, PLACES, TITLES) == expected


def test_resolved_of_a_name_without_a_place() -> None:
    with pytest.raises(KeyError, match="nowhere"):
        resolved("={nowhere}", "results", PLACES, TITLES)
