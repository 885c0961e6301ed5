"""`sheetgen new`: what it makes, and what it says of a roster or a folder that cannot be used."""

from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import drawn, load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class, update_class, wants_update
from sheetgen.errors import FolderError, UsageError
from sheetgen.protocols.settings import Caliper
from sheetgen.texts.templates import templates_folder
from tests.classes import (
    ROSTER,
    built_class,
    changed_setting,
    filled_sheet,
    only_line,
    record_of,
    returned,
    run,
    typed_in_book,
)

HEAD = "student_id,given_name,family_name\n"


def test_a_new_folder_holds_book_secret_scheme_launchers_and_returned(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    result = run("new", tmp_path / "class", "--roster", roster)
    assert (result.exit_code, result.stderr) == (0, "")
    made = sorted(path.relative_to(tmp_path / "class").as_posix() for path in (tmp_path / "class").rglob("*"))
    assert [name for name in made if not name.startswith("launchers/")] == [
        "class.xlsx", "keep", "keep/class-newest.txt", "keep/class-newest.xlsx", "keep/marking.toml",
        "keep/protection.json", "keep/roster.json", "keep/secret.txt", "launchers",
        "read-me-first.txt", "returned", "returned/session-1",
    ]  # fmt: skip
    assert len([name for name in made if name.startswith("launchers/")]) == 3 * 3 + 3 + 1


def test_the_book_of_a_new_class_reads_back_with_pairs_in_roster_order(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    folder = new_class(tmp_path / "class", roster)
    book = load_book(folder)
    assert book.title == "class"
    assert book.class_code == keep.class_code(keep.load_secret(folder) or "")
    assert [(pair.measurer, pair.participant, pair.caliper_id) for pair in book.pairings] == [
        ("S01", "S02", "C1"),
        ("S02", "S03", "C1"),
        ("S03", "S04", "C1"),
        ("S04", "S01", "C1"),
    ]


def test_a_class_in_the_folder_one_stands_in_is_named_after_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "evening").mkdir()
    monkeypatch.chdir(tmp_path / "evening")
    assert load_book(new_class(Path("."))).title == "evening"


def test_a_folder_name_longer_than_a_title_gives_a_book_that_can_be_used(tmp_path: Path) -> None:
    assert load_book(new_class(tmp_path / ("long" * 20))).title == "long" * 15


def test_the_same_secret_gives_the_same_class_book(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    books = [new_class(tmp_path / part / "class", roster, secret="ab" * 32).book for part in ("a", "b")]
    assert books[0].read_bytes() == books[1].read_bytes()


# bytes of the roster, line of the fault, words of the message
BAD_ROSTERS = (
    (b"", ":1", ("an empty file", "expected a line of headings", "Export the roster again.")),
    (HEAD.encode(), ":1", ("no people below the headings", "expected a line for each", "Export it again.")),
    (
        b"student_id,given_name\nS01,Ada\n",
        ":1",
        (
            "no such column among 'student_id', 'given_name'",
            "family_name",
            "Add the column family_name, or say",
        ),
    ),
    (
        f"{HEAD}S01,Ada,Fen\ns01,Bo,Heath\n".encode(),
        ":3",
        ("student_id 's01', which line 2 has too", "each id once", "Correct one of the two."),
    ),
    (b"%PDF-1.7", "", ("a PDF",)),
)


@pytest.mark.parametrize(("data", "line", "words"), BAD_ROSTERS)
def test_a_roster_that_cannot_be_used_gives_one_line_and_no_folder(
    tmp_path: Path, data: bytes, line: str, words: tuple[str, ...]
) -> None:
    roster = tmp_path / "r.csv"
    roster.write_bytes(data)
    result = run("new", tmp_path / "class", "--roster", roster)
    assert result.exit_code == 2
    said = only_line(result)
    assert said.startswith(f"sheetgen: {roster}{line}: ")
    assert [word for word in words if word not in said] == []
    assert not (tmp_path / "class").exists()


def test_a_roster_that_is_not_there_gives_one_line(tmp_path: Path) -> None:
    result = run("new", tmp_path / "class", "--roster", tmp_path / "none.csv")
    assert result.exit_code == 2
    assert "none.csv: it cannot be read" in only_line(result)


@pytest.mark.parametrize("encoding", ("utf-16", "cp1252"))
def test_a_roster_in_another_encoding_keeps_its_names(tmp_path: Path, encoding: str) -> None:
    roster = tmp_path / "r.csv"
    roster.write_bytes(f"{HEAD}S01,Zoë,Åse\nS02,Bo,Heath\n".encode(encoding))
    folder = new_class(tmp_path / "class", roster)
    person = load_book(folder).people[0]
    assert (person.given_name, person.family_name) == ("Zoë", "Åse")


def test_an_unknown_protocol_names_the_near_one(tmp_path: Path) -> None:
    result = run("new", tmp_path / "class", "--protocol", "seven-site")
    assert result.exit_code == 2
    said = only_line(result)
    assert "seven-site" in said
    assert "id you mean" in said
    assert "seven-sites" in said
    assert not (tmp_path / "class").exists()


def test_a_folder_that_holds_something_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "notes.txt").write_text("mine")
    result = run("new", tmp_path / "class")
    assert result.exit_code == 2
    assert only_line(result) == (
        f"sheetgen: {tmp_path / 'class'}: it holds something already; expected a new or empty folder."
        " Choose another name."
    )
    assert [path.name for path in (tmp_path / "class").iterdir()] == ["notes.txt"]


CALIPERS = (Caliper("C1", "dial caliper", 0.2, 80.0, -0.2), Caliper("C2", "old one", 0.5, 60.0, 0.5, False))


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """A class with nothing as it comes, to be taken as a pattern."""
    root = tmp_path_factory.mktemp("of")
    own = root / "own.toml"
    text = (templates_folder() / "protocols" / "folds-only.toml").read_text(encoding="utf-8")
    own.write_text(text.replace('identifier = "folds-only"', 'identifier = "our-own"'), encoding="utf-8")
    (root / "r.csv").write_text(ROSTER, encoding="utf-8")
    folder = new_class(root / "first", root / "r.csv", ("seven-sites", str(own)), CALIPERS)
    book = load_book(folder)
    settings = replace(book.settings, site_rule="closest-pair", tolerance=1.0, show_results="never")
    changed = replace(
        book,
        settings=settings,
        people=(*book.people, Person("T1", "Tea", "Cher", role="teacher")),
        minors="none",
        due_date="2027-03-31",
        feedback_given="2027-04-02",
        declared=(("S01", "S02"),),
        checks=(CaliperCheck("C1", ((10.0, 10.2), (20.0, 20.0)), "2027-01-10", "the keeper"),),
        group_size=4,
        seconds_a_reading=60.0,
        spare_sheets=1,
        lesson_minutes=45,
        marking_minutes=8.0,
        changing_minutes=4.0,
        teacher_measures=("S01",),
        circuit="fewest-turns",
        session_names=("week 3", "week 9"),
        make_ups=("3=1",),
    )
    folder.book.write_bytes(drawn(folder, changed)[1])
    scheme = folder.marking_scheme.read_text(encoding="utf-8")
    folder.marking_scheme.write_text("# ours\n" + scheme, encoding="utf-8")
    return folder


def test_the_next_section_takes_what_was_set_up_and_nothing_of_the_people(
    first: ClassFolder, tmp_path: Path
) -> None:
    before = everything(first)
    (tmp_path / "r.csv").write_text(f"{HEAD}Q1,Flo,Tide\nQ2,Gus,Buoy\nQ3,Hal,Mole\n", encoding="utf-8")
    result = run("new", tmp_path / "second", "--like", first.root, "--roster", tmp_path / "r.csv")
    assert result.exit_code == 0
    assert result.stderr.startswith("3 people count as under 18, since the roster does not say")
    folder = ClassFolder(tmp_path / "second")
    book, pattern = load_book(folder), load_book(first)
    assert book.settings == pattern.settings
    assert (book.checks, book.group_size) == (pattern.checks, 4)
    assert (book.seconds_a_reading, book.spare_sheets) == (60.0, 1)
    assert (book.lesson_minutes, book.marking_minutes, book.changing_minutes) == (45, 8.0, 4.0)
    assert (book.circuit, book.session_names) == ("fewest-turns", ("week 3", "week 9"))
    assert book.make_ups == ("3=1",)
    assert (pattern.teacher_measures, book.teacher_measures) == (("S01",), ())
    assert folder.marking_scheme.read_bytes() == first.marking_scheme.read_bytes()
    assert [path.name for path in folder.own_protocols.iterdir()] == ["own.toml"]
    assert [person.student_id for person in book.people] == ["Q1", "Q2", "Q3"]
    assert [(pair.measurer, pair.participant) for pair in book.pairings] == [
        ("Q1", "Q2"), ("Q2", "Q3"), ("Q3", "Q1"),
    ]  # fmt: skip
    assert (book.due_date, book.feedback_given, book.declared) == ("", "", ())
    assert (book.title, book.class_code != pattern.class_code) == ("second", True)
    assert keep.load_secret(folder) != keep.load_secret(first)
    assert everything(first) == before


def test_that_nobody_is_under_18_is_not_taken_over_to_other_people(
    first: ClassFolder, tmp_path: Path
) -> None:
    folder = new_class(tmp_path / "second", like=first.root)
    assert load_book(folder).minors == "some"


def test_a_folder_that_is_no_class_cannot_be_taken_as_a_pattern(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"no such folder; expected a class folder"):
        new_class(tmp_path / "second", like=tmp_path / "first")
    assert not (tmp_path / "second").exists()


def test_a_class_of_a_list_without_classes_cannot_be_chosen(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(ROSTER, encoding="utf-8")
    result = run("new", tmp_path / "class", "--roster", tmp_path / "r.csv", "--school-class", "Harbour")
    assert result.exit_code == 2
    assert "one list of people, so no class 'Harbour' to choose" in only_line(result)


def test_lines_of_a_roster_that_cannot_be_used_are_named_one_by_one(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text(f"{ROSTER},Flo,Tide,\n,Gus,Buoy,\n", encoding="utf-8")
    result = run("new", tmp_path / "class", "--roster", tmp_path / "r.csv")
    assert result.exit_code == 0
    assert [line.partition(": ")[0] for line in result.stderr.splitlines()] == [
        f"{tmp_path / 'r.csv'}:6", f"{tmp_path / 'r.csv'}:7",
    ]  # fmt: skip
    assert len(load_book(ClassFolder(tmp_path / "class")).people) == 4


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
    assert replace(book, people=before.people, pairings=before.pairings, drawings=before.drawings) == before
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
    assert built.stderr.splitlines() == [
        "S03 measures nobody, and nobody is left to pair with: no sheet. "
        "Name a participant for this person on the tab Pairs."
    ]
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
    assert replace(now, people=now.people[:4], pairings=now.pairings[:4], drawings=typed.drawings) == typed


def test_faults_in_the_class_book_are_all_named_and_nothing_is_touched(
    folder: ClassFolder, tmp_path: Path
) -> None:
    typed_in_book(folder, "Class", {"B10": "two"})
    typed_in_book(folder, "Roster", {"A7": "S01"})
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


def test_an_older_class_book_saved_over_a_newer_one_loses_nobody(folder: ClassFolder, tmp_path: Path) -> None:
    """A teacher has the class book open while a joiner is added, and saves it afterwards."""
    stale = folder.book.read_bytes()
    update_class(folder, roster(tmp_path, more="S05,Ed,Reef,no\nS06,Flo,Tide,no\n"))
    build_sheets(folder, 1)
    returned(folder, "ed.xlsx", filled_sheet(folder, "S05"))
    folder.book.write_bytes(stale)
    for command in (("build", folder.root), ("new", folder.root, "--minors", "none")):
        result = run(*command)
        assert result.exit_code == 2
        assert (
            "class.xlsx: an older class book, saved over a newer one; expected the one that was drawn last"
            in (only_line(result))
        )
    read = run("read", folder.root)
    assert read.exit_code == 0
    assert "class-newest.xlsx was used." in read.stderr
    assert "S05,Ed,Reef" in folder.marks(1).read_text(encoding="utf-8-sig")
    # Both ways out.
    folder.book.write_bytes(folder.newest_book.read_bytes())
    assert run("build", folder.root).exit_code == 0
    folder.book.write_bytes(stale)
    folder.newest_book.unlink()
    assert run("build", folder.root).exit_code == 0


def test_whoever_has_a_new_id_keeps_the_one_on_sheets_and_marks(folder: ClassFolder, tmp_path: Path) -> None:
    """S03 by email, S04 by name; Bo has another email than before, and is somebody else."""
    newer = tmp_path / "newer.csv"
    head = "student_id,given_name,family_name,email,under_18\n"
    emails = (
        "S01,Ada,Fen,,no\nS02,Bo,Heath,bo@one.example,no\nS03,Cy,Moor,cy@one.example,no\nS04,Di,Wold,,no\n"
    )
    newer.write_text(head + emails, encoding="utf-8")
    update_class(folder, newer)
    moved = (
        "S01,Ada,Fen,,no\nX2,Bo,Heath,bo@two.example,no\nX3,Cyril,Moor,CY@one.example,no\nX4,Di,Wold,,no\n"
    )
    newer.write_text(head + moved, encoding="utf-8")
    before = load_book(folder).pairings
    for _ in range(2):
        change = update_class(folder, newer)
        assert change.renamed == (("S03", "X3"), ("S04", "X4"))
        people = [person.student_id for person in change.book.people if person.status != "left"]
        assert people == ["S01", "S03", "S04", "X2"]
    assert [pair for pair in before if pair.measurer in ("S03", "S04")] == [
        pair for pair in load_book(folder).pairings if pair.measurer in ("S03", "S04")
    ]
    told = run("new", folder.root, "--roster", newer).stdout
    assert "kept: S03 Cyril Moor, whom the roster calls X3 now: S03 is on sheets and marks." in told


LAMPS = (
    ROSTER.replace("student_id", "Lamp no. 7")
    .replace("under_18", "under_18,Likes tea")
    .replace(",no", ",no,x")
)


def lamps(root: Path) -> Path:
    (root / "lamps.csv").write_text(LAMPS, encoding="utf-8")
    return root / "lamps.csv"


def test_an_unknown_heading_is_one_line_that_says_how_to_answer_it(tmp_path: Path) -> None:
    result = run("new", tmp_path / "class", "--roster", lamps(tmp_path))
    assert (result.exit_code, (tmp_path / "class").exists()) == (2, False)
    assert only_line(result).endswith('or say which heading it is: --heading "Lamp no. 7=student_id".')


def test_the_answer_works_at_the_first_try_and_is_kept_for_the_next_roster(tmp_path: Path) -> None:
    answer = ("--heading", "Lamp no. 7=student_id")
    result = run("new", tmp_path / "class", "--roster", lamps(tmp_path), *answer)
    assert (result.exit_code, result.stderr) == (0, "")
    root = tmp_path / "class"
    assert result.stdout.splitlines() == [
        "people: 4 students",
        "headings used: Lamp no. 7 (student_id), given_name, family_name, under_18",
        "headings not used: Likes tea",
        "count as under 18: nobody",
        f"{root / 'class.xlsx'}: the class book. Check its tabs Class, Calipers and Pairs, then: "
        f"sheetgen build {root}",
    ]
    kept = ClassFolder(root).roster_wording.read_text(encoding="utf-8")
    assert kept == '[headings]\nstudent_id = ["Lamp no. 7"]\n'
    assert run("new", root, "--roster", lamps(tmp_path)).stdout == "0 joined, 0 left, 0 changed\n"


def test_wordings_put_into_the_empty_folder_work_at_the_first_try(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path / "class")
    folder.keep.mkdir(parents=True)
    folder.roster_wording.write_text('[headings]\nstudent_id = ["Lamp no. 7"] # ours\n', encoding="utf-8")
    assert run("new", folder.root, "--roster", lamps(tmp_path)).exit_code == 0
    assert folder.roster_wording.read_text(encoding="utf-8").endswith("# ours\n")


@pytest.mark.parametrize("answer", ("Lamp", "=student_id", "Lamp=lamp_id"))
def test_an_answer_that_says_nothing_is_told_how(tmp_path: Path, answer: str) -> None:
    result = run("new", tmp_path / "class", "--roster", lamps(tmp_path), "--heading", answer)
    assert (result.exit_code, (tmp_path / "class").exists()) == (2, False)
    assert only_line(result).endswith('Write it like --heading "Lamp=student_id".')


def test_an_answer_without_a_roster(tmp_path: Path) -> None:
    result = run("new", tmp_path / "class", "--heading", "Lamp=student_id")
    assert (result.exit_code, only_line(result)) == (
        2, "sheetgen: --heading: no roster; expected --roster with the list that has this heading."
        " Give both.",
    )  # fmt: skip
