"""What is said to those whose work has not come: each one alone, and never of anybody else."""

import io
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import load_book
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.finding import Finding
from sheetgen.report.answers import answers_by_file, missing_text, write_missing
from sheetgen.returned.came_back import Awaited, Unusable
from sheetgen.texts.languages import texts_in
from tests.classes import built_class, record_of

TEXTS = texts_in("en", "findings", "missing")
NAMES = ("Ada", "Fen", "Bo", "Heath", "Cy", "Moor", "Di", "Wold")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    return built_class(tmp_path_factory.mktemp("answers") / "class")


@pytest.fixture
def book(folder: ClassFolder) -> ClassBook:
    book = load_book(folder)
    people = [
        replace(one, email=f"{one.given_name.lower()}@lighthouse.example" if one.given_name != "Cy" else "")
        for one in book.people
    ]
    return replace(book, people=tuple(people), due_date="2027-03-04")


def nothing(folder: ClassFolder, *students: str) -> list[Awaited]:
    return [Awaited(record_of(folder, student), ()) for student in students]


def instead(record: CopyRecord, code: str, *, by_name: bool = False) -> Awaited:
    """A sheet in place of which a file came that cannot be used."""
    copy_code = "" if by_name else record.copy_code
    file = "course.zip/Bo Heath_13/their sheet S02.xlsx"
    return Awaited(record, (Unusable(file, Finding(code), record.student_id, copy_code, by_name),))


def blocks(text: str) -> list[str]:
    return text.split("\n\n" + "-" * 60 + "\n")


def test_one_line_of_addresses_then_one_message_a_person_in_order_of_name(
    folder: ClassFolder, book: ClassBook
) -> None:
    text = missing_text(nothing(folder, "S02", "S03", "S01"), book, TEXTS)
    to_all, ada, bo, cy = blocks(text)
    assert to_all.splitlines()[2] == "ada@lighthouse.example, bo@lighthouse.example"
    assert [block.splitlines()[0] for block in (ada, bo, cy)] == [
        "Ada Fen (S01), ada@lighthouse.example",
        "Bo Heath (S02), bo@lighthouse.example",
        "Cy Moor (S03)",
    ]
    assert ada.splitlines()[2:] == [
        "Hello Ada,",
        "",
        f"your sheet of session 1 ({record_of(folder, 'S01').file_name}) has not reached me yet. If you have "
        "sent it, please send it once more: files get lost on the way. If it is not finished, hand in the "
        ".xlsx file as far as it is, or tell me what you need.",
        "",
        "The sheets are due on 2027-03-04.",
        "",
        "Thank you",
    ]


def test_a_message_says_the_due_date_of_ones_own_and_the_name_of_the_session(
    folder: ClassFolder, book: ClassBook
) -> None:
    people = [replace(one, due_date="2027-03-11" if one.student_id == "S02" else "") for one in book.people]
    text = missing_text(
        nothing(folder, "S01", "S02"), replace(book, people=tuple(people), session_names=("week 3",)), TEXTS
    )
    to_all, ada, bo = blocks(text)
    assert ["The sheets are due on 2027-03-04." in one for one in (to_all, ada, bo)] == [True, True, False]
    assert "The sheets are due on 2027-03-11." in bo
    assert all("your sheet of session 1 (week 3)" in one for one in (to_all, ada, bo))


def test_no_message_names_anybody_else(folder: ClassFolder, book: ClassBook) -> None:
    waited = [
        *nothing(folder, "S01"),
        instead(record_of(folder, "S02"), "identity-copy-twice"),
        instead(record_of(folder, "S03"), "file-pdf", by_name=True),
    ]
    to_all, ada, bo, cy = blocks(missing_text(waited, book, TEXTS))
    said = to_all.splitlines()[4:]
    assert [name for name in NAMES if name in " ".join(said)] == []
    for own, block in ((("Ada", "Fen"), ada), (("Bo", "Heath"), bo), (("Cy", "Moor"), cy)):
        assert tuple(name for name in NAMES if name in block) == own
    assert "their sheet" not in ada + bo + cy


def test_what_came_gets_its_answer(folder: ClassFolder, book: ClassBook) -> None:
    waited = [
        instead(record_of(folder, "S01"), "file-pdf", by_name=True),
        instead(record_of(folder, "S02"), "entry-nothing-typed"),
        instead(record_of(folder, "S04"), "identity-copy-twice"),
    ]
    _, ada, bo, di = blocks(missing_text(waited, book, TEXTS))
    assert "A file arrived that seems to be from you, by its name." in ada
    assert "Your file is a PDF, which shows your sheet but does not hold it." in ada
    assert "Your sheet arrived, but nothing is typed in it yet." in bo
    assert "A file arrived, but I cannot use it as it is." in di


def test_who_measures_two_people_gets_one_message_about_both_sheets(
    folder: ClassFolder, book: ClassBook
) -> None:
    second = replace(record_of(folder, "S01"), file_name="S01_second.xlsx")
    text = missing_text([*nothing(folder, "S01"), Awaited(second, ())], book, TEXTS)
    _, ada = blocks(text)
    assert ada.count("Hello Ada,") == 1
    assert "S01_second.xlsx" in ada


def test_who_left_and_teachers_are_not_written_to(folder: ClassFolder, book: ClassBook) -> None:
    changes = {"S01": {"status": "left"}, "S02": {"role": "teacher"}}
    people = tuple(replace(one, **changes.get(one.student_id, {})) for one in book.people)
    assert missing_text(nothing(folder, "S01", "S02"), replace(book, people=people), TEXTS) == ""
    assert missing_text([], book, TEXTS) == ""


def test_somebody_not_in_the_class_book_is_named_by_id(folder: ClassFolder, book: ClassBook) -> None:
    text = missing_text(nothing(folder, "S01"), replace(book, people=()), TEXTS)
    assert text.startswith("S01 (S01)\n\nHello S01,")


def test_the_file_goes_when_nobody_is_missing_any_more(
    folder: ClassFolder, book: ClassBook, tmp_path: Path
) -> None:
    assert write_missing(folder, 1, nothing(folder, "S01"), book) == str(folder.missing(1))
    assert "Ada Fen" in folder.missing(1).read_text(encoding="utf-8")
    assert write_missing(folder, 1, [], book) == ""
    assert not folder.missing(1).exists()
    assert write_missing(ClassFolder(tmp_path / "none"), 1, [], book) == ""


# code, whose the file is (the sheet of S01 is waited for), words of the answer; empty: there is none
ANSWERS = (
    ("file-pdf", "S01", "Your file is a PDF"),
    ("file-pdf", "", "Your file is a PDF"),
    ("file-pdf", "S02", ""),
    ("entry-nothing-typed", "S01", "nothing is typed in it yet"),
    ("identity-copy-twice", "S01", "I cannot use it as it is"),
    ("identity-two-codes", "", ""),
    ("file-bundle-damaged", "", ""),
)


@pytest.mark.parametrize(("code", "student_id", "words"), ANSWERS)
def test_answers_by_file(folder: ClassFolder, code: str, student_id: str, words: str) -> None:
    unusable = Unusable("course.zip/a.pdf", Finding(code), student_id)
    answers = answers_by_file([unusable], nothing(folder, "S01"), "en")
    assert list(answers) == (["course.zip/a.pdf"] if words else [])
    for data in answers.values():
        (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
        assert words in " ".join(str(row[0].value) for row in sheet.iter_rows())
