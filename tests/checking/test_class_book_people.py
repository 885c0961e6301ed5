import pytest

from tests.class_books import BOOK, read_back, typed

CASES = [
    # what is typed into line 2 (s08), partner, apart
    ({"partner": "S12"}, "s12", ()),
    ({"apart": "S12 007"}, "", ("s12", "007")),
    ({"apart": " s12; 007, =1+1;s12 "}, "", ("s12", "007", "=1+1")),
    ({"roster_7_student_id": "s 09", "apart": "s 09; 007"}, "", ("s 09", "007")),
]


@pytest.mark.parametrize(("line", "partner", "apart"), CASES)
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
