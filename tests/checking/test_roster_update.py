"""A newer roster against the class book: nothing the teacher typed is lost, nobody is taken out."""

from dataclasses import replace

import pytest

from sheetgen.checking.roster_update import RosterChange, updated_book, without_leavers
from sheetgen.model.settings import ClassBook, Pairing, Person
from tests.sheets import SETTINGS

ADA = Person("S01", "Ada", "Fen", "ada@lighthouse.example", under_18="no")
BO = Person("S02", "Bo", "Heath")
CY = Person("S03", "Cy", "Moor", partner="S02", takes_part="measures-only")
DI = Person("S04", "Di", "Wold")
KEEPER = Person("T1", "Kit", "Lamp", role="teacher")
PAIRS = (
    Pairing("S01", "S02", "C1"),
    Pairing("S02", "S01", "C1"),
    Pairing("S03", "S04", "C1"),
    Pairing("S04", "S03", "C1"),
)
ROSTER = (ADA, BO, CY, DI)
BOOK = ClassBook("7H33NK", "evening", SETTINGS, (*ROSTER, KEEPER), PAIRS)


def test_a_joiner_stands_at_the_end_and_nothing_else_changes() -> None:
    new = Person("S05", "Ed", "Reef")
    change = updated_book(BOOK, (new, *ROSTER), ROSTER)
    assert change.joined == ("S05",)
    assert change.book == replace(BOOK, people=(*BOOK.people, new))
    assert (change.left, change.back, change.changed, change.only_here, change.unpaired) == ((),) * 5


def test_a_leaver_is_marked_and_keeps_the_line_and_the_pair_is_free() -> None:
    change = updated_book(BOOK, (ADA, BO, CY), ROSTER)
    assert change.left == ("S04",)
    assert change.book.people == (ADA, BO, CY, replace(DI, status="left"), KEEPER)
    assert change.book.pairings == PAIRS[:2]
    assert change.unpaired == PAIRS[2:]


def test_a_leaver_on_the_roster_again_is_active_with_everything_typed() -> None:
    gone = replace(CY, status="left")
    book = replace(BOOK, people=(ADA, BO, gone, DI))
    change = updated_book(book, (ADA, BO, Person("s03", "Cy", "Moor"), DI), (ADA, BO, DI))
    assert (change.back, change.joined, change.book.people[2]) == (("S03",), (), CY)


def test_a_teacher_and_whoever_the_teacher_typed_in_have_not_left() -> None:
    typed = Person("S09", "Flo", "Tide")
    change = updated_book(replace(BOOK, people=(*BOOK.people, typed)), ROSTER, ROSTER)
    assert (change.left, change.only_here) == ((), ("S09",))
    assert change.book.people == (*BOOK.people, typed)


def test_without_the_roster_before_the_newer_one_holds() -> None:
    change = updated_book(BOOK, (ADA, replace(BO, family_name="Heather"), CY), None)
    assert change.left == ("S04",)
    assert change.changed == (("S02", "family_name", "Heath", "Heather"),)


def test_a_line_that_cannot_be_used_may_be_anybodys_so_nobody_has_left() -> None:
    change = updated_book(BOOK, (ADA, BO, CY), ROSTER, complete=False)
    assert (change.left, change.absent, change.book) == ((), ("S04",), BOOK)


# typed in the class book, on the roster before, on the roster now, what stands there then
NAMES = (
    ("Bo", "Bo", "Bob", "Bob"),
    ("Bobby", "Bo", "Bo", "Bobby"),
    ("Bobby", "Bo", "Bob", "Bob"),
    ("Bo", "Bo", "", "Bo"),
)


def test_a_name_follows_the_roster_where_the_roster_changed_and_a_correction_stays() -> None:
    for typed, before, now, then in NAMES:
        book = replace(BOOK, people=(ADA, replace(BO, given_name=typed), CY, DI))
        change = updated_book(
            book,
            (ADA, replace(BO, given_name=now), CY, DI),
            (ADA, replace(BO, given_name=before), CY, DI),
        )
        assert change.book.people[1].given_name == then
        expected = () if typed == then else (("S02", "given_name", typed, then),)
        assert change.changed == expected


def test_other_columns_stay_and_only_an_empty_under_18_is_filled_in() -> None:
    roster = (
        replace(ADA, under_18="yes"),
        replace(BO, under_18="yes", role="teacher"),
        replace(CY, partner="S04", takes_part="both"),
        DI,
    )
    change = updated_book(BOOK, roster, ROSTER)
    assert change.book.people == (ADA, replace(BO, under_18="yes"), CY, DI, KEEPER)
    assert change.doubts == ("S01",)


def test_nobody_is_measured_by_everybody_after_leaving() -> None:
    book = replace(BOOK, people=(ADA, replace(BO, status="left"), CY, DI), demonstration="S02")
    assert without_leavers(book) == replace(book, pairings=PAIRS[2:], demonstration="")
    change = updated_book(replace(BOOK, demonstration="S02"), (ADA, CY, DI), ROSTER)
    assert (change.demonstration, change.book.demonstration) == ("S02", "")


# column, in the class book, on the roster before, on the roster now, what stands there then
COLUMNS = (
    ("given_name", "Bo", "Bo", "Bob", "Bob"),
    ("family_name", "Heath", "Heath", "Heather", "Heather"),
    ("email", "bo@old.example", "bo@old.example", "bo@new.example", "bo@new.example"),
    ("group", "", "", "red", "red"),
    ("group", "blue", "red", "red", "blue"),
    ("email", "mine@bo.example", "bo@old.example", "bo@old.example", "mine@bo.example"),
    ("email", "mine@bo.example", "bo@old.example", "bo@new.example", "bo@new.example"),
    ("family_name", "Heath", "Heath", "", "Heath"),
)


@pytest.mark.parametrize(("column", "typed", "before", "now", "then"), COLUMNS)
def test_each_column_of_the_roster_is_followed_by_itself(
    column: str, typed: str, before: str, now: str, then: str
) -> None:
    """Nothing else of the person changes."""
    here, was, newer = (replace(BO, **{column: value}) for value in (typed, before, now))  # type: ignore[arg-type]
    change = updated_book(replace(BOOK, people=(ADA, here, CY, DI)), (ADA, newer, CY, DI), (ADA, was, CY, DI))
    assert change.book.people == (ADA, replace(BO, **{column: then}), CY, DI)  # type: ignore[arg-type]
    assert change.changed == (() if typed == then else (("S02", column, typed, then),))


def test_several_columns_changed_at_once_and_everything_typed_stays() -> None:
    typed = replace(BO, role="student", participant_code="P-2", partner="S01", apart=("S03",), under_18="no")
    newer = replace(BO, given_name="Bob", family_name="Heather", email="b@x.example", group="red")
    change = updated_book(replace(BOOK, people=(ADA, typed, CY, DI)), (ADA, newer, CY, DI), ROSTER)
    assert change.book.people[1] == replace(
        typed, given_name="Bob", family_name="Heather", email="b@x.example", group="red"
    )
    assert change.changed == (
        ("S02", "given_name", "Bo", "Bob"),
        ("S02", "family_name", "Heath", "Heather"),
        ("S02", "email", "", "b@x.example"),
        ("S02", "group", "", "red"),
    )


def test_who_is_new_to_the_roster_but_in_the_class_book_follows_the_roster() -> None:
    """What the roster before said of them is not known, so the newer one holds."""
    newer = replace(DI, given_name="Dinah")
    change = updated_book(BOOK, (ADA, BO, CY, newer), (ADA, BO, CY))
    assert change.changed == (("S04", "given_name", "Di", "Dinah"),)
    assert (change.joined, change.only_here, change.left) == ((), (), ())


def test_who_left_before_and_is_not_on_the_roster_is_not_named_again() -> None:
    gone = replace(DI, status="left")
    book = replace(BOOK, people=(ADA, BO, CY, gone), pairings=PAIRS[:2])
    change = updated_book(book, (ADA, BO, CY), ROSTER)
    assert (change.book, change.left, change.absent, change.unpaired) == (book, (), (), ())


def test_nothing_to_change_changes_nothing() -> None:
    change = updated_book(replace(BOOK, demonstration="S02"), ROSTER, ROSTER)
    assert change == RosterChange(replace(BOOK, demonstration="S02"), (), (), (), (), (), (), (), (), "", ())


def test_a_doubt_is_only_where_the_class_book_says_no() -> None:
    for typed, now, doubts in (("no", "yes", ("S02",)), ("no", "no", ()), ("", "yes", ()), ("yes", "no", ())):
        book = replace(BOOK, people=(ADA, replace(BO, under_18=typed), CY, DI))
        change = updated_book(book, (ADA, replace(BO, under_18=now), CY, DI), ROSTER)
        assert (change.doubts, change.book.people[1].under_18) == (doubts, typed or now)
