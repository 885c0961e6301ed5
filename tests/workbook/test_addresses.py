import pytest
from openpyxl.formula.translate import Translator

from sheetgen.workbook.addresses import (
    absolute,
    column_letters,
    column_number,
    in_tab,
    place_of,
    resolved,
    shift_formula,
    text_literal,
)

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


@pytest.mark.parametrize(
    ("reference", "place"),
    [
        ("A1", (0, 0)),
        ("$C$7", (6, 2)),
        ("xfd4294967295", (4294967294, 16383)),
        ("A0", None),
        ("A", None),
        ("", None),
    ],
)
def test_place_of_reference(reference: str, place: tuple[int, int] | None) -> None:
    assert place_of(reference) == place


# formula, rows, columns, moved formula
_CASES = [
    ("A1", 2, 3, "D3"),
    ("$A1+A$1+$A$1", 2, 3, "$A3+D$1+$A$1"),
    ("SUM(A1:B2)", 1, 1, "SUM(B2:C3)"),
    ('IF(A1="A1","B2 ""C3""",B2)', 1, 0, 'IF(A2="A1","B2 ""C3""",B3)'),
    ("LOG10(A1)+ATAN2(B1,C1)", 1, 0, "LOG10(A2)+ATAN2(B2,C2)"),
    ("Readings!C6*2", 1, 0, "Readings!C7*2"),
    ("'My A1 tab'!B9", 1, 0, "'My A1 tab'!B10"),
    ("'It''s A1'!B9", 1, 0, "'It''s A1'!B10"),
    ("Q1!B9", 1, 0, "Q1!B10"),
    ("Q1:Q4!B9", 1, 0, "Q1:Q4!B10"),
    ("sum_mm+site_1+A1x+xA1_", 1, 0, "sum_mm+site_1+A1x+xA1_"),
    ("rate.A1+A1.rate", 1, 0, "rate.A1+A1.rate"),
    ("1E5+A1", 1, 0, "1E5+A2"),
    ("SUM(A:B)+SUM($A:B)", 0, 1, "SUM(B:C)+SUM($A:C)"),
    ("SUM(1:2)+SUM($1:2)", 3, 0, "SUM(4:5)+SUM($1:5)"),
    ("Table1[Column A1]+A1", 1, 0, "Table1[Column A1]+A2"),
    ("Table1[[#All],[B2]]+B2", 1, 0, "Table1[[#All],[B2]]+B3"),
    ("[1]Tab!A1", 1, 0, "[1]Tab!A2"),
    ("A1", -1, 0, "#REF!"),
    ("A1:B3", 0, -1, "#REF!:A3"),
    ("A:B", 0, -1, "#REF!"),
    ("XFD1", 0, 1, "#REF!"),
    ("A1048576", 1, 0, "#REF!"),
    ("#N/A+#REF!+TRUE", 1, 1, "#N/A+#REF!+TRUE"),
    ("a1+aB$2", 1, 1, "B2+AC$2"),
]


@pytest.mark.parametrize(("formula", "rows", "columns", "moved"), _CASES)
def test_shift_formula_of_each_construct(formula: str, rows: int, columns: int, moved: str) -> None:
    assert shift_formula(formula, rows, columns) == moved


@pytest.mark.parametrize(
    "formula",
    [
        "A1+B2",
        "SUM($A1:B$2)",
        "IF(A1=\"B2\",'My tab'!C3,LOG10(D4))",
        "SUM(A:C)",
        "SUM(2:4)",
        "MEDIAN(A1,B1)/$C$1",
    ],
)
def test_shift_formula_agrees_with_another_translator(formula: str) -> None:
    expected = Translator(f"={formula}", "A1").translate_formula("D8")
    assert f"={shift_formula(formula, 7, 3)}" == expected


@pytest.mark.parametrize(
    ("letters", "number"), [("A", 0), ("Z", 25), ("AA", 26), ("IV", 255), ("XFD", 16383)]
)
def test_column_letters_and_number_round_trip(letters: str, number: int) -> None:
    assert column_number(letters) == number
    assert column_letters(number) == letters
