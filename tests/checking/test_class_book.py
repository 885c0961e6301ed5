from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheetgen.checking.class_book_reading import class_book_from
from sheetgen.layout import class_book_tabs
from sheetgen.layout.class_book_settings import BLOCKS, TABLES
from sheetgen.layout.class_book_tabs import class_book_layout
from sheetgen.layout.pairing import pairs_for_the_rest
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Identity
from sheetgen.model.settings import Caliper, CaliperCheck, ClassBook, Pairing, Person
from sheetgen.model.snapshot import CellState, Snapshot, TabState
from sheetgen.store.templates import read_template
from sheetgen.workbook.render import rendered
from tests.class_books import (
    BOOK,
    DEFAULTS,
    known,
    protocols,
    read_back,
    snapshot_of,
    texts,
    typed,
    without_later_columns,
)


def test_class_book_from_what_was_rendered() -> None:
    """The round trip: Layout, workbook, Snapshot, and the same book again."""
    assert read_back(typed({})) == (BOOK, ())


def test_class_book_from_moved_tabs_columns_and_sorted_lines() -> None:
    """Lines go down by one, the columns of the roster are turned round, and the tabs stand backwards."""

    def moved(tab: TabState) -> TabState:
        cells = {(row + (row > 4), column): state for (row, column), state in tab.cells.items()}
        if tab.title == "Roster":
            cells = {
                (row, 6 - column if column < 7 else column): state for (row, column), state in cells.items()
            }
            last = max(row for row, _ in cells)
            cells = {
                (last + 6 - row if row > 4 else row, column): state for (row, column), state in cells.items()
            }
        return replace(tab, title=tab.title.upper() + " ", cells=cells)

    state = typed({})
    book, problems = read_back(replace(state, tabs=tuple(map(moved, reversed(state.tabs[:4])))))
    assert problems == ()
    assert book.settings == BOOK.settings
    assert book.pairings == BOOK.pairings
    # The codes stand on the hidden tab, which is gone here; they are made again when building.
    expected = [replace(person, participant_code="") for person in reversed(BOOK.people)]
    assert list(book.people) == expected


def test_class_book_from_one_made_before_there_were_stations() -> None:
    """Columns and lines of its time are enough; what they did not ask for is at its default."""
    book, problems = read_back(without_later_columns(typed({})))
    assert problems == ()
    assert book == replace(
        BOOK,
        settings=replace(BOOK.settings, cover_round_1=False),
        people=tuple(replace(person, partner="", apart=()) for person in BOOK.people),
        pairings=tuple(replace(pairing, spare="") for pairing in BOOK.pairings),
        due_date="",
        feedback_given="",
        declared=(),
        checks=(),
        seconds_a_reading=45.0,
        spare_sheets=3,
    )


def test_class_book_from_what_people_type_otherwise() -> None:
    """Numbers for ids and groups, a decimal comma, upper case, blanks around, a caliper left to choose."""
    book, problems = read_back(
        typed(
            {
                "tolerance": " 2,5 ",
                "site_rule": "Median",
                "roster_7_student_id": 12.0,
                "roster_7_given_name": " Twelve ",
                "roster_7_group": 3.0,
                "roster_7_role": "Teacher",
                "roster_7_under_18": "No",
                "caliper_3_division": "0,1",
                "caliper_3_zero": "\u22120,2",
                "caliper_3_in_service": None,
                "pair_2_measurer": "S08",
                "pair_2_caliper": "c 2",
                "pair_6_measurer": 12.0,
                "pair_6_participant": "007",
            }
        )
    )
    assert problems == ()
    assert book.settings.tolerance == 2.5
    assert book.settings.site_rule == "median"
    assert book.people[6] == Person("12", "Twelve", "", group="3", role="teacher", under_18="no")
    assert (book.settings.calipers[2].division, book.settings.calipers[2].zero) == (0.1, -0.2)
    assert book.settings.calipers[2].in_service
    assert (book.pairings[1].measurer, book.pairings[1].caliper_id) == ("s08", "C 2")
    # Line 6 of three calipers in service: the third.
    assert (book.pairings[5].measurer, book.pairings[5].participant) == ("12", "007")
    assert book.pairings[5].caliper_id == "C3"


CASES = [
    # what is typed, code, tab, cell, found
    ({"tolerance": 0.0}, "class-book-number", "Class", "B10", "0.0"),
    ({"roster_7_student_id": "S08"}, "class-book-id-twice", "Roster", "A12", "'S08', which A7 has too"),
    ({"roster_7_family_name": "Ek"}, "class-book-id-empty", "Roster", "A12", "nothing"),
    ({"roster_2_role": "studnet"}, "class-book-word", "Roster", "F7", "'studnet'"),
    ({"roster_2_under_18": "17"}, "class-book-word", "Roster", "G7", "'17'"),
    ({"roster_2_given_name": "B\no"}, "class-book-text", "Roster", "B7", "'B\\no'"),
    ({"roster_2_given_name": "Bo\uffff"}, "class-book-text", "Roster", "B7", "'Bo\\uffff'"),
    (
        {"roster_7_student_id": CellState(44000.0, is_date=True)},
        "class-book-text", "Roster", "A12", "a date, 44000.0",
    ),
    (
        {"roster_7_student_id": CellState("#REF!", is_error=True)},
        "class-book-text", "Roster", "A12", "an error, '#REF!'",
    ),
    ({"caliper_1_division": None}, "class-book-number", "Calipers", "C6", "nothing"),
    ({"caliper_1_division": 0.4}, "class-book-number", "Calipers", "C6", "0.4"),
    ({"caliper_1_opening": 200.0}, "class-book-number", "Calipers", "D6", "200.0"),
    ({"caliper_1_zero": "none"}, "class-book-number", "Calipers", "E6", "'none'"),
    ({"caliper_1_in_service": "maybe"}, "class-book-word", "Calipers", "F6", "'maybe'"),
    ({"caliper_1_identifier": "C1,C2"}, "class-book-caliper-id", "Calipers", "A6", "'C1,C2'"),
    ({"caliper_1_identifier": None}, "class-book-id-empty", "Calipers", "A6", "nothing"),
    ({"caliper_2_identifier": "c1"}, "class-book-id-twice", "Calipers", "A7", "'c1', which A6 has too"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "code", "tab", "cell", "found"), CASES)
def test_class_book_from_names_a_fault(
    changes: dict[str, str | float | CellState | None], code: str, tab: str, cell: str, found: str
) -> None:
    _, problems = read_back(typed(changes))
    assert [(each.code, each.severity, each.tab, each.cell, each.found) for each in problems] == [
        (code, "error", tab, cell, found)
    ]
    assert problems[0].expected
    assert problems[0].remedy


def test_class_book_from_names_every_fault_at_once() -> None:
    changes = {
        "site_rule": "medain",
        "tolerance": 0.0,
        "roster_2_role": "cook",
        "roster_7_student_id": "s08",
        "caliper_1_division": 0.4,
        "caliper_2_zero": "none",
    }
    _, problems = read_back(typed(changes))
    assert [f"{each.tab}!{each.cell}" for each in problems] == [
        "Class!B8", "Class!B10", "Roster!F7", "Roster!A12", "Calipers!C6", "Calipers!E7",
    ]  # fmt: skip


def without(state: Snapshot, title: str) -> Snapshot:
    return replace(state, tabs=tuple(tab for tab in state.tabs if tab.title != title))


@pytest.mark.parametrize("title", ["Class", "Roster", "Calipers", "Pairs"])
def test_class_book_from_a_book_without_a_tab(title: str) -> None:
    _, problems = read_back(without(typed({}), title))
    assert [(each.code, each.tab, each.expected) for each in problems] == [
        ("class-book-tab-missing", title, f"a tab {title}")
    ]


def test_class_book_from_a_roster_without_a_heading() -> None:
    state = typed({})

    def emptied(tab: TabState) -> TabState:
        return replace(tab, cells={place: cell for place, cell in tab.cells.items() if place != (4, 1)})

    _, problems = read_back(
        replace(state, tabs=tuple(emptied(tab) if tab.title == "Roster" else tab for tab in state.tabs))
    )
    assert [(each.code, each.tab, each.expected) for each in problems] == [
        ("class-book-column-missing", "Roster", "the headings Given name")
    ]


# tab, heading or label retyped
RETYPED = (
    ("Roster", "Under 18"),
    ("Roster", "Keep apart from"),
    ("Pairs", "Protocol"),
    ("Class", "People under 18"),
)


@pytest.mark.parametrize(("tab_title", "label"), RETYPED)
def test_class_book_with_a_heading_of_care_retyped_is_a_fault(tab_title: str, label: str) -> None:
    """A column that is not found must not be taken for an empty one: someone may be marked under 18 in it."""

    def retyped(tab: TabState) -> TabState:
        cells = {
            place: replace(state, value="Minor") if tab.title == tab_title and state.value == label else state
            for place, state in tab.cells.items()
        }
        assert tab.title != tab_title or cells != dict(tab.cells)
        return replace(tab, cells=cells)

    state = typed({})
    _, problems = read_back(replace(state, tabs=tuple(map(retyped, state.tabs))))
    assert [each.code for each in problems] == ["class-book-column-missing"]


def test_class_book_from_another_workbook() -> None:
    _, problems = read_back(
        Snapshot(tuple(TabState(one, {}, False, "visible") for one in ("Sheet1", "Notes")), {}, {}, False)
    )
    remedy = "Name the tab so again, or put back an earlier copy of the class book."
    assert problems == tuple(
        Finding("class-book-tab-missing", "error", "tabs Sheet1, Notes", f"a tab {title}", remedy, title)
        for title in ("Class", "Roster", "Calipers", "Pairs")
    )


def test_class_book_names_the_words_of_its_own_language() -> None:
    """A list in Spanish shows Spanish words; those of another language are understood."""
    words = {"en": {"yes": "yes", "no": "no"}, "es": {"yes": "sí", "no": "no"}}
    defaults = replace(DEFAULTS, language="es")
    for word, said in (("maybe", ["sí or no"]), ("SI", []), ("yes", [])):
        state = typed({"caliper_1_in_service": word})
        problems = class_book_from(state, replace(known(), defaults=defaults, words=words)).findings
        assert [one.expected for one in problems if one.tab == "Calipers"] == said


# typed on the tab Class, the groups or the stray ids
DECLARED = (
    ("S11, s12; 007,s08 ;", (("S11", "s12"), ("007", "s08")), []),
    ("", (), []),
    ("S11, nobody", (("S11", "nobody"),), ["the id 'nobody' among those who may hold the same numbers"]),
)


@pytest.mark.parametrize(("text", "groups", "found"), DECLARED)
def test_class_book_with_declared_groups(
    text: str, groups: tuple[tuple[str, ...], ...], found: list[str]
) -> None:
    book, problems = read_back(typed({"declared": text}))
    assert book.declared == groups
    assert [each.found for each in problems] == found
    assert {(each.expected, each.tab, each.cell) for each in problems} <= {
        ("an id of the roster", "Class", "")
    }


IDS = ("007", "s08", "=1+1", "S11", "ß 2", "*", "x-y")
TENTHS = st.integers(0, 600).map(lambda tenths: tenths / 10)


def people_of(draw: st.DrawFn, ids: list[str]) -> tuple[Person, ...]:
    rare = st.sampled_from([False, False, False, True])

    def others(one: str) -> st.SearchStrategy[str]:
        return st.sampled_from([other for other in ids if other != one])

    return tuple(
        Person(
            one, f"Given {one}", "Family",
            role="teacher" if draw(rare) else "student",
            participant_code=f"P-234{at}" if draw(st.booleans()) else "",
            under_18=draw(st.sampled_from(["", "yes", "no"])),
            takes_part="measures-only" if draw(rare) else "both",
            partner=draw(others(one)) if draw(rare) else "",
            apart=tuple(draw(st.lists(others(one), unique=True, max_size=2))) if draw(rare) else (),
            status="left" if draw(rare) else "",
        )
        for at, one in enumerate(ids, start=2)
    )  # fmt: skip


@st.composite
def class_books(draw: st.DrawFn) -> ClassBook:
    """A class book without errors, every pair that can be made among its pairings."""
    people = people_of(draw, list(IDS[: draw(st.integers(2, len(IDS)))]))
    calipers = tuple(
        Caliper(
            f"C{number}",
            "spring",
            draw(st.sampled_from([1.0, 0.5, 0.2, 0.1])),
            60.0,
            draw(st.sampled_from([0.0, -0.4, 1.25])),
            number == 0 or draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 3)))
    )
    checks = tuple(
        CaliperCheck(
            each.identifier,
            tuple((block, draw(TENTHS)) for block in BLOCKS if draw(st.booleans())),
            draw(st.sampled_from(["", "2026-02-28", "2027-03-31"])),
            "T. Cher",
        )
        for each in calipers
        if draw(st.booleans())
    )
    taking = [each for each in people if each.status == "" and each.takes_part == "both"]
    one_for_all = draw(st.booleans())
    demonstration = draw(st.sampled_from(taking)).student_id if taking and one_for_all else ""
    size = draw(st.integers(2, 6))
    going = [each for each in people if each.status == ""]
    possible = [
        Pairing(one.student_id, other.student_id, calipers[0].identifier, protocol_id)
        for one in going
        for other in taking
        if one is not other
        for protocol_id in ("", "two-folds")
    ]
    drawn = draw(st.lists(st.sampled_from(possible), max_size=3)) if possible else []
    typed_pairs = list({(each.measurer, each.participant): each for each in drawn}.values())
    with_spare = draw(st.booleans())
    if typed_pairs and with_spare:
        typed_pairs[0] = replace(typed_pairs[0], spare="2345-6789")
    made = pairs_for_the_rest(people, typed_pairs, calipers, size, demonstration).pairings
    return ClassBook(
        "7H33NK",
        "Class",
        replace(DEFAULTS, calipers=calipers, cover_round_1=draw(st.booleans())),
        people,
        (*typed_pairs, *made),
        checks=checks,
        group_size=size,
        demonstration=demonstration,
        seconds_a_reading=draw(st.sampled_from([10.0, 45.0, 52.5])),
        spare_sheets=draw(st.integers(0, 20)),
    )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(class_books())
def test_class_book_from_any_book_that_was_rendered(monkeypatch: pytest.MonkeyPatch, book: ClassBook) -> None:
    """The round trip of every field, with few spare lines to be quick."""
    few = {key: replace(table, spare=3) for key, table in TABLES.items()}
    monkeypatch.setattr(class_book_tabs, "TABLES", few)
    layout = class_book_layout(texts(), book, protocols())
    state = snapshot_of(rendered(layout, Identity({}), read_template("style.toml")))
    found, problems = read_back(state, "2027-06-01")
    assert [each for each in problems if each.severity == "error"] == []
    assert found == book
