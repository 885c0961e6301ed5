from pathlib import Path

import pytest

from sheetgen.checking.list_words import plain_word
from sheetgen.errors import TemplateError
from sheetgen.store.roster_wording import COLUMNS, load_wording

WORDING = load_wording()

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
    ("under 18", "under_18"), ("Takes part", "takes_part"), ("Pareja", "partner"), ("Keep apart", "apart"),
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
    ('[heading]\nx = ["y"]\n', "line 1, heading: the table 'heading'; expected headings"),
    ('[headings]\nstudent = ["y"]\n', "line 2, headings student: the key 'student'; expected student_id"),
    ('[headings]\nname = "y"\n', "line 2, headings name: something else; expected a list"),
    ('[headings]\nname = ["..."]\n', "line 2, headings name: something else; expected a list"),
    ('[headings]\nname = ["y"]\ngroup = ["Y"]\n', "line 3, headings group: 'Y', which stands for name too"),
    ("role = 3\n", "line 1, role: a value; expected a table \\[role\\]"),
    ("[headings\n", "line 1, not TOML"),
]


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_own_wordings_with_faults(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "roster.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TemplateError, match=message):
        load_wording(path)
