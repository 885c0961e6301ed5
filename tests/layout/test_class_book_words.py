from sheetgen.layout.class_book_words import (
    DATE_SETTINGS,
    FIRST_ROW,
    LONGEST,
    MOST_PEOPLE,
    ROSTER_COLUMNS,
    SETTINGS,
    SPARE_ROWS,
)
from sheetgen.workbook.sheet_rules import ROW_LIMIT


def test_the_largest_roster_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_PEOPLE + SPARE_ROWS <= ROW_LIMIT


def test_every_column_of_the_roster_has_a_longest_text() -> None:
    assert set(ROSTER_COLUMNS) <= set(LONGEST)


def test_days_and_declared_groups_are_the_last_settings() -> None:
    assert SETTINGS[-3:] == (*DATE_SETTINGS, "declared")
