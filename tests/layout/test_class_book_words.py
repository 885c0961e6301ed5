from sheetgen.layout.class_book_words import (
    BLOCKS,
    CHECK_COLUMNS,
    FIRST_ROW,
    LATER_SETTINGS,
    LONGEST,
    MOST_PEOPLE,
    ROSTER_COLUMNS,
    SETTINGS,
    SPARE_ROWS,
    WISH_COLUMNS,
)
from sheetgen.workbook.sheet_rules import ROW_LIMIT


def test_the_largest_roster_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_PEOPLE + SPARE_ROWS <= ROW_LIMIT


def test_every_column_of_the_roster_has_a_longest_text() -> None:
    assert {*ROSTER_COLUMNS, *WISH_COLUMNS} <= set(LONGEST)


def test_later_settings_are_the_last() -> None:
    """So the lines of earlier class books stand where they stood."""
    assert SETTINGS[-len(LATER_SETTINGS) :] == LATER_SETTINGS


def test_every_block_has_a_column() -> None:
    assert CHECK_COLUMNS[: len(BLOCKS)] == tuple(f"block_{block:g}" for block in BLOCKS)
