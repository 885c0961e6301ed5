import pytest

from sheetgen.layout.class_book_calculator import full_name, mirrored, nth, setting, state_of
from sheetgen.model.settings import Person
from tests.class_books import BOOK, layout, protocols, texts


@pytest.mark.parametrize(
    ("given", "family", "expected"),
    [("Bo", "Ek", "Bo Ek"), ("Bo", "", "Bo"), (" Bo  B", "Ek ", "Bo B Ek"), ("", "", "")],
)
def test_full_name(given: str, family: str, expected: str) -> None:
    assert full_name(given, family) == expected


def test_mirrored_looks_into_the_whole_table() -> None:
    row_counts = {"roster": 10, "calipers": 2, "pairs": 10}
    assert mirrored(texts(), row_counts, "roster", 2, 1) == "TRIM(INDEX(Roster!$A$6:$K$15,3,2))"
    assert nth("$A$6:$A$15", 2) == "INDEX($A$6:$A$15,3)"


def test_calculator_tab_holds_the_codes_given_out() -> None:
    labels = [cell.value for cell in layout().tab("calculator").cells if cell.name.startswith("coded_")]
    coded = [person for person in BOOK.people if person.participant_code]
    assert labels == [text for person in coded for text in (person.student_id, person.participant_code)]


def test_calculator_tab_holds_the_protocols() -> None:
    labels = [cell.value for cell in layout().tab("calculator").cells if cell.name.startswith("protocol_")]
    assert labels == [protocol.identifier for protocol in protocols()]


def test_setting_looks_at_the_tab_class_as_a_whole() -> None:
    assert setting(texts(), "site_rule") == "INDEX(Class!$B$6:$B$24,3)"


@pytest.mark.parametrize(
    ("takes_part", "status", "expected"),
    [("both", "", ""), ("measures-only", "", "measures-only"), ("measures-only", "left", "left")],
)
def test_state_of(takes_part: str, status: str, expected: str) -> None:
    assert state_of(Person("a", "A", "", takes_part=takes_part, status=status)) == expected
