"""Whom the name of a file names, and what came of the sheets that are waited for."""

import pytest

from sheetgen.class_folder.records import Person
from sheetgen.returned.came_back import person_named

PEOPLE = (
    Person("S01", "Ada", "Fen", "ada.fen@lighthouse.example"),
    Person("1002", "Zoë", "de la Rye"),
    Person("2026", "Bo", "Heath"),
    Person("7", "Cy", "Moor"),
    Person("S-05", "Di", ""),
    Person("S06", "Ada", "Rye"),
)

# name of a file or a path, whom it names
NAMES = (
    ("download.zip/Ada Fen_12345_assignsubmission_file/sheet.pdf", "S01"),
    ("FEN, ADA.pdf", "S01"),
    ("ada.fen@lighthouse.example sheet.pdf", "S01"),
    ("s01_7K3F-9QXM.pdf", "S01"),
    ("xs01.pdf", ""),
    ("S010.pdf", ""),
    ("zoe_de_la_rye.jpg", "1002"),
    ("la Rye, Zoë.jpg", ""),
    ("1002 (1).jpg", "1002"),
    # a day, a time and a number of a try are nobody's id
    ("sheet_2026-11-30.pdf", ""),
    ("sheet attempt 7.pdf", ""),
    ("2026.pdf", "2026"),
    # too short to be told from any other number
    ("7.pdf", ""),
    ("cy moor 7.pdf", "7"),
    # a given name alone is anybody's
    ("Di.pdf", ""),
    ("s-05.pdf", "S-05"),
    # two people are nobody
    ("Ada Fen and Bo Heath.pdf", ""),
    ("Ada Rye.pdf", "S06"),
    ("", ""),
)


@pytest.mark.parametrize(("name", "student_id"), NAMES)
def test_person_named(name: str, student_id: str) -> None:
    assert person_named(name, PEOPLE) == student_id
