"""`sheetgen build`: the same sheets again, never a changed one over, and what is on record of each."""

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import drawn, load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.files import sha256_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands import build
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.workbook.layout import Value
from tests.classes import (
    PEOPLE,
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
from tests.typed_cells import Place, with_typed


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def bytes_in(root: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in root.iterdir() if path.is_file()}


def test_one_sheet_a_student_each_on_record_by_its_bytes(folder: ClassFolder) -> None:
    records = [builds[-1] for builds in keep.load_records(folder).values()]
    assert sorted(record.student_id for record in records) == [*PEOPLE, "spare-1", "spare-2", "spare-3"]
    files = bytes_in(folder.sheets(1)) | bytes_in(folder.spare(1))
    # What is for the printer lies beside them, and is nobody's sheet.
    assert {record.file_name: record.file_sha256 for record in records} == {
        name: sha256_of(data) for name, data in files.items() if "_" in name
    }


@pytest.mark.parametrize("lock", ("~$class.xlsx", ".~lock.class.xlsx#"))
def test_building_while_the_class_book_is_open_says_so(folder: ClassFolder, lock: str) -> None:
    assert not [note for note in build_sheets(folder, 1).notes if "has it open" in note]
    folder.book.with_name(lock).touch()
    assert build_sheets(folder, 1).notes[-1] == (
        f"{folder.book}: another program has it open ({lock} beside it); expected one that is saved and "
        "closed. What was typed and not saved yet is in no sheet: save it there, and build again."
    )


def test_a_caliper_added_after_the_pairs_is_at_work_once_their_lines_are_emptied(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("id,name\n" + "".join(f"S{one},Person {one}\n" for one in range(1, 7)))
    folder = ClassFolder(tmp_path / "class")
    run("new", folder.root, "--roster", tmp_path / "r.csv", "--minors", "none")
    for empty in (False, True):
        added = zip("ABCDEF", ("C2", "spring caliper", 0.5, 60, 0, "yes"), strict=True)
        typed_in_book(folder, "Calipers", {f"{column}7": value for column, value in added})
        lines = range(6, 12 if empty else 6)
        typed_in_book(folder, "Pairs", {f"{column}{line}": None for line in lines for column in "ACE"})
        result = run("build", folder.root)
        told = (
            "class.xlsx: on the tab Pairs nobody measures with C2. Where that is not meant, empty its lines"
        )
        assert (result.exit_code, told in result.stderr) == (0, not empty)
    assert {pairing.caliper_id for pairing in load_book(folder).pairings} == {"C1", "C2"}


def test_building_again_writes_nothing(folder: ClassFolder) -> None:
    before, on_record = bytes_in(folder.sheets(1)), folder.handed_out.read_bytes()
    times = {path: path.stat().st_mtime_ns for path in folder.sheets(1).iterdir()}
    result = run("build", folder.root)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "0 written, 4 as they were" in result.stdout
    assert bytes_in(folder.sheets(1)) == before
    assert {path: path.stat().st_mtime_ns for path in folder.sheets(1).iterdir()} == times
    assert folder.handed_out.read_bytes() == on_record


def test_a_sheet_changed_by_hand_is_never_rewritten_and_is_named(folder: ClassFolder) -> None:
    path = folder.sheets(1) / record_of(folder, "S02").file_name
    path.write_bytes(path.read_bytes() + b"typed into")
    changed_setting(folder, "Tolerance", 1)
    result = run("build", folder.root)
    assert result.exit_code == 0
    assert result.stderr.splitlines() == [
        f"{path}: found other bytes than were written; expected the sheet as built."
        " It was left as it is; move it away to have it built again."
    ]
    assert path.read_bytes().endswith(b"typed into")
    assert "3 written, 0 as they were" in result.stdout


def test_sheets_that_no_pair_asks_for_any_more_are_one_line_while_they_lie_there(
    folder: ClassFolder, tmp_path: Path
) -> None:
    newer = tmp_path / "newer.csv"
    newer.write_text("".join(line for line in ROSTER.splitlines(True) if "S02" not in line), encoding="utf-8")
    stale = [record_of(folder, student).file_name for student in ("S01", "S02")]
    run("new", folder.root, "--roster", newer)
    result = run("build", folder.root)
    alone = (
        "S01 measures nobody, and nobody is left to pair with: no sheet. "
        "Name a participant for this person on the tab Pairs."
    )
    named = (
        f"{folder.sheets(1)}: sheets that the class book does not ask for: {', '.join(sorted(stale))}; "
        "expected those of its pairs. Move them out of this folder and do not hand them out; "
        "one that is out can still be read."
    )
    assert result.stderr.splitlines() == [named, alone]
    for name in stale:
        (folder.sheets(1) / name).unlink()
    assert run("build", folder.root).stderr == f"{alone}\n"


def test_sheets_of_emptied_pairs_are_three_names_and_a_number(tmp_path: Path) -> None:
    """In a group of three everybody measured the next one; in twos, typed anew, nobody does any more."""
    (tmp_path / "r.csv").write_text("id,name\n" + "".join(f"S{one},Person {one}\n" for one in range(1, 7)))
    folder = ClassFolder(tmp_path / "class")
    run("new", folder.root, "--roster", tmp_path / "r.csv", "--minors", "none")
    run("build", folder.root)
    before = {(pair.participant, pair.measurer) for pair in load_book(folder).pairings}
    lines = enumerate(sorted(before), start=6)
    pairs = {f"{column}{line}": one for line, pair in lines for column, one in zip("AC", pair, strict=True)}
    typed_in_book(folder, "Pairs", pairs)
    result = run("build", folder.root)
    assert "6 written, 0 as they were" in result.stdout
    (line,) = (line for line in result.stderr.splitlines() if "does not ask for" in line)
    assert line.startswith(f"{folder.sheets(1)}: sheets that the class book does not ask for: S1_")
    assert " and 3 more; expected" in line
    assert len(list(folder.sheets(1).glob("S*.xlsx"))) == 12


def test_a_sheet_taken_away_is_built_again_the_same(folder: ClassFolder) -> None:
    path = folder.sheets(1) / record_of(folder, "S03").file_name
    data = path.read_bytes()
    path.unlink()
    summary = build_sheets(folder, 1)
    assert summary.written == (path.name,)
    assert path.read_bytes() == data


def test_other_settings_keep_the_copy_code_and_both_builds_on_record(folder: ClassFolder) -> None:
    before = record_of(folder, "S01")
    changed_setting(folder, "Site value", "closest-pair")
    build_sheets(folder, 1)
    builds = keep.load_records(folder)[before.copy_code]
    assert [build.layout_digest == before.layout_digest for build in builds] == [True, False]
    assert builds[0] == before
    assert keep.load_layout(folder, builds[0].layout_digest) != keep.load_layout(
        folder, builds[1].layout_digest
    )


def test_going_back_to_earlier_settings_gives_the_earlier_bytes(folder: ClassFolder) -> None:
    before = bytes_in(folder.sheets(1))
    for rule in ("closest-pair", "median"):
        changed_setting(folder, "Site value", rule)
        build_sheets(folder, 1)
    assert bytes_in(folder.sheets(1)) == before


def test_only_one_student_is_built(folder: ClassFolder) -> None:
    changed_setting(folder, "Tolerance", 1)
    result = run("build", folder.root, "--student", "S04")
    assert result.exit_code == 0
    assert "1 written, 0 as they were" in result.stdout


def test_an_id_typed_in_other_letters_is_the_one_on_record(folder: ClassFolder) -> None:
    """Upper and lower case make no other person: codes, sheets and marks stay."""

    def lowered(shown: Mapping[Place, str]) -> dict[Place, Value]:
        return {place: "s01" for place, text in shown.items() if text == "S01"}

    folder.book.write_bytes(with_typed(folder.book.read_bytes(), "Roster", lowered))
    code = record_of(folder, "S01").copy_code
    summary = build_sheets(folder, 1)
    assert (summary.written, len(summary.unchanged), summary.stale) == ((), 4, ())
    assert build_sheets(folder, 1, "s01").unchanged == (f"S01_{code}.xlsx",)
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    read = read_returned(folder, 1)
    assert [one.record and one.record.student_id for one in read.attempts] == ["S01"]
    assert [one.record.student_id for one in read.missing] == ["S02", "S03", "S04"]
    assert "\nS01,Ada,Fen," in folder.marks(1).read_text("utf-8-sig")


def test_an_unknown_student_gives_one_line(folder: ClassFolder) -> None:
    result = run("build", folder.root, "--student", "S99")
    assert result.exit_code == 2
    assert only_line(result) == (
        "sheetgen: --student S99: no such student_id in the roster; expected one of the roster."
        " Check the tab Roster."
    )


def test_another_session_has_sheets_and_codes_of_its_own(folder: ClassFolder) -> None:
    assert run("build", folder.root, "--session", "2").exit_code == 0
    every = [build for builds in keep.load_records(folder).values() for build in builds]
    records = [record for record in every if record.participant_id]
    assert sorted((record.session, record.student_id) for record in records) == [
        (session, student) for session in (1, 2) for student in PEOPLE
    ]
    assert len({record.copy_code for record in records}) == 8
    assert len({record.participant_code for record in every}) == 4 + 6
    codes = {(record.participant_id, record.participant_code) for record in records}
    assert len(codes) == 4


def test_who_is_on_record_keeps_the_participant_code(folder: ClassFolder) -> None:
    """Another person's code must not shift when people are added above them in the roster."""
    records = keep.load_records(folder)
    earlier = {
        code: [replace(build, participant_code=f"P-{build.participant_id}") for build in builds]
        for code, builds in records.items()
    }
    keep.save_records(folder, earlier)
    changed_setting(folder, "Tolerance", 1)
    build_sheets(folder, 1)
    assert {record_of(folder, student).participant_code for student in PEOPLE} == {
        f"P-{student}" for student in PEOPLE
    }


def test_an_empty_roster_gives_one_line(tmp_path: Path) -> None:
    assert run("new", tmp_path / "class").exit_code == 0
    result = run("build", tmp_path / "class")
    assert result.exit_code == 2
    assert "nobody measures anybody; expected at least two people on the tab Roster" in only_line(result)


# what stands at the path: kind, words of the message
NOT_A_CLASS = (
    ("nothing", "no such folder; expected a class folder, which holds class.xlsx. Check the name"),
    ("folder", "a folder without class.xlsx; expected a class folder"),
    ("file", "a file; expected a class folder, which holds class.xlsx. Name the folder of the class."),
)


@pytest.mark.parametrize("command", ("build", "read"))
@pytest.mark.parametrize(("kind", "words"), NOT_A_CLASS)
def test_a_folder_that_is_no_class_gives_one_line(
    tmp_path: Path, command: str, kind: str, words: str
) -> None:
    path = tmp_path / "class"
    if kind == "folder":
        path.mkdir()
    elif kind == "file":
        path.write_text("x")
    result = run(command, path)
    assert result.exit_code == 2
    assert only_line(result).startswith(f"sheetgen: {path}: {words}")


def test_a_class_book_that_is_no_workbook_gives_one_line(folder: ClassFolder) -> None:
    folder.book.write_bytes(b"hello")
    result = run("build", folder.root)
    assert result.exit_code == 2
    assert only_line(result).startswith(f"sheetgen: {folder.book}: ")


def test_faults_in_the_class_book_are_all_named_with_their_cell(folder: ClassFolder) -> None:
    typed_in_book(folder, "Class", {"B10": "two"})
    typed_in_book(folder, "Roster", {"A7": "S01"})
    result = run("build", folder.root)
    assert result.exit_code == 2
    first, second = result.stderr.splitlines()
    assert first.startswith(f"sheetgen: {folder.book}:Class!B10: ")
    assert second.startswith(f"sheetgen: {folder.book}:Roster!A7: ")


def test_a_record_that_is_damaged_stops_and_changes_nothing(folder: ClassFolder) -> None:
    before = bytes_in(folder.sheets(1))
    folder.handed_out.write_bytes(b"[{]")
    result = run("build", folder.root)
    assert result.exit_code == 2
    assert str(folder.handed_out) in only_line(result)
    assert bytes_in(folder.sheets(1)) == before


def test_without_its_secret_no_sheet_is_built_that_would_disown_those_that_are_out(
    folder: ClassFolder, tmp_path: Path
) -> None:
    before = bytes_in(folder.sheets(1))
    shutil.rmtree(folder.keep)
    line = only_line(run("build", folder.root))
    assert "secret.txt: nothing; expected the secret of the class A2BS8F." in line
    shutil.copytree(built_class(tmp_path / "other", secret="0b" * 32).keep, folder.keep)
    line = only_line(run("build", folder.root))
    assert "secret.txt: the secret of the class " in line
    assert bytes_in(folder.sheets(1)) == before


def test_sheets_that_are_as_they_would_be_written_come_back_on_record(folder: ClassFolder) -> None:
    """A second run at the same time, or a lost file, can take a record away."""
    before = keep.load_records(folder)
    folder.handed_out.unlink()
    summary = build_sheets(folder, 1)
    assert (len(summary.unchanged), summary.kept) == (4, ())
    assert keep.load_records(folder) == before


def test_what_another_run_puts_on_record_meanwhile_stays(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_folder = build.files.make_folder

    def meanwhile(path: Path, mode: int) -> None:
        make_folder(path, mode)
        monkeypatch.setattr(build.files, "make_folder", make_folder)
        build_sheets(folder, 2)

    monkeypatch.setattr(build.files, "make_folder", meanwhile)
    build_sheets(folder, 3)
    sessions = [one.session for builds in keep.load_records(folder).values() for one in builds]
    assert sorted(sessions) == [1] * 7 + [2] * 7 + [3] * 7


def test_progress_is_told_sheet_by_sheet(folder: ClassFolder) -> None:
    told: list[tuple[int, int]] = []
    build_sheets(folder, 1, progress=lambda done, total: told.append((done, total)))
    assert told == [(number, 7) for number in range(1, 8)]


def test_what_has_to_be_said_of_a_caliper_is_said_when_building(folder: ClassFolder) -> None:
    book = load_book(folder)
    calipers = (replace(book.settings.calipers[0], zero=3.0),)
    changed = replace(book, settings=replace(book.settings, calipers=calipers))
    folder.book.write_bytes(drawn(folder, changed)[1])
    (line,) = run("build", folder.root, "--session", "2").stderr.splitlines()
    assert line.startswith(f"{folder.book}:Calipers!")
    assert "caliper C1: zero 3 mm; expected at most 1 mm either way" in line


def test_nobodys_protection_is_lowered_unless_the_teacher_says_so(
    folder: ClassFolder, tmp_path: Path
) -> None:
    """Di is under 18. Then ids and names are sorted over standing columns, so that another line is."""
    young = tmp_path / "young.csv"
    young.write_text(ROSTER.replace("Wold,no", "Wold,yes").replace("Moor,no", "Moor,yes"), encoding="utf-8")
    folder = new_class(tmp_path / "young", young, secret="0a" * 32)
    build_sheets(folder, 1)
    before = bytes_in(folder.sheets(1))

    def turned(shown: Mapping[Place, str]) -> dict[Place, Value]:
        return {(row, column): shown[13 - row, column] for row in (5, 6, 7, 8) for column in (0, 1, 2)}

    folder.book.write_bytes(with_typed(folder.book.read_bytes(), "Roster", turned))
    result = run("build", folder.root)
    assert (result.exit_code, bytes_in(folder.sheets(1))) == (2, before)
    assert "S04, S03 counted as under 18 until now, and would not any more" in only_line(result)
    result = run("build", folder.root, "--roster-is-right")
    assert result.exit_code == 0
    assert "otherwise on the tab Roster than on the roster as it came in: under_18 of S04" in result.stderr
    assert run("build", folder.root).exit_code == 0


def test_adults_of_whom_the_roster_does_not_say_so_are_told_of_and_cured_in_one_step(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER.replace(",under_18", "").replace(",no", ""), encoding="utf-8")
    root = tmp_path / "class"
    said = "4 people count as under 18, since the roster does not say: their sheets leave out Chest, "
    for command in (("new", root, "--roster", roster), ("build", root), ("new", root, "--roster", roster)):
        assert run(*command).stderr.startswith(said)
    cured = run("new", root, "--minors", "none")
    assert (cured.exit_code, cured.stderr) == (0, "")
    assert load_book(ClassFolder(root)).minors == "none"
    built = run("build", root)
    assert built.exit_code == 0
    assert "4 written" in built.stdout
    assert said not in built.stderr
    # The spare sheets for people under 18 that lie there are named.
    named = built.stderr.partition("does not ask for: ")[2].partition("; expected")[0]
    assert [name.rpartition("/")[0] for name in named.split(", ")] == ["spare"] * 3
    at_once = run("new", tmp_path / "other", "--roster", roster, "--minors", "none")
    assert (at_once.exit_code, at_once.stderr) == (0, "")
