"""`sheetgen new`: what it makes, and what it says of a roster or a folder that cannot be used."""

from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.errors import FolderError
from sheetgen.flows.class_book import drawn
from sheetgen.flows.new import new_class
from sheetgen.flows.sources import load_book
from sheetgen.model.settings import Caliper, CaliperCheck
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.templates import templates_folder
from tests.classes import ROSTER, only_line, run

HEAD = "student_id,given_name,family_name\n"


def test_a_new_folder_holds_book_secret_scheme_launchers_and_returned(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    result = run("new", tmp_path / "class", "--roster", roster)
    assert (result.exit_code, result.stderr) == (0, "")
    made = sorted(path.relative_to(tmp_path / "class").as_posix() for path in (tmp_path / "class").rglob("*"))
    assert [name for name in made if not name.startswith("launchers/")] == [
        "class.xlsx", "keep", "keep/marking.toml", "keep/roster.json", "keep/secret.txt", "launchers",
        "returned", "returned/session-1",
    ]  # fmt: skip
    assert len([name for name in made if name.startswith("launchers/")]) == 10


def test_the_book_of_a_new_class_reads_back_with_pairs_in_roster_order(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    folder = new_class(tmp_path / "class", roster)
    book = load_book(folder)
    assert book.title == "class"
    assert book.class_code == keep.class_code(keep.load_secret(folder) or "")
    assert [(pair.measurer, pair.participant, pair.caliper_id) for pair in book.pairings] == [
        ("S01", "S02", "C1"),
        ("S02", "S01", "C1"),
        ("S03", "S04", "C1"),
        ("S04", "S03", "C1"),
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
        ("no such column among 'student_id', 'given_name'", "family_name", "Add the column family_name."),
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


def first_section(root: Path) -> ClassFolder:
    """A class with nothing as it comes."""
    root.mkdir()
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
        minors="none",
        due_date="2027-03-31",
        feedback_given="2027-04-02",
        declared=(("S01", "S02"),),
        checks=(CaliperCheck("C1", ((10.0, 10.2), (20.0, 20.0)), "2027-01-10", "the keeper"),),
        group_size=3,
        seconds_a_reading=60.0,
        spare_sheets=1,
    )
    folder.book.write_bytes(drawn(folder, changed)[1])
    scheme = folder.marking_scheme.read_text(encoding="utf-8")
    folder.marking_scheme.write_text("# ours\n" + scheme, encoding="utf-8")
    return folder


def test_the_next_section_takes_what_was_set_up_and_nothing_of_the_people(tmp_path: Path) -> None:
    first = first_section(tmp_path / "of")
    (tmp_path / "r.csv").write_text(f"{HEAD}Q1,Flo,Tide\nQ2,Gus,Buoy\nQ3,Hal,Mole\n", encoding="utf-8")
    result = run("new", tmp_path / "second", "--like", first.root, "--roster", tmp_path / "r.csv")
    assert (result.exit_code, result.stderr) == (0, "")
    folder = ClassFolder(tmp_path / "second")
    book, pattern = load_book(folder), load_book(first)
    assert book.settings == pattern.settings
    assert (book.checks, book.group_size) == (pattern.checks, 3)
    assert (book.seconds_a_reading, book.spare_sheets) == (60.0, 1)
    assert folder.marking_scheme.read_bytes() == first.marking_scheme.read_bytes()
    assert [path.name for path in folder.own_protocols.iterdir()] == ["own.toml"]
    assert [person.student_id for person in book.people] == ["Q1", "Q2", "Q3"]
    assert [(pair.measurer, pair.participant) for pair in book.pairings] == [
        ("Q1", "Q2"), ("Q2", "Q3"), ("Q3", "Q1"),
    ]  # fmt: skip
    assert (book.due_date, book.feedback_given, book.declared) == ("", "", ())
    assert (book.title, book.class_code != pattern.class_code) == ("second", True)
    assert keep.load_secret(folder) != keep.load_secret(first)


def test_that_nobody_is_under_18_is_not_taken_over_to_other_people(tmp_path: Path) -> None:
    folder = new_class(tmp_path / "second", like=first_section(tmp_path / "of").root)
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
