"""The class book drawn anew: equal, the last three kept, never over one that is open or newer."""

import os
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from sheetgen.errors import FolderError
from sheetgen.flows.build import build_sheets
from sheetgen.flows.class_book import coded, drawn, harvested, swapped_in
from sheetgen.flows.new import new_class, update_class
from sheetgen.flows.sources import load_book
from sheetgen.model.settings import ClassBook, Person
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from tests.classes import ROSTER, built_class, record_of, run
from tests.office.client import Office


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def without_pairs(folder: ClassFolder) -> None:
    """The teacher empties the last pair on the tab Pairs, and nothing stands in its place."""
    book = openpyxl.load_workbook(folder.book)
    rows = [row for row in book["Pairs"].iter_rows(min_row=6) if row[0].value in ("S03", "S04")]
    for row in rows:
        for cell in (row[0], row[2], row[4]):
            cell.value = None
    book.save(folder.book)


def kept(folder: ClassFolder) -> list[str]:
    return sorted(path.name for path in folder.root.glob("class.kept-*"))


def with_one_more(book: ClassBook) -> ClassBook:
    return replace(book, people=(*book.people, Person("S05", "Ed", "Reef")))


def test_a_book_that_was_not_typed_into_is_drawn_the_same(folder: ClassFolder) -> None:
    harvest = harvested(folder)
    book, data = drawn(folder, harvest.book)
    assert (book, data) == (harvest.book, folder.book.read_bytes())
    assert not harvest.added


def test_the_new_one_takes_its_place_and_the_last_three_are_kept(folder: ClassFolder) -> None:
    seen = [folder.book.read_bytes()]
    for number in range(4):
        harvest = harvested(folder)
        _, data = drawn(folder, replace(harvest.book, title=f"evening {number}"))
        assert swapped_in(folder, harvest, data) == ""
        seen.append(data)
    assert kept(folder) == ["class.kept-1.xlsx", "class.kept-2.xlsx", "class.kept-3.xlsx"]
    assert [(folder.root / name).read_bytes() for name in kept(folder)] == [seen[3], seen[2], seen[1]]
    assert folder.book.read_bytes() == seen[4]


def test_what_does_not_read_back_the_same_is_never_used(folder: ClassFolder) -> None:
    book = load_book(folder)
    lost = replace(book, people=(replace(book.people[0], given_name=" Ada "), *book.people[1:]))
    with pytest.raises(FolderError, match="does not read back as the same class book"):
        drawn(folder, lost)


def test_a_book_saved_meanwhile_is_left_as_it_is(folder: ClassFolder) -> None:
    harvest = harvested(folder)
    _, data = drawn(folder, with_one_more(harvest.book))
    without_pairs(folder)
    saved = folder.book.read_bytes()
    assert swapped_in(folder, harvest, data) == "it was saved meanwhile"
    assert (folder.book.read_bytes(), kept(folder)) == (saved, [])


def test_a_book_that_cannot_be_replaced_is_left_and_said_so(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some systems refuse to replace a file that another program has open."""
    harvest = harvested(folder)
    replaced = os.replace

    def refused(source: Path, target: Path) -> None:
        if Path(target) == folder.book:
            raise PermissionError(13, "Permission denied")
        replaced(source, target)

    monkeypatch.setattr(os, "replace", refused)
    data = drawn(folder, with_one_more(harvest.book))[1]
    before = folder.book.read_bytes()
    assert swapped_in(folder, harvest, data) == "it cannot be written: no right to write here"
    assert folder.book.read_bytes() == before


def test_pairs_made_when_building_are_written_into_the_book_once(folder: ClassFolder) -> None:
    without_pairs(folder)
    assert harvested(folder).added
    typed = folder.book.read_bytes()
    result = run("build", folder.root)
    assert (result.exit_code, result.stderr) == (0, "")
    assert (folder.root / "class.kept-1.xlsx").read_bytes() == typed
    tab = openpyxl.load_workbook(folder.book)["Pairs"]
    rows = list(tab.iter_rows(min_row=6, max_row=9, values_only=True))
    assert [(row[0], row[2], row[4]) for row in rows] == [
        ("S01", "S02", "C1"), ("S02", "S01", "C1"), ("S03", "S04", "C1"), ("S04", "S03", "C1"),
    ]  # fmt: skip
    now = folder.book.read_bytes()
    assert run("build", folder.root, "--session", "2").exit_code == 0
    assert (folder.book.read_bytes(), kept(folder)) == (now, ["class.kept-1.xlsx"])


def test_a_book_open_elsewhere_keeps_no_sheet_from_being_built(folder: ClassFolder) -> None:
    without_pairs(folder)
    (folder.root / ".~lock.class.xlsx#").touch()
    typed = folder.book.read_bytes()
    result = run("build", folder.root, "--session", "2")
    assert result.exit_code == 0
    assert "4 written" in result.stdout
    assert result.stderr.splitlines() == [
        f"{folder.book}: another program has it open (.~lock.class.xlsx#); expected a class book that can be "
        "drawn anew. The sheets are built; close the class book everywhere and build again, so that the "
        "pairs made now stand in it."
    ]
    assert folder.book.read_bytes() == typed


def test_everybody_keeps_the_code_on_a_sheet_and_new_people_get_one_that_is_free(folder: ClassFolder) -> None:
    secret = keep.load_secret(folder) or ""
    book = load_book(folder)
    shuffled = (Person("S00", "Al", "Aft"), *(replace(one, participant_code="") for one in book.people))
    people = coded(folder, replace(book, people=shuffled), secret).people
    assert people[1:] == book.people
    spare = {builds[-1].participant_code for builds in keep.load_records(folder).values()}
    assert people[0].participant_code not in spare


@pytest.mark.office
def test_a_book_saved_by_another_program_is_taken_over_whole(office: Office, tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(ROSTER, encoding="utf-8")
    folder = new_class(tmp_path / "class", tmp_path / "r.csv")
    before = load_book(folder)
    places = {
        cell.value: (cell.row - 1, cell.column - 1)
        for row in openpyxl.load_workbook(folder.book)["Roster"].iter_rows(min_row=5, max_row=6)
        for cell in row
    }
    with office.workbook(folder.book) as handle:
        row, _ = places["S01"]
        office.set(handle, [["Roster", row, places["Given name"][1], "Adah"]])
        office.save_as(handle, tmp_path / "saved.xlsx")
    folder.book.write_bytes((tmp_path / "saved.xlsx").read_bytes())
    ada = replace(before.people[0], given_name="Adah")
    assert load_book(folder) == replace(before, people=(ada, *before.people[1:]))
    (tmp_path / "r.csv").write_text(ROSTER + "S05,Ed,Reef,no\nS06,Flo,Tide,no\n", encoding="utf-8")
    update_class(folder, tmp_path / "r.csv")
    book = load_book(folder)
    assert book.people[:4] == (ada, *before.people[1:])
    assert [(one.measurer, one.participant) for one in book.pairings[4:]] == [("S05", "S06"), ("S06", "S05")]
    assert openpyxl.load_workbook(folder.book)["Roster"].protection.sheet
    build_sheets(folder, 1)
    assert record_of(folder, "S05").participant_id == "S06"
