"""Who counts as under 18: what is said before sheets are made, and that no line lowers it unseen."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import book_texts
from sheetgen.class_book.protection import (
    lowered,
    named,
    other_than_came_in,
    protections_of,
    remembered,
    taken_over,
    unsaid_line,
)
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, Person, Protection
from sheetgen.protocols.loading import find_protocol
from tests.sheets import SETTINGS


def book_of(*said: str, minors: str = "some") -> ClassBook:
    names = ("Ada", "Bo", "Cy", "Di")
    people = tuple(
        Person(f"S{number}", name, "Fen", under_18=word)
        for number, (name, word) in enumerate(zip(names, said, strict=False), start=1)
    )
    return ClassBook("7H33NK", "evening", SETTINGS, people, (), minors=minors)


def test_how_many_count_since_nobody_said_what_is_left_out_and_both_cures() -> None:
    seven = find_protocol("seven-sites")
    line = unsaid_line(book_of("", "no", "", "yes"), seven, book_texts(), ClassFolder(Path("evening")))
    assert line == (
        "2 people count as under 18, since the roster does not say: their sheets leave out Chest, "
        "Midaxillary, Subscapular, Abdominal, Suprailiac, the estimate. Where all are of age: sheetgen new "
        "evening --minors none, or none at 'People under 18' on the tab Class; where some are: no at "
        "'Under 18' on the tab Roster."
    )
    one = unsaid_line(
        book_of("no", ""), find_protocol("four-sites"), book_texts(), ClassFolder(Path("evening"))
    )
    assert one.startswith("1 person counts as under 18")
    assert "leave out Subscapular, Suprailiac, the estimate." in one


@pytest.mark.parametrize(
    ("book", "protocol"),
    [
        (book_of("no", "yes"), "seven-sites"),
        (book_of("", "", minors="none"), "seven-sites"),
        (book_of("", "", minors="all"), "seven-sites"),
        (book_of("", ""), "folds-only"),
    ],
)
def test_nothing_is_said_where_everybody_is_said_or_nothing_is_left_out(
    book: ClassBook, protocol: str
) -> None:
    assert unsaid_line(book, find_protocol(protocol), book_texts(), ClassFolder(Path("evening"))) == ""


LOWERED = [
    # before, now, whose protection their own line lowers
    (("yes", "no"), ("no", "no"), ("S1",)),
    (("", "no"), ("no", "no"), ("S1",)),
    (("yes", "no"), ("yes", "no"), ()),
    (("no", "no"), ("yes", "no"), ()),
    (("", ""), ("yes", ""), ()),
]


@pytest.mark.parametrize(("before", "now", "expected"), LOWERED)
def test_whose_line_lowers_their_protection(
    before: tuple[str, ...], now: tuple[str, ...], expected: tuple[str, ...]
) -> None:
    assert lowered(protections_of(book_of(*before)), protections_of(book_of(*now))) == expected


def test_ids_or_names_sorted_over_standing_columns_are_noticed() -> None:
    """Bo is under 18. Ids and names, ids alone, or names alone are turned round; the other columns stand."""
    book = book_of("no", "yes", "no")
    before = protections_of(book)
    ada, bo, cy = book.people
    both = [replace(bo, under_18="no"), replace(ada, under_18="yes"), cy]
    ids = [replace(ada, student_id="S2"), replace(bo, student_id="S1"), cy]
    names = [replace(ada, given_name="Bo"), replace(bo, given_name="Ada"), cy]
    for people, expected in ((both, ("S2",)), (ids, ("S2",)), (names, ("S1",))):
        assert lowered(before, protections_of(replace(book, people=tuple(people)))) == expected
    sorted_whole = protections_of(replace(book, people=(cy, bo, ada)))
    assert lowered(before, sorted_whole) == ()


def test_a_decision_about_the_whole_class_lowers_nobodys_own_line() -> None:
    before = protections_of(book_of("", "yes"))
    assert lowered(before, protections_of(book_of("", "yes", minors="none"))) == ()
    assert lowered(before, protections_of(book_of("", "", minors="none"))) == ("S2",)


def test_two_of_one_name_are_told_apart_by_their_ids() -> None:
    twins = (Protection("S1", "Ada Fen", "yes", True), Protection("S2", "Ada Fen", "no", False))
    assert lowered(twins, twins) == ()


def test_who_is_taken_off_the_roster_is_remembered() -> None:
    """Taken off and typed again as of age, Bo is still who was under 18."""
    before = protections_of(book_of("no", "yes"))
    kept = remembered(before, protections_of(book_of("no")))
    assert lowered(kept, protections_of(book_of("no", "no"))) == ("S2",)


def test_a_roster_that_comes_in_protects_whom_it_names_and_silence_nobody() -> None:
    roster = book_of("yes", "", "no").people
    record = taken_over((), roster)
    assert [(each.student_id, each.counted) for each in record] == [
        ("S1", True),
        ("S2", False),
        ("S3", False),
    ]
    assert lowered(record, protections_of(book_of("no", "no", "no"))) == ("S1",)
    newer = taken_over(record, [replace(roster[2], under_18="yes"), replace(roster[0], under_18="no")])
    assert [each.student_id for each in newer if each.counted] == ["S1", "S3"]


def test_what_differs_from_the_roster_as_it_came_in_is_one_line() -> None:
    book = book_of("no", "no", "")
    came = (
        replace(book.people[0], email="a@school.example"),
        replace(book.people[1], under_18="", given_name="B"),
    )
    (line,) = other_than_came_in(book, came)
    assert line.startswith(
        "otherwise on the tab Roster than on the roster as it came in: given_name of S2; email of S1; "
        "under_18 of S2."
    )
    assert list(other_than_came_in(book, book.people)) == []
    assert list(other_than_came_in(book, None)) == []


def test_a_long_list_of_people_is_cut_at_a_dozen() -> None:
    assert named(tuple("abcdefghijklmn")) == "a, b, c, d, e, f, g, h, i, j, k, l and 2 more"
