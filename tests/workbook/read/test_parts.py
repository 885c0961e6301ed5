import pytest
from lxml import etree
from openpyxl.formula.translate import Translator

from sheetgen.finding import RefusedError
from sheetgen.workbook.addresses import column_letters, column_number
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.read.parts import (
    Relation,
    defined_names,
    parse_part,
    read_properties,
    read_relations,
    read_shared_strings,
    read_styles,
    shift_formula,
    unescape,
)

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


# formula, rows, columns, moved formula
_CASES = [
    ("A1", 2, 3, "D3"),
    ("$A1+A$1+$A$1", 2, 3, "$A3+D$1+$A$1"),
    ("SUM(A1:B2)", 1, 1, "SUM(B2:C3)"),
    ('IF(A1="A1","B2 ""C3""",B2)', 1, 0, 'IF(A2="A1","B2 ""C3""",B3)'),
    ("LOG10(A1)+ATAN2(B1,C1)", 1, 0, "LOG10(A2)+ATAN2(B2,C2)"),
    ("Readings!B9*2", 1, 0, "Readings!B10*2"),
    ("'My A1 tab'!B9", 1, 0, "'My A1 tab'!B10"),
    ("'It''s A1'!B9", 1, 0, "'It''s A1'!B10"),
    ("Q1!B9", 1, 0, "Q1!B10"),
    ("Q1:Q4!B9", 1, 0, "Q1:Q4!B10"),
    ("sum_mm+site_1+A1x+xA1_", 1, 0, "sum_mm+site_1+A1x+xA1_"),
    ("rate.A1+A1.rate", 1, 0, "rate.A1+A1.rate"),
    ("1E5+A1", 1, 0, "1E5+A2"),
    ("SUM(A:B)+SUM($A:B)", 0, 1, "SUM(B:C)+SUM($A:C)"),
    ("SUM(1:2)+SUM($1:2)", 3, 0, "SUM(4:5)+SUM($1:5)"),
    ("Table1[Column A1]+A1", 1, 0, "Table1[Column A1]+A2"),
    ("Table1[[#All],[B2]]+B2", 1, 0, "Table1[[#All],[B2]]+B3"),
    ("[1]Tab!A1", 1, 0, "[1]Tab!A2"),
    ("A1", -1, 0, "#REF!"),
    ("A1:B3", 0, -1, "#REF!:A3"),
    ("A:B", 0, -1, "#REF!"),
    ("XFD1", 0, 1, "#REF!"),
    ("A1048576", 1, 0, "#REF!"),
    ("#N/A+#REF!+TRUE", 1, 1, "#N/A+#REF!+TRUE"),
    ("a1+aB$2", 1, 1, "B2+AC$2"),
]


@pytest.mark.parametrize(("formula", "rows", "columns", "moved"), _CASES)
def test_shift_formula_of_each_construct(formula: str, rows: int, columns: int, moved: str) -> None:
    assert shift_formula(formula, rows, columns) == moved


@pytest.mark.parametrize(
    "formula",
    [
        "A1+B2",
        "SUM($A1:B$2)",
        "IF(A1=\"B2\",'My tab'!C3,LOG10(D4))",
        "SUM(A:C)",
        "SUM(2:4)",
        "MEDIAN(A1,B1)/$C$1",
    ],
)
def test_shift_formula_agrees_with_another_translator(formula: str) -> None:
    expected = Translator(f"={formula}", "A1").translate_formula("D8")
    assert f"={shift_formula(formula, 7, 3)}" == expected


@pytest.mark.parametrize(
    ("letters", "number"), [("A", 0), ("Z", 25), ("AA", 26), ("IV", 255), ("XFD", 16383)]
)
def test_column_letters_and_number_round_trip(letters: str, number: int) -> None:
    assert column_number(letters) == number
    assert column_letters(number) == letters
