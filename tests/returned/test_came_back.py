"""Whom the name of a file names, and what came of the sheets that are waited for."""

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.records import Person
from sheetgen.finding import Finding
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.came_back import awaited, in_nobodys_place, person_named, unusable_files
from tests.report.invented import BOOK, record, returned

PEOPLE = (
    Person("S01", "Ada", "Fen", "ada.fen@lighthouse.example"),
    Person("1002", "Zoë", "de la Rye"),
    Person("2026", "Bo", "Heath"),
    Person("7", "Cy", "Moor"),
    Person("S-05", "Di", ""),
    Person("S06", "Ada", "Rye"),
)

# name of a file or a path, whom it names
NAMES = (
    ("download.zip/Ada Fen_12345_assignsubmission_file/sheet.pdf", "S01"),
    ("FEN, ADA.pdf", "S01"),
    ("ada.fen@lighthouse.example sheet.pdf", "S01"),
    ("s01_7K3F-9QXM.pdf", "S01"),
    ("xs01.pdf", ""),
    ("S010.pdf", ""),
    ("zoe_de_la_rye.jpg", "1002"),
    ("la Rye, Zoë.jpg", ""),
    ("1002 (1).jpg", "1002"),
    # a day, a time and a number of a try are nobody's id
    ("sheet_2026-11-30.pdf", ""),
    ("sheet attempt 7.pdf", ""),
    ("2026.pdf", "2026"),
    # too short to be told from any other number
    ("7.pdf", ""),
    ("cy moor 7.pdf", "7"),
    # a given name alone is anybody's
    ("Di.pdf", ""),
    ("s-05.pdf", "S-05"),
    # two people are nobody
    ("Ada Fen and Bo Heath.pdf", ""),
    ("Ada Rye.pdf", "S06"),
    ("", ""),
)


@pytest.mark.parametrize(("name", "student_id"), NAMES)
def test_person_named(name: str, student_id: str) -> None:
    assert person_named(name, PEOPLE) == student_id


PDF = Finding("file-pdf", severity="error")
UNTYPED = Finding("entry-nothing-typed", severity="warning")
LATE = Finding("procedure-late", severity="note")
NOTE = Finding("file-foreign-content", severity="note")
CHANGED = Finding("identity-changed", severity="error")


def came(number: int, status: str, *findings: Finding, file: str = "s.xlsx") -> Attempt:
    """A file of student 100N of the invented class."""
    return replace(returned(number, status, file=file), findings=findings)


def no_sheet(file: str, *findings: Finding) -> Attempt:
    return replace(came(1, "refused", *findings, file=file), record=None)


# a file, its reason, whose it is, whether only its name tells; nothing: it is none that cannot be used
UNUSABLE: tuple[tuple[Attempt, tuple[str, str, bool] | None], ...] = (
    (came(1, "accepted"), None),
    (came(1, "superseded", CHANGED), None),
    (came(1, "review", LATE), None),
    (came(1, "review", LATE, UNTYPED), ("entry-nothing-typed", "1001", False)),
    (came(1, "accepted", UNTYPED), None),
    (came(1, "refused", NOTE, CHANGED), ("identity-changed", "1001", False)),
    # the teacher said no
    (came(1, "refused", NOTE, LATE), ("procedure-late", "1001", False)),
    (no_sheet("Ines Holt/s.pdf", PDF), ("file-pdf", "1003", True)),
    (no_sheet("s.pdf", PDF), ("file-pdf", "", False)),
)


@pytest.mark.parametrize(("attempt", "expected"), UNUSABLE)
def test_unusable_files(attempt: Attempt, expected: tuple[str, str, bool] | None) -> None:
    found = [
        (one.finding.code, one.student_id, one.by_name) for one in unusable_files([attempt], (), BOOK, 1)
    ]
    assert found == ([expected] if expected else [])


DOCUMENT = Finding("file-document", severity="error")
# what came, which documents stand for no sheet; 1001 to 1003 are to hand one in
BESIDE: tuple[tuple[tuple[Attempt, ...], list[str]], ...] = (
    ((came(1, "accepted"), came(2, "accepted"), came(3, "review"), no_sheet("s.docx", DOCUMENT)), ["s.docx"]),
    ((came(1, "accepted"), came(2, "accepted"), came(3, "review"), no_sheet("s.xlsx", CHANGED)), []),
    # one is missing, and it may be theirs
    ((came(1, "accepted"), came(2, "accepted"), no_sheet("s.docx", DOCUMENT)), []),
    ((came(1, "accepted"), came(2, "accepted"), no_sheet("Ines Holt/s.docx", DOCUMENT)), []),
    (
        (came(1, "accepted"), came(3, "accepted"), no_sheet("Ines Holt/s.docx", DOCUMENT)),
        ["Ines Holt/s.docx"],
    ),
)


@pytest.mark.parametrize(("attempts", "names"), BESIDE)
def test_a_document_stands_for_no_sheet_while_none_is_missing_that_it_may_be(
    attempts: tuple[Attempt, ...], names: list[str]
) -> None:
    found = in_nobodys_place(attempts, [record(1), record(2), record(3)], BOOK)
    assert [one.file for one in found] == names
    assert in_nobodys_place(attempts, [], BOOK) == ()


def test_a_sheet_of_another_session_is_unusable_for_this_one() -> None:
    (one,) = unusable_files((), [replace(came(1, "accepted"), record=record(1, session=2))], BOOK, 1)
    assert (one.finding.code, one.finding.values) == ("file-other-session", {"found": 2, "own": 1})
    assert (one.student_id, one.copy_code, one.by_name) == ("1001", "", False)


def test_who_has_left_sends_no_file_by_a_name() -> None:
    people = tuple(replace(person, status="left") for person in BOOK.people)
    (one,) = unusable_files([no_sheet("Ines Holt/s.pdf", PDF)], (), replace(BOOK, people=people), 1)
    assert (one.student_id, one.by_name) == ("", False)


def test_awaited_tells_what_came_in_place_of_each_sheet() -> None:
    attempts = [came(1, "accepted"), came(2, "refused", CHANGED), no_sheet("Ines Holt/s.pdf", PDF)]
    unusable = unusable_files(attempts, (), BOOK, 1)
    waited = awaited([record(1), record(2), record(3)], BOOK, attempts, unusable)
    assert [(one.record.student_id, one.because) for one in waited] == [
        ("1002", "identity-changed"),
        ("1003", "file-pdf"),
    ]


def test_what_came_for_one_sheet_is_nothing_for_another_of_the_same_student() -> None:
    """Who measures two people has two; a file without a code may be either."""
    second = replace(record(1), copy_code="2345-6789")
    attempts = [came(1, "refused", CHANGED), no_sheet("1001.pdf", PDF)]
    unusable = unusable_files(attempts, (), BOOK, 1)
    waited = awaited([record(1), second], BOOK, attempts, unusable)
    assert [one.because for one in waited] == ["identity-changed", "file-pdf"]
    assert awaited([second], BOOK, [], unusable[:1])[0].because == ""
