from pathlib import Path

import pytest

from sheetgen.errors import RosterError
from sheetgen.store.roster_people import RosterTrouble
from sheetgen.store.roster_rows import Roster, roster_error, roster_from_rows
from sheetgen.store.roster_wording import load_wording

WORDING = load_wording()
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
