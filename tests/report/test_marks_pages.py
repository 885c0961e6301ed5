"""marks.csv: its text, and the rows read back from it."""

from collections.abc import Sequence

import pytest

from sheetgen.class_folder.scores import Score
from sheetgen.errors import FolderError, UsageError
from sheetgen.marking.marks import MarkRow
from sheetgen.report.marks_pages import marks_from, marks_page
from sheetgen.report.page import Page, SessionResults
from sheetgen.report.tables import marks_table
from sheetgen.statistics.analysis import class_analysis
from tests.report.invented import BOOK, TEXTS

MARKS = (
    MarkRow("1003", "Ines", "Holt", 10.0, 20.0, "final"),
    MarkRow("9999", "Guest", "", None, 20.0, "missing"),
    MarkRow("1002", "=Tam", "Reeve", 18.0, 20.0, "final"),
    MarkRow("1001", "Odile", "Marsh", 9.9, 20.0, "final", "2027-03-31"),
)


def page(marks: Sequence[MarkRow], scores: Sequence[Score] = ()) -> Page:
    items = {"setting-up": "Setting up", "sum": "Sum", "precision": "Precision"}
    analysis = class_analysis((), BOOK, 1)
    return marks_page(SessionResults(BOOK, (), 1, (), analysis, marks, scores=scores, items=items), TEXTS)


def test_marks_page_is_in_the_order_of_the_roster() -> None:
    rows = page(MARKS).rows
    assert [row[1] for row in rows] == ["1001", "1002", "1003", "9999"]
    assert rows[0] == ("Odile Marsh", "1001", 9.9, 20.0, "final")
    assert rows[3] == ("Guest", "9999", None, 20.0, "missing")


def test_marks_page_counts_the_statuses_that_there_are() -> None:
    assert page(MARKS).sentences[0].endswith("nobody is ranked. 3 final, 1 missing.")
    waiting = page([MarkRow("1001", "Odile", "Marsh", 3.0, 20.0, "to be marked")])
    assert waiting.sentences[0].endswith(" 1 to be marked.")


def test_marks_page_says_what_the_class_has_reached_of_each_item() -> None:
    """4 and 6 of 10 are 5 on average; an exempt item and one that nobody has are left out."""
    scores = [
        Score(1, "1001", "sum", 4.0, 10.0, "final", "2027-03-31", "K1"),
        Score(1, "1002", "sum", 6.0, 10.0, "final", "2027-03-31", "K2"),
        Score(1, "1001", "setting-up", None, 5.0, "exempt", "2027-03-31", "K1"),
        Score(1, "1001", "score", 4.0, 20.0, "final", "2027-03-31", "K1"),
    ]
    (by_item,) = page(MARKS, scores).more
    assert by_item.rows == (("Sum", 2, 5.0, 10.0),)


def test_marks_page_is_one_printed_page_for_thirty_people() -> None:
    row = MarkRow("1001", "Odile", "Marsh", 3.0, 20.0, "to be marked")
    assert [page([row] * count).single for count in (30, 31)] == [True, False]


def test_marks_page_without_marks() -> None:
    empty = page(())
    assert (empty.headings, empty.rows, empty.sentences) == ((), (), ("Nothing is marked yet.",))


ROWS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final", "2027-03-31"),
    MarkRow("S02", "Bo", "Heath", 12.0, 20.0, "to be marked"),
    MarkRow("007", "Cy", "Moor, junior", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", None, 20.0, "exempt"),
    MarkRow("S05", "Ed", "Reef", None, 20.0, "unusable", "", "file-pdf"),
)
TEXT = (
    "student_id,given_name,family_name,score,max_score,status,scored_on,unusable_because\n"
    "S01,Ada,Fen,17.5,20.0,final,2027-03-31,\n"
    "S02,Bo,Heath,12.0,20.0,to be marked,,\n"
    '007,Cy,"Moor, junior",,20.0,missing,,\n'
    "S04,Di,Wold,,20.0,exempt,,\n"
    "S05,Ed,Reef,,20.0,unusable,,file-pdf\n"
)
HEADINGS = TEXT.splitlines()[0]


def test_marks_table_leaves_missing_unusable_and_exempt_without_a_score() -> None:
    assert marks_table(ROWS) == TEXT


def test_marks_table_reads_back() -> None:
    assert marks_from(TEXT.encode(), "marks.csv") == ROWS


def test_marks_table_makes_names_harmless_and_reads_them_back_as_meant() -> None:
    row = MarkRow("=S1", "@Ada", "-Fen", 1.0, 20.0, "final")
    text = marks_table([row])
    assert text.splitlines()[1] == "'=S1,'@Ada,'-Fen,1.0,20.0,final,,"
    assert marks_from(text.encode(), "marks.csv") == (row,)


def test_marks_from_keeps_full_precision() -> None:
    row = MarkRow("S01", "", "", 0.1 + 0.2, 20.0, "final")
    assert marks_from(marks_table([row]).encode(), "marks.csv") == (row,)


def test_marks_from_a_table_saved_with_a_byte_order_mark() -> None:
    assert marks_from(b"\xef\xbb\xbf" + TEXT.encode(), "marks.csv") == ROWS


# what the file holds, what the message says
@pytest.mark.parametrize(
    ("text", "said"),
    (
        ("", "marks.csv:1: no headings;"),
        ("id,score\n", "marks.csv:1: the headings id, score;"),
        (f"{HEADINGS}\nS01,Ada,Fen,8,20\n", "marks.csv:2: 5 cells; expected 8."),
        (f"{HEADINGS}\n,Ada,Fen,8,20,final,,\n", "marks.csv:2: no student_id;"),
        (f"{HEADINGS}\nS01,Ada,Fen,8,20,done,,\n", "marks.csv:2: the status 'done';"),
        (f"{HEADINGS}\nS01,Ada,Fen,,20,final,,\n", "marks.csv:2: no score;"),
        (f"{HEADINGS}\nS01,Ada,Fen,nan,20,final,,\n", "marks.csv:2: the score 'nan';"),
        (f'{HEADINGS}\nS01,Ada,Fen,"8,5",20,final,,\n', "marks.csv:2: the score '8,5';"),
        (
            f'{HEADINGS}\nS01,"Ada,Fen,8,20,final,,\n',
            "marks.csv: it cannot be read (unexpected end of data);",
        ),
    ),
)
def test_marks_from_a_damaged_table(text: str, said: str) -> None:
    with pytest.raises(FolderError) as caught:
        marks_from(text.encode(), "marks.csv")
    assert str(caught.value).startswith(said)
    assert str(caught.value).endswith("Run `sheetgen read` again; it makes the file anew.")


def test_marks_from_a_table_with_a_student_twice_names_both_lines() -> None:
    text = f"{HEADINGS}\nS01,Ada,Fen,8,20,final,,\nS02,,,8,20,final,,\ns01,Ada,Fen,9,20,final,,\n"
    with pytest.raises(UsageError, match=r"^marks\.csv: student_id 's01' on lines 2 and 4;"):
        marks_from(text.encode(), "marks.csv")


# a name, its cell in marks.csv
LINE_BREAKS = (("\r=1+1", "' =1+1"), ("\r\n=1+1", "' =1+1"), ("\t=1+1", "'\t=1+1"), ("a\r=1", "a =1"))


@pytest.mark.parametrize(("name", "cell"), LINE_BREAKS)
def test_marks_table_makes_a_name_harmless_before_it_is_put_on_one_line(name: str, cell: str) -> None:
    """A break at the beginning becomes a blank, which some programs pass over."""
    text = marks_table([MarkRow("S01", name, "Fen", 8.0, 20.0, "final")])
    assert text.splitlines()[1] == f"S01,{cell},Fen,8.0,20.0,final,,"
