"""The message to those whose sheets are missing: everybody once, by name, without a word of blame."""

from dataclasses import replace
from pathlib import Path

from sheetgen.flows.missing import missing_message, write_missing
from sheetgen.flows.sources import load_book
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.texts import load_texts
from tests.classes import built_class, record_of

TEXTS = load_texts("missing.en")


def test_the_message_names_person_id_and_file_in_order_of_name(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    records = [record_of(folder, student) for student in ("S02", "S01")]
    book = replace(load_book(folder), due_date="2027-03-04")
    lines = missing_message(records, book, TEXTS).splitlines()
    assert lines[0] == "Hello,"
    assert lines[2] == "these sheets of session 1 have not reached me yet, or did not open:"
    assert lines[4:6] == [
        f"- Ada Fen (S01): {records[1].file_name}",
        f"- Bo Heath (S02): {records[0].file_name}",
    ]
    assert lines[9] == "The sheets are due on 2027-03-04."
    assert lines[-1] == "Thank you"


def test_who_left_and_teachers_are_not_written_to(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    book = load_book(folder)
    changes = {"S01": {"status": "left"}, "S02": {"role": "teacher"}}
    people = tuple(replace(one, **changes.get(one.student_id, {})) for one in book.people)
    records = [record_of(folder, student) for student in ("S01", "S02")]
    assert missing_message(records, replace(book, people=people), TEXTS) == ""
    assert missing_message([], book, TEXTS) == ""


def test_somebody_not_in_the_class_book_is_named_by_id(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    record = record_of(folder, "S01")
    message = missing_message([record], replace(load_book(folder), people=()), TEXTS)
    assert f"- S01 (S01): {record.file_name}" in message


def test_the_file_goes_when_nobody_is_missing_any_more(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    book, record = load_book(folder), record_of(folder, "S01")
    assert write_missing(folder, 1, [record], book) == str(folder.missing(1))
    assert "Ada Fen" in folder.missing(1).read_text(encoding="utf-8")
    assert write_missing(folder, 1, [], book) == ""
    assert not folder.missing(1).exists()
    assert write_missing(ClassFolder(tmp_path / "none"), 1, [], book) == ""
