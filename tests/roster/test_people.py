import pytest

from sheetgen.class_folder.records import Person
from sheetgen.errors import RosterError
from sheetgen.roster.headings import RosterTrouble, load_wording
from sheetgen.roster.people import (
    PersonRow,
    Roster,
    checked_people,
    roster_error,
    roster_from_rows,
)

WORDING = load_wording()


def checked(*rows: dict[str, str]) -> Roster:
    return checked_people("r", [PersonRow(line, row) for line, row in enumerate(rows, start=2)], WORDING)


def one(identifier: str, **more: str) -> dict[str, str]:
    return {"student_id": identifier, "given_name": "Ada", "family_name": "Fen", **more}


def test_an_identical_row_again_is_left_out() -> None:
    found = checked(one("a1"), one("b"), one("a1"))
    assert [person.student_id for person in found.people] == ["a1", "b"]
    assert [(each.line, each.found, each.outcome) for each in found.troubles] == [
        (4, "the same person as in line 2, 'a1'", "left out")
    ]


def test_two_people_with_one_id_are_a_fault_that_names_both_lines() -> None:
    """Nobody could tell whose sheet it would be; capitals make no other id."""
    with pytest.raises(RosterError, match="r:3: student_id 'A1', which line 2 has too"):
        checked(one("a1"), one("A1", given_name="Bo"))


CELLS = [
    # cells, what becomes of the person, found, outcome
    ({"role": "Profesora"}, Person("1", "Ada", "Fen", role="teacher"), None, None),
    ({"role": "techer"}, Person("1", "Ada", "Fen"), "the role 'techer'", "mended"),
    ({"role": "Guardian"}, None, "the role 'Guardian'", "left out"),
    ({"under_18": "Sí"}, Person("1", "Ada", "Fen", under_18="yes"), None, None),
    ({"under_18": "maybe"}, Person("1", "Ada", "Fen", under_18="yes"), "under_18 'maybe'", "mended"),
    ({"under_18": "1901-02-03"}, Person("1", "Ada", "Fen", under_18="yes"), "under_18 that looks like a date",
     "mended"),
    ({"over_18": "Sí"}, Person("1", "Ada", "Fen", under_18="no"), None, None),
    ({"over_18": "nein"}, Person("1", "Ada", "Fen", under_18="yes"), None, None),
    ({"over_18": ""}, Person("1", "Ada", "Fen", under_18=""), None, None),
    ({"over_18": "maybe"}, Person("1", "Ada", "Fen", under_18="yes"), "over_18 'maybe'", "mended"),
    ({"over_18": "1901-02-03"}, Person("1", "Ada", "Fen", under_18="yes"), "over_18 that looks like a date",
     "mended"),
    ({"over_18": "yes", "under_18": "yes"}, Person("1", "Ada", "Fen", under_18="yes"), None, None),
    ({"over_18": "", "under_18": "no"}, Person("1", "Ada", "Fen", under_18="no"), None, None),
    ({"takes_part": "Measures only"}, Person("1", "Ada", "Fen", takes_part="measures-only"), None, None),
    ({"takes_part": "?!x"}, Person("1", "Ada", "Fen", takes_part="measures-only"),
     "takes_part '?!x'", "mended"),
    ({"given_name": "A\r\nda\x07"}, Person("1", "A da", "Fen"),
     "a control character in given_name 'A\\r\\nda\\x07'", "mended"),
    ({"given_name": "Ada\uffff"}, Person("1", "Ada", "Fen"), "a control character in given_name 'Ada\\uffff'",
     "mended"),
    ({"student_id": "1\ufffe"}, None, "a control character in student_id '1\\ufffe'", "left out"),
    ({"student_id": "1\x00"}, None, "a control character in student_id '1\\x00'", "left out"),
    ({"family_name": "F" * 61}, None, "family_name of 61 characters", "left out"),
    ({"email": "e" * 121}, Person("1", "Ada", "Fen"), "email of 121 characters", "mended"),
    ({"partner": "2"}, Person("1", "Ada", "Fen"), "partner '2'", "mended"),
    ({"partner": "1"}, Person("1", "Ada", "Fen"), "partner '1'", "mended"),
    ({"student_id": " "}, None, "no student_id", "left out"),
]  # fmt: skip


@pytest.mark.parametrize(("cells", "person", "found", "outcome"), CELLS)
def test_cells_that_need_a_word(
    cells: dict[str, str], person: Person | None, found: str | None, outcome: str | None
) -> None:
    result = checked({**one("1"), **cells})
    assert result.people == (() if person is None else (person,))
    expected = [] if found is None else [(2, found, outcome)]
    assert [(each.line, each.found, each.outcome) for each in result.troubles] == expected


def test_partners_and_people_apart_go_by_the_ids_of_the_roster() -> None:
    found = checked(one("a1", partner="B2", apart="c3; b2, b2"), one("b2"), one("C3", apart="gone"))
    assert [(person.partner, person.apart) for person in found.people] == [
        ("b2", ("C3", "b2")),
        ("", ()),
        ("", ()),
    ]
    assert [(each.line, each.found) for each in found.troubles] == [(4, "apart 'gone'")]


def roster(*rows: str) -> Roster:
    """Rows with cells divided by upright lines."""
    cells = [(line, row.split("|")) for line, row in enumerate(rows, start=1)]
    return roster_from_rows("roster", cells, WORDING)


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


def test_the_headings_again_are_left_out_in_one_line() -> None:
    found = roster("id|name|under_18", "1|Ada Fen|no", "ID|Name|Under_18", "2|Bo Heath|no")
    assert [one.student_id for one in found.people] == ["1", "2"]
    assert [(each.line, each.found, each.outcome) for each in found.troubles] == [
        (3, "the headings again", "left out")
    ]


def test_somebody_without_a_name_is_asked_about_where_others_have_one() -> None:
    found = roster("id|first name|surname", "1|Ada|Fen", "2||", "3||Moor")
    assert [one.student_id for one in found.people] == ["1", "2", "3"]
    assert found.troubles == (
        RosterTrouble(
            3, "no name", "a given or a family name",
            "Ask who that is, and type the name on the tab Roster; until then nobody is paired with them.",
            "mended",
        ),
    )  # fmt: skip
    assert roster("id|first name|surname", "1||", "2||").troubles == ()


def test_of_two_headings_for_one_column_the_better_one_is_read() -> None:
    found = roster("ID|Student number|name", "9|0012|Ada Fen")
    assert [person.student_id for person in found.people] == ["0012"]


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
