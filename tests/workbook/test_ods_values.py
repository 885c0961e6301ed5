import pytest
from lxml import etree

from sheetgen.workbook.ods_values import content_of

_SPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("o", "office"), ("t", "table"), ("x", "text"))
)
_EXTENDED = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"


def _cell(attributes: str = "", inside: str = "") -> etree._Element:
    return etree.fromstring(
        f'<t:table-cell {_SPACES} xmlns:c="{_EXTENDED}" {attributes}>{inside}</t:table-cell>'
    )


# attributes, contents, value, whether it is a date
_VALUES = [
    ("", "", None, False),
    ('o:value-type="float" o:value="12.5"', "<x:p>12,5</x:p>", 12.5, False),
    ('o:value-type="percentage" o:value="0.175"', "<x:p>17.5 %</x:p>", 0.175, False),
    ('o:value-type="currency" o:value="3"', "", 3.0, False),
    ('o:value-type="float" o:value="NaN"', "", "NaN", False),
    ('o:value-type="float" o:value="1e999"', "", "1e999", False),
    ('o:value-type="float" o:value="1_0"', "", "1_0", False),
    ('o:value-type="float"', "", None, False),
    ('o:value-type="boolean" o:boolean-value="true"', "", True, False),
    ('o:value-type="boolean" o:boolean-value="false"', "", False, False),
    ('o:value-type="date" o:date-value="2026-03-05"', "", 46086.0, True),
    ('o:value-type="date" o:date-value="2026-03-05T06:00:00"', "", 46086.25, True),
    ('o:value-type="date" o:date-value="2026-03-05T06:00:00.000000000"', "", 46086.25, True),
    ('o:value-type="date" o:date-value="5 March"', "", "5 March", False),
    ('o:value-type="time" o:time-value="PT12H30M00S"', "", 0.5208333333333334, True),
    ('o:value-type="time" o:time-value="-PT6H"', "", -0.25, True),
    ('o:value-type="time" o:time-value="PT"', "", "PT", False),
    ('o:value-type="string" o:string-value="yes"', "<x:p>ja</x:p>", "yes", False),
    ('o:value-type="string"', "<x:p>right</x:p>", "right", False),
    ('o:value-type="string"', "", None, False),
    ('o:value-type="unheard-of"', "<x:p>word</x:p>", "word", False),
]


@pytest.mark.parametrize(("attributes", "inside", "value", "is_date"), _VALUES)
def test_content_of_a_value(attributes: str, inside: str, value: object, is_date: bool) -> None:
    found = content_of(_cell(attributes, inside))
    assert found == (value, "", False, is_date)
    assert type(found[0]) is type(value)


# contents, text
_TEXTS = [
    ('<x:p>Measurer S01 <x:s x:c="2"/>Session 1</x:p>', "Measurer S01   Session 1"),
    ("<x:p>one</x:p><x:p>two</x:p>", "one\ntwo"),
    ("<x:p>a<x:span>b<x:span>c</x:span></x:span>d</x:p>", "abcd"),
    ("<x:p>a<x:tab/>b<x:line-break/>c</x:p>", "a\tb\nc"),
    ("<x:p>  a \n b  </x:p>", "a b"),
    ("<o:annotation><x:p>a note</x:p></o:annotation><x:p>12</x:p>", "12"),
    ('<x:p>a<x:s x:c="2147483647"/>b</x:p>', "a" + " " * 64 + "b"),
]


@pytest.mark.parametrize(("inside", "text"), _TEXTS)
def test_content_of_a_text(inside: str, text: str) -> None:
    assert content_of(_cell('o:value-type="string"', inside))[0] == text


# attributes, formula
_FORMULAS = [
    ('t:formula="of:=SUM([.B9:.B15])"', "=SUM([.B9:.B15])"),
    ('t:formula="=A1"', "=A1"),
    ('t:formula="oooc:=[.A1]"', "=[.A1]"),
    ('t:formula="12+1"', "=12+1"),
]


@pytest.mark.parametrize(("attributes", "formula"), _FORMULAS)
def test_content_of_a_formula_keeps_its_own_syntax(attributes: str, formula: str) -> None:
    assert content_of(_cell(attributes)) == (None, formula, False, False)


def test_content_of_a_formula_that_gives_an_empty_text() -> None:
    attributes = 't:formula="of:=&quot;&quot;" o:value-type="string" o:string-value=""'
    assert content_of(_cell(attributes)) == ("", '=""', False, False)


def test_content_of_an_error() -> None:
    attributes = 't:formula="of:=1/0" o:value-type="string" o:string-value="" c:value-type="error"'
    assert content_of(_cell(attributes, "<x:p>#DIV/0!</x:p>")) == ("#DIV/0!", "=1/0", True, False)
