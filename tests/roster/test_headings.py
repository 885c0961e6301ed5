from pathlib import Path

import pytest

from sheetgen.errors import TemplateError
from sheetgen.roster.headings import COLUMNS, find_headings, known_headings, load_wording, shown
from sheetgen.texts.languages import plain_word

WORDING = load_wording()


def test_headings_below_title_lines() -> None:
    rows = [
        (1, ["Lighthouse evening school", "", ""]),
        (3, ["Class", "Measuring by lamplight", ""]),
        (4, ["ID", "Surname", "First name"]),
        (5, ["7", "Fen", "Ada"]),
    ]
    found = find_headings(rows, WORDING)
    assert (found.row, len(found.cells), found.faults) == (2, 3, [])
    assert found.places == {"student_id": 0, "family_name": 1, "given_name": 2}


def test_headings_too_far_down_are_not_found() -> None:
    titles = [(line, ["about this class"]) for line in range(1, 12)]
    found = find_headings([*titles, (12, ["id", "name"])], WORDING)
    assert [fault.found for fault in found.faults] == ["no such column among 'about this class'"]
    assert found.faults[0].remedy == (
        "Add the column student_id and name, or say which heading it is: "
        '--heading "about this class=student_id" --heading "THEIRS=name".'
    )


def test_the_better_of_two_headings_is_read() -> None:
    found = find_headings([(1, ["ID", "Name", "Student number"])], WORDING)
    assert found.places == {"student_id": 2, "name": 1}


def test_a_near_miss_of_an_optional_column_is_a_trouble() -> None:
    found = find_headings([(1, ["id", "name", "emial", "Username", "birthdate"])], WORDING)
    assert found.faults == []
    assert [(one.found, one.expected) for one in found.troubles] == [
        ("the heading 'emial'", "a heading that is known (did you mean 'email'?)")
    ]


def test_a_near_miss_of_a_needed_column_is_a_fault() -> None:
    found = find_headings([(1, ["id", "Apelidos", "Nombre", "Surnme"])], WORDING)
    assert [fault.expected for fault in found.faults] == []  # Nombre is a column of whole names
    found = find_headings([(1, ["Matrcula", "Vorname", "Nachnme"])], WORDING)
    assert [fault.expected for fault in found.faults] == [
        "a heading that is known (did you mean 'matrícula'?)",
        "a heading that is known (did you mean 'Nachname'?)",
    ]


def test_a_heading_asked_about_for_one_column_is_offered_for_no_other() -> None:
    found = find_headings([(1, ["Matrikel-Nr.", "Vorname", "Family name in the passport"])], WORDING)
    assert [fault.remedy for fault in found.faults] == [
        "Write 'Matrikelnummer', or --heading \"Matrikel-Nr.=student_id\".",
        "Add the column family_name, or say which heading it is: "
        '--heading "Family name in the passport=family_name".',
    ]


def test_known_headings_counts_columns_once_and_not_those_never_read() -> None:
    assert known_headings(["id", "student id", "name", "dob", "other"], WORDING) == 2


def test_of_two_wordings_as_near_the_first_in_the_table_is_asked_about() -> None:
    """The German word is as near as the English one."""
    found = find_headings([(1, ["id", "name", "E-Mail adress"])], WORDING)
    assert [one.remedy for one in found.troubles] == [
        "Write 'e-mail address', or --heading \"E-Mail adress=email\"."
    ]


def test_shown_shortens() -> None:
    assert shown("x" * 50) == repr("x" * 37 + "...")


HEADINGS = [
    # heading, the column it stands for
    ("Student ID", "student_id"), ("STUDENT-NUMBER", "student_id"), ("sourcedId", "student_id"),
    ("N.º de matrícula", "student_id"), ("numero de alumno", "student_id"), ("Matrikelnummer", "student_id"),
    ("First name", "given_name"), ("Forename(s)", "given_name"), ("Nombres", "given_name"),
    ("Prénom", "given_name"), ("Vorname", "given_name"),
    ("Surname", "family_name"), ("LAST_NAME", "family_name"), ("Primer apellido", "family_name"),
    ("Apellidos", "family_name"), ("Nachname", "family_name"), ("Segundo Apellido", "second_family_name"),
    ("Full name", "name"), ("Apellidos y nombre", "name"), ("Name, Vorname", "name"),
    ("Known as", "preferred_given_name"), ("Nombre preferido", "preferred_given_name"),
    ("E-mail address", "email"), ("Correo electrónico", "email"), ("Courriel", "email"),
    ("Sección", "group"), ("Klasse", "group"), ("Rol", "role"), ("Menor de edad", "under_18"),
    ("under 18", "under_18"), ("Over 18?", "over_18"), ("Volljährig?", "over_18"),
    ("Mayor de edad", "over_18"), ("Takes part", "takes_part"), ("Pareja", "partner"),
    ("Keep apart", "apart"),
    ("Date of birth", "never_read"), ("Fecha de nacimiento", "never_read"), ("Geburtsdatum", "never_read"),
]  # fmt: skip


@pytest.mark.parametrize(("heading", "column"), HEADINGS)
def test_heading_in_several_wordings(heading: str, column: str) -> None:
    known = WORDING.column(heading)
    assert known is not None
    assert known.stands_for == column


def test_every_column_goes_by_its_own_name() -> None:
    assert [one.stands_for for one in map(WORDING.column, COLUMNS) if one is not None] == list(COLUMNS)


def test_words_of_roles_and_answers() -> None:
    words = ("Alumna", "Profesor", "Guardian")
    assert {word: WORDING.role[plain_word(word)].stands_for for word in words} == {
        "Alumna": "student", "Profesor": "teacher", "Guardian": "left_out",
    }  # fmt: skip
    assert WORDING.under_18[plain_word("Sí")].stands_for == "yes"
    assert WORDING.takes_part[plain_word("Measures only")].stands_for == "measures_only"
    assert plain_word("Total de alumnos") in WORDING.totals


def test_own_wordings_add_to_the_shipped_ones_and_go_before_them(tmp_path: Path) -> None:
    path = tmp_path / "roster.toml"
    path.write_text('[headings]\nstudent_id = ["Lamp no"]\ngroup = ["Number"]\n', encoding="utf-8")
    wording = load_wording(path)
    found = [wording.column(one) for one in ("LAMP NO", "number", "student_id")]
    assert [one.stands_for for one in found if one is not None] == ["student_id", "group", "student_id"]
    assert wording.headings[plain_word("Lamp no")].rank < wording.headings[plain_word("student_id")].rank


FAULTS = [
    # text, what the message says
    (
        '[heading]\nx = ["y"]\n',
        "line 1, heading: unknown key; .* mean 'headings'",
    ),
    ('[headings]\nstudent = ["y"]\n', "line 2, headings student: unknown key; expected one of student_id, "),
    ('[headings]\nname = "y"\n', "line 2, headings name: 'y'; expected a list"),
    ('[headings]\nname = ["..."]\n', "line 2, headings name: a list of 1; expected a list"),
    ('[headings]\nname = ["y"]\ngroup = ["Y"]\n', "line 3, headings group: 'Y', which stands for name too"),
    ("role = 3\n", "line 1, role: 3; expected a table"),
    ("[headings\n", "line 1, not TOML"),
]


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_own_wordings_with_faults(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "roster.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TemplateError, match=message):
        load_wording(path)
