"""Marks put into gradebook exports of every shape: one column changes, every other byte stays. Before that:
which cut, which heading row, which key and which score column an export has."""

from collections.abc import Sequence

import pytest

from sheetgen.errors import UsageError
from sheetgen.gradebook.filling import (
    Change,
    KeyColumn,
    MarkedGradebook,
    NotWritten,
    Wanted,
    header_row,
    key_column,
    plain_key,
    score_column,
    table_of,
    with_marks,
)
from sheetgen.marking.marks import MarkRow

MARKS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final"),
    MarkRow("S02", "Bo", "Heath", 12.0, 20.0, "final"),
    MarkRow("S03", "Cy", "Moor", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", None, 20.0, "exempt"),
    MarkRow("S05", "Ed", "Marsh", 9.25, 20.0, "to be marked"),
)
EMAILS = {"ada@fen.example": "S01", "bo@heath.example": "S02", "cy@moor.example": "S03"}


def marked(
    data: bytes | str, wanted: Wanted | None = None, marks: Sequence[MarkRow] = MARKS
) -> MarkedGradebook:
    data = data.encode() if isinstance(data, str) else data
    return with_marks(data, "book.csv", marks, EMAILS, wanted or Wanted())


def said(text: str, marks: Sequence[MarkRow] = MARKS) -> str:
    with pytest.raises(UsageError) as caught:
        marked(text, marks=marks)
    return str(caught.value)


# what it is, the export, the cells to change: what stands before, the old value, the new one
SHAPES = (
    (
        "points possible row, blank and padded columns",
        b"Student,ID,Section,Skinfold lab (881),Final Score\r\n"
        b"    Points Possible,,,      20.0,(read only)\r\n"
        b'"Fen, Ada",S01,  A ,,81.5 \r\n'
        b'"Heath, ""Bo""",S02,A,3,77\r\n'
        b'"Student, Test",,A,,\r\n',
        ((b"S01,  A ,", b"", b"17.5"), (b"S02,A,", b"3", b"12")),
    ),
    (
        "every cell quoted, line feeds inside",
        b'"Name","Email","Comment","Skinfold"\n'
        b'"Ada Fen","ADA@fen.example","good\nwork, ""yes""",""\n'
        b'"Bo Heath","bo@heath.example","","4.0"\n',
        ((b'work, ""yes""","', b"", b"17.5"), (b'"","', b"4.0", b"12")),
    ),
    (
        "semicolon, comma decimals, Windows-1252, no line end at the end",
        "Schüler;Nr;Quiz;Skinfold\r\nAda Größe;S01;1,5;\r\nBo Ärmel;S02;2,0;7,25".encode("cp1252"),
        ((b"S01;1,5;", b"", b"17,5"), (b"S02;2,0;", b"7,25", b"12")),
    ),
    (
        "byte-order mark, tab, blank lines, old line ends",
        b"\xef\xbb\xbfid\tskinfold\tquiz\r\rS01\t\t5\r\r\rS02\t 6 \t7\r\r",
        ((b"S01\t", b"", b"17.5"), (b"S02\t ", b"6", b"12")),
    ),
    (
        "announced delimiter, title lines above, mixed line ends",
        b"sep=|\r\nExported from the gradebook\n\nLogin|Given|Skinfold|\nS01|Ada||\r\nS02|Bo|6|\n",
        ((b"S01|Ada|", b"", b"17.5"), (b"S02|Bo|", b"6", b"12")),
    ),
    (
        "ids kept as text, apostrophes, comma decimals between commas",
        b"""ID,Name,Skinfold,Quiz\n="S01",Ada,,"3,5"\n'S02,Bo,"1,5","4,25"\n""",
        ((b'="S01",Ada,', b"", b'"17,5"'), (b"'S02,Bo,\"", b"1,5", b"12")),
    ),
    (
        "cells that a spreadsheet program would run",
        b"ID,Name,Skinfold,Note\nS01,=HYPERLINK(1),,+1\nS02,@Bo,-,=2+3\nX9,-Gus,=9,@\n",
        ((b"S01,=HYPERLINK(1),", b"", b"17.5"), (b"S02,@Bo,", b"-", b"12")),
    ),
    (
        "blanks around quotes, two rows of headings, bytes of no encoding",
        b'ID , Name , Skinfold\n#text,#text,#points\n S01 , "Fen, Ada\x81" , "7"  \n S02,Bo, 8 \n',
        ((b'"Fen, Ada\x81" , "', b"7", b"17.5"), (b"S02,Bo, ", b"8", b"12")),
    ),
    (
        "score column before the key, short rows left by the exporter",
        b"Skinfold,ID,Name,Extra\n,S01,Ada\n3,S02\n\n,S77,Gus,x\n",
        ((b"Extra\n", b"", b"17.5"), (b"Ada\n", b"3", b"12")),
    ),
)  # fmt: skip


@pytest.mark.parametrize("encoding", ("", "utf-16-le", "utf-16-be"))
@pytest.mark.parametrize(
    ("data", "changes"), [shape[1:] for shape in SHAPES], ids=[shape[0] for shape in SHAPES]
)
def test_one_column_changes_and_every_other_byte_stays(
    data: bytes, changes: tuple[tuple[bytes, bytes, bytes], ...], encoding: str
) -> None:
    expected = data
    for before, old, new in changes:
        assert expected.count(before + old) == 1
        expected = expected.replace(before + old, before + new)
    if encoding:
        mark = "\ufeff".encode(encoding)
        data, expected = (
            mark + each.decode("latin-1").removeprefix("ï»¿").encode(encoding) for each in (data, expected)
        )
    result = marked(data)
    assert result.data == expected
    assert [(change.student_id, change.old, change.new) for change in result.changes] == [
        (student, old.decode(), new.decode().strip('"'))
        for student, (_, old, new) in zip(("S01", "S02"), changes, strict=True)
    ]


BOOK = "ID,Name,Skinfold\n,Points,20\nS01,Ada,\nS02,Bo,7\nS03,Cy,5\nS04,Di,6\nS05,Ed,\nX9,Gus,1\n"


def test_preview_tells_what_matches_and_what_does_not() -> None:
    result = marked(BOOK)
    assert (result.key_column, result.key_kind, result.score_column) == ("ID", "student_id", "Skinfold")
    assert result.changes == (Change(3, "S01", "", "17.5"), Change(4, "S02", "7", "12"))
    assert result.left == (
        NotWritten(5, "S03", "missing"), NotWritten(6, "S04", "exempt"), NotWritten(7, "S05", "to be marked"),
    )  # fmt: skip
    assert result.not_in_marks == ((2, ""), (8, "X9"))
    assert (result.matched, result.same, result.not_in_file, result.notes) == (5, (), (), ())


def test_missing_exempt_and_unmarked_keep_what_stands_there() -> None:
    assert marked(BOOK).data.decode() == BOOK.replace("Ada,", "Ada,17.5").replace("Bo,7", "Bo,12")


def test_partial_puts_in_scores_so_far() -> None:
    result = marked(BOOK, Wanted(partial=True))
    assert Change(7, "S05", "", "9.25") in result.changes
    assert [one.status for one in result.left] == ["missing", "exempt"]


def test_marks_without_a_row() -> None:
    assert marked("ID,Skinfold\nS01,\n").not_in_file == ("S02", "S03", "S04", "S05")


def test_equal_numbers_are_left_as_they_are_written() -> None:
    text = "ID;Skinfold\nS01;17,50\nS02;12,0\n"
    result = marked(text)
    assert (result.changes, result.same, result.data.decode()) == ((), ("S01", "S02"), text)


# export, decimal mark
@pytest.mark.parametrize(
    ("text", "mark"),
    (
        ("ID,Skinfold,Quiz\nS01,,\n", "."),
        ("ID;Skinfold;Quiz\nS01;;\n", ","),
        ("ID;Skinfold;Quiz\nS01;;3.5\n", "."),
        ('ID,Skinfold,Quiz\nS01,,"3,5"\n', ","),
        ('ID,Skinfold,Quiz\nS01,2.5,"3,5"\n', "."),
        ("ID;Skinfold;Quiz\nS01;;3.5\nS02;;3,5\n", ","),
    ),
)
def test_decimal_mark_follows_the_column_then_the_file(text: str, mark: str) -> None:
    result = marked(text)
    assert result.changes[0].new == f"17{mark}5"


def test_points_and_commas_in_one_column_are_refused_where_it_matters() -> None:
    text = "ID;Skinfold\nS01;1.5\nS02;1,5\n"
    assert said(text).startswith("book.csv: decimal points and decimal commas in 'Skinfold';")
    whole = [MarkRow("S01", "", "", 8.0, 20.0, "final"), MarkRow("S02", "", "", 9.0, 20.0, "final")]
    assert marked(text, marks=whole).data == b"ID;Skinfold\nS01;8\nS02;9\n"


def test_sum_of_points_has_no_binary_dust() -> None:
    marks = [MarkRow("S01", "", "", 0.1 + 0.2, 20.0, "final")]
    assert marked("ID,Skinfold\nS01,\n", marks=marks).data == b"ID,Skinfold\nS01,0.3\n"


def test_a_student_twice_in_the_file_is_refused_with_every_line() -> None:
    text = 'ID,Name,Skinfold\nS01,"A\nda",\nS02,Bo,\ns01,Ada,\nS02,Bo,\n'
    assert said(text).startswith(
        "book.csv: 'S01' on lines 2, 5; 'S02' on lines 4, 6; expected each student once."
    )


# what is wrong, the export, what is said
@pytest.mark.parametrize(
    ("text", "message"),
    (
        ("ID,Name,Skinfold\nS01,Fen, Ada,8\n", "book.csv:2: 4 cells; expected 3."),
        ("ID,Name,Skinfold\nS01,Ada\n", "book.csv:2: 2 cells; expected 3."),
        ('ID,Name,Skinfold\nS01,"Ada,8\n', "book.csv:2: a cell whose quotes are not closed"),
        ("PK\x03\x04", "book.csv: a workbook; expected a CSV file."),
        ("", "book.csv: an empty file;"),
    ),
)
def test_export_that_cannot_be_used(text: str, message: str) -> None:
    assert said(text).startswith(message)


def test_rows_that_belong_to_nobody_may_have_any_length() -> None:
    text = "ID,Skinfold\nS01,\n---\nx,y,z,w\n"
    assert marked(text).data == b"ID,Skinfold\nS01,17.5\n---\nx,y,z,w\n"


def test_points_possible_that_differ_are_told_and_used_only_where_asked() -> None:
    text = "ID,Skinfold\nPoints,10\nS01,\nS02,7\n"
    (note,) = marked(text).notes
    assert note == (
        "this column is out of 10, and the marks are out of 20: put in as they are; "
        "--scale puts them in out of that"
    )
    assert [change.new for change in marked(text).changes] == ["17.5", "12"]
    scaled = marked(text, Wanted(scale=True))
    assert [change.new for change in scaled.changes] == ["8.75", "6"]
    assert scaled.notes == ("this column is out of 10, and the marks are out of 20: put in out of 10",)
    with pytest.raises(UsageError, match="no points possible for 'Skinfold'"):
        marked("ID,Skinfold\nS01,\n", Wanted(scale=True))


def test_a_word_in_a_cell_is_never_overwritten() -> None:
    result = marked("ID,Skinfold\nS01,EX\nS02,ill, see note\n".replace("ill, see note", '"ill, see note"'))
    assert (result.changes, [one.status for one in result.left]) == (
        (), ["it holds 'EX'", "it holds 'ill, see note'"],
    )  # fmt: skip


def test_ids_without_their_leading_zeros_are_matched_and_said() -> None:
    marks = (
        MarkRow("00417", "Ada", "Fen", 17.5, 20.0, "final"),
        MarkRow("00099", "Bo", "Heath", 12.0, 20.0, "final"),
        MarkRow("000", "Cy", "Moor", 9.0, 20.0, "final"),
    )
    result = marked("ID,Skinfold\n417,\n99,\n,\n", marks=marks)
    assert [(change.student_id, change.new) for change in result.changes] == [
        ("00417", "17.5"), ("00099", "12"),
    ]  # fmt: skip
    assert result.notes == (
        "the file has the student ids without their leading zeros; they were matched all the same",
    )
    assert marked("ID,Skinfold\n00417,\n", marks=marks).notes == ()


def test_two_ids_that_differ_by_their_zeros_alone_are_not_guessed_at() -> None:
    marks = tuple(MarkRow(who, "", "", 17.5, 20.0, "final") for who in ("07", "007"))
    with pytest.raises(UsageError, match="no column with students"):
        marked("ID,Skinfold\n7,\n", marks=marks)


def test_utf16_without_a_byte_order_mark() -> None:
    text = "ID\tSkinfold\r\nS01\t\r\n"
    result = marked(text.encode("utf-16-le"))
    assert result.data == "ID\tSkinfold\r\nS01\t17.5\r\n".encode("utf-16-le")


def test_a_second_time_changes_nothing() -> None:
    once = marked(BOOK).data
    again = marked(once)
    assert (again.data, again.changes, again.same) == (once, (), ("S01", "S02"))


KNOWN = {
    "student_id": {"s01": "S01", "s02": "S02", "s03": "S03"},
    "email": {"ada@fen.example": "S01", "bo@heath.example": "S02", "cy@moor.example": "S03"},
}


def key_of(text: str, name: str = "") -> KeyColumn:
    table = table_of(text, KNOWN)
    return key_column("book.csv", table, header_row("book.csv", table, Wanted(key=name)), name)


def said_of_key(text: str, name: str = "") -> str:
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
    assert said_of_key(text) == (
        "book.csv: columns that hold students of the class, and not the same in every row: "
        "#1 'partner', #3 'id'; expected one. Say with --key which one tells whose row it is."
    )
    assert key_of(text, "id").column == 2


# text, --key, what is said
@pytest.mark.parametrize(
    ("text", "name", "message"),
    (
        ("id,name\n4411,Ada\n", "", "of this class; likely it has names only, or is of another class; "),
        ("id,name\nS01,Ada\n", "mail", "--key 'mail', which no column has; expected one of #1 'id', #2"),
        ("id,name\nS01,Ada\n", "#3", "--key '#3', which no column has; expected one of #1 'id', #2 'name'"),
        ("id,ID\nS01,Ada\n", "Id", "--key 'Id', which 2 columns have; expected one of #1 'id', #2 'ID'"),
        ("name,age\nAda,20,S01\n", "", "student ids in column #3, which has no heading; expected a heading"),
    ),
)  # fmt: skip
def test_key_column_that_cannot_be_told(text: str, name: str, message: str) -> None:
    assert message in said_of_key(text, name)


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
