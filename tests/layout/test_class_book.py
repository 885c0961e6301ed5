from sheetgen.layout.class_book_settings import FIRST_ROW
from sheetgen.layout.class_book_tabs import class_book_layout, default_class_book
from sheetgen.model.settings import Pairing, Person
from tests.class_books import BOOK, DEFAULTS, layout, protocols, texts


def test_default_class_book_pairs_in_roster_order() -> None:
    book = default_class_book("CODE23", "Class", DEFAULTS, [Person("a", "A", ""), Person("b", "B", "")])
    assert book.pairings == (Pairing("a", "b", "C1"), Pairing("b", "a", "C1"))
    assert book.settings.calipers[0].division == 0.5
    assert book.settings.calipers[0].opening == 60.0


def test_class_book_layout_has_its_tabs_in_order() -> None:
    assert [tab.title for tab in layout().tabs] == [
        "Class", "Roster", "Calipers", "Pairs", "Stations", "Calculator",
    ]  # fmt: skip
    assert [tab.hidden for tab in layout().tabs] == [False] * 5 + [True]


def test_class_book_layout_has_spare_lines() -> None:
    names = layout().places()
    people, pairs = len(BOOK.people), len(BOOK.pairings)
    assert f"roster_{people + 200}_student_id" in names
    assert f"roster_{people + 201}_student_id" not in names
    assert f"pair_{pairs + 200}_measurer" in names
    assert f"pair_{pairs + 201}_measurer" not in names
    assert f"caliper_{3 + 39}_identifier" in names


def test_class_book_layout_unlocks_entries_alone_and_rules_every_one() -> None:
    for tab in layout().tabs:
        for cell in tab.cells:
            assert (cell.rule is not None) == (cell.role == "entry")


def test_class_book_layout_has_one_cell_a_place_in_order() -> None:
    for tab in layout().tabs:
        places = [(cell.row, cell.column) for cell in tab.cells]
        assert places == sorted(set(places))


def test_class_book_layout_names_every_entry_once() -> None:
    names = [cell.name for tab in layout().tabs for cell in tab.cells if cell.role == "entry"]
    assert len(set(names)) == len(names)
    assert "" not in names


def test_class_book_layout_of_a_class_that_decided_nothing_takes_care() -> None:
    book = default_class_book("CODE23", "", DEFAULTS, [])
    cells = class_book_layout(texts(), book, protocols()).tab("class").cells
    chosen = {cell.name: cell.value for cell in cells}
    assert [chosen[name] for name in ("minors", "estimates", "youth_estimate")] == ["some", "on", "off"]


def test_class_book_layout_of_an_empty_class() -> None:
    empty = class_book_layout(texts(), default_class_book("CODE23", "", DEFAULTS, []), protocols())
    assert "roster_200_role" in empty.places()


def test_texts_of_the_class_book_are_its_own() -> None:
    """Merged with those of the sheets, no text hides another; no two headings of a tab read alike."""
    from sheetgen.store.texts import load_texts

    own = load_texts("class-book.en")
    assert not set(own) & set(load_texts("en"))
    for section, words in (
        ("book_tab", 6),
        ("book_setting", 23),
        ("book_roster", 13),
        ("book_caliper", 14),
        ("book_pair", 8),
        ("book_station", 7),
    ):
        headings = [
            text
            for key, text in own.items()
            if key.startswith(f"{section}.") and not key.endswith(("_prompt", "_error", "_build"))
        ]
        assert len(set(headings)) == len(headings) == words


def test_roster_and_pairs_print_what_is_filled_and_a_dozen_lines_more() -> None:
    printed = {tab.key: tab.printed_rows for tab in layout().tabs}
    assert (printed["roster"], printed["pairs"]) == (FIRST_ROW + 6 + 12, FIRST_ROW + 5 + 12)
    assert (printed["class"], printed["calipers"]) == (0, 0)
