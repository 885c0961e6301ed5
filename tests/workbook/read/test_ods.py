import io
import tracemalloc
import zipfile

import pytest
from lxml import etree

from sheetgen.finding import Refusal
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.ods import (
    OdsStyles,
    content_of,
    plain_address,
    read_ods_styles,
    repeat_of,
)
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.wording import refused

_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"
_SPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("o", "office"), ("t", "table"), ("s", "style"), ("x", "text"))
)
_STYLES = (
    '<s:style s:name="open" s:family="table-cell"><s:table-cell-properties s:cell-protect="none"/></s:style>'
    '<s:style s:name="away" s:family="table"><s:table-properties t:display="false"/></s:style>'
)
_WIDE = '<t:table-cell t:number-columns-repeated="{}" o:value-type="float" o:value="12.5"/>'
_NUMBER = _WIDE.format(1)

# as an OpenDocument spreadsheet writes it, as a Snapshot has it
_ADDRESSES = [
    ("$Calculator.$B$177", "Calculator!$B$177"),
    ("Calculator.B177", "Calculator!B177"),
    ("$'Own tab'.$A$1", "'Own tab'!$A$1"),
    ("$'It''s 1.2'.$A$1", "'It''s 1.2'!$A$1"),
    ("$Sites.$A$1:.$B$2", "Sites!$A$1:$B$2"),
    ("$Sites.$A$1:$Sites.$B$2", "Sites!$A$1:$B$2"),
    ("$Sites.$A$1:$About.$B$2", "$Sites.$A$1:$About.$B$2"),
    ("$Sites.#REF!$1", "$Sites.#REF!$1"),
    ("of:=[.A1]+1", "of:=[.A1]+1"),
    ("", ""),
]

_SPACES_OF_ODS_STYLES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("o", "office"), ("t", "table"), ("s", "style"))
)

_SPACES_OF_ODS_VALUES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("o", "office"), ("t", "table"), ("x", "text"))
)
_EXTENDED = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"


def _content(body: str, attributes: str = "") -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><o:document-content {_SPACES}>'
        f"<o:automatic-styles>{_STYLES}</o:automatic-styles>"
        f"<o:body><o:spreadsheet {attributes}>{body}</o:spreadsheet></o:body></o:document-content>"
    )


def _table(rows: str, attributes: str = 't:name="Start"') -> str:
    return f"<t:table {attributes}>{rows}</t:table>"


def _outcome(content: str, **parts: str) -> Snapshot | Refusal:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", _TYPE)
        for name, text in {"content.xml": content, **parts}.items():
            archive.writestr(name, text)
    package = read_package_bytes(stream.getvalue())
    return snapshot(package) if isinstance(package, Package) else package


def _state(content: str, **parts: str) -> Snapshot:
    outcome = _outcome(content, **parts)
    assert isinstance(outcome, Snapshot), outcome
    return outcome


def _tab(rows: str) -> TabState:
    (tab,) = _state(_content(_table(rows))).tabs
    return tab


def _refused(content: str, **parts: str) -> Refusal:
    outcome = _outcome(content, **parts)
    assert isinstance(outcome, Refusal)
    return outcome


def test_snapshot_of_tabs_and_their_protection() -> None:
    tables = _table("", 't:name="Start" t:protected="true"') + _table("", 't:name="Two" t:style-name="away"')
    state = _state(_content(tables, 't:structure-protected="true"'))
    assert state.tabs == (TabState("Start", {}, True, "visible"), TabState("Two", {}, False, "hidden"))
    assert (state.structure_protected, state.formulas_comparable) == (True, False)
    assert not _state(_content(tables)).structure_protected


def test_snapshot_leaves_out_what_is_remembered_of_other_files() -> None:
    other = _table("<t:table-source/>", "t:name=\"'file:///a.ods'#$S\"")
    assert [tab.title for tab in _state(_content(_table("") + other)).tabs] == ["Start"]


def test_snapshot_of_repeated_cells_and_rows() -> None:
    rows = (
        f'<t:table-row t:number-rows-repeated="2"><t:table-cell t:number-columns-repeated="3"/>'
        f"{_WIDE.format(2)}</t:table-row>"
        f"<t:table-row>{_NUMBER}</t:table-row>"
    )
    state = CellState(12.5)
    assert _tab(rows).cells == dict.fromkeys([(0, 3), (0, 4), (1, 3), (1, 4), (2, 0)], state)


def test_snapshot_of_rows_in_groups_and_not_of_tables_inside_cells() -> None:
    row = f"<t:table-row>{_NUMBER}</t:table-row>"
    inner = f"<t:table-row><t:table-cell>{_table(row, '')}</t:table-cell></t:table-row>"
    rows = (
        f"<t:table-header-rows>{row}</t:table-header-rows>"
        f"<t:table-row-group><t:table-row-group>{row}</t:table-row-group></t:table-row-group>{inner}"
    )
    assert sorted(_tab(rows).cells) == [(0, 0), (1, 0)]


def test_snapshot_of_open_cells_by_own_row_and_column_style() -> None:
    rows = (
        '<t:table-column/><t:table-column t:default-cell-style-name="open"/>'
        "<t:table-row><t:table-cell/><t:table-cell/></t:table-row>"
        '<t:table-row t:default-cell-style-name="open"><t:table-cell/></t:table-row>'
        '<t:table-row><t:table-cell t:style-name="open"/><t:table-cell t:style-name="other"/></t:table-row>'
    )
    assert _tab(rows).cells == dict.fromkeys([(0, 1), (1, 0), (2, 0)], CellState(locked=False))


def test_snapshot_of_rules_that_refuse_something() -> None:
    rules = (
        '<t:content-validations><t:content-validation t:name="v1" t:condition="of:cell-content()>0"/>'
        '<t:content-validation t:name="v2"/></t:content-validations>'
    )
    row = '<t:table-cell t:content-validation-name="v1"/><t:table-cell t:content-validation-name="v2"/>'
    (tab,) = _state(_content(rules + _table(f"<t:table-row>{row}</t:table-row>"))).tabs
    assert tab.cells == {(0, 0): CellState(has_rule=True)}


def test_snapshot_keeps_true_apart_from_one() -> None:
    row = (
        '<t:table-cell o:value-type="boolean" o:boolean-value="true"/>'
        '<t:table-cell o:value-type="float" o:value="1"/>'
    )
    values = [one.value for one in _tab(f"<t:table-row>{row}</t:table-row>").cells.values()]
    assert [type(value) for value in values] == [bool, float]


def test_snapshot_of_names_and_properties() -> None:
    names = (
        '<t:named-expressions><t:named-range t:name="sum_mm" t:cell-range-address="$Start.$B$2"/>'
        '<t:named-expression t:name="twice" t:expression="of:=2*[.A1]"/></t:named-expressions>'
    )
    meta = (
        f'<o:document-meta {_SPACES} xmlns:d="http://purl.org/dc/elements/1.1/" '
        'xmlns:m="urn:oasis:names:tc:opendocument:xmlns:meta:1.0"><o:meta><d:title>Sheet</d:title>'
        '<d:date>2026-03-05T06:07:08.123456789</d:date><m:user-defined m:name="own">1</m:user-defined>'
        "</o:meta></o:document-meta>"
    )
    state = _state(_content(_table("") + names), **{"meta.xml": meta})
    assert state.names == {"sum_mm": "Start!$B$2", "twice": "of:=2*[.A1]"}
    assert (state.properties["title"], state.properties["own"]) == ("Sheet", "1")
    assert state.properties["modified"] == "2026-03-05T06:07:08"


# What a hostile or damaged file holds, and the code it is refused with.
# Packs badly, so that the guard on packages lets it through.
_NOISE = "".join(f"{number * 2_654_435_761 % 2**32:08x}" for number in range(12_000))
_DEEP = "<x:a>" * 2000 + "</x:a>" * 2000
_FULL_ROWS = f'<t:table-row t:number-rows-repeated="2147483648">{_WIDE.format(2**31)}</t:table-row>'
_HOSTILE = {
    "entities that multiply": (
        '<!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;&b;&b;">]>' + _content(_table("&c;")),
        "file-unsafe",
    ),
    "a number in every cell of two thousand million rows": (_content(_table(_FULL_ROWS)), "file-too-large"),
    "elements two thousand deep": (_content(_table(_DEEP)), "file-unreadable"),
    "no tabs": (_content(""), "file-unreadable"),
    "no body": (f"<o:document-content {_SPACES}/>", "file-unreadable"),
    "another vocabulary": ("<workbook/>", "file-unreadable"),
    "cut off": (_content(_table(""))[:-20], "file-unreadable"),
    "more elements than any sheet": (_content(_table("<t:table-row/>" * 200_000 + _NOISE)), "file-too-large"),
    "two million elements, packed tightly": (_content(_table("<a/>" * 2_000_000)), "file-too-large"),
}


@pytest.mark.parametrize("kind", _HOSTILE)
def test_snapshot_refuses(kind: str) -> None:
    content, code = _HOSTILE[kind]
    assert _refused(content).code == code


def test_snapshot_names_the_bound_on_elements() -> None:
    refusal = _refused(_HOSTILE["more elements than any sheet"][0])
    assert refused(refusal).found == "too many elements in 'content.xml'"


def test_snapshot_of_rows_in_groups_two_hundred_deep() -> None:
    row = f"<t:table-row>{_NUMBER}</t:table-row>"
    rows = "<t:table-row-group>" * 200 + row * 3 + "</t:table-row-group>" * 200
    assert sorted(_tab(rows).cells) == [(0, 0), (1, 0), (2, 0)]


def test_snapshot_without_contents() -> None:
    package = Package({}, "", (), "ods")
    outcome = snapshot(package)
    assert isinstance(outcome, Refusal)
    assert outcome.code == "file-unreadable"


# Rows that say they are millions and hold nothing that is kept, or little; how many cells are kept.
_EMPTY_REPEATS = {
    "empty": ('<t:table-row t:number-rows-repeated="2147483648"><t:table-cell/></t:table-row>', 0),
    "open": (
        '<t:table-row t:number-rows-repeated="2147483648">'
        '<t:table-cell t:style-name="open" t:number-columns-repeated="2147483648"/></t:table-row>',
        500 * 64,
    ),
    "far below": (
        '<t:table-row t:number-rows-repeated="1048575"><t:table-cell/></t:table-row>'
        f"<t:table-row>{_NUMBER}</t:table-row>",
        0,
    ),
    "far to the right": (
        f'<t:table-row><t:table-cell t:number-columns-repeated="16383"/>{_NUMBER}</t:table-row>',
        0,
    ),
    "one column full": (
        f'<t:table-row t:number-rows-repeated="1048576">{_NUMBER}</t:table-row>',
        5_000,
    ),
}


@pytest.mark.parametrize("kind", _EMPTY_REPEATS)
def test_snapshot_of_repeats_costs_little(kind: str) -> None:
    rows, count = _EMPTY_REPEATS[kind]
    tracemalloc.start()
    kept = len(_tab(rows).cells)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert kept == count
    assert peak < 10_000_000


def test_snapshot_of_many_tabs_of_open_cells_ends() -> None:
    """What is beyond the bound is left out, and what cells hold is still read."""
    row = (
        '<t:table-row t:number-rows-repeated="2147483648">'
        '<t:table-cell t:style-name="open" t:number-columns-repeated="64"/></t:table-row>'
    )
    filled = f"<t:table-row>{_NUMBER}</t:table-row>"
    state = _state(_content(_table(row) * 2_000 + _table(filled, 't:name="Last"')))
    assert sum(len(tab.cells) for tab in state.tabs) <= 200_001
    assert state.tabs[-1].value(0, 0) == 12.5


@pytest.mark.parametrize(("text", "expected"), _ADDRESSES)
def test_plain_address(text: str, expected: str) -> None:
    assert plain_address(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [(None, 1), ("7", 7), ("0", 1), ("-3", 1), ("2.5", 1), ("x", 1), ("2147483648", 1_000_000_000)],
)
def test_repeat_of(text: str | None, expected: int) -> None:
    assert repeat_of(text) == expected


def _styles(automatic: str, common: str = "") -> OdsStyles:
    return read_ods_styles(
        etree.fromstring(f"<o:document {_SPACES_OF_ODS_STYLES}><o:{group}>{text}</o:{group}></o:document>")
        for group, text in (("automatic-styles", automatic), ("styles", common))
    )


def _cell_style(name: str, protect: str = "", parent: str = "") -> str:
    said = f' s:cell-protect="{protect}"' if protect else ""
    derived = f' s:parent-style-name="{parent}"' if parent else ""
    return (
        f'<s:style s:name="{name}" s:family="table-cell"{derived}><s:table-cell-properties{said}/></s:style>'
    )


def test_locked_by_the_words_of_a_style() -> None:
    words = ("none", "protected", "formula-hidden", "hidden-and-protected", "protected formula-hidden")
    styles = _styles("".join(_cell_style(f"ce{number}", word) for number, word in enumerate(words)))
    assert [styles.locked(f"ce{number}") for number in range(5)] == [False, True, False, True, True]


def test_locked_where_no_style_says_anything() -> None:
    styles = _styles(_cell_style("ce1"))
    assert [styles.locked(name) for name in ("", "ce1", "unheard-of")] == [True] * 3


def test_locked_by_the_parent_of_a_style() -> None:
    styles = _styles(
        _cell_style("ce1", parent="Open") + _cell_style("ce2", "protected", "Open"),
        _cell_style("Open", "none"),
    )
    assert (styles.locked("ce1"), styles.locked("ce2")) == (False, True)


def test_locked_by_parents_that_go_round_in_a_circle() -> None:
    styles = _styles(_cell_style("a", parent="b") + _cell_style("b", parent="a"))
    assert styles.locked("a")


def test_locked_by_the_default_style() -> None:
    default = (
        '<s:default-style s:family="table-cell"><s:table-cell-properties s:cell-protect="none"/>'
        "</s:default-style>"
    )
    styles = _styles(_cell_style("ce1"), default)
    assert (styles.locked("ce1"), styles.locked("")) == (False, False)


def test_hidden_tabs_by_their_style() -> None:
    tabs = "".join(
        f'<s:style s:name="ta{number}" s:family="table"><s:table-properties t:display="{shown}"/></s:style>'
        for number, shown in ((1, "true"), (2, "false"))
    )
    assert _styles(tabs).hidden == {"ta2"}


def _cell(attributes: str = "", inside: str = "") -> etree._Element:
    return etree.fromstring(
        f'<t:table-cell {_SPACES_OF_ODS_VALUES} xmlns:c="{_EXTENDED}" {attributes}>{inside}</t:table-cell>'
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
