from dataclasses import replace

import pytest

from sheetgen.model.snapshot import CellState, Snapshot, TabState
from tests.class_books import BOOK, DEFAULTS, layout, read_back, typed

SETTINGS = (
    "protocol", "site_rule", "tolerance_kind", "tolerance", "conversion", "show_results", "class_title",
    "minors", "estimates", "youth_estimate", "due_date", "feedback_given", "declared",
    "cover_round_1",
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


CASES = [
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


@pytest.mark.parametrize(("changes", "code", "cell", "found"), CASES)
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
    names = ("group_size", "demonstration", "seconds_a_reading", "spare_sheets", "cover_round_1")
    book, problems = read_back(typed(dict.fromkeys(names)))
    assert problems == ()
    assert (book.group_size, book.demonstration) == (2, "")
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
]


@pytest.mark.parametrize(("changes", "expected"), EXPECTED)
def test_class_tab_says_what_is_expected(changes: dict[str, str | float], expected: str) -> None:
    (problem,) = read_back(typed(changes))[1]
    assert problem.expected == expected


def test_class_tab_with_numbers_at_the_ends_of_their_ranges() -> None:
    for name, ends in (
        ("group_size", (2.0, 6.0)), ("seconds_a_reading", (10.0, 300.0)), ("spare_sheets", (0.0, 20.0)),
        ("tolerance", (0.1, 50.0)),
    ):  # fmt: skip
        for end in ends:
            book, problems = read_back(typed({name: end}))
            assert problems == ()
            assert (book.settings.tolerance if name == "tolerance" else getattr(book, name)) == end
