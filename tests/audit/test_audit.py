"""Every kind of workbook that is made, by a validator of Open XML and by hand rules; and every hand rule, by
a workbook that breaks it.

Validator: openxml-audit, from the Python registry.
"""

from pathlib import Path

import pytest
from openxml_audit import FileFormat, OpenXmlValidator

from tests.audit.broken import BASE, BREAKS, Break
from tests.audit.kinds import KINDS, workbook
from tests.audit.package import Package
from tests.audit.rules import RULES, found_in


@pytest.fixture(scope="module")
def validator() -> OpenXmlValidator:
    return OpenXmlValidator(file_format=FileFormat.OFFICE_2019, max_errors=50)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_found_in_a_workbook(kind: str, validator: OpenXmlValidator, tmp_path: Path) -> None:
    path = tmp_path / "workbook.xlsx"
    path.write_bytes(workbook(kind))
    result = validator.validate(str(path))
    assert [str(error) for error in result.errors] == []
    assert result.is_valid
    assert found_in(path.read_bytes()) == []


@pytest.mark.parametrize(
    "broken", BREAKS, ids=lambda one: f"{one.rule}: {one.new or one.gone or 'none'}"[:50]
)
def test_a_rule_finds_what_breaks_it(broken: Break) -> None:
    package = Package(broken.made(Package(workbook(BASE)).parts))
    assert list(RULES[broken.rule](package))


def test_every_rule_is_broken_once() -> None:
    assert {one.rule for one in BREAKS} == set(RULES)
