import pytest
from lxml import etree

from sheetgen.model.snapshot import CellState
from sheetgen.workbook.refusal import Refusal, RefusedError
from sheetgen.workbook.sheet_rules import RuledPlaces
from sheetgen.workbook.snapshot_xlsx import BookContext, read_cells

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRINGS = {"0": "chest", "1": ""}
# formats: 0 locked, 1 unlocked, 2 date, 3 unlocked date
_STYLES = {
    None: (True, False),
    "0": (True, False),
    "1": (False, False),
    "2": (True, True),
    "3": (False, True),
}
_NO_RULES = RuledPlaces(frozenset(), ())


def _cells(
    rows: str, rules: RuledPlaces = _NO_RULES, starts_1904: bool = False
) -> dict[tuple[int, int], CellState]:
    root = etree.fromstring(f'<sheetData xmlns="{_MAIN}">{rows}</sheetData>')
    return read_cells(root, f"{{{_MAIN}}}", BookContext(_STRINGS, _STYLES, starts_1904), rules)


def _refused(rows: str) -> Refusal:
    with pytest.raises(RefusedError) as caught:
        _cells(rows)
    return caught.value.refusal


# the cell's XML, what is read
_ONE_CELL = [
    ("<c r='A1'><v>12.4</v></c>", CellState(12.4)),
    ("<c r='A1' t='n'><v> 5 </v></c>", CellState(5.0)),
    ("<c r='A1'><v>1e999</v></c>", CellState("1e999")),
    ("<c r='A1'><v>nan</v></c>", CellState("nan")),
    ("<c r='A1'><v>1_0</v></c>", CellState("1_0")),
    ("<c r='A1'><v>12,4</v></c>", CellState("12,4")),
    ("<c r='A1' t='s'><v>0</v></c>", CellState("chest")),
    ("<c r='A1' t='s'><v> 01 </v></c>", CellState("")),
    ("<c r='A1' t='s'><v/></c>", CellState(None)),
    ("<c r='A1' t='str'><v>a_x0009_b</v></c>", CellState("a\tb")),
    ("<c r='A1' t='str'><f>A2</f><v></v></c>", CellState("", "=A2")),
    ("<c r='A1'><f>A2&amp;\"&lt;\"</f></c>", CellState(None, '=A2&"<"')),
    ("<c r='A1'><f/><v>1</v></c>", CellState(1.0)),
    ("<c r='A1'><f>A2</f><v></v></c>", CellState(None, "=A2")),
    ("<c r='A1' s='1'><v></v></c>", CellState(None, locked=False)),
    ("<c r='A1' t='inlineStr'><is><t>in</t></is></c>", CellState("in")),
    ("<c r='A1' t='inlineStr'><is><r><t>in</t></r><r><t>line</t></r></is></c>", CellState("inline")),
    ("<c r='A1' t='b'><v>1</v></c>", CellState(True)),
    ("<c r='A1' t='b'><v>0</v></c>", CellState(False)),
    ("<c r='A1' t='e'><f>#REF!+1</f><v>#REF!</v></c>", CellState("#REF!", "=#REF!+1", is_error=True)),
    ("<c r='A1' s='2'><v>45000</v></c>", CellState(45000.0, is_date=True)),
    ("<c r='A1' s='2' t='s'><v>0</v></c>", CellState("chest")),
    ("<c r='A1' s='2'><v>12,4</v></c>", CellState("12,4")),
    ("<c r='A1' s='3'/>", CellState(None, locked=False)),
    ("<c r='A1' s='99'><v>1</v></c>", CellState(1.0)),
    ("<c r='A1' t='d'><v>2023-03-15</v></c>", CellState(45000.0, is_date=True)),
    ("<c r='A1' t='d'><v>2023-03-15T12:00:00Z</v></c>", CellState(45000.5, is_date=True)),
    ("<c r='A1' t='d'><v>T06:00:00</v></c>", CellState(0.25, is_date=True)),
    ("<c r='A1' t='d'><v>12 April</v></c>", CellState("12 April")),
    (
        "<c r='A1'><f t='array' ref='A1:A2'>SUM(B1:B2*C1:C2)</f><v>3</v></c>",
        CellState(3.0, "=SUM(B1:B2*C1:C2)"),
    ),
    ("<c r='A1'><f t='dataTable' ref='A1:A2' r1='B1'/><v>3</v></c>", CellState(3.0, "=TABLE(B1,)")),
]


@pytest.mark.parametrize(("cell", "expected"), _ONE_CELL)
def test_read_cells_one_cell_of_each_kind(cell: str, expected: CellState) -> None:
    cells = _cells(f"<row r='1'>{cell}</row>")
    assert cells == {(0, 0): expected}
    assert type(cells[0, 0].value) is type(expected.value)


def test_read_cells_kinds_of_equal_value_stay_apart() -> None:
    """1 and TRUE are equal to Python but not to a person who typed them."""
    cells = _cells("<row><c><v>1</v></c><c t='b'><v>1</v></c><c><v>0</v></c><c t='b'><v>0</v></c></row>")
    assert [type(state.value) for state in cells.values()] == [float, bool, float, bool]


def test_read_cells_empty_locked_cells_left_out() -> None:
    assert _cells("<row r='1'><c r='A1'/><c r='B1' s='2'/></row>") == {}


def test_read_cells_without_references() -> None:
    rows = (
        "<row><c><v>1</v></c><c><v>2</v></c></row><row r='5'><c><v>3</v></c></row>"
        "<row><c r='D6'><v>4</v></c><c><v>5</v></c><extLst/></row>"
    )
    values = {place: state.value for place, state in _cells(rows).items()}
    assert values == {(0, 0): 1.0, (0, 1): 2.0, (4, 0): 3.0, (5, 3): 4.0, (5, 4): 5.0}


def test_read_cells_addresses_beyond_the_bounds_left_out() -> None:
    rows = (
        "<row r='1'><c r='IV1'><v>1</v></c><c r='IW1'><v>2</v></c><c r='XFD1'><v>3</v></c></row>"
        "<row r='5000'><c r='A5000'><v>4</v></c></row><row r='5001'><c r='A5001'><v>5</v></c></row>"
        "<row r='4294967295'><c r='A4294967295'><v>6</v></c></row>"
    )
    assert sorted(_cells(rows)) == [(0, 255), (4999, 0)]


def test_read_cells_with_rules() -> None:
    rules = RuledPlaces(frozenset({(0, 0), (0, 1), (9, 9)}), ((0, 2, 4999, 2),))
    cells = _cells("<row><c><v>1</v></c><c/><c/><c s='1'/><c/></row>", rules)
    assert cells == {
        (0, 0): CellState(1.0, has_rule=True),
        (0, 1): CellState(has_rule=True),
        (0, 2): CellState(has_rule=True),
        (0, 3): CellState(locked=False),
        (9, 9): CellState(has_rule=True),
    }


def test_read_cells_shared_formula_translated_for_each_dependant() -> None:
    rows = (
        "<row r='1'><c r='C1'><f t='shared' ref='C1:D2' si='0'>A1+$B$1&amp;\"A1\"</f><v>1</v></c>"
        "<c r='D1'><f t='shared' si='0'/><v>2</v></c></row>"
        "<row r='2'><c r='C2'><f t='shared' si='0'>ignored</f></c><c r='D2'><f t='shared' si='0'/></c></row>"
        "<row r='3'><c r='C3'><f t='shared' ref='C3' si='0'>B9</f></c></row>"
        "<row r='4'><c r='C4'><f t='shared' si='0'/></c></row>"
    )
    formulas = {place: state.formula for place, state in _cells(rows).items()}
    assert formulas == {
        (0, 2): '=A1+$B$1&"A1"',
        (0, 3): '=B1+$B$1&"A1"',
        (1, 2): '=A2+$B$1&"A1"',
        (1, 3): '=B2+$B$1&"A1"',
        (2, 2): "=B9",
        (3, 2): "=B10",
    }


def test_read_cells_shared_formula_whose_master_is_left_out() -> None:
    master = "<c r='A6000'><f t='shared' ref='A1' si='0'>B6000</f></c>"
    rows = f"<row>{master}<c r='A1'><f t='shared' si='0'/></c></row>"
    assert _cells(rows)[0, 0].formula == "=B1"


def test_read_cells_dates_of_1904_counted_from_1900() -> None:
    rows = "<row><c s='2'><v>43538</v></c><c s='2'><v>0.5</v></c><c><v>43538</v></c></row>"
    cells = _cells(rows, starts_1904=True)
    assert [state.value for state in cells.values()] == [45000.0, 0.5, 43538.0]


# rows, code
_REFUSED = [
    ("<row><c t='s'><v>2</v></c></row>", "file-unreadable"),
    ("<row><c t='s'><v>-1</v></c></row>", "file-unreadable"),
    ("<row><c t='s'><v>x</v></c></row>", "file-unreadable"),
    ("<row r='0'/>", "file-unreadable"),
    ("<row r='x'/>", "file-unreadable"),
    (f"<row r='{'9' * 5000}'/>", "file-unreadable"),
    ("<row><c r='A0'/></row>", "file-unreadable"),
    ("<row><c r='AAAA1'/></row>", "file-unreadable"),
    ("<row><c r=''/></row>", "file-unreadable"),
    ("<row><c><f t='shared' si='3'/></c></row>", "file-unreadable"),
    (
        f"<row><c><f t='shared' ref='A1' si='0'>{'A1+' * 3000}A1</f></c><c><f t='shared' si='0'/></c></row>",
        "file-too-large",
    ),
    (
        f"<row><c><f t='shared' ref='A1' si='0'>{'1+' * 4000}1</f></c>"
        + "<c><f t='shared' si='0'/></c>" * 130
        + "</row>",
        "file-too-large",
    ),
]


@pytest.mark.parametrize(("rows", "code"), _REFUSED)
def test_read_cells_refused(rows: str, code: str) -> None:
    assert _refused(rows).code == code
