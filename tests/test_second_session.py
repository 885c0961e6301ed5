"""The second session: the same pairs with the same calipers, and no change score with another one."""

import io
import re
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import drawn, load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.commands.build import build_sheets
from sheetgen.commands.forget import forget_before
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.protocols.settings import Caliper
from sheetgen.workbook.packages import filled
from tests.classes import ROSTER, copied
from tests.reviews import typed

CALIPERS = (
    Caliper("C1", "spring caliper", 0.5, 60.0, 0.0),
    Caliper("C2", "spring caliper", 0.5, 60.0, 0.0),
    Caliper("C3", "spring caliper", 0.5, 60.0, 0.0),
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    tmp_path = tmp_path_factory.mktemp("made")
    (tmp_path / "r.csv").write_text(ROSTER, encoding="utf-8")
    folder = new_class(tmp_path / "class", tmp_path / "r.csv", calipers=CALIPERS, secret="0a" * 32)
    book = load_book(folder)
    calipers = {"S01": "C1", "S02": "C1", "S03": "C2", "S04": "C2"}
    pairs = tuple(replace(pair, caliper_id=calipers[pair.measurer]) for pair in book.pairings)
    folder.book.write_bytes(drawn(folder, replace(book, pairings=pairs))[1])
    for session in (1, 2):
        build_sheets(folder, session)
    return folder


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / "class")


def sheets_of(folder: ClassFolder, session: int) -> dict[str, CopyRecord]:
    newest = [builds[-1] for builds in keep.load_records(folder).values()]
    return {one.student_id: one for one in newest if one.session == session and one.participant_id}


def comes_back(folder: ClassFolder, session: int, student: str, caliper_id: str, more_mm: float) -> None:
    """A sheet with 12 mm at every site, or from 9 to 15 mm of S03, all of them more_mm higher."""
    record = sheets_of(folder, session)[student]
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    names = [cell.name for tab in layout.tabs for cell in tab.cells if cell.role == "entry"]
    rounds = [[name for name in names if name.startswith(f"reading_{number}_")] for number in (1, 2)]
    folds = range(9, 16) if student == "S03" else [12] * 7
    readings = {name: fold + more_mm for names in rounds for name, fold in zip(names, folds, strict=True)}
    person = {"age_years": 30, "sex_equation": "female", "mass_kg": 60, "zero_mm": 0, "side": "right"}
    entries = {"cautions_confirmed": "yes", "data_source": "measured", "caliper_id": caliper_id}
    data = (folder.sheets(session) / record.file_name).read_bytes()
    place = folder.returned(session) / record.file_name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(filled(data, layout, {**entries, **person, **readings}, None))


def test_the_same_pairs_have_the_same_calipers_filled_in(folder: ClassFolder) -> None:
    first, second = sheets_of(folder, 1), sheets_of(folder, 2)
    assert [first[student].caliper_id for student in ("S01", "S02", "S03", "S04")] == ["C1", "C1", "C2", "C2"]
    for student, record in second.items():
        assert record.caliper_id == first[student].caliper_id
        assert record.participant_code == first[student].participant_code
        data = (folder.sheets(2) / record.file_name).read_bytes()
        book = openpyxl.load_workbook(io.BytesIO(data))
        (place,) = book.defined_names["caliper_id"].destinations
        assert book[place[0]][place[1]].value == record.caliper_id


def test_another_caliper_in_the_second_session_refuses_the_change_score_in_words(folder: ClassFolder) -> None:
    for session, caliper_id, more in ((1, "C1", 0.0), (2, "C3", 1.0)):
        comes_back(folder, session, "S01", caliper_id, more)
        comes_back(folder, session, "S03", "C2", more)
    read_returned(folder, 1)
    summary = read_returned(folder, 2)
    codes = {
        attempt.record.student_id: {finding.code for finding in attempt.findings}
        for attempt in summary.attempts
        if attempt.record is not None
    }
    assert "procedure-other-caliper" in codes["S01"]
    assert "procedure-other-caliper" not in codes["S03"]
    tab = openpyxl.load_workbook(folder.report(2))["Over time"]
    lines = [[cell for cell in row if cell is not None] for row in tab.iter_rows(values_only=True)]
    second = sheets_of(folder, 2)
    other = next(line for line in lines if line[:1] == [second["S01"].participant_code])
    same = next(line for line in lines if line[:1] == [second["S03"].participant_code])
    assert other[1:] == ["no change score: another caliper: C1, then C3"]
    assert [round(float(str(number)), 6) for number in same[1:4]] == [84.0, 91.0, 7.0]


def tabs_of(path: Path) -> dict[str, list[tuple[object, ...]]]:
    return {tab.title: list(tab.values) for tab in openpyxl.load_workbook(path, read_only=True).worksheets}


def test_the_record_of_the_measurers_grows_and_outlives_their_files(
    folder: ClassFolder,
) -> None:
    """S01 and S03 twice, S02 once: a page from session 2 on, a block in their feedback, all of it after
    `forget`; what the teacher saw in session 1 still counts."""
    for session in (1, 2):
        comes_back(folder, session, "S01", "C1", session / 2)
        comes_back(folder, session, "S03", "C2", session / 2)
    comes_back(folder, 2, "S02", "C1", 0.5)
    read_returned(folder, 1, today="2027-03-31")
    typed(folder, "Observed", {("S01", "Asks first"): "yes", ("S01", "Signed off on"): "2027-04-01"})
    read_returned(folder, 1, today="2027-04-01")
    assert "Measurers" not in tabs_of(folder.report(1))
    read_returned(folder, 2, today="2027-04-07")
    page = tabs_of(folder.report(2))["Measurers"]
    codes = {one.participant_id: one.participant_code for one in sheets_of(folder, 2).values()}
    lines = [row for row in page if row[0] in codes.values()]
    assert [row[0] for row in lines] == [codes["S01"], codes["S03"]]
    # Seven sites after the code.
    assert all(re.fullmatch(r"1: \d+\.\d; 2: \d+\.\d", str(row[8])) for row in lines)
    assert "steps seen: 1 of 8. Signed off 2027-04-01." in str(lines[0][-1])
    (feedback,) = folder.feedback(2).glob("S01_*.xlsx")
    assert [row[0] for row in tabs_of(feedback)["Feedback"] if str(row[0]).startswith("Session ")] == [
        "Session 1",
        "Session 2",
    ]
    (once,) = folder.feedback(2).glob("S02_*.xlsx")
    assert not any(str(row[0]).startswith("Session ") for row in tabs_of(once)["Feedback"])
    kept = folder.measurers.read_bytes(), folder.observed.read_bytes()
    assert folder.observed.read_text(encoding="utf-8").splitlines()[1:] == ["1,S01,asks,2027-04-01"]
    forgotten = forget_before(folder, date(2027, 5, 1), write=True)
    assert "the measurers' record" in dict(forgotten.kept)["keep/"]
    read_returned(folder, 2, today="2027-05-02")
    assert (folder.measurers.read_bytes(), folder.observed.read_bytes()) == kept
    assert tabs_of(folder.report(2))["Measurers"] == page
