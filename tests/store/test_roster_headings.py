from sheetgen.store.roster_headings import find_headings, known_headings
from sheetgen.store.roster_wording import load_wording

WORDING = load_wording()


def test_headings_below_title_lines() -> None:
    rows = [
        (1, ["Lighthouse evening school", "", ""]),
        (3, ["Class", "Measuring by lamplight", ""]),
        (4, ["ID", "Surname", "First name"]),
        (5, ["7", "Fen", "Ada"]),
    ]
    found = find_headings(rows, WORDING)
    assert (found.row, found.width, found.faults) == (2, 3, ())
    assert found.places == {"student_id": 0, "family_name": 1, "given_name": 2}


def test_headings_too_far_down_are_not_found() -> None:
    titles = [(line, ["about this class"]) for line in range(1, 12)]
    found = find_headings([*titles, (12, ["id", "name"])], WORDING)
    assert [fault.found for fault in found.faults] == ["no such column among 'about this class'"] * 3


def test_the_better_of_two_headings_is_read() -> None:
    found = find_headings([(1, ["ID", "Name", "Student number"])], WORDING)
    assert found.places == {"student_id": 2, "name": 1}
    assert found.unread == ("ID",)


def test_a_near_miss_of_an_optional_column_is_a_trouble() -> None:
    found = find_headings([(1, ["id", "name", "emial", "Username", "birthdate"])], WORDING)
    assert found.faults == ()
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


def test_known_headings_counts_columns_once_and_not_those_never_read() -> None:
    assert known_headings(["id", "student id", "name", "dob", "other"], WORDING) == 2


def test_of_two_wordings_as_near_the_first_in_the_table_is_asked_about() -> None:
    """The German word is as near as the English one."""
    found = find_headings([(1, ["id", "name", "E-Mail adress"])], WORDING)
    assert [one.remedy for one in found.troubles] == ["Write 'e-mail address'."]
