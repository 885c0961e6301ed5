"""Spare sheets from hand-out to marks: for someone not on the roster, claimed on the tab Pairs or not."""

import csv
import json
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import drawn, load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord, Pairing, Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.read import ReadSummary, read_returned
from sheetgen.texts.templates import read_template
from tests.classes import attempts_in, built_class, filled_sheet, record_of, returned, run
from tests.wording import in_english

SPARES = ["spare-1", "spare-2", "spare-3"]
LIMBS = ["spare-limbs-1", "spare-limbs-2", "spare-limbs-3"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ClassFolder:
    """A class of four; what is for the printer is not drawn with the sheets of later builds."""
    folder = built_class(tmp_path / "class")
    monkeypatch.setattr("sheetgen.commands.build.write_handouts", lambda *_: ())
    return folder


def spares(folder: ClassFolder, session: int = 1) -> list[CopyRecord]:
    newest = [builds[-1] for builds in keep.load_records(folder).values()]
    found = [one for one in newest if one.session == session and not one.participant_id]
    return sorted(found, key=lambda one: one.student_id)


def spare_comes_back(folder: ClassFolder) -> CopyRecord:
    """The first spare sheet, filled in for someone who was not on the roster."""
    record = spares(folder)[0]
    data = (folder.spare(1) / record.file_name).read_bytes()
    returned(folder, "mine.xlsx", filled_sheet(folder, "spare-1", data=data))
    return record


def claim(folder: ClassFolder, code: str) -> None:
    """The teacher adds the person to the roster and types the copy code beside the pair."""
    book = load_book(folder)
    people = (*book.people, Person("S05", "Ed", "Reef", under_18="no"))
    pairs = (*book.pairings, Pairing("S05", "S01", "C1", spare=code))
    folder.book.write_bytes(drawn(folder, replace(book, people=people, pairings=pairs))[1])


def table(summary: ReadSummary, name: str) -> list[dict[str, str]]:
    with (Path(summary.results) / name).open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def test_three_lie_apart_on_record_each_with_codes_of_its_own(folder: ClassFolder) -> None:
    found = spares(folder)
    assert [one.student_id for one in found] == SPARES
    assert sorted(path.name for path in folder.spare(1).iterdir()) == [one.file_name for one in found]
    every = [builds[-1] for builds in keep.load_records(folder).values()]
    assert len({one.participant_code for one in every}) == 7
    assert {one.caliper_id for one in found} == {"C1"}


def with_a_minor(folder: ClassFolder, **settings: str) -> None:
    """S05 is under 18, and nobody else: so nobody is paired with them."""
    book = load_book(folder)
    people = (*book.people, Person("S05", "Ed", "Reef", under_18="yes"))
    changed = replace(book, people=people, settings=replace(book.settings, **settings))
    folder.book.write_bytes(drawn(folder, changed)[1])


def test_all_adults_get_all_sites_and_a_class_with_minors_both_kinds(folder: ClassFolder) -> None:
    def sites() -> dict[str, int]:
        layouts = {one.student_id: keep.load_layout(folder, one.layout_digest) for one in spares(folder)}
        texts = {name: layout.settings_text for name, layout in layouts.items() if layout is not None}
        return {name: len(json.loads(text)["protocol"]["sites"]) for name, text in texts.items()}

    assert sites() == dict.fromkeys(SPARES, 7)
    with_a_minor(folder)
    built = build_sheets(folder, 1)
    assert sites() == dict.fromkeys(SPARES, 7) | dict.fromkeys(LIMBS, 2)
    assert built.unpaired == (
        "S05 measures nobody, and nobody is left to pair with: no sheet. "
        "Name a participant for this person on the tab Pairs.",
    )
    assert [name.rpartition("_")[0] for name in built.spare] == [
        *(f"{name}_7-sites" for name in SPARES),
        *(f"{name}_triceps-thigh" for name in LIMBS),
    ]


def test_building_again_leaves_them_and_another_session_has_others(folder: ClassFolder) -> None:
    before = {path: path.read_bytes() for path in folder.spare(1).iterdir()}
    codes = {one.participant_code for one in spares(folder)}
    build_sheets(folder, 1)
    build_sheets(folder, 2)
    assert {path: path.read_bytes() for path in folder.spare(1).iterdir()} == before
    assert not codes & {one.participant_code for one in spares(folder, 2)}
    assert len(spares(folder, 2)) == 3


def test_how_many_is_a_setting_and_those_that_are_out_stay(folder: ClassFolder) -> None:
    book = load_book(folder)
    folder.book.write_bytes(drawn(folder, replace(book, spare_sheets=1))[1])
    assert build_sheets(folder, 1).spare == (spares(folder)[0].file_name,)
    assert len(spares(folder)) == 3
    build_sheets(folder, 2)
    assert len(spares(folder, 2)) == 1


def test_one_that_was_typed_into_is_named_and_kept(folder: ClassFolder) -> None:
    path = folder.spare(1) / spares(folder)[1].file_name
    path.write_bytes(path.read_bytes() + b"typed into")
    result = run("build", folder.root)
    assert [line.partition(": ")[0] for line in result.stderr.splitlines()] == [str(path)]
    assert path.read_bytes().endswith(b"typed into")


def test_a_protocol_without_a_limb_site_gives_no_spare_sheet_for_minors(folder: ClassFolder) -> None:
    own = folder.own_protocols / "trunk.toml"
    own.parent.mkdir()
    text = read_template("protocols/folds-only.toml").replace("trunk = false", "trunk = true")
    own.write_text(text.replace('identifier = "folds-only"', 'identifier = "trunk-only"'), encoding="utf-8")
    with_a_minor(folder, protocol_id="trunk-only", conversion="")
    summary = build_sheets(folder, 2)
    assert (len(summary.written), len(summary.spare)) == (4, 3)
    assert {note.partition(": ")[2] for note in summary.notes if "limb" in note} == {
        f"trunk-only for {name}, who counts as under 18; expected a protocol with at least one limb site. "
        "Choose another protocol for this pair on the tab Pairs."
        for name in LIMBS
    }


def test_a_spare_nobody_has_is_not_missing(folder: ClassFolder) -> None:
    summary = read_returned(folder, 1)
    assert [one.record.student_id for one in summary.missing] == ["S01", "S02", "S03", "S04"]


def test_one_that_comes_back_unclaimed_waits_for_the_teacher(folder: ClassFolder) -> None:
    record = spare_comes_back(folder)
    (attempt,) = attempts_in(folder)
    assert attempt.status == "review"
    assert [one.code for one in attempt.findings] == ["identity-spare-unclaimed"]
    assert in_english(attempt.findings)[0].found == f"spare-1, copy code {record.copy_code}"
    assert "type the copy code beside their pair on the tab Pairs" in in_english(attempt.findings)[0].remedy


def test_claimed_it_counts_for_the_claimer_under_the_participants_usual_code(folder: ClassFolder) -> None:
    record = spare_comes_back(folder)
    claim(folder, record.copy_code)
    summary = read_returned(folder, 1)
    (attempt,) = summary.attempts
    assert (attempt.status, attempt.findings) == ("accepted", ())
    usual = record_of(folder, "S02").participant_code
    (row,) = table(summary, "attempts.csv")
    assert (row["student_id"], row["participant_code"], row["copy_code"]) == ("S05", usual, record.copy_code)
    marks = {row["student_id"]: row["status"] for row in table(summary, "marks.csv")}
    assert marks["S05"] != "missing"
    assert marks["S01"] == "missing"
    assert [one.record.student_id for one in summary.missing] == ["S01", "S02", "S03", "S04"]


def test_a_pair_that_used_one_gets_its_own_sheet_in_the_next_session_only(folder: ClassFolder) -> None:
    claim(folder, spares(folder)[0].copy_code)
    assert build_sheets(folder, 1).written == ()
    summary = build_sheets(folder, 2)
    assert {name.partition("_")[0] for name in summary.written} == {"S01", "S02", "S03", "S04", "S05"}
    records = [one[-1] for one in keep.load_records(folder).values() if one[-1].session == 2]
    (own,) = (one for one in records if one.student_id == "S05")
    assert own.participant_code == record_of_session(folder, "S02", 1).participant_code


def record_of_session(folder: ClassFolder, student_id: str, session: int) -> CopyRecord:
    (record,) = (
        builds[-1]
        for builds in keep.load_records(folder).values()
        if builds[-1].student_id == student_id and builds[-1].session == session
    )
    return record


def test_a_code_that_is_no_spare_sheets_is_named_and_hijacks_nobodys_sheet(folder: ClassFolder) -> None:
    code = record_of(folder, "S03").copy_code
    claim(folder, code)
    result = run("build", folder.root)
    assert "5 written" not in result.stdout
    assert result.stderr.splitlines() == [
        f"{folder.book}: the pair of S05 claims {code}: no spare sheet on record; expected the copy code of "
        "a spare sheet. Correct it on the tab Pairs."
    ]
    returned(folder, "s.xlsx", filled_sheet(folder, "S03"))
    (attempt,) = attempts_in(folder)
    assert attempt.record is not None
    assert attempt.record.student_id == "S03"
