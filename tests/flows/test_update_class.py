"""`sheetgen new` on a class folder that is there: joiners, leavers, and what the teacher typed."""

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from sheetgen.errors import UsageError
from sheetgen.flows.class_book import drawn
from sheetgen.flows.new import update_class, wants_update
from sheetgen.flows.sources import load_book
from sheetgen.model.settings import ClassBook
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from tests.classes import ROSTER, built_class, changed_setting, only_line, record_of, run


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def roster(root: Path, *changes: tuple[str, str], more: str = "") -> Path:
    """The roster of the class, some of its text changed and lines added."""
    text = ROSTER
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = root / "newer.csv"
    path.write_text(text + more, encoding="utf-8")
    return path


def everything(folder: ClassFolder) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.root.rglob("*") if path.is_file()}


def redrawn(folder: ClassFolder, book: ClassBook) -> None:
    folder.book.write_bytes(drawn(folder, book)[1])


def pairs_in(folder: ClassFolder) -> list[tuple[str, str]]:
    return [(pair.measurer, pair.participant) for pair in load_book(folder).pairings]


def test_two_joiners_are_added_and_paired_and_the_change_is_told(folder: ClassFolder, tmp_path: Path) -> None:
    before = load_book(folder)
    newer = roster(tmp_path, more="S05,Ed,Reef,no\nS06,Flo,Tide,no\n")
    result = run("new", folder.root, "--roster", newer)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines() == [
        "2 joined, 0 left, 0 changed", "joined: S05 Ed Reef", "joined: S06 Flo Tide",
        "pair made: S05 measures S06", "pair made: S06 measures S05",
    ]  # fmt: skip
    book = load_book(folder)
    assert book.people[:4] == before.people
    assert pairs_in(folder)[4:] == [("S05", "S06"), ("S06", "S05")]
    assert replace(book, people=before.people, pairings=before.pairings) == before
    codes = [person.participant_code for person in book.people]
    assert len(set(codes)) == 6
    assert "" not in codes


def test_the_earlier_class_books_are_kept_and_the_same_roster_changes_nothing(
    folder: ClassFolder, tmp_path: Path
) -> None:
    first = folder.book.read_bytes()
    newer = roster(tmp_path, more="S05,Ed,Reef,no\nS06,Flo,Tide,no\n")
    run("new", folder.root, "--roster", newer)
    assert (folder.root / "class.kept-1.xlsx").read_bytes() == first
    before = everything(folder)
    result = run("new", folder.root, "--roster", newer)
    assert (result.exit_code, result.stdout) == (0, "0 joined, 0 left, 0 changed\n")
    assert everything(folder) == before


def test_a_leaver_is_marked_the_partner_is_named_and_nothing_is_taken_out(
    folder: ClassFolder, tmp_path: Path
) -> None:
    result = run("new", folder.root, "--roster", roster(tmp_path, ("S04,Di,Wold,no\n", "")))
    assert result.exit_code == 0
    assert result.stdout.splitlines() == [
        "0 joined, 1 left, 0 changed",
        "left: S04 Di Wold",
        "pair taken out: S03 measured S04",
        "pair taken out: S04 measured S03",
    ]
    assert result.stderr.splitlines() == ["S03 measures nobody yet. Type whom on the tab Pairs, then build."]
    assert [person.status for person in load_book(folder).people] == ["", "", "", "left"]
    built = run("build", folder.root, "--session", "2")
    assert built.exit_code == 0
    assert built.stderr.splitlines() == ["S03 measures nobody: no sheet. See the tab Pairs."]
    assert run("build", folder.root, "--student", "S04").exit_code == 2
    assert record_of(folder, "S04").participant_id == "S03"


def test_a_roster_is_read_by_the_wordings_of_the_class(folder: ClassFolder, tmp_path: Path) -> None:
    """The lighthouse calls its ids lamps; without that wording the roster has no ids."""
    newer = roster(tmp_path, ("student_id", "Lamp"))
    assert run("new", folder.root, "--roster", newer).exit_code == 2
    folder.roster_wording.write_text('[headings]\nstudent_id = ["Lamp"]\n', encoding="utf-8")
    second = run("new", tmp_path / "second", "--like", folder.root, "--roster", newer)
    assert (second.exit_code, run("new", folder.root, "--roster", newer).exit_code) == (0, 0)
    assert ClassFolder(tmp_path / "second").roster_wording.is_file()


def test_a_leaver_who_is_back_is_paired_again(folder: ClassFolder, tmp_path: Path) -> None:
    run("new", folder.root, "--roster", roster(tmp_path, ("S04,Di,Wold,no\n", "")))
    result = run("new", folder.root, "--roster", roster(tmp_path))
    assert result.stdout.splitlines() == [
        "0 joined, 0 left, 0 changed", "back: S04 Di Wold",
        "pair made: S03 measures S04", "pair made: S04 measures S03",
    ]  # fmt: skip
    assert [person.status for person in load_book(folder).people] == [""] * 4
    assert pairs_in(folder)[2:] == [("S03", "S04"), ("S04", "S03")]


def test_what_the_teacher_typed_stays_and_a_name_the_roster_changed_is_taken(
    folder: ClassFolder, tmp_path: Path
) -> None:
    changed_setting(folder, "Tolerance", 1)
    book = openpyxl.load_workbook(folder.book)
    for row in book["Roster"].iter_rows(min_row=6, max_row=9):
        cells = {book["Roster"].cell(5, cell.column).value: cell for cell in row}
        if row[0].value == "S01":
            cells["Given name"].value = "Adah"
            cells["Under 18"].value = "yes"
        if row[0].value == "S02":
            cells["Email"].value = "bo@lighthouse.example"
    book.save(folder.book)
    result = run("new", folder.root, "--roster", roster(tmp_path, ("Moor", "Muir")))
    assert result.stdout.splitlines() == [
        "0 joined, 0 left, 1 changed", "changed: S03 family_name: Moor, now Muir",
    ]  # fmt: skip
    ada, bo, cy, _ = load_book(folder).people
    assert (ada.given_name, ada.under_18) == ("Adah", "yes")
    assert (bo.email, cy.family_name) == ("bo@lighthouse.example", "Muir")
    assert load_book(folder).settings.tolerance == 1.0


def test_pairs_checks_and_wishes_that_were_typed_stay(folder: ClassFolder, tmp_path: Path) -> None:
    book = load_book(folder)
    people = (replace(book.people[0], partner="S02", apart=("S04",)), *book.people[1:])
    typed = replace(book, people=people, spare_sheets=1, due_date="2027-03-31", declared=(("S01", "S02"),))
    redrawn(folder, typed)
    update_class(folder, roster(tmp_path, more="S05,Ed,Reef,no\nS06,Flo,Tide,no\n"))
    now = load_book(folder)
    assert replace(now, people=now.people[:4], pairings=now.pairings[:4]) == typed


def test_faults_in_the_class_book_are_all_named_and_nothing_is_touched(
    folder: ClassFolder, tmp_path: Path
) -> None:
    book = openpyxl.load_workbook(folder.book)
    book["Class"]["B10"] = "two"
    book["Roster"]["A7"] = "S01"
    book.save(folder.book)
    before = everything(folder)
    result = run("new", folder.root, "--roster", roster(tmp_path, more="S05,Ed,Reef,no\n"))
    assert (result.exit_code, result.stdout) == (2, "")
    first, second = result.stderr.splitlines()
    assert f"{folder.book}:Class!B10: " in first
    assert f"{folder.book}:Roster!A7: " in second
    assert everything(folder) == before


def test_a_roster_that_cannot_be_used_touches_nothing(folder: ClassFolder, tmp_path: Path) -> None:
    before = everything(folder)
    assert run("new", folder.root, "--roster", tmp_path / "none.csv").exit_code == 2
    assert everything(folder) == before


# file that a spreadsheet program puts beside the class book
@pytest.mark.parametrize("name", (".~lock.class.xlsx#", "~$class.xlsx"))
def test_a_class_book_open_elsewhere_is_left_and_said_in_one_line(
    folder: ClassFolder, tmp_path: Path, name: str
) -> None:
    (folder.root / name).touch()
    before = everything(folder)
    result = run("new", folder.root, "--roster", roster(tmp_path, more="S05,Ed,Reef,no\nS06,Flo,Tide,no\n"))
    assert result.exit_code == 2
    assert only_line(result).startswith(
        f"sheetgen: {folder.book}: another program has it open ({name}); expected a class book that is open "
        "nowhere. Save and close it, then run the command again; nothing was changed."
    )
    assert everything(folder) == before


def test_a_line_of_the_roster_that_cannot_be_used_marks_nobody_as_having_left(
    folder: ClassFolder, tmp_path: Path
) -> None:
    result = run("new", folder.root, "--roster", roster(tmp_path, ("S04,Di", ",Di")))
    assert result.exit_code == 0
    assert result.stdout == "0 joined, 0 left, 0 changed\n"
    trouble, absent = result.stderr.splitlines()
    assert trouble.startswith(f"{tmp_path / 'newer.csv'}:5: ")
    assert trouble.endswith("(left out)")
    assert absent.startswith("S04: not on the roster, and not marked as having left, since a line of")
    assert run("new", folder.root, "--roster", roster(tmp_path)).stdout == "0 joined, 0 left, 0 changed\n"


def test_without_the_folder_keep_the_roster_is_still_brought_up_to_date(
    folder: ClassFolder, tmp_path: Path
) -> None:
    folder.roster.unlink()
    folder.secret.unlink()
    result = run("new", folder.root, "--roster", roster(tmp_path, ("S04,Di,Wold,no\n", "")))
    assert result.stdout.splitlines()[:2] == ["0 joined, 1 left, 0 changed", "left: S04 Di Wold"]
    assert keep.load_secret(folder) is None


def test_without_a_roster_a_class_folder_is_not_made_again(folder: ClassFolder) -> None:
    result = run("new", folder.root)
    assert result.exit_code == 2
    assert only_line(result) == (
        f"sheetgen: {folder.root}: a class folder already; expected --roster with a newer roster. Give the "
        "roster to bring it up to date. Change calipers, settings and protocols in the class book."
    )


def test_only_a_new_folder_takes_a_protocol_or_a_pattern(folder: ClassFolder, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"^--protocol: .* a class folder already; expected a new folder"):
        wants_update(folder.root, tmp_path / "r.csv", protocol=("four-sites",))
    with pytest.raises(UsageError, match=r"^--like: "):
        wants_update(folder.root, tmp_path / "r.csv", protocol=(), like=folder.root)
    assert not wants_update(tmp_path / "other", None)


def test_a_late_joiner_gets_a_sheet_and_no_other_is_touched(folder: ClassFolder, tmp_path: Path) -> None:
    update_class(folder, roster(tmp_path, more="S05,Ed,Reef,no\n"))
    assert pairs_in(folder)[4:] == []
    book = load_book(folder)
    lines = (("S05", "S01"), ("S01", "S05"))
    typed = [replace(book.pairings[0], measurer=one, participant=other) for one, other in lines]
    redrawn(folder, replace(book, pairings=(*book.pairings, *typed)))
    before = {path: path.read_bytes() for path in folder.sheets(1).rglob("*_*.xlsx")}
    result = run("build", folder.root, "--student", "S05")
    assert result.exit_code == 0
    assert result.stderr == (
        "S01 measures S05 and has no sheet for it in session 1: build it with --student S01.\n"
    )
    assert "1 written, 0 as they were" in result.stdout
    assert record_of(folder, "S05").participant_code == record_of(folder, "S02").participant_code
    partner = run("build", folder.root, "--student", "S01")
    assert "1 written, 1 as they were" in partner.stdout
    assert run("build", folder.root, "--student", "S05").stderr == ""
    now = {path: path.read_bytes() for path in folder.sheets(1).rglob("*_*.xlsx")}
    assert {path: now[path] for path in before} == before
    assert len(now) == len(before) + 2
