"""The hidden tab, and what the live checks say of a book that is written out; the formulas themselves are
worked out in test_class_book_tabs."""

from dataclasses import replace

import pytest

from sheetgen.class_book.hidden_tab import (
    blocks_off,
    caliper_check,
    check_again,
    check_again_by,
    first_caliper_check,
    first_pair_check,
    full_name,
    pair_check,
    roster_check,
    state_of,
    zero_is_large,
)
from sheetgen.class_book.table import Places
from sheetgen.class_folder.records import CaliperCheck, Pairing, Person
from sheetgen.protocols.settings import Caliper
from tests.class_books import BOOK, layout, protocols, texts

C1 = Caliper("C1", "spring", 0.5, 60.0, 0.0)
PLACES = Places(texts(), {"roster": 10, "calipers": 3, "pairs": 10, "protocols": 2})


@pytest.mark.parametrize(
    ("given", "family", "expected"),
    [("Bo", "Ek", "Bo Ek"), ("Bo", "", "Bo"), (" Bo  B", "Ek ", "Bo B Ek"), ("", "", "")],
)
def test_full_name(given: str, family: str, expected: str) -> None:
    assert full_name(given, family) == expected


def test_calculator_tab_holds_the_codes_given_out() -> None:
    labels = [cell.value for cell in layout().tab("calculator").cells if cell.name.startswith("coded_")]
    coded = [person for person in BOOK.people if person.participant_code]
    assert labels == [text for person in coded for text in (person.student_id, person.participant_code)]


def test_calculator_tab_holds_the_protocols() -> None:
    labels = [cell.value for cell in layout().tab("calculator").cells if cell.name.startswith("protocol_")]
    assert labels == [protocol.identifier for protocol in protocols()]


@pytest.mark.parametrize(
    ("takes_part", "status", "expected"),
    [("both", "", ""), ("measures-only", "", "measures-only"), ("measures-only", "left", "left")],
)
def test_state_of(takes_part: str, status: str, expected: str) -> None:
    assert state_of(Person("a", "A", "", takes_part=takes_part, status=status)) == expected


@pytest.mark.parametrize(("zero", "large"), [(1.0, False), (-1.0, False), (1.01, True), (-1.1, True)])
def test_zero_is_large(zero: float, large: bool) -> None:
    assert zero_is_large(replace(C1, zero=zero)) is large


BLOCKS = [
    # zero, step, readings, those that are off; 10.6 - 0.1 - 10 is exactly 0.5
    (0.1, 0.5, ((10.0, 10.6),), ()),
    (0.0, 0.5, ((10.0, 10.6), (20.0, 19.5)), ((10.0, 10.6),)),
    (-0.4, 0.2, ((30.0, 29.4), (40.0, 39.3)), ((40.0, 39.3),)),
    (0.0, 0.5, (), ()),
]


@pytest.mark.parametrize(("zero", "step", "readings", "off"), BLOCKS)
def test_blocks_off(
    zero: float, step: float, readings: tuple[tuple[float, float], ...], off: tuple[tuple[float, float], ...]
) -> None:
    assert blocks_off(replace(C1, zero=zero, division=step), CaliperCheck("C1", readings)) == off


def test_check_again_by() -> None:
    assert check_again_by(CaliperCheck("C1", checked_on="1999-12-31")) == "2000-12-31"
    assert check_again_by(CaliperCheck("C1")) == ""


CALIPERS = [
    # zero, readings, day, in service, said
    (2.0, ((10.0, 30.0),), "", True, "use for practice only or have it adjusted"),
    (0.0, ((10.0, 30.0),), "", True, "off on a block by more than one step"),
    (0.0, (), "", True, "no check on record"),
    (0.0, (), "2027-03-31", True, ""),
    (2.0, ((10.0, 30.0),), "", False, ""),
]


@pytest.mark.parametrize(("zero", "readings", "day", "used", "said"), CALIPERS)
def test_first_caliper_check(
    zero: float, readings: tuple[tuple[float, float], ...], day: str, used: bool, said: str
) -> None:
    caliper = replace(C1, zero=zero, in_service=used)
    assert first_caliper_check(texts(), caliper, CaliperCheck("C1", readings, day)) == said


def test_first_pair_check_of_pairs_with_something_to_say() -> None:
    together = Pairing("S11", "007", "C1")
    people = tuple(replace(each, status="left") if each.student_id == "s08" else each for each in BOOK.people)
    said = first_pair_check(texts(), replace(BOOK, people=people, pairings=(*BOOK.pairings, together)))
    assert list(said.values()) == [
        *["left the class: this line is left out"] * 2, "", "", "", "these two are to be kept apart",
    ]  # fmt: skip


def test_checks_know_no_clock() -> None:
    """First results would be wrong the day after, and the same class book would not be the same file."""
    made = [check(PLACES, 0) for check in (roster_check, caliper_check, check_again, pair_check)]
    assert [text for text in made if "TODAY" in text or "NOW(" in text] == []
    assert max(map(len, made)) < 8192
