"""What one validation lets through, in every form that is understood, and the forms that are not."""

import pytest
from lxml import etree

from sheetgen.model.snapshot import RuleState
from sheetgen.workbook.rule_states import is_relative, rule_at_distance, rule_state

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def _state(attributes: str, *formulas: str) -> RuleState | None:
    inside = "".join(f"<formula{number}>{text}</formula{number}>" for number, text in enumerate(formulas, 1))
    return rule_state(
        etree.fromstring(f'<dataValidation xmlns="{_MAIN}" {attributes}>{inside}</dataValidation>')
    )


# attributes, formulas, what it lets through
FORMS = (
    ('type="list"', ('"yes,no"',), RuleState("list", words=frozenset({"yes", "no"}), stops=False)),
    ('type="list"', ('" yes, no "', "0"), RuleState("list", words=frozenset({"yes", "no"}), stops=False)),
    ('type="list"', ("$A$1:$A$3",), RuleState("list", stops=False)),
    ('type="whole"', ("5", "110.0"), RuleState("whole", 5, 110, stops=False)),
    ('type="decimal" operator="between"', ("-1E2", ".5"), RuleState("decimal", -100, 0.5, stops=False)),
    ('type="textLength" operator="lessThanOrEqual"', ("12",), RuleState("length", None, 12, stops=False)),
    ('type="textLength" operator="lessThan"', ("13",), RuleState("length", None, 12, stops=False)),
    ('type="whole" operator="greaterThan"', ("4",), RuleState("whole", 5, None, stops=False)),
    ('type="decimal" operator="greaterThanOrEqual"', ("4",), RuleState("decimal", 4, None, stops=False)),
    ('type="decimal" operator="equal"', ("4",), RuleState("decimal", 4, 4, stops=False)),
    ('type="decimal" operator="notBetween"', ("4", "5"), RuleState("decimal", stops=False)),
    ('type="decimal" operator="notEqual"', ("4",), RuleState("decimal", stops=False)),
    ('type="date"', ("4", "5"), RuleState("date", stops=False)),
    ('type="custom"', ("B9&gt;1",), RuleState("custom", formula="=B9>1", stops=False)),
)


@pytest.mark.parametrize(("attributes", "formulas", "state"), FORMS)
def test_a_form_that_is_understood(attributes: str, formulas: tuple[str, ...], state: RuleState) -> None:
    assert _state(f'{attributes} allowBlank="true"', *formulas) == state


@pytest.mark.parametrize(
    ("attributes", "formulas"),
    [
        ('type="decimal"', ("$A$1", "5")),
        ('type="decimal"', ("4",)),
        ('type="decimal"', ("4", "5+5")),
        ('type="whole"', ("", "")),
        ('type="decimal" operator="nearly"', ("4", "5")),
        ('type="colour"', ("4", "5")),
        ('type="custom"', ("1+" * 1_000 + "1",)),
    ],
)
def test_a_form_that_is_not_understood(attributes: str, formulas: tuple[str, ...]) -> None:
    assert _state(attributes, *formulas) is None


@pytest.mark.parametrize(
    ("attributes", "stops"),
    [
        ('showErrorMessage="1"', True),
        ('showErrorMessage="true" errorStyle="stop"', True),
        ('showErrorMessage="0"', False),
        ('showErrorMessage="1" errorStyle="warning"', False),
        ('showErrorMessage="1" errorStyle="information"', False),
        ("", False),
    ],
)
def test_a_rule_stops_where_it_refuses_and_says_so(attributes: str, stops: bool) -> None:
    state = _state(f'type="whole" {attributes}', "1", "2")
    assert state == RuleState("whole", 1, 2, stops=stops, ignores_blank=False)


def test_the_formula_of_the_extension_list_stands_deeper() -> None:
    rule = etree.fromstring(
        '<x14:dataValidation xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"'
        ' xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main" type="custom" showErrorMessage="1">'
        "<x14:formula1><xm:f> Start!$B$9 </xm:f></x14:formula1><xm:sqref>C3</xm:sqref></x14:dataValidation>"
    )
    assert rule_state(rule) == RuleState("custom", formula="=Start!$B$9", ignores_blank=False)


def test_a_relative_rule_is_another_one_elsewhere() -> None:
    rule = RuleState("custom", formula="=B8>$C$1")
    assert is_relative(rule)
    assert rule_at_distance(rule, 2, 1) == RuleState("custom", formula="=C10>$C$1")
    assert not is_relative(RuleState("custom", formula="=$B$8>$C$1"))
    assert not is_relative(RuleState("whole", 1, 2))
