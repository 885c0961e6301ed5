"""`sheetgen new`: what it makes, and what it says of a roster or a folder that cannot be used."""

from pathlib import Path

import pytest

from sheetgen.flows.new import new_class
from sheetgen.flows.sources import load_book
from sheetgen.store import keep
from tests.classes import ROSTER, only_line, run

HEAD = "student_id,given_name,family_name\n"


def test_a_new_folder_holds_book_secret_scheme_and_returned(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    result = run("new", tmp_path / "class", "--roster", roster)
    assert (result.exit_code, result.stderr) == (0, "")
    made = sorted(path.relative_to(tmp_path / "class").as_posix() for path in (tmp_path / "class").rglob("*"))
    assert made == [
        "class.xlsx", "keep", "keep/marking.toml", "keep/secret.txt", "returned", "returned/session-1",
    ]  # fmt: skip


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
    (f"{HEAD}S01,Ada,Fen\n,Bo,Heath\n".encode(), ":3", ("no student_id", "one in every line", "Type")),
    (b"PK\x03\x04 and more", "", ("a workbook", "expected a CSV file", "Save it as CSV, UTF-8")),
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
