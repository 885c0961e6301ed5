import pytest

from sheetgen.layout.pairing import make_pairs
from sheetgen.model.settings import Caliper, Person

C1 = Caliper("C1", "spring caliper", 0.5, 60.0, 0.0)
C2 = Caliper("C2", "spring caliper", 0.5, 60.0, 0.0)
BROKEN = Caliper("C3", "spring caliper", 0.5, 60.0, 0.0, in_service=False)


def people(students: str) -> list[Person]:
    return [
        Person(letter, letter, letter, role="teacher" if letter == "t" else "student") for letter in students
    ]


CASES = [
    # students (t a teacher), calipers, measurer participant caliper
    ("", [C1], []),
    ("a", [C1], []),
    ("ab", [], []),
    ("ab", [BROKEN], []),
    ("ab", [C1], ["ab C1", "ba C1"]),
    ("atb", [BROKEN, C1], ["ab C1", "ba C1"]),
    ("abc", [C1, C2], ["ab C1", "bc C1", "ca C1"]),
    ("abcde", [C1, C2], ["ab C1", "ba C1", "cd C2", "de C2", "ec C2"]),
    ("abcdef", [C1, C2], ["ab C1", "ba C1", "cd C2", "dc C2", "ef C1", "fe C1"]),
]


@pytest.mark.parametrize(("students", "calipers", "expected"), CASES)
def test_make_pairs(students: str, calipers: list[Caliper], expected: list[str]) -> None:
    made = make_pairs(people(students), calipers)
    assert [f"{each.measurer}{each.participant} {each.caliper_id}" for each in made] == expected
