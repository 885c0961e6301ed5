"""The class book read back: its tabs, then the tab Class, the roster, the calipers and the pairs."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from sheetgen.class_book import tabs as class_book_tabs
from sheetgen.class_book.pairing import pairs_for_the_rest
from sheetgen.class_book.reading_back import class_book_from
from sheetgen.class_book.table import BLOCKS, TABLES
from sheetgen.class_book.tabs import class_book_layout
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Pairing, Person
from sheetgen.finding import Worded
from sheetgen.protocols.settings import Caliper
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.class_books import (
    BOOK,
    DEFAULTS,
    known,
    layout,
    protocols,
    read_back,
    snapshot_of,
    texts,
    typed,
    without_later_columns,
)
from tests.wording import in_english


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
        settings=replace(BOOK.settings, cover_round_1=False, delete_on=""),
        people=tuple(replace(person, partner="", apart=(), due_date="") for person in BOOK.people),
        pairings=tuple(replace(pairing, spare="") for pairing in BOOK.pairings),
        due_date="",
        feedback_given="",
        declared=(),
        checks=(),
        seconds_a_reading=45.0,
        spare_sheets=3,
        group_size=3,
        lesson_minutes=90,
        marking_minutes=6.0,
        changing_minutes=3.0,
        circuit="protocol",
        session_names=(),
        make_ups=(),
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
        Worded("class-book-tab-missing", "error", "tabs Sheet1, Notes", f"a tab {title}", remedy, title)
        for title in ("Class", "Roster", "Calipers", "Pairs")
    )


def test_class_book_names_the_words_of_its_own_language() -> None:
    """A list in Spanish shows Spanish words; those of another language are understood."""
    words = {"en": {"yes": "yes", "no": "no"}, "es": {"yes": "sí", "no": "no"}}
    spanish = replace(known(), texts={**texts(), "book_word.yes": "sí"}, words=words)
    for word, said in (("maybe", ["sí or no"]), ("SI", []), ("yes", [])):
        state = typed({"caliper_1_in_service": word})
        problems = class_book_from(state, spanish).findings
        problems = in_english(problems)
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
    book = ClassBook(
        "7H33NK",
        "Class",
        replace(DEFAULTS, calipers=calipers, cover_round_1=draw(st.booleans())),
        people,
        tuple(typed_pairs),
        checks=checks,
        group_size=size,
        demonstration=demonstration,
        seconds_a_reading=draw(st.sampled_from([10.0, 45.0, 52.5])),
        spare_sheets=draw(st.integers(0, 20)),
        lesson_minutes=draw(st.integers(20, 300)),
        marking_minutes=draw(st.sampled_from([0.0, 6.5, 30.0])),
        circuit=draw(st.sampled_from(["protocol", "fewest-turns"])),
        session_names=draw(st.sampled_from([(), ("week 3",), ("", "week 9, again")])),
        make_ups=draw(st.sampled_from([(), ("2=1",), ("12=1", "13=12")])),
    )
    return replace(book, pairings=(*typed_pairs, *pairs_for_the_rest(book).pairings))


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


SETTINGS = (
    "protocol", "site_rule", "tolerance_kind", "tolerance", "conversion", "show_results", "class_title",
    "minors", "estimates", "youth_estimate", "due_date", "feedback_given", "declared",
    "cover_round_1", "delete_on",
)  # fmt: skip


def without_line(name: str) -> Snapshot:
    state = typed({})
    gone = layout().places()[name][1]

    def emptied(tab: TabState) -> TabState:
        return replace(tab, cells={place: cell for place, cell in tab.cells.items() if place[0] != gone})

    return replace(state, tabs=tuple(emptied(tab) if tab.title == "Class" else tab for tab in state.tabs))


def test_class_tab_from_settings_left_empty() -> None:
    book, problems = read_back(typed(dict.fromkeys(SETTINGS)))
    assert problems == ()
    assert book.settings == replace(DEFAULTS, calipers=BOOK.settings.calipers)
    assert (book.settings.estimates, book.settings.youth_estimate, book.minors) == ("on", "off", "some")
    assert (book.title, book.due_date, book.feedback_given, book.declared) == ("", "", "", ())
    assert book.settings.delete_on == ""


@pytest.mark.parametrize(
    ("typed_in", "minors", "estimates", "youth_estimate"),
    [
        ({"minors": "ALL", "estimates": "On", "youth_estimate": " off "}, "all", "on", "off"),
        ({"minors": "some", "estimates": "Sums-Only", "youth_estimate": "ON"}, "some", "sums-only", "on"),
    ],
)
def test_class_tab_from_who_gets_an_estimate(
    typed_in: dict[str, str], minors: str, estimates: str, youth_estimate: str
) -> None:
    book, problems = read_back(typed(typed_in))
    assert problems == ()
    assert (book.minors, book.settings.estimates, book.settings.youth_estimate) == (
        minors, estimates, youth_estimate,
    )  # fmt: skip


CLASS_TAB_CASES = [
    # what is typed, code, cell, found
    ({"site_rule": "medain"}, "class-book-word", "B8", "'medain'"),
    ({"protocol": "nine-sites"}, "class-book-word", "B7", "'nine-sites'"),
    ({"conversion": "other"}, "class-book-word", "B11", "'other'"),
    ({"protocol": "two-folds", "conversion": "other"}, "class-book-word", "B11", "'other'"),
    ({"tolerance": 0.0}, "class-book-number", "B10", "0.0"),
    ({"tolerance": "two"}, "class-book-number", "B10", "'two'"),
    ({"tolerance": True}, "class-book-number", "B10", "True"),
    ({"tolerance": CellState(44e3, is_date=True)}, "class-book-number", "B10", "the date 44000.0"),
    ({"class_title": "x" * 61}, "class-book-text", "B6", "61 characters"),
    ({"minors": "few"}, "class-book-word", "B13", "'few'"),
    ({"minors": 17.0}, "class-book-word", "B13", "'17'"),
    ({"estimates": "off"}, "class-book-word", "B14", "'off'"),
    ({"youth_estimate": "yes"}, "class-book-word", "B15", "'yes'"),
    ({"due_date": "31.3.2027"}, "class-book-date", "B16", "'31.3.2027'"),
    ({"feedback_given": 46477.0}, "class-book-date", "B17", "46477.0"),
]


@pytest.mark.parametrize(("changes", "code", "cell", "found"), CLASS_TAB_CASES)
def test_class_tab_from_names_a_fault(
    changes: dict[str, str | float | CellState | None], code: str, cell: str, found: str
) -> None:
    _, problems = read_back(typed(changes))
    assert [(each.code, each.severity, each.tab, each.cell, each.found) for each in problems] == [
        (code, "error", "Class", cell, found)
    ]
    assert problems[0].expected
    assert problems[0].remedy


def test_class_tab_from_days_typed_and_real() -> None:
    real = CellState(46477.0, is_date=True)
    book, problems = read_back(typed({"due_date": " 2027-02-28 ", "feedback_given": real}))
    assert problems == ()
    assert (book.due_date, book.feedback_given) == ("2027-02-28", "2027-03-31")


@pytest.mark.parametrize("name", ["due_date", "feedback_given"])
def test_class_tab_from_a_book_made_before_days_were_asked_for(name: str) -> None:
    book, problems = read_back(without_line(name))
    assert problems == ()
    assert getattr(book, name) == ""


@pytest.mark.parametrize(
    ("changes", "conversion"),
    [
        # The book says brozek, the defaults say siri.
        ({}, "brozek"),
        ({"conversion": None}, "siri"),
        ({"protocol": "two-folds"}, "brozek"),
        ({"protocol": "two-folds", "conversion": "Siri"}, "siri"),
        ({"protocol": "two-folds", "conversion": None}, ""),
    ],
)
def test_class_tab_from_a_protocol_with_and_without_conversions(
    changes: dict[str, str | None], conversion: str
) -> None:
    book, problems = read_back(typed(changes))
    assert problems == ()
    assert book.settings.conversion == conversion


def test_class_tab_from_a_book_without_a_line() -> None:
    _, problems = read_back(without_line("tolerance"))
    assert [(each.code, each.tab, each.expected) for each in problems] == [
        ("class-book-column-missing", "Class", "a line for each of Tolerance")
    ]


@pytest.mark.parametrize(
    ("name", "label"),
    [("minors", "People under 18"), ("estimates", "Estimates"), ("youth_estimate", "Youth estimate")],
)
def test_class_tab_from_a_book_without_a_line_of_care(name: str, label: str) -> None:
    """What cannot be found is not taken for the default: the teacher may have decided otherwise."""
    _, problems = read_back(without_line(name))
    assert [(each.code, each.expected) for each in problems] == [
        ("class-book-column-missing", f"a line for each of {label}")
    ]


def test_class_tab_from_the_settings_of_pairs_and_stations() -> None:
    changes: dict[str, str | float] = {
        "group_size": "3", "seconds_a_reading": "52,5", "spare_sheets": 0.0, "cover_round_1": "No",
    }  # fmt: skip
    book, problems = read_back(typed(changes))
    assert problems == ()
    assert (book.group_size, book.seconds_a_reading, book.spare_sheets) == (3, 52.5, 0)
    assert not book.settings.cover_round_1


def test_class_tab_from_the_settings_of_pairs_and_stations_left_empty() -> None:
    names = (
        "group_size", "demonstration", "seconds_a_reading", "spare_sheets", "cover_round_1", "lesson_minutes",
        "marking_minutes", "changing_minutes", "teacher_measures", "circuit", "session_names", "make_ups",
    )  # fmt: skip
    book, problems = read_back(typed(dict.fromkeys(names)))
    assert problems == ()
    assert (book.group_size, book.demonstration) == (3, "")
    assert (book.lesson_minutes, book.marking_minutes, book.changing_minutes) == (90, 6.0, 3.0)
    assert (book.teacher_measures, book.circuit, book.session_names, book.make_ups) == (
        (),
        "protocol",
        (),
        (),
    )
    assert (book.seconds_a_reading, book.spare_sheets) == (45.0, 3)
    assert not book.settings.cover_round_1


WHOLE = [
    # setting, what is typed, cell
    ("group_size", 2.5, "B19"),
    ("group_size", 7.0, "B19"),
    ("group_size", "two", "B19"),
    ("seconds_a_reading", 5.0, "B21"),
    ("spare_sheets", 21.0, "B22"),
]


@pytest.mark.parametrize(("name", "value", "cell"), WHOLE)
def test_class_tab_with_a_number_that_cannot_be(name: str, value: str | float, cell: str) -> None:
    _, problems = read_back(typed({name: value}))
    assert [(each.code, each.severity, each.cell) for each in problems] == [
        ("class-book-number", "error", cell)
    ]


DAY = "a day as YYYY-MM-DD, or nothing"
# what is typed, what is expected
EXPECTED = [
    ({"site_rule": "medain"}, "median or closest-pair (did you mean median?)"),
    ({"conversion": "other"}, "siri or brozek"),
    ({"protocol": "two-folds", "conversion": "other"}, "siri or brozek"),
    ({"tolerance": 0.0}, "a number from 0.1 to 50"),
    ({"class_title": "x" * 61}, "at most 60 characters"),
    ({"minors": "few"}, "some or none or all"),
    ({"estimates": "off"}, "on or sums-only"),
    ({"youth_estimate": "yes"}, "off or on"),
    ({"due_date": "31.3.2027"}, DAY),
    ({"feedback_given": 46477.0}, DAY),
    ({"group_size": 2.5}, "a whole number from 2 to 6"),
    ({"seconds_a_reading": 5.0}, "a number from 10 to 300"),
    ({"spare_sheets": 21.0}, "a whole number from 0 to 20"),
    ({"lesson_minutes": 19.0}, "a whole number from 20 to 300"),
    ({"make_ups": "2=1; 1=2"}, "3=1"),
    ({"make_ups": "3 for 1"}, "3=1"),
    ({"make_ups": "100=1"}, "3=1"),
    ({"teacher_measures": "s08; s99"}, "someone who takes part"),
]


@pytest.mark.parametrize(("changes", "expected"), EXPECTED)
def test_class_tab_says_what_is_expected(changes: dict[str, str | float], expected: str) -> None:
    (problem,) = read_back(typed(changes))[1]
    assert problem.expected == expected


def test_sessions_have_names_and_make_ups_as_they_were_typed() -> None:
    book, problems = read_back(typed({"session_names": "week 3 ; ; week 9;", "make_ups": " 3 = 1;4=2 "}))
    assert problems == ()
    assert book.session_names == ("week 3", "", "week 9")
    assert book.make_ups == ("3=1", "4=2")


def test_whom_the_teacher_measures_is_named_by_id_or_code_and_gets_pairs() -> None:
    """The calipers are those with which students measure them; who left is passed over."""
    changes = {"teacher_measures": "S08, p-8q22; s12", "roster_6_status": "left"}
    book, problems = read_back(typed(changes))
    assert [problem.code for problem in problems if problem.severity == "error"] == []
    assert book.teacher_measures == ("s08", "=1+1")
    of_teacher = [pair for pair in book.pairings if pair.measurer == "t1"]
    assert [(pair.participant, pair.caliper_id) for pair in of_teacher] == [("s08", "C1"), ("=1+1", "C1")]


def test_a_teacher_is_made_where_one_is_to_measure_and_the_roster_has_none() -> None:
    changes = {"teacher_measures": "007", "roster_4_role": "student", "roster_4_student_id": "Teacher"}
    read = class_book_from(typed(changes), known())
    assert read.added
    assert [one.student_id for one in read.book.people if one.role == "teacher"] == ["teacher1"]
    assert read.book.pairings[-1] == Pairing("teacher1", "007", "C1")


def test_class_tab_with_numbers_at_the_ends_of_their_ranges() -> None:
    for name, ends in (
        ("group_size", (2.0, 6.0)), ("seconds_a_reading", (10.0, 300.0)), ("spare_sheets", (0.0, 20.0)),
        ("tolerance", (0.1, 50.0)),
    ):  # fmt: skip
        for end in ends:
            book, problems = read_back(typed({name: end}))
            assert problems == ()
            assert (book.settings.tolerance if name == "tolerance" else getattr(book, name)) == end


ROSTER_CASES = [
    # what is typed into line 2 (s08), partner, apart
    ({"partner": "S12"}, "s12", ()),
    ({"apart": "S12 007"}, "", ("s12", "007")),
    ({"apart": " s12; 007, =1+1;s12 "}, "", ("s12", "007", "=1+1")),
    ({"roster_7_student_id": "s 09", "apart": "s 09; 007"}, "", ("s 09", "007")),
]


@pytest.mark.parametrize(("line", "partner", "apart"), ROSTER_CASES)
def test_people_from_a_line_with_wishes(line: dict[str, str], partner: str, apart: tuple[str, ...]) -> None:
    changes = {name if "_" in name else f"roster_2_{name}": value for name, value in line.items()}
    book, problems = read_back(typed(changes))
    assert [each for each in problems if each.severity == "error"] == []
    assert (book.people[1].partner, book.people[1].apart) == (partner, apart)


FAULTS = [
    # what is typed into line 2 (s08), code, cell, found
    ({"partner": "s99"}, "class-book-wish-unknown", "I7", "'s99'"),
    ({"partner": "S08"}, "class-book-wish-unknown", "I7", "'S08'"),
    ({"apart": "s12 s99"}, "class-book-wish-unknown", "J7", "'s99'"),
    ({"takes_part": "no"}, "class-book-word", "H7", "'no'"),
    ({"status": "gone"}, "class-book-word", "K7", "'gone'"),
]


@pytest.mark.parametrize(("line", "code", "cell", "found"), FAULTS)
def test_people_from_a_line_with_a_fault(line: dict[str, str], code: str, cell: str, found: str) -> None:
    _, problems = read_back(typed({f"roster_2_{name}": value for name, value in line.items()}))
    assert [(each.code, each.severity, each.tab, each.cell, each.found) for each in problems] == [
        (code, "error", "Roster", cell, found)
    ]


def test_people_from_a_line_that_says_how_someone_takes_part() -> None:
    book, problems = read_back(typed({"roster_4_takes_part": "Measures-Only", "roster_4_status": "Left"}))
    assert problems == ()
    assert (book.people[3].takes_part, book.people[3].status) == ("measures-only", "left")
    assert (book.people[0].takes_part, book.people[0].status) == ("both", "")
    assert book.people[0].apart == BOOK.people[0].apart


def test_people_from_a_line_says_what_is_expected() -> None:
    for column, typed_in, expected in (
        ("partner", "s99", "the id of someone else on the tab Roster"),
        ("apart", "s12 s99", "the id of someone else on the tab Roster"),
        ("takes_part", "no", "both or measures-only"),
        ("status", "gone", "left"),
    ):
        (problem,) = read_back(typed({f"roster_2_{column}": typed_in}))[1]
        assert problem.expected == expected


TODAY = "2027-02-01"


def test_calipers_from_a_register_without_faults() -> None:
    book, problems = read_back(typed({}), TODAY)
    assert problems == ()
    assert book.settings.calipers == BOOK.settings.calipers
    assert book.checks == BOOK.checks


CALIPER_CASES = [
    # what is typed of caliper 1 (0.5 mm steps, zero 0), warnings: code, cell, found
    ({"zero": 1.0, "block_10": 11.0, "block_20": 21.0, "block_40": 41.0}, []),
    (
        {"zero": -1.1, "block_10": 9.0, "block_20": 19.0, "block_40": 39.0},
        [("class-book-caliper-zero", "E6", "caliper C1: zero -1.1 mm")],
    ),
    ({"block_10": 10.5, "block_20": 19.5}, []),
    ({"block_30": "30,6"}, [("class-book-caliper-block", "I6", "caliper C1: 30.6 mm on 30 mm, zero 0 mm")]),
    (
        {"zero": 0.4, "block_10": 10.0, "block_20": 19.8, "block_40": 41.0},
        [
            ("class-book-caliper-block", "H6", "caliper C1: 19.8 mm on 20 mm, zero 0.4 mm"),
            ("class-book-caliper-block", "J6", "caliper C1: 41 mm on 40 mm, zero 0.4 mm"),
        ],
    ),
    ({"checked_on": None}, [("class-book-check-missing", "K6", "caliper C1: no check on record")]),
    ({"checked_on": "2026-02-01"}, []),
    (
        {"checked_on": "2026-01-31"},
        [("class-book-check-old", "K6", "caliper C1: checked on 2026-01-31")],
    ),
]


@pytest.mark.parametrize(("line", "expected"), CALIPER_CASES)
def test_calipers_from_a_check_that_says_something(
    line: dict[str, str | float | None], expected: list[tuple[str, str, str]]
) -> None:
    """Every one is a warning, and the book is whole."""
    book, problems = read_back(typed({f"caliper_1_{name}": value for name, value in line.items()}), TODAY)
    assert [(each.code, each.cell, each.found) for each in problems] == expected
    assert {each.severity for each in problems} <= {"warning"}
    assert len(book.pairings) == 5


def test_calipers_from_one_out_of_service() -> None:
    """Of what is not used nothing is said."""
    changes = {"caliper_3_zero": 5.0, "caliper_3_block_10": 30.0}
    assert read_back(typed(changes), TODAY)[1] == ()


def test_calipers_from_a_book_read_without_a_day() -> None:
    _, problems = read_back(typed({"caliper_1_checked_on": None, "caliper_2_checked_on": "1999-01-01"}))
    assert problems == ()


CALIPER_FAULTS = [
    # what is typed, code, cell
    ({"block_10": "ten"}, "class-book-number", "G6"),
    ({"block_40": 61.0}, "class-book-number", "J6"),
    ({"checked_on": "31.3.2027"}, "class-book-date", "K6"),
    ({"checked_by": "x" * 41}, "class-book-text", "L6"),
]


@pytest.mark.parametrize(("line", "code", "cell"), CALIPER_FAULTS)
def test_calipers_from_a_check_that_cannot_be_read(
    line: dict[str, str | float], code: str, cell: str
) -> None:
    _, problems = read_back(typed({f"caliper_1_{name}": value for name, value in line.items()}))
    assert [(each.code, each.severity, each.cell) for each in problems] == [(code, "error", cell)]


def test_calipers_from_a_check_of_one_without_readings() -> None:
    book, _ = read_back(typed({"caliper_3_checked_by": "T. Cher"}))
    assert book.checks[2] == CaliperCheck("C3", checked_by="T. Cher")


BLOCK = "Read the block again; have the caliper adjusted, or take it out of service."
# what is typed of calipers 1 and 2, everything that is said of it
SAID = [
    (
        {"1_zero": -1.1, "1_block_10": 9.0, "1_block_20": 19.0, "1_block_40": 39.0},
        Worded("class-book-caliper-zero", "warning", "caliper C1: zero -1.1 mm",
                "at most 1 mm either way, by common practice",
                "Use it for practice only, or have it adjusted; or take it out of service.", "Calipers",
                "E6"),
    ),
    (
        {"1_block_30": "30,6"},
        Worded("class-book-caliper-block", "warning", "caliper C1: 30.6 mm on 30 mm, zero 0 mm",
                "30 mm within one step of 0.5 mm, the zero deducted", BLOCK, "Calipers", "I6"),
    ),
    (
        {"1_checked_on": None},
        Worded("class-book-check-missing", "warning", "caliper C1: no check on record",
                "the day it was checked", "Check it on gauge blocks and type the day.", "Calipers", "K6"),
    ),
    (
        {"1_checked_on": "2026-01-31"},
        Worded("class-book-check-old", "warning", "caliper C1: checked on 2026-01-31",
                "a check within the last 12 months, by common practice",
                "Check it on gauge blocks and type the day.", "Calipers", "K6"),
    ),
    (
        {"2_identifier": "c1"},
        Worded("class-book-id-twice", "error", "'c1', which A6 has too", "each id once",
                "Correct one of the two, or empty its line.", "Calipers", "A7"),
    ),
    (
        {"2_identifier": " "},
        Worded("class-book-id-empty", "error", "nothing", "an id in every line",
                "Type the id, or empty the line.", "Calipers", "A7"),
    ),
    (
        {"1_identifier": "a,b"},
        Worded("class-book-caliper-id", "error", "'a,b'", "a label without commas, semicolons and quotes",
                "Give the caliper a shorter label, without commas and quotes.", "Calipers", "A6"),
    ),
    (
        {"1_division": 0.3},
        Worded("class-book-number", "error", "0.3", "1 or 0.5 or 0.2 or 0.1", "Type the number alone.",
                "Calipers", "C6"),
    ),
    (
        {"1_opening": 900.0},
        Worded("class-book-number", "error", "900.0", "a number from 10 to 120", "Type the number alone.",
                "Calipers", "D6"),
    ),
    (
        {"1_zero": "x"},
        Worded("class-book-number", "error", "'x'", "a number from -10 to 10", "Type the number alone.",
                "Calipers", "E6"),
    ),
    (
        {"1_block_10": "ten"},
        Worded("class-book-number", "error", "'ten'", "a number from 0 to 60", "Type the number alone.",
                "Calipers", "G6"),
    ),
    (
        {"1_in_service": "maybe"},
        Worded("class-book-word", "error", "'maybe'", "yes or no",
                "Choose one of these words from the list of the cell.", "Calipers", "F6"),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("cells", "finding"), SAID)
def test_calipers_from_a_line_of_which_something_is_said(
    cells: dict[str, str | float | None], finding: Worded
) -> None:
    """Found, expected, what to do, and where."""
    _, problems = read_back(typed({f"caliper_{name}": value for name, value in cells.items()}), TODAY)
    assert problems == (finding,)


def test_calipers_with_a_label_that_a_list_can_hold() -> None:
    for label, usable in (("C 1", True), ("x", True), ("a;b", False), ('a"b', False), ("a b c", True)):
        book, problems = read_back(
            typed({"caliper_1_identifier": label, "pair_1_caliper": None, "pair_2_caliper": None}), TODAY
        )
        wrong = [one for one in problems if one.code == "class-book-caliper-id"]
        assert (len(wrong), book.settings.calipers[0].identifier) == (int(not usable), label)


EVERY_PAIR = {name: None for name in layout().places() if name.startswith("pair_")}


def pairs(changes: dict[str, str | None]) -> list[str]:
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert problems == ()
    return [f"{each.measurer}>{each.participant} {each.caliper_id}" for each in book.pairings]


def test_pairings_from_an_empty_tab() -> None:
    """Five people and two calipers: at a second one nobody would be left to record."""
    assert pairs({}) == [f"{each.measurer}>{each.participant} C1" for each in BOOK.pairings]


def test_pairings_from_a_tab_that_leaves_some_out() -> None:
    """Who is named stays as named; those left are paired in roster order, the teacher is not."""
    changes = {
        "pair_1_measurer": "t1",
        "pair_1_participant": "007",
        "pair_3_measurer": "s08",
        "pair_3_participant": "=1+1",
        "pair_3_caliper": "C1",
        "pair_4_measurer": "s08",
        "pair_4_participant": "t1",
        "roster_1_partner": None,
    }
    assert pairs(changes) == [
        "t1>007 C1", "s08>=1+1 C1", "s08>t1 C1", "007>=1+1 C1", "=1+1>007 C1", "S11>s12 C1", "s12>S11 C1",
    ]  # fmt: skip


def test_pairings_from_a_tab_that_leaves_one_out() -> None:
    changes = {"pair_5_measurer": "t1", "pair_5_participant": "s12"}
    book, problems = read_back(typed(changes))
    assert [(each.code, each.severity, each.tab, each.cell) for each in problems] == [
        ("class-book-unpaired", "warning", "Roster", "A11")
    ]
    assert len(book.pairings) == 5


PAIR_CASES = [
    # what is typed into line 6, code, cell, found
    ({"measurer": "s99", "participant": "007"}, "class-book-pair-unknown", "A11", "'s99'"),
    ({"measurer": "007", "participant": "s99"}, "class-book-pair-unknown", "C11", "'s99'"),
    ({"measurer": "007"}, "class-book-pair-incomplete", "C11", "nothing"),
    ({"participant": "007"}, "class-book-pair-incomplete", "A11", "nothing"),
    ({"measurer": "s08", "participant": "S08"}, "class-book-pair-self", "C11", "the same person twice"),
    (
        {"measurer": "007", "participant": "s08"},
        "class-book-pair-twice", "A11", "007 measures s08, as in line 6",
    ),
    (
        {"measurer": "007", "participant": "t1", "caliper": "C9"},
        "class-book-pair-caliper", "E11", "'C9', not on the tab Calipers",
    ),
    (
        {"measurer": "007", "participant": "t1", "caliper": "C3"},
        "class-book-pair-caliper", "E11", "'C3', out of service",
    ),
    (
        {"measurer": "007", "participant": "t1", "protocol": "two-fold"},
        "class-book-word", "F11", "'two-fold'",
    ),
    ({"measurer": "s08", "participant": "t1", "spare": "2345-678"}, "class-book-spare", "G11", "'2345-678'"),
    (
        {"measurer": "s08", "participant": "t1", "spare": "2345-6789"},
        "class-book-spare", "G11", "2345-6789, as in line 10",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("line", "code", "cell", "found"), PAIR_CASES)
def test_pairings_from_a_line_with_a_fault(line: dict[str, str], code: str, cell: str, found: str) -> None:
    _, problems = read_back(typed({f"pair_6_{name}": value for name, value in line.items()}))
    assert [(each.code, each.severity, each.tab, each.cell, each.found) for each in problems] == [
        (code, "error", "Pairs", cell, found)
    ]


def test_pairings_from_a_class_without_a_caliper_in_service() -> None:
    out = {"caliper_1_in_service": "no", "caliper_2_in_service": "no"}
    _, problems = read_back(typed({**EVERY_PAIR, **out}))
    assert [(each.code, each.severity) for each in problems] == [("class-book-no-caliper", "error")]
    line = {"pair_1_measurer": "007", "pair_1_participant": "s08"}
    _, problems = read_back(typed({**EVERY_PAIR, **out, **line}))
    assert [(each.code, each.tab, each.cell) for each in problems] == [
        ("class-book-no-caliper", "Pairs", "E6")
    ]


def test_pairings_from_a_line_with_a_protocol() -> None:
    """In any case; empty stays empty, and what is made has none."""
    changes = {
        "pair_1_measurer": "007",
        "pair_1_participant": "s08",
        "pair_1_protocol": " Two-Folds ",
        "pair_2_measurer": "s08",
        "pair_2_participant": "007",
    }
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert problems == ()
    assert [each.protocol_id for each in book.pairings] == ["two-folds", "", "", "", ""]


def test_pairings_from_a_line_with_a_protocol_alone() -> None:
    _, problems = read_back(typed({"pair_6_protocol": "two-folds"}))
    assert [(each.code, each.cell) for each in problems] == [
        ("class-book-pair-incomplete", "A11"), ("class-book-pair-incomplete", "C11"),
    ]  # fmt: skip


def test_pairings_from_a_line_with_a_spare_sheet() -> None:
    """The copy code is taken however it was typed."""
    changes = {"pair_1_spare": " abcd efgh ", "pair_2_spare": "23456788"}
    book, problems = read_back(typed(changes))
    assert problems == ()
    assert [each.spare for each in book.pairings] == ["ABCD-EFGH", "2345-6788", "", "", "2345-6789"]


def test_pairings_from_lines_that_name_someone_who_left() -> None:
    """The lines are left out, each named; whoever measures nobody then is paired anew."""
    book, problems = read_back(typed({"roster_2_status": "left", "pair_1_caliper": "C3"}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-pair-left", "warning", "C6", "line 6 names s08, who left the class"),
        ("class-book-pair-left", "warning", "A7", "line 7 names s08, who left the class"),
        ("class-book-unpaired", "warning", "A6", "007 measures nobody, and nobody is left to pair with"),
    ]
    assert book.pairings == BOOK.pairings[2:]
    assert book.people[1].status == "left"


def test_pairings_from_a_line_with_someone_who_only_measures_are_as_any() -> None:
    book, problems = read_back(typed({"roster_2_takes_part": "measures-only"}))
    assert (book.pairings, problems) == (BOOK.pairings, ())
    assert book.people[1].takes_part == "measures-only"


def test_pairings_from_a_line_with_two_to_be_kept_apart() -> None:
    """Typed by the teacher, it stays: a warning names the line."""
    book, problems = read_back(typed({"pair_6_measurer": "S11", "pair_6_participant": "007"}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-pair-apart", "warning", "C11", "S11 and 007, who are to be kept apart")
    ]
    assert len(book.pairings) == 6


SWAPS = [
    # whose line, who shall measure instead, everybody's pairs then
    (1, "=1+1", ["=1+1>s08", "s08>007", "007>S11", "S11>s12", "s12>=1+1"]),
    (4, "=1+1", ["007>s08", "s08>007", "s12>S11", "=1+1>s12", "S11>=1+1"]),
    (3, "=1+1", ["007>s08", "s08>007", "=1+1>S11", "S11>s12", "s12>=1+1"]),
]


@pytest.mark.parametrize(("line", "instead", "expected"), SWAPS)
def test_pairings_with_one_line_that_names_who_shall_measure_instead(
    line: int, instead: str, expected: list[str]
) -> None:
    """The two measurers change places; caliper and protocol stay with who is measured. In the round of three
    s12 would rather be measured by =1+1, whom they measure: the round is turned."""
    changes = {"pair_5_spare": None, f"pair_{line}_instead": instead}
    state = typed(changes)
    book, problems = read_back(state)
    assert [f"{each.measurer}>{each.participant}" for each in book.pairings] == expected
    assert [problem.code for problem in problems if problem.severity == "error"] == []
    stays = [(each.participant, each.caliper_id, each.protocol_id) for each in book.pairings]
    assert stays == [(each.participant, each.caliper_id, each.protocol_id) for each in BOOK.pairings]
    # Drawn anew, both lines say so, and the cell is empty.
    assert class_book_from(state, known()).added


def test_pairings_made_with_wishes() -> None:
    """007 wishes for s08 and is to be kept apart from S11; s08, who only measures, wishes for s12."""
    changes = {"roster_2_takes_part": "measures-only", "roster_2_partner": "s12"}
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert [f"{each.measurer}>{each.participant}" for each in book.pairings] == [
        "007>s08", "s08>007", "=1+1>S11", "S11>s12", "s12>=1+1",
    ]  # fmt: skip
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-wish-unmet", "warning", "I7", "s08 is not paired with s12")
    ]


def test_pairings_made_of_people_to_be_kept_apart() -> None:
    everyone = "007 s08 =1+1 S11"
    book, problems = read_back(typed({**EVERY_PAIR, "roster_6_apart": everyone, "roster_1_partner": None}))
    assert [f"{each.measurer}>{each.participant}" for each in book.pairings] == [
        "007>s08", "s08>007", "=1+1>S11", "S11>=1+1",
    ]  # fmt: skip
    assert [(each.code, each.cell, each.found) for each in problems] == [
        (
            "class-book-unpaired", "A11",
            "s12 measures nobody, and everybody left is to be kept apart from them",
        )
    ]  # fmt: skip


def test_pairings_made_in_larger_groups() -> None:
    book, problems = read_back(typed({**EVERY_PAIR, "group_size": 5.0, "roster_1_apart": None}))
    assert [each.participant for each in book.pairings] == ["s08", "=1+1", "S11", "s12", "007"]
    assert problems == ()


def test_pairings_made_with_a_demonstration_participant() -> None:
    book, problems = read_back(typed({**EVERY_PAIR, "demonstration": "S08"}))
    assert [each.participant for each in book.pairings] == ["s08"] * 4
    assert (book.demonstration, problems) == ("s08", ())


DEMONSTRATION = [
    ({"demonstration": "s99"}, "'s99', not on the tab Roster"),
    ({"demonstration": "s12", "roster_6_status": "left"}, "'s12', who left the class"),
]


@pytest.mark.parametrize(("changes", "found"), DEMONSTRATION)
def test_pairings_with_a_demonstration_participant_who_cannot_be(changes: dict[str, str], found: str) -> None:
    _, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-demonstration", "error", "B20", found)
    ]


NO_CALIPER = "Put at least one caliper in service on the tab Calipers."
SPARE = "Type the copy code as it stands on the spare sheet, once."
UNPAIRED = "Name a participant for this person on the tab Pairs."
OUT = {"caliper_1_in_service": "no", "caliper_2_in_service": "no"}
# what is typed, code, severity, found, expected, what to do, tab and cell
PAIR_SAID: list[tuple[dict[str, str | None], Worded]] = [
    (
        {"pair_6_measurer": "s99", "pair_6_participant": "007"},
        Worded("class-book-pair-unknown", "error", "'s99'", "an id of the tab Roster",
                "Correct the id, or add the person to the tab Roster.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "007"},
        Worded("class-book-pair-incomplete", "error", "nothing", "the id of the participant",
                "Type the id that is missing, or empty the line.", "Pairs", "C11"),
    ),
    (
        {"pair_6_participant": "007"},
        Worded("class-book-pair-incomplete", "error", "nothing", "the id of the measurer",
                "Type the id that is missing, or empty the line.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "S08"},
        Worded("class-book-pair-self", "error", "the same person twice", "two people",
                "Name another participant, or empty the line.", "Pairs", "C11"),
    ),
    (
        {"pair_6_measurer": "007", "pair_6_participant": "s08"},
        Worded("class-book-pair-twice", "error", "007 measures s08, as in line 6", "each pair once",
                "Empty one of the two lines.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "007", "pair_6_participant": "t1", "pair_6_caliper": "C3"},
        Worded("class-book-pair-caliper", "error", "'C3', out of service", "a caliper in service",
                "Name a caliper in service, or leave the cell empty.", "Pairs", "E11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "t1", "pair_6_spare": "2345-678"},
        Worded("class-book-spare", "error", "'2345-678'", "a copy code such as 2345-6789", SPARE, "Pairs",
                "G11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "t1", "pair_6_spare": "2345-6789"},
        Worded("class-book-spare", "error", "2345-6789, as in line 10", "each spare sheet once", SPARE,
                "Pairs", "G11"),
    ),
    (
        {**EVERY_PAIR, **OUT},
        Worded("class-book-no-caliper", "error", "5 to pair, and no caliper in service",
                "a caliper in service", NO_CALIPER, "Roster", "A6"),
    ),
    (
        {**EVERY_PAIR, **OUT, "pair_1_measurer": "007", "pair_1_participant": "s08"},
        Worded("class-book-no-caliper", "error", "none in service", "a caliper in service", NO_CALIPER,
                "Pairs", "E6"),
    ),
    (
        {"pair_6_measurer": "S11", "pair_6_participant": "007"},
        Worded("class-book-pair-apart", "warning", "S11 and 007, who are to be kept apart", "another pair",
                "Name another participant, or take the wish out of the tab Roster.", "Pairs", "C11"),
    ),
    (
        {**EVERY_PAIR, "roster_2_takes_part": "measures-only", "roster_2_partner": "s12"},
        Worded("class-book-wish-unmet", "warning", "s08 is not paired with s12",
                "s12, whom they wished for", "Name the pair on the tab Pairs if you want it all the same.",
                "Roster", "I7"),
    ),
    (
        {**EVERY_PAIR, "roster_6_apart": "007 s08 =1+1 S11", "roster_1_partner": None},
        Worded("class-book-unpaired", "warning",
                "s12 measures nobody, and everybody left is to be kept apart from them",
                "a line on the tab Pairs", UNPAIRED, "Roster", "A11"),
    ),
    (
        {"pair_5_measurer": "t1", "pair_5_participant": "s12"},
        Worded("class-book-unpaired", "warning", "s12 measures nobody, and nobody is left to pair with",
                "a line on the tab Pairs", UNPAIRED, "Roster", "A11"),
    ),
    (
        {"pair_1_instead": "t1"},
        Worded("class-book-swap", "error", "'t1', who cannot change places with the measurer of this line",
                "the id of someone who measures on another line, without a spare sheet",
                "Name someone who measures on another line, or type the lines anew.", "Pairs", "H6"),
    ),
    (
        {"pair_1_instead": "s08"},
        Worded("class-book-swap", "error", "'s08', who cannot change places with the measurer of this line",
                "the id of someone who measures on another line, without a spare sheet",
                "Name someone who measures on another line, or type the lines anew.", "Pairs", "H6"),
    ),
    (
        {**EVERY_PAIR, "demonstration": "s99"},
        Worded("class-book-demonstration", "error", "'s99', not on the tab Roster",
                "someone who takes part",
                "Name someone who takes part on the tab Class, or empty the cell.", "Class", "B20"),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "finding"), PAIR_SAID)
def test_pairings_from_a_line_of_which_something_is_said(
    changes: dict[str, str | None], finding: Worded
) -> None:
    """Found, expected, what to do, and where."""
    assert read_back(typed(changes))[1] == (finding,)
