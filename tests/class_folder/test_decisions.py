from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.decisions import (
    DECISION_KINDS,
    Decision,
    append_decisions,
    forget_in_journal,
    ground_of,
    read_decisions,
)
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError

COMMENTS = (
    "plain",
    "",
    'two lines,\nwith "quotes", commas; and a \\n that is none',
    "=1+1",
    "-3",
    "@home\r\n",
    "café ≤ 2 mm",
    "\\",
)


def decision(sequence: int, value: str = "12") -> Decision:
    return Decision(sequence, 1, "K1", "comment", "", value, "a reason", "ab12", -1)


def journal_of(tmp_path: Path, *values: str) -> ClassFolder:
    folder = ClassFolder(tmp_path)
    append_decisions(folder, [decision(number, value) for number, value in enumerate(values, start=1)])
    return folder


def test_a_journal_that_is_not_there_is_empty(tmp_path: Path) -> None:
    journal = read_decisions(ClassFolder(tmp_path))
    assert (journal.decisions, journal.damaged, journal.last) == ((), (), 0)


def test_what_is_added_reads_back_letter_for_letter(tmp_path: Path) -> None:
    folder = journal_of(tmp_path, *COMMENTS)
    journal = read_decisions(folder)
    assert [one.value for one in journal.decisions] == list(COMMENTS)
    assert journal.decisions[0] == decision(1, "plain")
    assert journal.last == len(COMMENTS)


def test_every_decision_is_one_line_without_a_formula(tmp_path: Path) -> None:
    lines = journal_of(tmp_path, *COMMENTS).decisions.read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1 + len(COMMENTS)
    assert [cell for line in lines for cell in line.split(",") if cell.startswith(("=", "@", "+", "-"))] == []


def test_adding_changes_nothing_that_stands_there(tmp_path: Path) -> None:
    folder = journal_of(tmp_path, "one")
    before = folder.decisions.read_bytes()
    append_decisions(folder, [decision(2)])
    append_decisions(folder, [])
    assert folder.decisions.read_bytes().startswith(before)
    assert len(read_decisions(folder).decisions) == 2


DAMAGED = (
    "2,1,K1,comm",
    '2,1,K1,comment,,"open',
    "two,1,K1,comment,,x,,,0",
    "2,1,K1,praise,,x,,,0",
    "2,1,K1,comment,,x,,,0,more",
)


@pytest.mark.parametrize("line", DAMAGED)
def test_a_damaged_line_is_named_and_kept_and_the_others_read(tmp_path: Path, line: str) -> None:
    folder = journal_of(tmp_path, "one")
    with folder.decisions.open("a", encoding="utf-8") as stream:
        stream.write(line)
    append_decisions(folder, [decision(3, "three")])
    journal = read_decisions(folder)
    assert [one.value for one in journal.decisions] == ["one", "three"]
    assert journal.damaged == ((3, line),)
    assert line in folder.decisions.read_text(encoding="utf-8")


def test_a_journal_saved_by_a_spreadsheet_program_is_understood(tmp_path: Path) -> None:
    folder = journal_of(tmp_path, "one", "café")
    text = folder.decisions.read_text(encoding="utf-8").replace(",", ";").replace("\n", "\r\n")
    folder.decisions.write_bytes(text.encode("latin-1"))
    append_decisions(folder, [decision(3, "three")])
    journal = read_decisions(folder)
    assert [one.value for one in journal.decisions] == ["one", "café", "three"]
    assert journal.damaged == ()


def test_a_journal_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    folder.decisions.mkdir(parents=True)
    with pytest.raises(FolderError, match="cannot be written"):
        append_decisions(folder, [decision(1)])


def test_a_decision_says_as_little_as_it_must() -> None:
    one = Decision(1, 1, "K1", "mark", "", "12")
    assert (one.reason, one.ground, one.drawn) == ("", "", 0)
    assert one.kind in DECISION_KINDS


def test_what_is_forgotten_is_read_as_taken_back_and_every_other_byte_stays(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    lines = [
        Decision(1, 1, "K1", "comment", "", "well held"),
        Decision(2, 1, "K1", "comment", "", "forgotten"),
        Decision(3, 1, "K2", "correction", "mass_kg", "61", "misread", "g", 2),
    ]
    append_decisions(folder, lines)
    before = folder.decisions.read_bytes()

    def forgets(decision: Decision) -> tuple[str, ...]:
        return ("value", "reason") if decision.subject == "K2" and decision.value else ()

    assert (forget_in_journal(folder, forgets, False), folder.decisions.read_bytes()) == (1, before)
    assert (forget_in_journal(folder, forgets, True), forget_in_journal(folder, forgets, True)) == (1, 0)
    assert folder.decisions.read_bytes() == before.replace(b"61,misread", b"forgotten,forgotten")
    # The word that somebody typed is a word.
    assert read_decisions(folder).decisions == (*lines[:2], replace(lines[2], value="", reason=""))


def test_a_keyed_ground_is_another_one_in_another_class() -> None:
    grounds = {
        ground_of("answer_zero", "off by 3 mm", secret=secret) for secret in ("", "0a" * 32, "0b" * 32)
    }
    assert len(grounds) == 3
