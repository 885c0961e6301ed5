"""A tab read with what was seen before holds the same as one read by the XML parser alone."""

import io
import re
from dataclasses import replace
from functools import lru_cache

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetgen.flows.sample_entries import sample_entries, stored_results
from sheetgen.model.snapshot import CellState, Snapshot
from sheetgen.workbook.fill import filled
from sheetgen.workbook.package import Package, Refusal, read_package_bytes
from sheetgen.workbook.seen_cells import read_seen_tab
from sheetgen.workbook.sheet_xml import BookContext
from sheetgen.workbook.snapshot_xlsx import snapshot
from tests.referee import comparable, referee_snapshot
from tests.sheets import CALIPERS, sheet_of

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_BOOK = BookContext({"0": "chest", "1": "thigh"}, {None: (True, False), "1": (False, False)}, False)


@lru_cache(maxsize=4)
def _filled(seed: str) -> bytes:
    sheet = sheet_of()
    protocol, rules = sheet.source.protocol, sheet.source.settings
    entries = {**sample_entries(protocol, rules, CALIPERS[0], seed), "caliper_id": "C1", "side": "right"}
    return filled(sheet.data, sheet.layout, entries, stored_results(protocol, rules, entries))


@lru_cache(maxsize=4)
def _saved_by_openpyxl(seed: str) -> bytes:
    stream = io.BytesIO()
    openpyxl.load_workbook(io.BytesIO(_filled(seed))).save(stream)
    return stream.getvalue()


_FILES = {
    "handed out": lambda: sheet_of().data,
    "filled": lambda: _filled("A"),
    "filled by another": lambda: _filled("B"),
    "saved by openpyxl": lambda: _saved_by_openpyxl("A"),
}


def _package(data: bytes) -> Package:
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    return package


def _both(package: Package) -> tuple[Snapshot | Refusal, Snapshot | Refusal]:
    """The outcome with and without what was seen before."""
    return snapshot(package), snapshot(package, remember=False)


@pytest.mark.parametrize("name", sorted(_FILES))
def test_every_kind_of_file_is_read_the_same(name: str) -> None:
    """Twice: once as new, once as seen; the order of cells and the kinds of values are the same too."""
    for _ in range(2):
        seen, plain = _both(_package(_FILES[name]()))
        assert isinstance(seen, Snapshot)
        assert repr(seen) == repr(plain)


@pytest.mark.parametrize("name", sorted(_FILES))
def test_every_kind_of_file_is_read_as_by_the_referee(name: str) -> None:
    data = _FILES[name]()
    seen, _ = _both(_package(data))
    assert isinstance(seen, Snapshot)
    assert comparable(seen) == comparable(referee_snapshot(data))


_TOKENS = (
    b"<!-- x -->", b"<![CDATA[1]]>", b"<?x y?>", b"&amp;", b"&bad;", b"&#49;", b"&#0;", b"]]>", b"</c>",
    b'<c r="A1"/>', b"<c/>", b"</row><row>", b"</row>", b'"', b"'", b">", b"<", b"/", b"\x00", b"\x0b",
    b"\xff", b"\xc3\xa9", b"\r\n", b' r="B2"', b' t="s"', b' t="b"', b' s="3"', b"<v>9</v>", b"<v/>",
    b"<f>1</f>", b' xmlns="x"', b' xmlns:q="x"', b' q:a="1"', b"_x0041_", b"7", b"-", b"E5", b".", b" ",
    b"<c r=", b"<row>", b"</sheetData>", b"<sheetData>", b"<sheetData/>",
    b'<f t="shared" si="0">A1</f>', b"<is><t>x</t></is>",
    b'<sheetProtection sheet="1"/>', b"</t></si><si><t>", b"<si>", b"<t>",
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_changed_bytes_are_read_or_refused_alike(data: st.DataObject) -> None:
    package = _package(data.draw(st.sampled_from([_filled("A"), _saved_by_openpyxl("A")])))
    snapshot(package)
    kinds = ("sheet", "strings.xml", "styles.xml")
    names = sorted(name for name in package.parts if any(kind in name for kind in kinds))
    name = data.draw(st.sampled_from(names))
    part = package.parts[name]
    for _ in range(data.draw(st.integers(1, 3))):
        token = data.draw(st.sampled_from(_TOKENS))
        # Most places of meaning are those where one element or attribute ends.
        ends = [match.start() for match in re.finditer(rb'[<>"]', part)]
        at = data.draw(st.sampled_from(ends)) + data.draw(st.integers(-1, 2))
        removed = data.draw(st.integers(0, 3))
        part = part[:at] + token + part[at + removed :]
    changed = replace(package, parts={**package.parts, name: part})
    for _ in range(2):
        seen, plain = _both(changed)
        assert repr(seen) == repr(plain)


def _tab(rows: str, opening: str = f'<worksheet xmlns="{_MAIN}">', tail: str = "") -> bytes:
    return f"{opening}<sheetData>{rows}</sheetData>{tail}</worksheet>".encode()


def test_a_cell_seen_with_another_value_of_its_kind() -> None:
    first = _tab('<row r="1"><c r="A1" s="1"><v>1</v></c><c r="B1" t="s"><v>0</v></c></row>')
    second = _tab('<row r="1"><c r="A1" s="1"><v>-2.5E3</v></c><c r="B1" t="s"><v>1</v></c></row>')
    assert read_seen_tab(first, "one", _BOOK) is not None
    tab = read_seen_tab(second, "one", _BOOK)
    assert tab is not None
    assert tab.cells == {(0, 0): CellState(-2500.0, locked=False), (0, 1): CellState("thigh")}
    assert tab.count == 2


# what is left to the XML parser, each after a tab of the known shape was seen
@pytest.mark.parametrize(
    "part",
    (
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>').replace(b"<v>", b"<!-- --><v>"),
        _tab('<row r="1"><c r="A1"><v><![CDATA[1]]></v></c></row>'),
        _tab('<row r="1"><c><v>1</v></c></row>'),
        _tab('<row r="1"><c r="A1" t="s"><v>7</v></c></row>'),
        _tab('<row r="1"><c r="A1"><f t="shared" si="0" ref="A1">B1</f></c></row>'),
        _tab('<row r="0"><c r="A1"><v>1</v></c></row>'),
        _tab('<row r="1"><c r="A1" s="1" s="1"><v>1</v></c></row>'),
        _tab('<row r="1" r="1"><c r="A1"><v>1</v></c></row>'),
        _tab('<row r="1"><c r="A1"><v>&bad;</v></c></row>'),
        _tab('<row r="1"><q:c r="A1"/></row>', f'<worksheet xmlns="{_MAIN}" xmlns:q="{_MAIN}">'),
        _tab('<row r="1" xmlns="x"><c r="A1"><v>1</v></c></row>'),
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>', '<worksheet xmlns="x">'),
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>', "<worksheet>"),
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>', tail="<unclosed>"),
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>') + b"<more/>",
        b'<?xml version="1.0" encoding="iso-8859-1"?>' + _tab('<row r="1"><c r="A1"><v>1</v></c></row>'),
        _tab('<row r="1"><c r="A1"><v>1</v></c></row>', f'<worksheet xmlns="{_MAIN}"><sheetProtection/>'),
        _tab('<row r="1"/>'),
    ),
)
def test_other_shapes_are_left_to_the_parser(part: bytes) -> None:
    assert read_seen_tab(_tab('<row r="1"><c r="A1"><v>1</v></c></row>'), "one", _BOOK) is not None
    assert read_seen_tab(part, "one", _BOOK) is None


def test_the_same_bytes_under_other_formats_are_another_cell() -> None:
    part = _tab('<row r="1"><c r="A1" s="1"><v>45000</v></c></row>')
    books = [
        BookContext({}, {"1": style}, starts, style_part)
        for style, starts, style_part in (((True, False), False, b"a"), ((False, True), True, b"b"))
    ]
    states = [tab.cells[0, 0] for book in books if (tab := read_seen_tab(part, "one", book)) is not None]
    assert states == [CellState(45000.0), CellState(46462.0, locked=False, is_date=True)]


def test_memory_is_bounded() -> None:
    """What was seen is forgotten when it grows too large; what is read stays the same."""
    for number in range(3_000):
        part = _tab(f'<row r="1"><c r="A1"><f>B1+{"1" * 400}{number}</f><v>1</v></c></row>')
        tab = read_seen_tab(part, "bounded", _BOOK)
        assert tab is not None
        assert tab.cells[0, 0].formula.endswith(str(number))
