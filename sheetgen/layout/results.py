"""The tab Results: what follows from the readings, in numbers and in words; a display of the hidden tab."""

from collections.abc import Mapping

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import formula, heading_row, identity, label
from sheetgen.layout.vocabulary import MAJORITY, own_steps
from sheetgen.model.layout import Cell, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["results_tab"]

FIRST_ROW = 4
_THICK_SUM_MM = 120
_STATES = (
    "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside", "sum-below", "sum-above",
    "under-18", "no-equation", "sex-outside",
)  # fmt: skip
_QUANTITIES = (
    ("sum_mm", "mm", "result_2"),
    ("density_g_ml", "g/ml", "result_4"),
    ("fat_percent", "%", "result_1"),
    ("fat_low", "%", "result_1"),
    ("fat_high", "%", "result_1"),
    ("fat_mass_kg", "kg", "result_1"),
    ("fat_free_mass_kg", "kg", "result_1"),
)

Texts = Mapping[str, str]


def results_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Results."""
    columns = [texts[f"results.{name}"] for name in ("quantity", "value", "unit", "words")]
    cells = [
        label(0, 0, texts["results.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["results.instruction"], "step"),
        *heading_row(FIRST_ROW - 1, columns),
    ]
    row = FIRST_ROW
    live = [answers for _, answers in own_steps(protocol)]
    for name in (name for name in live if name.startswith("midpoint_")):
        cells += _line(row, texts[f"results.{name}"], f"={{{name}}}", "cm", "result_2")
        row += 1
    again = quoted(texts["readings.again"])
    for site in protocol.sites:
        title = texts["results.site"] + site.title
        cells += _line(row, title, f"={{site_{site.word}}}", "mm", "result_2")
        cells.append(formula(row, 3, f'=IF({{again_{site.word}}}="yes",{again},"")', "", "words"))
        row += 1
    hidden = texts["results.never" if settings.show_results == "never" else "results.hidden"]
    first = "" if settings.show_results == "always" else hidden
    shown_names = [*live, "fat_low", "fat_high"] if protocol.equations else live
    quantities = [(name, unit, shape) for name, unit, shape in _QUANTITIES if name in shown_names]
    for name, unit, shape in quantities:
        shown = f'=IF({{show_results}}="yes",{{{name}}},"")'
        cells += _line(row, texts[f"results.{name}"], shown, unit, shape)
        # The reason stands at the first estimate, or at the sum where the sheet makes no estimate.
        words = _words(protocol, name, name == quantities[: 2 if protocol.equations else 1][-1][0], texts)
        cells.append(formula(row, 3, f'=IF({{show_results}}="yes",{words},{quoted(hidden)})', first, "words"))
        row += 1
    if settings.show_results == "always":
        cells = [_first_state(cell, texts) for cell in cells]
    return Tab(
        "results",
        texts["tab.results"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=(32, 14, 10, 64),
        heights=tuple((at, 20.0) for at in range(FIRST_ROW, row)),
        freeze=(FIRST_ROW, 0),
    )


def _line(row: int, title: str, text: str, unit: str, shape: str) -> list[Cell]:
    return [label(row, 0, title, "label"), formula(row, 1, text, "", shape), label(row, 2, unit, "text")]


def _words(protocol: Protocol, name: str, is_reason_line: bool, texts: Texts) -> str:
    """What stands beside a result: the reason why there is none, the meaning of the band, or a note."""
    if name == "sum_mm" and not is_reason_line:
        return f'IF(ISNUMBER({{sum_mm}}),"",{quoted(texts["state.sum-missing"])})'
    note = '""'
    if name == "fat_percent":
        adults = any(equation.age_maximum >= MAJORITY for equation in protocol.equations)
        thick = quoted(texts["results.thick" if adults else "results.thick_youth"])
        note = f'IF(ISNUMBER({{fat_percent}}),IF({{sum_mm}}>{_THICK_SUM_MM},{thick},""),"")'
    if name in ("fat_low", "fat_high"):
        note = f'IF(ISNUMBER({{fat_percent}}),{quoted(texts["results.band"])},"")'
    if not is_reason_line:
        return note
    for state in reversed(_STATES):
        note = f'IF({{estimate_state}}="{state}",{quoted(texts[f"state.{state}"])},{note})'
    return note


def _first_state(cell: Cell, texts: Texts) -> Cell:
    """Where results are always shown, the reasons show from the start."""
    reason = texts["state.sum-missing"]
    if cell.role == "formula" and cell.column == 3 and "state" in cell.formula + cell.name:
        return formula(cell.row, 3, cell.formula, reason, cell.format)
    if cell.role == "formula" and cell.column == 3 and 'ISNUMBER({sum_mm}),"",' in cell.formula:
        return formula(cell.row, 3, cell.formula, reason, cell.format)
    return cell
