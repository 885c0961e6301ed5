import pytest
from lxml import etree

from sheetgen.finding import RefusedError
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.parts import (
    Relation,
    RuledPlaces,
    defined_names,
    parse_part,
    read_properties,
    read_relations,
    read_rules,
    read_shared_strings,
    read_styles,
    rule_state,
    unescape,
)
from sheetgen.workbook.snapshot import RuleState

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"


def _package(name: str, text: str) -> Package:
    return Package({name: text.encode()}, "")


def _strings(items: str, opening: str = f'<sst xmlns="{_MAIN}">', closing: str = "</sst>") -> list[str]:
    return list(read_shared_strings(_package("s.xml", opening + items + closing), "s.xml").values())


def test_read_relations_absolute_relative_and_external() -> None:
    text = (
        f'<Relationships><Relationship Id="a" Type="{_OFFICE}/worksheet" Target="/XL/worksheets/One.xml"/>'
        '<Relationship Id="b" Type="http://purl.oclc.org/ooxml/officeDocument/relationships/styles"'
        ' Target="../styles.xml"/>'
        '<Relationship Id="c" Type="x/y-z" Target="worksheets\\two.xml"/>'
        '<Relationship Id="d" Type="x/y" Target="http://a.example/b" TargetMode="External"/></Relationships>'
    )
    assert read_relations(_package("xl/_rels/workbook.xml.rels", text), "xl/workbook.xml") == (
        Relation("a", "worksheet", "xl/worksheets/one.xml"),
        Relation("b", "styles", "styles.xml"),
        Relation("c", "yz", "xl/worksheets/two.xml"),
    )


def test_read_relations_of_a_part_without_any() -> None:
    assert read_relations(Package({}, ""), "xl/workbook.xml") == ()


def test_parse_part_missing() -> None:
    assert parse_part(Package({}, ""), "xl/workbook.xml") is None


def test_parse_part_with_an_escaped_name() -> None:
    root = parse_part(_package("xl/my tab.xml", "<a/>"), "xl/my%20tab.xml")
    assert root is not None
    assert root.tag == "a"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("<a>", "file-unreadable"),
        ("", "file-unreadable"),
        ("<a>&b;</a>", "file-unreadable"),
        ("<a>" * 300 + "</a>" * 300, "file-unreadable"),
        ("<!DOCTYPE a><a/>", "file-unsafe"),
        ("<a>" + "<b/>" * 1_500_001 + "</a>", "file-too-large"),
        ("<a>" + "=" * 3_000_001 + "</a>", "file-too-large"),
    ],
)
def test_parse_part_refused(text: str, code: str) -> None:
    with pytest.raises(RefusedError) as caught:
        parse_part(_package("a.xml", text), "a.xml")
    assert caught.value.refusal.code == code


def test_read_shared_strings_plain_rich_and_phonetic() -> None:
    items = (
        "<si><t>plain</t></si><si/><si><t/></si><si><t xml:space='preserve'> a </t></si>"
        "<si><r><t>ri</t></r><r><rPr><b/></rPr><t>ch</t></r><rPh sb='0' eb='1'><t>no</t></rPh></si>"
        "<si><t>base</t><rPh sb='0' eb='1'><t>no</t></rPh><phoneticPr fontId='1'/></si>"
    )
    assert _strings(items) == ["plain", "", "", " a ", "rich", "base"]


@pytest.mark.parametrize("namespace", [_MAIN, _STRICT])
def test_read_shared_strings_any_prefix(namespace: str) -> None:
    opening = f'<x:sst xmlns:x="{namespace}">'
    assert _strings("<x:si><x:t>a</x:t></x:si>", opening, "</x:sst>") == ["a"]


def test_read_shared_strings_of_another_vocabulary() -> None:
    with pytest.raises(RefusedError):
        _strings("", '<sst xmlns="urn:other">')


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("a_x0041_", "aA"),
        ("_x005F_x0041_", "_x0041_"),
        ("_xD83D__xDE00_", "\U0001f600"),
        ("_xD83D_", "\ufffd"),
        ("_x41_ _xZZZZ_ x_x", "_x41_ _xZZZZ_ x_x"),
    ],
)
def test_unescape_of_each_form(text: str, plain: str) -> None:
    assert unescape(text) == plain


# number format in the cell format, custom code for it or None, whether it shows dates
_FORMATS = [
    ("0", None, False),
    ("2", None, False),
    ("14", None, True),
    ("22", None, True),
    ("45", None, True),
    ("49", None, False),
    ("99999", None, False),
    ("x", None, False),
    ("164", "yyyy-mm-dd", True),
    ("164", "[h]:mm:ss", True),
    ("164", "[$-409]d-mmm;@", True),
    ("164", "General", False),
    ("164", '0.0 "mm/day"', False),
    ("164", "0.0\\d", False),
    ("164", "[Red]0;[Yellow]-0", False),
    ("164", "_d0*y", False),
    ("164", '0;"no"d', False),
    ("14", "0.00", False),
]


@pytest.mark.parametrize(("number", "code", "is_date"), _FORMATS)
def test_read_styles_date_formats(number: str, code: str | None, is_date: bool) -> None:
    element = etree.Element("numFmt", numFmtId=number, formatCode=code or "")
    custom = "" if code is None else f"<numFmts>{etree.tostring(element).decode()}</numFmts>"
    text = f'<styleSheet xmlns="{_MAIN}">{custom}<cellXfs><xf numFmtId="{number}"/></cellXfs></styleSheet>'
    assert read_styles(_package("s.xml", text), "s.xml")["0"] == (True, is_date)


def test_read_styles_locks() -> None:
    formats = (
        '<xf/><xf><protection locked="0"/></xf><xf><protection locked="false" hidden="1"/></xf>'
        '<xf><protection hidden="1"/></xf><xf><protection locked="1"/></xf>'
    )
    text = (
        f'<styleSheet xmlns="{_MAIN}"><cellStyleXfs><xf><protection locked="0"/></xf></cellStyleXfs>'
        f"<cellXfs>{formats}</cellXfs></styleSheet>"
    )
    styles = read_styles(_package("s.xml", text), "s.xml")
    assert [styles[str(index)][0] for index in range(5)] == [True, False, False, True, True]
    assert styles[None] == (True, False)


def test_defined_names_of_the_whole_workbook_only() -> None:
    root = etree.fromstring(
        f'<workbook xmlns="{_MAIN}"><definedNames><definedName name="sum_mm">Tab!$A$1</definedName>'
        '<definedName name="local" localSheetId="0">Tab!$A$2</definedName><definedName name="empty"/>'
        "</definedNames></workbook>"
    )
    assert defined_names(root, f"{{{_MAIN}}}") == {"sum_mm": "Tab!$A$1", "empty": ""}


def test_read_properties_core_application_and_custom() -> None:
    package = Package(
        {
            "app.xml": b"<Properties><Application>One</Application>"
            b"<TitlesOfParts><v/></TitlesOfParts></Properties>",
            "core.xml": b'<c:core xmlns:c="urn:c" xmlns:d="urn:d">'
            b"<d:title>Two</d:title><d:creator/></c:core>",
            "custom.xml": b'<Properties xmlns:v="urn:v">'
            b'<property name="copy"><v:lpwstr>Three</v:lpwstr></property>'
            b'<property name="title"><v:i4>4</v:i4></property><property name="none"/></Properties>',
        },
        "",
    )
    assert read_properties(package, ("app.xml", "core.xml", "custom.xml", "missing.xml")) == {
        "Application": "One",
        "title": "4",
        "creator": "",
        "copy": "Three",
    }


def _rules(validations: str, extension: str = "") -> RuledPlaces:
    root = etree.fromstring(
        f'<worksheet xmlns="{_MAIN}"><dataValidations>{validations}</dataValidations>{extension}</worksheet>'
    )
    return read_rules(root, f"{{{_MAIN}}}")


def _validation(blocks: str) -> str:
    return f'<dataValidation type="whole" sqref="{blocks}"/>'


def test_read_rules_small_blocks_place_by_place() -> None:
    rules = _rules(_validation("B2 D4:E5"))
    assert rules.rules.keys() == {(1, 1), (3, 3), (3, 4), (4, 3), (4, 4)}
    assert rules.wide == ()


def test_read_rules_whole_columns_kept_as_blocks() -> None:
    rules = _rules(_validation("A1:XFD1048576"))
    assert not rules.rules
    assert [block for block, _ in rules.wide] == [(0, 0, 4999, 255)]
    assert rules.covers((4999, 255))
    assert not rules.covers((5000, 0))


def test_read_rules_message_only_does_not_count() -> None:
    assert not _rules('<dataValidation sqref="A1"/><dataValidation type="none" sqref="A2"/>').rules


def test_read_rules_extension_list() -> None:
    extension = (
        '<extLst><ext><x14:dataValidations xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"'
        ' xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><x14:dataValidation type="list">'
        "<xm:sqref>C3 C5</xm:sqref></x14:dataValidation></x14:dataValidations></ext></extLst>"
    )
    assert _rules("", extension).rules.keys() == {(2, 2), (4, 2)}


def test_read_rules_unreadable_block_covers_nothing() -> None:
    assert _rules(_validation("A1:? nonsense A5001 IW1")).rules == {}


@pytest.mark.parametrize(
    "blocks",
    [
        " ".join(f"A{row}:IV{row + 4000}" for row in range(1, 300)),
        " ".join(f"A{row}:IV{row + 4}" for row in range(1, 4000, 5)),
    ],
)
def test_read_rules_too_many_blocks_refused(blocks: str) -> None:
    with pytest.raises(RefusedError) as caught:
        _rules(_validation(blocks))
    assert caught.value.refusal.code == "file-too-large"


def _test_rule(formula: str, blocks: str) -> str:
    return f'<dataValidation type="custom" sqref="{blocks}"><formula1>{formula}</formula1></dataValidation>'


def test_read_rules_of_a_block_are_those_of_each_cell() -> None:
    rules = _rules(_test_rule("B8&gt;$C$1", "B8:B9 D8") + _test_rule("TRUE", "A1:A2")).rules
    assert {place: rule.formula for place, rule in rules.items() if rule} == {
        (7, 1): "=B8>$C$1",
        (8, 1): "=B9>$C$1",
        (7, 3): "=D8>$C$1",
        (0, 0): "=TRUE",
        (1, 0): "=TRUE",
    }


def test_read_rules_unclear_from_which_corner_are_not_understood() -> None:
    rules = _rules(_test_rule("B8&gt;1", "B9 B8") + _test_rule("$B$8&gt;1", "D9 D8"))
    assert rules.rules.keys() == {(8, 1), (7, 1), (8, 3), (7, 3)}
    assert {place for place, rule in rules.rules.items() if rule} == {(8, 3), (7, 3)}


def test_read_rules_the_last_one_over_a_place_counts() -> None:
    rules = _rules(_test_rule("1", "A1:A2") + _test_rule("2", "A2") + _test_rule("3", "A1:A2")).rules
    assert [rule.formula for rule in rules.values() if rule] == ["=3", "=3"]


def test_read_rules_wide_ones_keep_what_does_not_depend_on_the_place() -> None:
    rules = _rules(_test_rule("$B$8&gt;1", "A:A A1:A9999") + _test_rule("B8&gt;1", "B1:B9999"))
    assert [(block, rule and rule.formula) for block, rule in dict.fromkeys(rules.wide)] == [
        ((0, 0, 4999, 0), "=$B$8>1"),
        ((0, 1, 4999, 1), None),
    ]


def test_read_rules_beyond_what_a_sheet_has_are_not_looked_into() -> None:
    many = "".join(_test_rule("A1&gt;1", f"A{row}:F{row}") for row in range(1, 301))
    plain = "".join(_test_rule("1", f"A{row}") for row in range(1, 2_501))
    read = [[rule for rule in _rules(text).rules.values() if rule] for text in (many, plain)]
    assert list(map(len, read)) == [996, 2_000]


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
