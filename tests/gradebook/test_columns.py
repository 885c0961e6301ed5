"""Which cut, which heading row, which key and which score column a gradebook export has."""

import pytest

from sheetgen.errors import UsageError
from sheetgen.gradebook.columns import (
    KeyColumn,
    Wanted,
    header_row,
    key_column,
    plain_key,
    score_column,
    table_of,
)

KNOWN = {
    "student_id": {"s01": "S01", "s02": "S02", "s03": "S03"},
    "email": {"ada@fen.example": "S01", "bo@heath.example": "S02", "cy@moor.example": "S03"},
}


def key_of(text: str, name: str = "") -> KeyColumn:
    table = table_of(text, KNOWN)
    return key_column("book.csv", table, header_row("book.csv", table, Wanted(key=name)), name)


def said(text: str, name: str = "") -> str:
    with pytest.raises(UsageError) as caught:
        key_of(text, name)
    return str(caught.value)


# as it stands in an export, as it counts
@pytest.mark.parametrize(
    ("key", "plain"),
    (
        ("S01", "s01"), (" s01\t", "s01"), ("'007", "007"), ('="007"', "007"), ("7", "7"), ("=7", "=7"),
        ("Zoe\u0308", "zoë"), ("", ""),
    ),
)  # fmt: skip
def test_plain_key_takes_off_what_exports_put_around_it(key: str, plain: str) -> None:
    assert plain_key(key) == plain


# text, delimiter
@pytest.mark.parametrize(
    ("text", "delimiter"),
    (
        ("id,skinfold\nS01,8\n", ","),
        ("name;id;skinfold\nFen, Ada;S01;8,5\n", ";"),
        ("name\tid\nFen, Ada\tS01\n", "\t"),
        ("id|name\nS01|a;b;c\n", "|"),
        ("sep=^\nid^name\nS01^Fen, Ada\n", "^"),
        ("a;b;c\nx;y;z\n", ";"),
    ),
)
def test_table_of_finds_the_delimiter(text: str, delimiter: str) -> None:
    assert table_of(text, KNOWN).delimiter == delimiter


# text, row of headings
@pytest.mark.parametrize(
    ("text", "row"),
    (
        ("id,skinfold\nS01,8\n", 0),
        ("Report of 12 May\n\nid,skinfold\nS01,8\n", 2),
        ("id,name,skinfold\n,Points possible,20\nS01,Ada,8\n", 0),
        ("sep=,\nid,skinfold\nS01,8\n", 0),
    ),
)
def test_header_row_is_the_fullest_above_the_students(text: str, row: int) -> None:
    assert header_row("book.csv", table_of(text, KNOWN), Wanted()) == row


def test_header_row_is_the_one_with_the_column_named() -> None:
    text = "Groups,Spring,North,Grade\nid,name,skinfold\nS01,Ada,8\n"
    assert header_row("book.csv", table_of(text, KNOWN), Wanted(column=" Skinfold")) == 1


def test_header_row_where_there_is_none() -> None:
    with pytest.raises(UsageError, match=r"^book\.csv: no row of headings above the students;"):
        header_row("book.csv", table_of("S01,8\nS02,9\n", KNOWN), Wanted())
    with pytest.raises(UsageError, match=r"^book\.csv: an empty file;"):
        header_row("book.csv", table_of("", KNOWN), Wanted())


# text, --key, the column, its kind
@pytest.mark.parametrize(
    ("text", "name", "column", "kind"),
    (
        ("name,id,mail\nAda,S01,\nBo,S02,\n", "", 1, "student_id"),
        ("name,id,mail\nAda,4411,Ada@Fen.example\nBo,4412,bo@heath.example\n", "", 2, "email"),
        ("id,mail\nS01,ada@fen.example\nS02,bo@heath.example\n", "", 0, "student_id"),
        ("id,mail\nS01,ada@fen.example\nS02,bo@heath.example\n", "MAIL", 1, "email"),
        ("id,mail\nS01,ada@fen.example\nS02,bo@heath.example\n", "#2", 1, "email"),
        ("id,id\n4411,S01\n4412,S02\n", "#2", 1, "student_id"),
        ("login,sis id\nS01,S01\nS02,S02\n", "", 0, "student_id"),
        ("id,leader\nS01,\nS02,\nS03,S02\n", "", 0, "student_id"),
    ),
)
def test_key_column_is_found_or_named(text: str, name: str, column: int, kind: str) -> None:
    key = key_of(text, name)
    assert (key.column, key.kind) == (column, kind)


def test_key_column_named_that_holds_nobody() -> None:
    assert key_of("id,name\nS01,Ada\n", "name") == KeyColumn(1, "student_id", {})


def test_key_column_beside_a_column_of_partners() -> None:
    """The partner's column may even hold more students of the class than the own one."""
    text = "partner,skinfold,id\nS02,8,S01\nS01,9,S02\nS02,7,4411\n"
    assert said(text) == (
        "book.csv: columns that hold students of the class, and not the same in every row: "
        "#1 'partner', #3 'id'; expected one. Say with --key which one tells whose row it is."
    )
    assert key_of(text, "id").column == 2


# text, --key, what is said
@pytest.mark.parametrize(
    ("text", "name", "message"),
    (
        ("id,name\n4411,Ada\n", "", "no column with students of this class; expected one of #1 'id', #2"),
        ("id,name\nS01,Ada\n", "mail", "--key 'mail', which no column has; expected one of #1 'id', #2"),
        ("id,name\nS01,Ada\n", "#3", "--key '#3', which no column has; expected one of #1 'id', #2 'name'"),
        ("id,ID\nS01,Ada\n", "Id", "--key 'Id', which 2 columns have; expected one of #1 'id', #2 'ID'"),
        ("name,age\nAda,20,S01\n", "", "student ids in column #3, which has no heading; expected a heading"),
    ),
)  # fmt: skip
def test_key_column_that_cannot_be_told(text: str, name: str, message: str) -> None:
    assert message in said(text, name)


def score_of(headings: str, wanted: Wanted) -> int:
    (row,) = table_of(headings, KNOWN).rows
    return score_column("book.csv", row.cells, wanted, 0)


# headings, what is wanted, place of the score column
@pytest.mark.parametrize(
    ("headings", "wanted", "column"),
    (
        ("id,quiz,Skinfold lab (123)", Wanted("Evening class"), 2),
        ("id,Evening  Class: folds,skinfold", Wanted("evening class"), 1),
        ("skinfold id,quiz,Skinfold", Wanted(), 2),
        ("id,skinfolds,skinfold", Wanted(), 2),
        ("id,skinfold 1,skinfold 2", Wanted(column="Skinfold 2"), 2),
        ("id,quiz,quiz", Wanted(column="#3"), 2),
    ),
)
def test_score_column_is_named_or_fits(headings: str, wanted: Wanted, column: int) -> None:
    assert score_of(headings, wanted) == column


# headings, what is wanted, what is said
@pytest.mark.parametrize(
    ("headings", "wanted", "message"),
    (
        (
            "id,quiz,lab",
            Wanted("Evening class"),
            "no column whose heading names the class or the word skinfold; "
            "expected one of #1 'id', #2 'quiz', #3 'lab'.",
        ),
        (
            "id,skinfold 1,skinfold 2",
            Wanted(),
            "2 columns that could take the marks: #2 'skinfold 1', #3 'skinfold 2';",
        ),
        ("id,quiz", Wanted(column="lab"), "--column 'lab', which no column has; expected one of #1 'id', #2"),
        ("id,quiz", Wanted(column="id"), "the column 'id' for both key and score; expected two columns."),
    ),
)  # fmt: skip
def test_score_column_that_cannot_be_told(headings: str, wanted: Wanted, message: str) -> None:
    with pytest.raises(UsageError) as caught:
        score_of(headings, wanted)
    assert message in str(caught.value)
