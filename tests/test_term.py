"""A term: two calipers side by side, a session for those who missed one, names of sessions, the circuit."""

import io
import random
from collections import Counter
from pathlib import Path

import openpyxl
import pandas
import pytest

from sheetgen.class_book.book import load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.protocols.settings import Caliper
from sheetgen.workbook.packages import filled
from tests.classes import attempts_in, changed_setting, copied, only_line, run

CALIPERS = tuple(Caliper(f"C{number}", "spring caliper", 0.5, 60.0, 0.0) for number in (1, 2, 3))
STUDENTS = tuple(f"S{number:02}" for number in range(1, 7))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """Two threes: S01 to S03 with C1, S04 to S06 with C2."""
    tmp_path = tmp_path_factory.mktemp("made")
    lines = [f"{student},{student},Fen,no" for student in STUDENTS]
    roster = tmp_path / "r.csv"
    roster.write_text("\n".join(["student_id,given_name,family_name,under_18", *lines]), encoding="utf-8")
    return new_class(tmp_path / "class", roster, calipers=CALIPERS, secret="0a" * 32)


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / "class")


def newest(folder: ClassFolder, session: int) -> list[CopyRecord]:
    """Sheets of pairs, by measurer and exercise."""
    records = [builds[-1] for builds in keep.load_records(folder).values()]
    own = [one for one in records if one.session == session and one.participant_id]
    return sorted(own, key=lambda one: (one.student_id, one.exercise))


def comes_back(folder: ClassFolder, record: CopyRecord, more_mm: float = 0.0) -> None:
    """A complete sheet of folds of the participant's own, all of them more_mm higher; rounds differ by what
    the day brings, half a millimetre at most, on the way of a second caliper as in the circuit."""
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    dice, day = random.Random(record.participant_id), random.Random(f"{record.student_id} {record.session}")
    entries: dict[str, str | float | None] = {
        "cautions_confirmed": "yes", "data_source": "measured", "caliper_id": record.caliper_id,
        "age_years": 30, "sex_equation": "female", "mass_kg": 60, "zero_mm": 0, "side": "right",
    }  # fmt: skip
    sites = [
        cell.name.removeprefix("reading_1_")
        for tab in layout.tabs
        for cell in tab.cells
        if cell.role == "entry" and cell.name.startswith("reading_1_")
    ]
    for site in sites:
        fold = dice.randint(20, 50) / 2
        for number in (1, 2):
            entries[f"reading_{number}_{site}"] = fold + day.choice((-0.5, 0.0, 0.5)) + more_mm
    data = (folder.sheets(record.session) / record.file_name).read_bytes()
    folder.returned(record.session).mkdir(parents=True, exist_ok=True)
    place = folder.returned(record.session) / record.file_name
    place.write_bytes(filled(data, layout, entries, None))


def changes_in(folder: ClassFolder, session: int) -> list[float]:
    """The change of the sum of every participant, from the first table of the tab Over time."""
    page = openpyxl.load_workbook(folder.report(session), read_only=True)["Over time"]
    codes = {one.participant_code for one in load_book(folder).people}
    changes: dict[str, float] = {}
    for cells in page.iter_rows(values_only=True):
        row = [cell for cell in cells if cell is not None]
        if row and row[0] in codes:
            changes.setdefault(str(row[0]), float(str(row[3])))
    return list(changes.values())


def test_two_calipers_side_by_side_are_compared_and_only_the_circuit_is_marked(folder: ClassFolder) -> None:
    """Six people; C2 reads 0.5 and 1.5 mm higher in turn: mean 1.00, standard deviation 0.548, Student's t
    with 5 degrees of freedom 2.571: 2.571 x 0.548 / sqrt(6) = 0.57, so between 0.43 and 1.57."""
    done = run("build", folder.root, "--calipers", "C1,C2")
    assert done.exit_code == 0
    assert done.stdout.startswith(f"{folder.sheets(1)}: 12 written")
    sheets = newest(folder, 1)
    assert len({one.copy_code for one in sheets}) == 12
    assert [(one.student_id, one.caliper_id, one.exercise) for one in sheets[:2]] == [
        ("S01", "C1", "circuit"), ("S01", "C2", "second-caliper"),
    ]  # fmt: skip
    assert sheets[1].file_name == f"S01_second-caliper_{sheets[1].copy_code}.xlsx"
    for record in sheets:
        number = STUDENTS.index(record.participant_id)
        comes_back(folder, record, (0.5 + number % 2) * (record.caliper_id == "C2"))
    summary = read_returned(folder, 1, today="2027-03-05")
    assert [attempt.status for attempt in summary.attempts] == ["accepted"] * 12
    attempts = pandas.read_csv(folder.attempts(1))
    assert Counter(attempts["exercise"]) == {"circuit": 6, "second-caliper": 6}
    circuit = {one.copy_code for one in sheets if one.exercise == "circuit"}
    assert {one.stem.rpartition("_")[2] for one in folder.feedback(1).iterdir()} == circuit
    assert pandas.read_csv(folder.marks(1))["status"].tolist() == ["final"] * 6
    readings = pandas.read_csv(folder.readings(1))
    theirs = readings[~readings["copy_code"].isin(circuit)]
    assert set(zip(theirs["counts"], theirs["left_out_because"], strict=True)) == {("no", "second-caliper")}
    assert pandas.read_csv(folder.precision(1))["sheets"].tolist() == [6] * 7
    report = openpyxl.load_workbook(folder.report(1))
    names = [[cell.value for cell in row] for row in report["Codes and names"].iter_rows()]
    codes = [str(row[3]).split(", ") for row in names if row[1] == "S01"]
    assert [sorted(of_one) for of_one in codes] == [sorted(one.copy_code for one in sheets[:2])]
    page = report["How we measured"]
    said = [str(cell.value) for row in page.iter_rows() for cell in row if cell.value is not None]
    # All sites, and each of the seven.
    assert said.count("C2 reads 1.00 mm higher than C1 (between 0.43 and 1.57)") == 8
    assert [text for text in said if text.startswith("Springs press differently hard")] != []


def test_the_order_of_two_calipers_is_balanced_and_printed(folder: ClassFolder) -> None:
    build_sheets(folder, 1, calipers=["C2", "C1"])
    slips = openpyxl.load_workbook(folder.handouts(1))["Pair slips"]
    said = " ".join(str(cell.value) for row in slips.iter_rows() for cell in row if cell.value)
    assert (said.count("Two calipers: first C1"), said.count("Two calipers: first C2")) == (3, 3)
    handed = folder.hand_out(1).read_text(encoding="utf-8").splitlines()
    assert len(handed) == 1 + 12
    # Later builds leave the exercise as it is, and name it as nothing odd.
    again = build_sheets(folder, 1)
    assert (len(again.unchanged), again.stale) == (6, ())
    assert folder.hand_out(1).read_text(encoding="utf-8").splitlines() == handed


def test_calipers_that_cannot_be_compared_give_one_line(folder: ClassFolder) -> None:
    """One alone, one that is not there, the same twice, three, and two that no pair measures with."""
    for calipers in ("C1", "C1,C9", "C1,C1", "C3,C1,C2", "C3,C9"):
        done = run("build", folder.root, "--calipers", calipers)
        assert done.exit_code == 2
        assert f"--calipers {calipers}: nothing to compare; expected two calipers in" in only_line(done)


def test_a_second_sheet_is_not_waited_for(folder: ClassFolder) -> None:
    build_sheets(folder, 1, calipers=["C1", "C2"])
    for record in newest(folder, 1):
        if record.exercise == "circuit":
            comes_back(folder, record)
    assert read_returned(folder, 1, today="2027-03-05").missing == ()
    assert not folder.missing(1).exists()


def test_a_second_sheet_enters_no_comparison_over_time(folder: ClassFolder) -> None:
    build_sheets(folder, 1, calipers=["C1", "C2"])
    for record in newest(folder, 1):
        comes_back(folder, record, 9.0 * (record.exercise != "circuit"))
    build_sheets(folder, 2)
    for record in newest(folder, 2):
        comes_back(folder, record)
    read_returned(folder, 2, today="2027-03-05")
    changes = changes_in(folder, 2)
    # Seven sites, and 9 mm at each would be 63.
    assert (len(changes), max(map(abs, changes)) < 7) == (6, True)


def test_a_make_up_session_is_for_those_who_missed_and_counts_as_the_one_they_missed(
    folder: ClassFolder,
) -> None:
    """S05 and S06 miss session 1 and make it up in session 2; in session 3 everybody has a change."""
    changed_setting(folder, "Make-up sessions", "2=1")
    changed_setting(folder, "Names of sessions", "week 3; again; week 9")
    done = run("build", folder.root, "--session", "2")
    assert "session 1, not read yet" in only_line(done)
    build_sheets(folder, 1)
    for record in newest(folder, 1)[:4]:
        comes_back(folder, record)
    read_returned(folder, 1, today="2027-03-05")
    missing = folder.missing(1).read_text(encoding="utf-8")
    assert "your sheet of session 1 (week 3) (S05_" in missing
    built = build_sheets(folder, 2)
    assert "session 2 is for those who missed session 1: 2" in built.notes
    assert [one.student_id for one in newest(folder, 2)] == ["S05", "S06"]
    run_sheet = openpyxl.load_workbook(folder.handouts(2))["Run sheet"]
    assert run_sheet["A1"].value == "Run sheet for whoever takes the lesson, session 2 (again)"
    assert "Measurements: 2." in " ".join(str(row[1].value) for row in run_sheet.iter_rows())
    for record in newest(folder, 2):
        comes_back(folder, record)
    read_returned(folder, 2, today="2027-03-12")
    assert "Over time" not in openpyxl.load_workbook(folder.report(2)).sheetnames
    assert pandas.read_csv(folder.marks(2))["status"].value_counts().to_dict() == {
        "final": 2,
        "missing": 4,
    }
    build_sheets(folder, 3)
    for record in newest(folder, 3):
        comes_back(folder, record, 1.0)
    read_returned(folder, 3, today="2027-04-20")
    changes = changes_in(folder, 3)
    # 1 mm more at each of seven sites, and what the day brings.
    assert (len(changes), max(abs(change - 7.0) for change in changes) < 7) == (6, True)


def test_a_make_up_session_that_nobody_needs_gives_one_line(folder: ClassFolder) -> None:
    changed_setting(folder, "Make-up sessions", "2=1")
    build_sheets(folder, 1)
    for record in newest(folder, 1):
        comes_back(folder, record)
    read_returned(folder, 1, today="2027-03-05")
    assert "session 1, which nobody missed" in only_line(run("build", folder.root, "--session", "2"))


def test_the_order_that_turns_the_participant_least_is_on_new_sheets_alone(folder: ClassFolder) -> None:
    """Sheets that are out are read by their own Layout."""
    build_sheets(folder, 1)
    before = newest(folder, 1)[0]
    comes_back(folder, before)
    changed_setting(folder, "Order of the sites", "fewest-turns")
    build_sheets(folder, 2)
    after = newest(folder, 2)[0]

    def circuit(record: CopyRecord) -> list[str]:
        book = openpyxl.load_workbook(
            io.BytesIO((folder.sheets(record.session) / record.file_name).read_bytes())
        )
        places = {name: next(iter(book.defined_names[name].destinations))[1] for name in book.defined_names}
        rows = {
            name.removeprefix("reading_1_"): int(place.rpartition("$")[2])
            for name, place in places.items()
            if name.startswith("reading_1_")
        }
        return sorted(rows, key=rows.__getitem__)

    assert circuit(before)[:3] == ["chest", "midaxillary", "triceps"]
    assert circuit(after) == [
        "chest", "abdominal", "thigh", "midaxillary", "suprailiac", "triceps", "subscapular",
    ]  # fmt: skip
    assert [one.status for one in attempts_in(folder, today="2027-03-05")] == ["accepted"]


def test_the_teacher_measures_in_one_setting(folder: ClassFolder) -> None:
    """Nobody on the roster is a teacher: one is made, with pairs and sheets, and stands beside the waves."""
    changed_setting(folder, "The teacher measures", "S02; S05")
    build_sheets(folder, 1)
    of_teacher = [one for one in newest(folder, 1) if one.student_id == "teacher"]
    assert {(one.participant_id, one.caliper_id) for one in of_teacher} == {("S02", "C1"), ("S05", "C2")}
    book = load_book(folder)
    assert [one.role for one in book.people if one.student_id == "teacher"] == ["teacher"]
    assert book.teacher_measures == ("S02", "S05")
    stations = openpyxl.load_workbook(folder.handouts(1))["Stations"]
    rows = [[cell.value for cell in row] for row in stations.iter_rows()]
    assert [row[:2] for row in rows if row[5] == "teacher"] == [["C1", "besides"], ["C2", "besides"]]
    again = build_sheets(folder, 1)
    assert (again.written, len(again.unchanged)) == ((), 8)
