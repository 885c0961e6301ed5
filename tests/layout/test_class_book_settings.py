from sheetgen.layout.class_book_settings import (
    BLOCKS,
    CALIPERS,
    FIRST_ROW,
    LONGEST,
    MOST_PEOPLE,
    ROSTER,
    SETTINGS,
    setting_values,
)
from sheetgen.workbook.sheet_rules import ROW_LIMIT
from tests.class_books import BOOK


def test_the_largest_roster_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_PEOPLE + ROSTER.spare <= ROW_LIMIT


def test_every_text_of_the_roster_has_a_longest() -> None:
    assert {entry.key for entry in ROSTER.entries if entry.kind != "word"} <= set(LONGEST)
    assert all(LONGEST.values())


def test_later_settings_are_the_last() -> None:
    """So the lines of earlier class books stand where they stood."""
    later = [setting.later for setting in SETTINGS]
    assert later == sorted(later)
    assert later.count(True) == 9


def test_every_block_has_a_column() -> None:
    assert [entry.key for entry in CALIPERS.entries if entry.kind == "block"] == [
        f"block_{block:g}" for block in BLOCKS
    ]


def test_every_setting_has_a_place_of_its_own_in_the_record() -> None:
    assert len({setting.field for setting in SETTINGS}) == len(SETTINGS)
    values = setting_values(BOOK)
    assert (values["class_title"], values["tolerance"], values["spare_sheets"]) == (
        "Harbour school, evening class", 7.5, 5,
    )  # fmt: skip
