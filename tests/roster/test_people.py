import pytest

from sheetgen.class_folder.records import Person
from sheetgen.roster.headings import load_wording
from sheetgen.roster.people import CheckedPeople, PersonRow, checked_people

WORDING = load_wording()


def checked(*rows: dict[str, str]) -> CheckedPeople:
    return checked_people([PersonRow(line, row) for line, row in enumerate(rows, start=2)], WORDING)


def one(identifier: str, **more: str) -> dict[str, str]:
    return {"student_id": identifier, "given_name": "Ada", "family_name": "Fen", **more}


def test_an_identical_row_again_is_left_out() -> None:
    found = checked(one("a1"), one("b"), one("a1"))
    assert [person.student_id for person in found.people] == ["a1", "b"]
    assert [(each.line, each.found, each.outcome) for each in found.troubles] == [
        (4, "the same person as in line 2, 'a1'", "left out")
    ]
    assert found.faults == ()


def test_two_people_with_one_id_are_a_fault_that_names_both_lines() -> None:
    """Nobody could tell whose sheet it would be; capitals make no other id."""
    found = checked(one("a1"), one("A1", given_name="Bo"))
    assert [(each.line, each.found) for each in found.faults] == [
        (3, "student_id 'A1', which line 2 has too")
    ]


CELLS = [
    # cells, what becomes of the person, found, outcome
    ({"role": "Profesora"}, Person("1", "Ada", "Fen", role="teacher"), None, None),
    ({"role": "techer"}, Person("1", "Ada", "Fen"), "the role 'techer'", "mended"),
    ({"role": "Guardian"}, None, "the role 'Guardian'", "left out"),
    ({"under_18": "Sí"}, Person("1", "Ada", "Fen", under_18="yes"), None, None),
    ({"under_18": "maybe"}, Person("1", "Ada", "Fen", under_18="yes"), "under_18 'maybe'", "mended"),
    ({"under_18": "1901-02-03"}, Person("1", "Ada", "Fen", under_18="yes"), "under_18 that looks like a date",
     "mended"),
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
