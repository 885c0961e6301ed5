from sheetgen.layout.class_book_words import FIRST_ROW, LONGEST, MOST_PEOPLE, ROSTER_COLUMNS, SPARE_ROWS
from sheetgen.workbook.sheet_rules import ROW_LIMIT


def test_the_largest_roster_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_PEOPLE + SPARE_ROWS <= ROW_LIMIT


def test_every_column_of_the_roster_has_a_longest_text() -> None:
    assert set(ROSTER_COLUMNS) <= set(LONGEST)
