"""Which sheets a session needs, told without building any."""

from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.errors import FolderError, UsageError
from sheetgen.flows.copies_wanted import (
    copies_of_pairs,
    pairings_wanted,
    partners_without,
    spare_copies,
    unpaired,
)
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.settings import Caliper, ClassBook, Pairing, Person
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from tests.sheets import SETTINGS

SECRET = "ab" * 32
PEOPLE = (
    Person("S01", "Ada", "Fen", participant_code="P-2222"),
    Person("S02", "Bo", "Heath", participant_code="P-3333"),
    Person("S03", "Cy", "Moor", participant_code="P-4444", status="left"),
    Person("S04", "Di", "Wold", participant_code="P-5555"),
)
BOOK = ClassBook(
    "7H33NK", "evening", SETTINGS, PEOPLE, (Pairing("S01", "S02", "C1"), Pairing("S02", "S01", "C1"))
)
FOLDER = ClassFolder(Path("class"))


def record(code: str, student: str, participant: str, shown: str) -> CopyRecord:
    return CopyRecord(code, 1, student, participant, shown, "C1", "", "", "", {})


def test_all_pairs_or_those_of_one_measurer_are_wanted() -> None:
    assert pairings_wanted(FOLDER, BOOK, "") == BOOK.pairings
    assert pairings_wanted(FOLDER, BOOK, "S02") == BOOK.pairings[1:]


# student asked for, words of the message
REFUSED: tuple[tuple[str, type[Exception], str], ...] = (
    ("S09", UsageError, "no such student_id in the roster"),
    ("S03", UsageError, "someone who has left the class"),
    ("S04", FolderError, "S04 measures nobody; expected a line with them as measurer on the tab Pairs"),
)


@pytest.mark.parametrize(("student", "kind", "words"), REFUSED)
def test_who_gets_no_sheet_is_told_why(student: str, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        pairings_wanted(FOLDER, BOOK, student)


def test_whoever_has_left_or_has_a_line_is_not_named_as_unpaired() -> None:
    assert list(unpaired(BOOK)) == ["S04"]


def test_a_pair_that_used_a_spare_sheet_needs_none_in_that_session() -> None:
    book = replace(BOOK, pairings=(BOOK.pairings[0], replace(BOOK.pairings[1], spare="9999-AAAA")))
    records = {"9999-AAAA": (record("9999-AAAA", "spare-1", "", "P-9999"),)}
    for session, wanted in ((1, ["S01"]), (2, ["S01", "S02"])):
        copies = copies_of_pairs(FOLDER, book, SECRET, records, book.pairings, session)
        assert [copy.pairing.measurer for copy in copies] == wanted


def test_a_spare_sheet_has_the_first_caliper_in_service_and_a_code_of_nobody_else() -> None:
    calipers = (Caliper("C0", "", 0.5, 60.0, 0.0, False), Caliper("C7", "", 0.5, 60.0, 0.0))
    book = replace(BOOK, settings=replace(SETTINGS, calipers=calipers), spare_sheets=2)
    copies = spare_copies(FOLDER, book, SECRET, {}, 1)
    assert [(copy.pairing.measurer, copy.pairing.caliper_id) for copy in copies] == [
        ("spare-1", "C7"), ("spare-2", "C7"),
    ]  # fmt: skip
    first, second = (copy.participant.participant_code for copy in copies)
    assert first != second
    on_record = {copies[0].copy_code: (record(copies[0].copy_code, "spare-1", "", first),)}
    assert spare_copies(FOLDER, book, SECRET, on_record, 1) == copies
    people = (*PEOPLE, Person("S05", "Ed", "Reef", participant_code=second))
    taken = spare_copies(FOLDER, replace(book, people=people), SECRET, {}, 1)
    assert taken[1].participant.participant_code not in (first, second)


def test_without_a_caliper_in_service_there_is_no_spare_sheet() -> None:
    book = replace(BOOK, settings=replace(SETTINGS, calipers=()))
    assert spare_copies(FOLDER, book, SECRET, {}, 1) == []


def test_whoever_measures_the_one_built_alone_and_has_no_sheet_is_named() -> None:
    assert list(partners_without(BOOK, SECRET, {}, "", 1)) == []
    assert list(partners_without(BOOK, SECRET, {}, "S02", 2)) == [
        "S01 measures S02 and has no sheet for it in session 2: build it with --student S01."
    ]
    code = keep.copy_code(SECRET, "S01", "S02", 2)
    assert list(partners_without(BOOK, SECRET, {code: ()}, "S02", 2)) == []
