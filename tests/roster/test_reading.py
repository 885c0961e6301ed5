import csv
import io
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.class_folder.records import Person
from sheetgen.errors import RosterError
from sheetgen.roster.headings import RosterTrouble, load_wording
from sheetgen.roster.reading import Roster, csv_roster, roster_error, roster_from_rows

WORDING = load_wording()

HEADINGS = "student_id,given_name,family_name\n"


def read_roster(path: Path) -> tuple[Person, ...]:
    """The people of a roster that holds no trouble at all; any trouble is raised."""
    roster = csv_roster(path, load_wording())
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


def test_read_roster_of_4500_people(tmp_path: Path) -> None:
    text = HEADINGS + "".join(f"{number},A,B\n" for number in range(4_500))
    assert len(read(tmp_path, text.encode())) == 4_500


CASES = [
    # text, the lines of the error
    ("", ["roster.csv:1: an empty file; expected a line of headings. Export the roster again."]),
    (HEADINGS, ["roster.csv:1: no people below the headings; expected a line for each. Export it again."]),
    (
        "student_id,given_name\n1,A\n",
        [
            "roster.csv:1: no such column among 'student_id', 'given_name'; "
            "expected one with the heading family_name. Add the column family_name."
        ],
    ),
    (
        "studnet_id,given_name,family_name,emial\n1,A,B,c\n",
        [
            "roster.csv:1: the heading 'studnet_id'; "
            "expected a heading that is known (did you mean 'student_id'?). "
            "Write 'student_id'.",
            "roster.csv:1: the heading 'emial'; "
            "expected a heading that is known (did you mean 'email'?). Write 'email'.",
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
            "expected a heading that is known (did you mean 'under_18'?). Write 'under_18'.",
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
        HEADINGS + "".join(f"{number},A,B\n" for number in range(4_501)),
        ["roster.csv:4502: 4,501 people; expected at most 4,500. Make a class folder for each section."],
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
        (b"PK\x03\x04rest", "a workbook; expected a CSV file"),
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


def test_csv_roster_says_what_it_was_read_as(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    text = "Evening school;;\r\n\r\nMatrícula;Apellidos;Nombre\r\n007;Fen Ríos;Ada\r\nTotal;1;\r\n"
    path.write_bytes(text.encode("cp1252"))
    roster = csv_roster(path, WORDING)
    assert roster.people == (Person("007", "Ada", "Fen Ríos"),)
    assert roster.source == (
        "CSV, Windows-1252, semicolon; headings in line 3: "
        "student_id from 'Matrícula', family_name from 'Apellidos', name from 'Nombre'"
    )
    assert [one.line for one in roster.troubles] == [5]


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_csv_roster_in_utf16_without_a_mark(tmp_path: Path, encoding: str) -> None:
    assert read(tmp_path, f"sep=\t\r\n{HEADINGS}1,Zoë,Ek\r\n".replace(",", "\t").encode(encoding)) == (
        Person("1", "Zoë", "Ek"),
    )


def test_csv_roster_counts_lines_below_an_announced_delimiter_and_quoted_line_breaks(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_text(f'sep=,\n{HEADINGS}1,"A\nB",Ek\n2,C\n', encoding="utf-8")
    roster = csv_roster(path, WORDING)
    assert roster.people == (Person("1", "A B", "Ek"),)
    assert [(one.line, one.outcome) for one in roster.troubles] == [(3, "mended"), (5, "left out")]


def test_csv_roster_whose_title_holds_another_delimiter(tmp_path: Path) -> None:
    text = "Lamps, knots, ropes, tides\n" + HEADINGS.replace(",", ";") + "1;A;B\n"
    path = tmp_path / "roster.csv"
    path.write_text(text, encoding="utf-8")
    assert csv_roster(path, WORDING).people == (Person("1", "A", "B"),)


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


PLACE = Path("roster")


def roster(*rows: str) -> Roster:
    """Rows with cells divided by upright lines."""
    cells = [(line, row.split("|")) for line, row in enumerate(rows, start=1)]
    return roster_from_rows(PLACE, cells, WORDING, "rows")


NAMES = [
    # headings, cells, given name, family name
    ("id|Name", "1|Fen, Ada María", "Ada María", "Fen"),
    ("id|Name", "1|Ada Fen", "Ada", "Fen"),
    ("id|Name", "1|王小明", "王小明", ""),
    ("id|Nombre|Apellidos", "1|Ada|Fen Ríos", "Ada", "Fen Ríos"),
    ("id|Nombre|Primer apellido|Segundo apellido", "1|Ada|Fen|Ríos", "Ada", "Fen Ríos"),
    ("id|Name|Vorname", "1|Fen|Ada", "Ada", "Fen"),
    ("id|Name|Vorname|Nachname", "1|whatever else|Ada|Fen", "Ada", "Fen"),
    ("id|First name|Last name|Known as", "1|Adelaide|Fen|Ada", "Ada", "Fen"),
    ("id|First name|Last name|Known as", "1|Adelaide|Fen|", "Adelaide", "Fen"),
    ("id|First name|Last name|Preferred last name", "1|Ada|Fen|Moor", "Ada", "Moor"),
    ('id|First name|Last name', '1|="Ada"|Fen', "Ada", "Fen"),
]  # fmt: skip


@pytest.mark.parametrize(("headings", "cells", "given", "family"), NAMES)
def test_names_in_one_column_or_several(headings: str, cells: str, given: str, family: str) -> None:
    found = roster(headings, cells)
    assert [(person.given_name, person.family_name) for person in found.people] == [(given, family)]
    assert found.troubles == ()


def test_a_name_that_may_be_cut_elsewhere_is_listed() -> None:
    found = roster("id|Student", "1|Ada Fen Ríos")
    assert found.troubles == (
        RosterTrouble(
            2,
            "the name 'Ada Fen Ríos', cut into given 'Ada Fen' and family 'Ríos'",
            "'Family, Given', or two columns",
            "Correct it in the class book where it is wrong.",
            "mended",
        ),
    )
    assert found.source == (
        "rows; headings in line 1: student_id from 'id', name from 'Student'; "
        "one column of names, cut at its comma or else at its last blank"
    )


def test_rows_left_out_are_listed_and_the_others_count() -> None:
    found = roster(
        "My class", "", "id|name|group|dob", "1|Ada Fen|a|1901-02-03", "|Bo Heath|b|", "Total: 2", "2"
    )
    assert [person.student_id for person in found.people] == ["1"]
    assert [(one.line, one.found) for one in found.troubles] == [
        (5, "no student_id"),
        (6, "a row that counts the others, 'Total: 2'"),
        (7, "1 cells"),
    ]
    assert "1901" not in repr(found)


def test_a_person_whose_name_is_total_is_kept() -> None:
    assert [one.family_name for one in roster("id|first name|surname", "7|Sum|Total").people] == ["Total"]


def test_of_two_headings_for_one_column_the_one_not_read_is_said() -> None:
    found = roster("ID|Student number|name", "9|0012|Ada Fen")
    assert [person.student_id for person in found.people] == ["0012"]
    assert found.source == (
        "rows; headings in line 1: student_id from 'Student number', name from 'name'; "
        "one column of names, cut at its comma or else at its last blank; not read: 'ID'"
    )


def test_two_people_with_one_id_are_refused_with_everything_else_that_is_wrong() -> None:
    with pytest.raises(RosterError) as caught:
        roster("id|name|role", "1|Ada Fen|", "1|Bo Heath|", "2|Cy Moor|cook")
    assert str(caught.value).splitlines() == [
        "roster:3: student_id '1', which line 2 has too; expected each id once. Correct one of the two.",
        "roster:4: the role 'cook'; expected student or teacher, or nothing. Correct it, or leave it empty.",
    ]


def test_nobody_left_says_why() -> None:
    with pytest.raises(RosterError, match="roster:2: no student_id"):
        roster("id|name", "|Ada Fen")


def test_roster_error_names_30_and_counts_the_rest() -> None:
    error = roster_error("r", [RosterTrouble(line, "x", "y", "Mend it.") for line in range(1, 33)])
    assert str(error).splitlines()[-1] == "r: and 2 more faults of such kinds"
    assert len(str(error).splitlines()) == 31
