from sheetgen.class_book.table import (
    BLOCKS,
    CALIPERS,
    FIRST_ROW,
    HIDDEN,
    HIDDEN_AT,
    ROSTER,
    SETTINGS,
    Places,
    is_word,
    setting_values,
)
from sheetgen.class_folder.records import MOST_PEOPLE
from sheetgen.workbook.read.parts import ROW_LIMIT
from tests.class_books import BOOK, texts


def test_the_largest_roster_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_PEOPLE + ROSTER.spare <= ROW_LIMIT


def test_every_text_of_the_roster_has_a_longest() -> None:
    assert [entry.key for entry in ROSTER.entries if entry.kind != "word" and not entry.most] == []


def test_later_settings_are_the_last() -> None:
    """So the lines of earlier class books stand where they stood."""
    later = [setting.later for setting in SETTINGS]
    assert later == sorted(later)
    assert later.count(True) == 19


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


PLACES = Places(texts(), {"roster": 10, "calipers": 3, "pairs": 10, "protocols": 2})


def test_typed_looks_into_the_whole_table() -> None:
    assert PLACES.formula("{text given_name}", "roster", 2) == "=TRIM(INDEX(Roster!$A$6:$L$15,3,2))"
    assert PLACES.formula("{nth ids}", "roster", 2) == "=INDEX(Calculator!$A$6:$A$15,3)"


def test_setting_looks_at_the_tab_class_as_a_whole() -> None:
    assert PLACES.setting("site_rule") == "INDEX(Class!$B$6:$B$34,3)"


def test_the_codes_given_out_stay_where_earlier_class_books_have_them() -> None:
    assert [HIDDEN_AT[key] for key in ("ids", "coded_ids", "given_codes", "site_counts")] == [0, 3, 4, 17]
    assert {table for table, *_ in HIDDEN.values()} == {"roster", "calipers", "pairs", "protocols"}


def test_is_word_takes_the_word_shown_and_the_code_word() -> None:
    assert is_word({"book_word.left": "left"}, "A1", "left") == 'A1="left"'
    assert is_word({"book_word.left": "baja"}, "A1", "left") == 'OR(A1="baja",A1="left")'
