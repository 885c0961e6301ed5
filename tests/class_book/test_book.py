"""The class book drawn anew: equal, the last three kept, never over one that is open or newer."""

import io
import os
import zipfile
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import (
    RosterChange,
    coded,
    delete_reminder,
    drawn,
    harvested,
    load_book,
    swapped_in,
    updated_book,
    without_leavers,
)
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import MOST_PEOPLE, ClassBook, Pairing, Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class, update_class
from sheetgen.errors import FolderError
from tests.classes import ROSTER, built_class, only_line, record_of, run
from tests.office.client import Office
from tests.sheets import SETTINGS


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


def of_the_longest(count: int) -> ClassBook:
    """People with the longest texts that a roster may bring, in signs of four bytes."""
    sign = "\U0001f4d0"
    people = [
        Person(
            f"{number:040}", sign * 60, sign * 60, sign * 120, sign * 40, under_18="no",
            participant_code=f"P-{number:04}",
        )
        for number in range(count)
    ]  # fmt: skip
    return ClassBook("CODE23", "Class", SETTINGS, tuple(people), ())


def test_the_largest_class_book_is_within_the_bounds_of_what_is_read_back(tmp_path: Path) -> None:
    """20 MiB a part and 40 MiB in all (guard); what 100 more people add is added 20 times."""
    folder = ClassFolder(tmp_path)

    def sizes(count: int) -> dict[str, int]:
        with zipfile.ZipFile(io.BytesIO(drawn(folder, of_the_longest(count))[1])) as archive:
            return {entry.filename: entry.file_size for entry in archive.infolist()}

    few, more = sizes(20), sizes(120)
    largest = {name: size + (MOST_PEOPLE - 20) * (more[name] - size) / 100 for name, size in few.items()}
    assert MOST_PEOPLE == 2_000
    assert max(largest.values()) < 20 * 1024**2
    assert sum(largest.values()) < 40 * 1024**2


def test_more_people_than_a_class_book_holds_are_refused_before_it_is_drawn(folder: ClassFolder) -> None:
    before = folder.book.read_bytes()
    book = ClassBook("CODE23", "Class", SETTINGS, (Person("S01", "Ada", "Fen"),) * 2_001, ())
    with pytest.raises(FolderError) as refusal:
        drawn(folder, book)
    assert str(refusal.value) == (
        f"{folder.book}: 2,001 people; expected at most 2,000, those who left too. "
        "Make a class folder for each section."
    )
    assert folder.book.read_bytes() == before


def test_a_class_book_that_grew_beyond_the_bounds_is_refused_in_one_line(folder: ClassFolder) -> None:
    with zipfile.ZipFile(folder.book, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/photo.bin", bytes(range(256)) * 90_000)
    line = only_line(run("build", folder.root))
    assert line.startswith(f"sheetgen: {folder.book}: 24,")
    assert line.endswith(
        "Take out pictures and pasted tables, or go back to the newest class.kept-1.xlsx beside it."
    )


def test_a_book_that_was_not_typed_into_is_drawn_the_same(folder: ClassFolder) -> None:
    """But for the number that says how often it was drawn."""
    harvest = harvested(folder)
    last = harvest.book.drawings
    folder.drawings.unlink()
    book, data = drawn(folder, replace(harvest.book, drawings=last - 1))
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


def test_a_huge_number_where_it_says_how_often_it_was_drawn_keeps_no_book_from_being_drawn(
    folder: ClassFolder,
) -> None:
    # 10,000,000,000,000,001 has 17 digits; a cell keeps 15 to 16 of them.
    book, _ = drawn(folder, replace(harvested(folder).book, drawings=10**16))
    assert book.drawings == 10**16 + 1


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
NEWER = (ADA, BO, CY, DI)
BOOK = ClassBook("7H33NK", "evening", SETTINGS, (*NEWER, KEEPER), PAIRS)


def test_a_joiner_stands_at_the_end_and_nothing_else_changes() -> None:
    new = Person("S05", "Ed", "Reef")
    change = updated_book(BOOK, (new, *NEWER), NEWER)
    assert change.joined == ("S05",)
    assert change.book == replace(BOOK, people=(*BOOK.people, new))
    assert (change.left, change.back, change.changed, change.only_here, change.unpaired) == ((),) * 5


def test_a_leaver_is_marked_and_keeps_the_line_and_the_pair_is_free() -> None:
    change = updated_book(BOOK, (ADA, BO, CY), NEWER)
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
    change = updated_book(replace(BOOK, people=(*BOOK.people, typed)), NEWER, NEWER)
    assert (change.left, change.only_here) == ((), ("S09",))
    assert change.book.people == (*BOOK.people, typed)


def test_without_the_roster_before_the_newer_one_holds() -> None:
    change = updated_book(BOOK, (ADA, replace(BO, family_name="Heather"), CY), None)
    assert change.left == ("S04",)
    assert change.changed == (("S02", "family_name", "Heath", "Heather"),)


def test_a_line_that_cannot_be_used_may_be_anybodys_so_nobody_has_left() -> None:
    change = updated_book(BOOK, (ADA, BO, CY), NEWER, complete=False)
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
    change = updated_book(BOOK, roster, NEWER)
    assert change.book.people == (ADA, replace(BO, under_18="yes"), CY, DI, KEEPER)
    assert change.doubts == ("S01",)


def test_nobody_is_measured_by_everybody_after_leaving() -> None:
    book = replace(BOOK, people=(ADA, replace(BO, status="left"), CY, DI), demonstration="S02")
    assert without_leavers(book) == replace(book, pairings=PAIRS[2:], demonstration="")
    change = updated_book(replace(BOOK, demonstration="S02"), (ADA, CY, DI), NEWER)
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
    change = updated_book(replace(BOOK, people=(ADA, typed, CY, DI)), (ADA, newer, CY, DI), NEWER)
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
    change = updated_book(book, (ADA, BO, CY), NEWER)
    assert (change.book, change.left, change.absent, change.unpaired) == (book, (), (), ())


def test_nothing_to_change_changes_nothing() -> None:
    change = updated_book(replace(BOOK, demonstration="S02"), NEWER, NEWER)
    assert change == RosterChange(replace(BOOK, demonstration="S02"), (), (), (), (), (), (), (), (), "", ())


def test_a_doubt_is_only_where_the_class_book_says_no() -> None:
    for typed, now, doubts in (("no", "yes", ("S02",)), ("no", "no", ()), ("", "yes", ()), ("yes", "no", ())):
        book = replace(BOOK, people=(ADA, replace(BO, under_18=typed), CY, DI))
        change = updated_book(book, (ADA, replace(BO, under_18=now), CY, DI), NEWER)
        assert (change.doubts, change.book.people[1].under_18) == (doubts, typed or now)


def test_delete_reminder_from_the_day_on_while_returned_files_are_there(tmp_path: Path) -> None:
    folder, book = (
        ClassFolder(tmp_path),
        replace(BOOK, settings=replace(BOOK.settings, delete_on="2027-07-31")),
    )
    assert delete_reminder(folder, book, "2027-08-01") == ""
    folder.returned(1).mkdir(parents=True)
    (folder.returned(1) / "one.xlsx").write_bytes(b"x")
    assert delete_reminder(folder, book, "2027-07-30") == ""
    assert (
        delete_reminder(folder, replace(book, settings=replace(book.settings, delete_on="")), "2027-07-31")
        == ""
    )
    assert delete_reminder(folder, book, "2027-07-31") == (
        f"{folder.book}: body values were to be deleted on 2027-07-31 (Delete on, tab Class); expected "
        f"no returned files any more. `sheetgen forget {tmp_path} --before 2027-07-31` says what would go."
    )
