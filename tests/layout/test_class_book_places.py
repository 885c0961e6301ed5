from sheetgen.layout.class_book_places import HIDDEN, HIDDEN_AT, Places, is_word
from tests.class_books import texts

PLACES = Places(texts(), {"roster": 10, "calipers": 3, "pairs": 10, "protocols": 2})


def test_typed_looks_into_the_whole_table() -> None:
    assert PLACES.typed("roster", 2, "given_name") == "TRIM(INDEX(Roster!$A$6:$K$15,3,2))"
    assert PLACES.nth("ids", 2) == "INDEX(Calculator!$A$6:$A$15,3)"


def test_setting_looks_at_the_tab_class_as_a_whole() -> None:
    assert PLACES.setting("site_rule") == "INDEX(Class!$B$6:$B$24,3)"


def test_the_codes_given_out_stay_where_earlier_class_books_have_them() -> None:
    assert [HIDDEN_AT[key] for key in ("ids", "coded_ids", "given_codes", "site_counts")] == [0, 3, 4, 17]
    assert {table for table, _ in HIDDEN.values()} == {"roster", "calipers", "pairs", "protocols"}


def test_is_word_takes_the_word_shown_and_the_code_word() -> None:
    assert is_word({"book_word.left": "left"}, "A1", "left") == 'A1="left"'
    assert is_word({"book_word.left": "baja"}, "A1", "left") == 'OR(A1="baja",A1="left")'
