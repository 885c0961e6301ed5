"""Every kind of workbook that is made, by a validator of Open XML and by hand rules; and every hand rule, by
a workbook that breaks it.

Validator: openxml-audit, from the Python registry.
"""

from collections.abc import Mapping
from pathlib import Path

import pytest
from openxml_audit import FileFormat, OpenXmlValidator

from tests.audit.broken import BASE, BREAKS, Break
from tests.audit.kinds import KINDS, OF_A_CLASS, SHEETS, workbook
from tests.audit.package import Package
from tests.audit.rules import RULES, found_in

# Kinds that differ from another by values or words alone: the validator, which takes most of the time, sees
# them in the nightly form.
OTHER_VALUES = ("sheet filled", "sheet of the teacher's", "sheet of a second", "sheet for a second")
OTHER_WORDS = {*OF_A_CLASS, *SHEETS} - {"sheet"}
ALIKE = {
    kind
    for kind in KINDS
    if kind.startswith(OTHER_VALUES) or (kind.endswith(", es") and kind.split(", ")[0] in OTHER_WORDS)
}


@pytest.fixture(scope="module")
def validator() -> OpenXmlValidator:
    return OpenXmlValidator(file_format=FileFormat.OFFICE_2019, max_errors=50)


@pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=[pytest.mark.nightly] * (kind in ALIKE)) for kind in KINDS]
)
def test_the_validator_finds_nothing(kind: str, validator: OpenXmlValidator, tmp_path: Path) -> None:
    path = tmp_path / "workbook.xlsx"
    path.write_bytes(workbook(kind))
    result = validator.validate(str(path))
    assert [str(error) for error in result.errors] == []
    assert result.is_valid


@pytest.mark.parametrize("kind", KINDS)
def test_the_hand_rules_find_nothing(kind: str) -> None:
    assert found_in(workbook(kind)) == []


@pytest.fixture(scope="module")
def parts() -> Mapping[str, bytes]:
    return Package.read(workbook(BASE)).parts


@pytest.mark.parametrize(
    "broken", BREAKS, ids=lambda one: f"{one.rule}: {one.new or one.gone or 'none'}"[:50]
)
def test_a_rule_finds_what_breaks_it(broken: Break, parts: Mapping[str, bytes]) -> None:
    assert list(RULES[broken.rule](Package(broken.made(parts))))


def test_a_part_that_is_there_twice_is_found(parts: Mapping[str, bytes]) -> None:
    assert list(RULES["names of parts"](Package(parts, (*parts, "xl/workbook.xml"))))


def test_every_rule_is_broken_once() -> None:
    assert {one.rule for one in BREAKS} == set(RULES)
