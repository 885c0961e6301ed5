"""Every kind of workbook that is made, by a validator of Open XML and by the limits of the file format.

Validator: openxml-audit, from the Python registry. Limits: ECMA-376 part 1, and what spreadsheet programs say
of data validation (message 255, of which 225 are shown; title 32) and of the names of tabs (31).
"""

import re
import zipfile
from collections.abc import Mapping
from pathlib import Path

import openpyxl
import pytest
from openxml_audit import FileFormat, OpenXmlValidator

from tests.classes import built_class, filled_sheet, returned, run
from tests.sheets import settings_with, sheet_of

PROTOCOLS = (
    "seven-sites", "three-sites-men", "three-sites-women", "four-sites", "folds-only", "youth-two-sites",
)  # fmt: skip
STUDENT = tuple(f"{protocol} {language}" for protocol in PROTOCOLS for language in ("en", "es"))
NAMES = (
    *STUDENT,
    "class book",
    "review",
    "report",
    "feedback",
    "paper-forms",
    "site-cards",
    "for-the-teacher",
)


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Path]:
    """One workbook of each kind: a class of four of whom all handed in, and a sheet of every protocol."""
    root = tmp_path_factory.mktemp("audit")
    folder = built_class(root / "class")
    for student in ("S01", "S02", "S03", "S04"):
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    assert run("read", folder.root).exit_code == 0
    found = {
        "class book": folder.book,
        "review": folder.review(1),
        "report": folder.report(1),
        "feedback": min(folder.feedback(1).glob("*.xlsx")),
        "paper-forms": folder.paper_forms(1),
        "site-cards": folder.site_cards(1),
        "for-the-teacher": folder.handouts(1),
    }
    for name in STUDENT:
        protocol_id, _, language = name.partition(" ")
        found[name] = root / f"{name}.xlsx"
        settings = settings_with(protocol_id=protocol_id, language=language, reading_drill=True)
        found[name].write_bytes(sheet_of(settings).data)
    return found


@pytest.fixture(params=NAMES)
def path(request: pytest.FixtureRequest, paths: Mapping[str, Path]) -> Path:
    return paths[request.param]


def test_the_validator_finds_nothing(path: Path) -> None:
    result = OpenXmlValidator(file_format=FileFormat.OFFICE_2019, max_errors=50).validate(str(path))
    assert [str(error) for error in result.errors] == []
    assert result.is_valid


def test_rules_and_names_keep_within_the_limits_of_the_format(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    assert [title for title in book.sheetnames if len(title) > 31 or re.search(r"[\[\]:*?/\\]", title)] == []
    for tab in book.worksheets:
        for rule in tab.data_validations.dataValidation:
            assert len(rule.errorTitle or "") <= 32 and len(rule.promptTitle or "") <= 32
            assert len(rule.error or "") <= 225 and len(rule.prompt or "") <= 255
            assert len(rule.formula1 or "") <= 257


def test_no_two_rules_are_about_one_cell(path: Path) -> None:
    """Programs repair a file in which they overlap."""
    for tab in openpyxl.load_workbook(path).worksheets:
        cells = [
            place
            for rule in tab.data_validations.dataValidation
            for block in rule.sqref.ranges
            for row in block.rows
            for place in row
        ]
        assert len(set(cells)) == len(cells), tab.title


def test_every_part_of_the_package_has_a_content_type_and_is_there_once(path: Path) -> None:
    with zipfile.ZipFile(path) as package:
        names, types = package.namelist(), package.read("[Content_Types].xml").decode()
    assert len(set(names)) == len(names)
    known = set(re.findall(r'PartName="/([^"]+)"', types))
    endings = set(re.findall(r'Extension="([^"]+)"', types))
    unknown = {name for name in names if name not in known and name.rpartition(".")[2] not in endings}
    assert unknown <= {"[Content_Types].xml"}
