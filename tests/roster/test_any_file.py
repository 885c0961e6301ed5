"""Rosters from whatever a school system gives."""

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder.records import Person
from sheetgen.errors import RosterError
from sheetgen.roster.any_file import load_roster
from tests.oneroster_samples import CLASS_TITLE, SAMPLES, zipped


def workbook(tmp_path: Path, **tabs: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in tabs.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "roster.xlsx"
    book.save(path)
    return path


def test_a_workbook_gives_the_first_tab_with_headings(tmp_path: Path) -> None:
    """Numbers stay as they look, a date is never read, and a note beside the table does no harm."""
    people = [
        ["Measuring by lamplight"],
        [],
        ["Number", "Surname", "First name", "Under 18", "Date of birth"],
        [7, "Fen", "Ada", True, date(2011, 2, 3)],
        ["007", "Ríos", "Bo", "no", date(2001, 2, 3), "came late"],
        [],
        ["Total", 2],
    ]
    path = workbook(tmp_path, Cover=[["About this list"]], People=people)
    roster = load_roster(path)
    assert roster.people == (
        Person("7", "Ada", "Fen", under_18="yes"),
        Person("007", "Bo", "Ríos", under_18="no"),
    )
    assert roster.source.startswith("workbook, tab 'People'; headings in line 3: student_id from 'Number'")
    assert [(one.line, one.found) for one in roster.troubles] == [
        (7, "a row that counts the others, 'Total'")
    ]


def test_a_workbook_whose_ids_have_lost_digits(tmp_path: Path) -> None:
    path = workbook(tmp_path, A=[["id", "name"], [1234567890123450, "Ada Fen"]])
    roster = load_roster(path)
    assert [(one.line, one.found) for one in roster.troubles] == [
        (2, "the number 1234567890123450, of which 15 digits are kept")
    ]


def test_a_workbook_with_faults_names_tab_and_row(tmp_path: Path) -> None:
    path = workbook(tmp_path, A=[["id", "name"], [1, "Ada Fen"], [1, "Bo Heath"]])
    with pytest.raises(RosterError) as caught:
        load_roster(path)
    assert caught.value.place == f"{path}:A:3"


def test_a_workbook_with_nothing_in_it_or_too_much(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match="no tab with anything in it"):
        load_roster(workbook(tmp_path, A=[[]]))
    far = [["id", "name"], *[[]] * 4_998, ["1", "Ada Fen"]]
    with pytest.raises(RosterError, match="people beyond row 4,999"):
        load_roster(workbook(tmp_path, A=far))


@pytest.mark.parametrize("version", ["1.1", "1.2"])
def test_a_oneroster_zip_is_known_by_its_contents(tmp_path: Path, version: str) -> None:
    copy = tmp_path / "download"
    copy.write_bytes((SAMPLES / f"oneroster-{version}.zip").read_bytes())
    assert len(load_roster(copy, CLASS_TITLE).people) == 6


def test_csv_with_the_wordings_of_a_teacher(tmp_path: Path) -> None:
    (tmp_path / "words.toml").write_text('[headings]\nstudent_id = ["Lamp"]\n', encoding="utf-8")
    (tmp_path / "r.csv").write_text("Lamp,Name\n07,Ada Fen\n", encoding="utf-8")
    assert load_roster(tmp_path / "r.csv", wording=tmp_path / "words.toml").people == (
        Person("07", "Ada", "Fen"),
    )


def test_a_class_cannot_be_chosen_from_one_list(tmp_path: Path) -> None:
    (tmp_path / "r.csv").write_text("id,name\n07,Ada Fen\n", encoding="utf-8")
    with pytest.raises(RosterError, match="Leave --school-class out"):
        load_roster(tmp_path / "r.csv", "Lamps")


ODS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>
<table:table table:name="People">
<table:table-row><table:table-cell office:value-type="string"><text:p>id</text:p></table:table-cell>
<table:table-cell office:value-type="string"><text:p>name</text:p></table:table-cell></table:table-row>
<table:table-row>
<table:table-cell office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell>
<table:table-cell office:value-type="string"><text:p>Fen, Ada</text:p></table:table-cell></table:table-row>
</table:table></office:spreadsheet></office:body></office:document-content>"""


def test_an_opendocument_spreadsheet_is_read_like_a_workbook(tmp_path: Path) -> None:
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    (tmp_path / "r.ods").write_bytes(zipped({"mimetype": kind, "content.xml": ODS.encode()}))
    assert load_roster(tmp_path / "r.ods").people == (Person("7", "Ada", "Fen"),)


OTHERS = [
    # name, bytes, what the message says
    ("r.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "a workbook; .*Save it as CSV"),
    ("r.pdf", b"%PDF-1.7\n", "a PDF; .*Save it as CSV"),
    ("r.xls", b"<html><table>", "a web page or XML; .*Save it as CSV"),
    ("r.zip", zipped({"notes.txt": b"x"}), "holds no workbook"),
    ("r.zip", b"PK\x03\x04" + bytes(40), "damaged"),
    ("r.csv", b"", "an empty file"),
    ("r.csv", bytes(100), "no such column"),
]


@pytest.mark.parametrize(("name", "data", "message"), OTHERS)
def test_other_files_are_refused_in_a_sentence(tmp_path: Path, name: str, data: bytes, message: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(RosterError, match=message):
        load_roster(tmp_path / name)


def test_a_roster_that_is_not_there_or_a_folder_of_something_else(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match="it cannot be read"):
        load_roster(tmp_path / "gone.csv")
    with pytest.raises(RosterError, match=r"no users\.csv in it"):
        load_roster(tmp_path)


NAMES = [
    ["Id", "First name", "Last name", "Group", "Under 18"],
    ["0004", "Null", "None", "NA", "no"],
    ["0005", "Nan", "True", "N/A", "no"],
    ["0006", "Ada", "Null", "NULL", "yes"],
    [7, "NaN", "Fen", "None", "no"],
]
"""People are called so, and no word of theirs is a missing value; ids keep their zeros."""
FOUND = [
    ("0004", "Null", "None", "NA"),
    ("0005", "Nan", "True", "N/A"),
    ("0006", "Ada", "Null", "NULL"),
    ("7", "NaN", "Fen", "None"),
]


def people_of(path: Path) -> list[tuple[str, str, str, str]]:
    roster = load_roster(path)
    assert roster.troubles == ()
    return [(each.student_id, each.given_name, each.family_name, each.group) for each in roster.people]


def test_no_name_is_taken_for_a_missing_value(tmp_path: Path) -> None:
    assert people_of(workbook(tmp_path, Notes=[["read me"]], People=NAMES)) == FOUND


def test_a_workbook_in_the_old_binary_format_is_read_like_the_others() -> None:
    """The same people as above, saved as .xls by a spreadsheet program."""
    assert people_of(Path(__file__).with_name("names.xls")) == FOUND


def test_a_cut_off_workbook_in_the_old_format_is_refused_in_a_sentence(tmp_path: Path) -> None:
    data = Path(__file__).with_name("names.xls").read_bytes()
    for size in (600, 2000, len(data) // 2):
        (tmp_path / "r.xls").write_bytes(data[:size])
        with pytest.raises(RosterError, match="Save it as CSV"):
            load_roster(tmp_path / "r.xls")
