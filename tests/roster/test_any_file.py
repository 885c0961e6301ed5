"""Rosters from whatever a school system gives."""

import csv
import io
import unicodedata
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.class_folder.records import Person
from sheetgen.errors import RosterError
from sheetgen.roster.any_file import load_roster
from sheetgen.roster.people import roster_error
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


HEADINGS = "student_id,given_name,family_name\n"


def read_roster(path: Path) -> tuple[Person, ...]:
    """The people of a roster that holds no trouble at all; any trouble is raised."""
    roster = load_roster(path)
    if roster.troubles:
        raise roster_error(path, roster.troubles)
    return roster.people


def read(tmp_path: Path, data: bytes) -> tuple[Person, ...]:
    path = tmp_path / "roster.csv"
    path.write_bytes(data)
    return read_roster(path)


def faults(tmp_path: Path, text: str) -> list[str]:
    """The lines of the error, from the file's name on."""
    with pytest.raises(RosterError) as caught:
        read(tmp_path, text.encode("utf-8"))
    return str(caught.value).replace(str(tmp_path / "roster.csv"), "roster.csv").splitlines()


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_read_roster_in_every_encoding(tmp_path: Path, delimiter: str, encoding: str, line_end: str) -> None:
    text = "student_id,given_name,family_name,group\n007,Zoë,Müller,a\n08,Bo,Ek,b\n"
    data = text.replace(",", delimiter).replace("\n", line_end).encode(encoding)
    assert read(tmp_path, data) == (
        Person("007", "Zoë", "Müller", group="a"),
        Person("08", "Bo", "Ek", group="b"),
    )


def test_read_roster_with_every_column_in_another_order(tmp_path: Path) -> None:
    text = (
        "Role, E-mail ,FAMILY NAME,unused,Given_Name,Student ID,Group,Under 18\n"
        "Teacher,a@b.example,Ek,x,Bo,t1,,no\n"
    )
    expected = Person("t1", "Bo", "Ek", "a@b.example", "", "teacher", under_18="no")
    assert read(tmp_path, text.encode()) == (expected,)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("yes", "Y", "TRUE", "1", " Yes "), "yes"),
        (("no", "N", "False", "0", "NO "), "no"),
        (("", " "), ""),
    ],
)
def test_read_roster_with_under_18_in_several_words(
    tmp_path: Path, words: tuple[str, ...], expected: str
) -> None:
    lines = "".join(f"{number},A,B,{word}\n" for number, word in enumerate(words))
    people = read(tmp_path, f"student_id,given_name,family_name,under_18\n{lines}".encode())
    assert [person.under_18 for person in people] == [expected] * len(words)


def test_read_roster_joins_accents_and_strips_blanks(tmp_path: Path) -> None:
    name = unicodedata.normalize("NFD", "Zoë")
    assert read(tmp_path, f"{HEADINGS} 1 ,\u00a0{name} ,\n".encode()) == (Person("1", "Zoë", ""),)


def test_read_roster_passes_over_empty_lines_and_an_announced_delimiter(tmp_path: Path) -> None:
    text = "sep=;\n\nstudent_id;given_name;family_name\n;;\n1;Bo;Ek\n\n"
    assert read(tmp_path, text.encode()) == (Person("1", "Bo", "Ek"),)


def test_read_roster_takes_a_separating_mark_in_quotes(tmp_path: Path) -> None:
    assert read(tmp_path, f'{HEADINGS}1,"Bo, ""B""",Ek\n'.encode()) == (Person("1", 'Bo, "B"', "Ek"),)


def test_read_roster_of_as_many_people_as_a_class_may_have(tmp_path: Path) -> None:
    text = HEADINGS + "".join(f"{number},A,B\n" for number in range(2_000))
    assert len(read(tmp_path, text.encode())) == 2_000


CASES = [
    # text, the lines of the error
    ("", ["roster.csv:1: an empty file; expected a line of headings. Export the roster again."]),
    (HEADINGS, ["roster.csv:1: no people below the headings; expected a line for each. Export it again."]),
    (
        "student_id,given_name\n1,A\n",
        [
            "roster.csv:1: no such column among 'student_id', 'given_name'; "
            "expected one with the heading family_name. Add the column family_name, or say which heading "
            'it is: --heading "THEIRS=family_name".'
        ],
    ),
    (
        "studnet_id,given_name,family_name,emial\n1,A,B,c\n",
        [
            "roster.csv:1: the heading 'studnet_id'; "
            "expected a heading that is known (did you mean 'student_id'?). "
            "Write 'student_id', or --heading \"studnet_id=student_id\".",
            "roster.csv:1: the heading 'emial'; "
            "expected a heading that is known (did you mean 'email'?). Write 'email', "
            'or --heading "emial=email".',
        ],
    ),
    (
        "student_id,Student ID,given_name,family_name\n1,2,A,B\n",
        ["roster.csv:1: the column student_id a second time; "
         "expected each column once. Take one of the two out."],
    ),
    (
        HEADINGS + "a1,A,B\n\nA1,C,D\n ,E,F\n",
        [
            "roster.csv:4: student_id 'A1', which line 2 has too; "
            "expected each id once. Correct one of the two.",
            "roster.csv:5: no student_id; expected one in every line. Type the person's id.",
        ],
    ),
    (
        "student_id,given_name,family_name,role\n1,A,B,techer\n2,A,B,cook\n",
        [
            "roster.csv:2: the role 'techer'; "
            "expected student or teacher, or nothing (did you mean teacher?). "
            "Correct it, or leave it empty.",
            "roster.csv:3: the role 'cook'; "
            "expected student or teacher, or nothing. Correct it, or leave it empty.",
        ],
    ),
    (
        "student_id,given_name,family_name,under_18\n1,A,B,17\n2,A,B,yes\n3,A,B,minor\n",
        [
            "roster.csv:2: under_18 '17'; expected yes or no, or nothing. Correct it, or leave it empty.",
            "roster.csv:4: under_18 'minor'; expected yes or no, or nothing. Correct it, or leave it empty.",
        ],
    ),
    (
        "student_id,given_name,family_name,undr_18\n1,A,B,yes\n",
        [
            "roster.csv:1: the heading 'undr_18'; "
            "expected a heading that is known (did you mean 'under_18'?). Write 'under_18', "
            'or --heading "undr_18=under_18".',
        ],
    ),
    (
        HEADINGS + '1,"A\nA",B\n2,A\x07,B\n',
        [
            "roster.csv:2: a control character in given_name 'A\\nA'; expected plain text on one line. "
            "Type the cell anew.",
            "roster.csv:4: a control character in given_name 'A\\x07'; expected plain text on one line. "
            "Type the cell anew.",
        ],
    ),
    (
        HEADINGS + f"{'1' * 41},A,B\n",
        ["roster.csv:2: student_id of 41 characters; expected at most 40. Shorten it."],
    ),
    (
        HEADINGS + "1,A\n2,Ek, Bo,B\n",
        [
            f"roster.csv:{line}: {count} cells; expected 3, as many as there are headings. "
            "Put a cell that holds the separating mark in quotes; leave none out."
            for line, count in ((2, 2), (3, 4))
        ],
    ),
    (
        HEADINGS + '1,"A,B\n',
        ["roster.csv:2: quotes out of place (a cell whose quotes are not closed, or text after the "
         "closing quote); expected cells in plain quotes. Mend the quotes."],
    ),
    (
        HEADINGS + "".join(f"{number},A,B\n" for number in range(2_001)),
        ["roster.csv:2002: 2,001 people; expected at most 2,000. Make a class folder for each section."],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "lines"), CASES)
def test_read_roster_names_every_fault_in_a_line(tmp_path: Path, text: str, lines: list[str]) -> None:
    assert faults(tmp_path, text) == lines


def test_read_roster_with_very_many_faults(tmp_path: Path) -> None:
    lines = faults(tmp_path, HEADINGS + ",A,B\n" * 100)
    assert len(lines) == 31
    assert lines[-1] == "roster.csv: and 70 more faults of such kinds"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"\xd0\xcf\x11\xe0rest", "a workbook; expected a CSV file"),
        (b"student_id\x81\n", "bytes that fit no known encoding; expected UTF-8, UTF-16 or Windows-1252"),
        (b"\xff\xfea", "bytes that fit no known encoding; expected UTF-8, UTF-16 or Windows-1252"),
        (b"id,name\n" * 50_001, "more than 50,000 lines; expected a roster"),
        (b"," * 4_900_000, "more than 500,000 cells; expected a roster"),
        (b"," * 5_000_001, "more than 5,000,000 bytes; expected a roster"),
    ],
)
def test_read_roster_of_another_file(tmp_path: Path, data: bytes, message: str) -> None:
    with pytest.raises(RosterError, match=message):
        read(tmp_path, data)


def test_read_roster_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match="it cannot be read"):
        read_roster(tmp_path / "gone.csv")


def test_csv_with_a_title_and_a_total_in_windows_1252(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    text = "Evening school;;\r\n\r\nMatrícula;Apellidos;Nombre\r\n007;Fen Ríos;Ada\r\nTotal;1;\r\n"
    path.write_bytes(text.encode("cp1252"))
    roster = load_roster(path)
    assert roster.people == (Person("007", "Ada", "Fen Ríos"),)
    assert [one.line for one in roster.troubles] == [5]


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_csv_in_utf16_without_a_mark(tmp_path: Path, encoding: str) -> None:
    assert read(tmp_path, f"sep=\t\r\n{HEADINGS}1,Zoë,Ek\r\n".replace(",", "\t").encode(encoding)) == (
        Person("1", "Zoë", "Ek"),
    )


def test_csv_counts_lines_below_an_announced_delimiter_and_quoted_line_breaks(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_text(f'sep=,\n{HEADINGS}1,"A\nB",Ek\n2,C\n', encoding="utf-8")
    roster = load_roster(path)
    assert roster.people == (Person("1", "A B", "Ek"),)
    assert [(one.line, one.outcome) for one in roster.troubles] == [(3, "mended"), (5, "left out")]


def test_csv_whose_title_holds_another_delimiter(tmp_path: Path) -> None:
    text = "Lamps, knots, ropes, tides\n" + HEADINGS.replace(",", ";") + "1;A;B\n"
    path = tmp_path / "roster.csv"
    path.write_text(text, encoding="utf-8")
    assert load_roster(path).people == (Person("1", "A", "B"),)


TEXTS = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x2FFF, exclude_categories=("C", "Z")),
    min_size=1, max_size=20,
).map(lambda text: unicodedata.normalize("NFC", text).strip("\ufeff=\"'")).filter(
    lambda text: text and len(text) <= 40
)  # fmt: skip


@given(
    st.lists(st.tuples(TEXTS, TEXTS), min_size=1, max_size=8),
    st.sampled_from(",;\t|"),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_any_roster_survives_every_delimiter_encoding_and_line_end(
    tmp_path_factory: pytest.TempPathFactory,
    names: list[tuple[str, str]],
    delimiter: str,
    encoding: str,
    line_end: str,
) -> None:
    people = tuple(Person(f"{n:03}", given, family) for n, (given, family) in enumerate(names))
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=line_end)
    writer.writerow(("Family name", "Student ID", "Given name"))
    writer.writerows((one.family_name, one.student_id, one.given_name) for one in people)
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(stream.getvalue().encode(encoding))
    assert read_roster(path) == people
