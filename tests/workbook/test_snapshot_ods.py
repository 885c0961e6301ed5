import io
import tracemalloc
import zipfile

import pytest

from sheetgen.model.snapshot import CellState, Snapshot, TabState
from sheetgen.workbook.package import Package, Refusal, read_package_bytes
from sheetgen.workbook.snapshot_ods import snapshot
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
