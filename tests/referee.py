"""A Snapshot by another reader: openpyxl, which needs two loads to see formulas and their stored results."""

import io
from collections.abc import Iterator

import openpyxl
from msgspec.structs import replace
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.workbook.snapshot import Block, CellState, RuleState, Snapshot, TabState

_LARGEST_SPREAD_BLOCK = 2_000


def referee_snapshot(data: bytes) -> Snapshot:
    """Return the Snapshot of a workbook as openpyxl reads it."""
    formulas = openpyxl.load_workbook(io.BytesIO(data))
    values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    properties = {one.name: str(one.value or "") for one in formulas.custom_doc_props.props}
    properties |= {"title": formulas.properties.title or "", "subject": formulas.properties.subject or ""}
    return Snapshot(
        tuple(_tab(sheet, values[sheet.title]) for sheet in formulas.worksheets),
        {name: one.attr_text or "" for name, one in formulas.defined_names.items()},
        properties,
        bool(formulas.security and formulas.security.lockStructure),
    )


def _tab(sheet: Worksheet, results: Worksheet) -> TabState:
    ruled, wide = set(), []
    for block in _ruled_blocks(sheet):
        left, top, right, bottom = block
        if (right - left + 1) * (bottom - top + 1) > _LARGEST_SPREAD_BLOCK:
            wide.append(block)
        else:
            ruled |= {(row, column) for row in range(top, bottom + 1) for column in range(left, right + 1)}
    cells = {}
    for cell in (cell for row in sheet.iter_rows() for cell in row):
        place = (cell.row - 1, cell.column - 1)
        has_rule = (cell.row, cell.column) in ruled or any(
            left <= cell.column <= right and top <= cell.row <= bottom for left, top, right, bottom in wide
        )
        result = results[cell.coordinate]
        text = getattr(cell.value, "text", cell.value)
        formula = str(text) if cell.data_type == "f" else ""
        value = result.value
        # A cell within a merged block has no type of its own.
        is_date = getattr(result, "is_date", False) and value is not None and not isinstance(value, str)
        if is_date:
            value = to_excel(value)
        if isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        state = CellState(
            value, formula, bool(cell.protection.locked), has_rule, result.data_type == "e", is_date
        )
        cells[place] = state
    for row, column in ruled:
        cells.setdefault((row - 1, column - 1), CellState(has_rule=True))
    rules, wide_rules = _rules(sheet)
    protected = bool(sheet.protection.sheet)
    return TabState(sheet.title, cells, protected, sheet.sheet_state, rules, wide_rules)


def _rules(sheet: Worksheet) -> tuple[dict[tuple[int, int], RuleState], tuple[tuple[Block, RuleState], ...]]:
    """Rules of blocks that are given from their upper left corner on, with plain limits and words."""
    rules: dict[tuple[int, int], RuleState] = {}
    wide: list[tuple[Block, RuleState]] = []
    for rule in sheet.data_validations.dataValidation:
        state = _rule(rule)
        if rule.type in (None, "none") or state is None:
            continue
        first = min(rule.sqref.ranges, key=_corner)
        origin = f"{get_column_letter(first.min_col)}{first.min_row}"
        for block in rule.sqref.ranges:
            if block.size["rows"] * block.size["columns"] > _LARGEST_SPREAD_BLOCK:
                bounds = (block.min_row - 1, block.min_col - 1, block.max_row - 1, block.max_col - 1)
                wide.append((bounds, state))
                continue
            for row, column in block.cells:
                there = f"{get_column_letter(column)}{row}"
                formula = state.formula and Translator(state.formula, origin).translate_formula(there)
                rules[row - 1, column - 1] = replace(state, formula=formula)
    return rules, tuple(wide)


def _corner(block: CellRange) -> tuple[int, int]:
    return block.min_row, block.min_col


def _rule(rule: DataValidation) -> RuleState | None:
    stops = rule.errorStyle in (None, "stop") and bool(rule.showErrorMessage)
    kind = {"textLength": "length"}.get(rule.type, rule.type)
    state = RuleState(kind, stops=stops, ignores_blank=bool(rule.allowBlank))
    if kind == "custom":
        return replace(state, formula=f"={rule.formula1}")
    if kind == "list":
        inline = rule.formula1.startswith('"') and rule.formula1.endswith('"')
        return replace(state, words=frozenset(rule.formula1[1:-1].split(","))) if inline else state
    if kind in ("date", "time") or rule.operator not in (None, "between"):
        return state
    try:
        return replace(state, minimum=float(rule.formula1), maximum=float(rule.formula2))
    except ValueError:
        return None


def _ruled_blocks(sheet: Worksheet) -> Iterator[tuple[int, int, int, int]]:
    """First column, first row, last column, last row, from 1."""
    for rule in sheet.data_validations.dataValidation:
        if rule.type not in (None, "none"):
            for block in rule.sqref.ranges:
                yield block.bounds


def comparable(state: Snapshot) -> dict[str, object]:
    """Return what both readers tell of a workbook, in one form.

    An empty text and no value are the same here, since openpyxl tells nothing of a stored empty text.
    """
    tabs = [
        (
            tab.title,
            tab.visibility,
            tab.protected,
            {
                place: (type(cell.value).__name__, cell.value, *_flags(cell)) if cell.value != "" else (
                    "NoneType", None, *_flags(cell)
                )
                for place, cell in sorted(tab.cells.items())
                if cell.value not in (None, "") or cell.formula or cell.has_rule or not cell.locked
            },
            sorted(tab.rules.items()),
            sorted(tab.wide_rules),
        )
        for tab in state.tabs
    ]  # fmt: skip
    own = {"language", "title", "subject"}
    return {
        "tabs": tabs,
        "names": dict(state.names),
        "properties": {name: text for name, text in state.properties.items() if name in own and text},
        "structure": state.structure_protected,
    }


def _flags(cell: CellState) -> tuple[str, bool, bool, bool, bool]:
    return cell.formula, cell.locked, cell.has_rule, cell.is_error, cell.is_date
