"""The tab Results: what follows from the readings, in numbers, in words and as a chart; it only displays.

Nothing here ranks anyone: the chart shows the sites of one person beside how far two readings lie apart.
"""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import formula, heading_row, identity, label
from sheetgen.layout.text_size import column_pixels, height_for, lines_needed
from sheetgen.layout.vocabulary import MAJORITY, ROUNDS, own_steps
from sheetgen.model.layout import Cell, Chart, Series, Tab
from sheetgen.model.protocol import Protocol, Site
from sheetgen.model.settings import SheetSettings

__all__ = ["results_tab"]

HEADING_ROW = 4
FIRST_ROW = 5
COLUMNS = ("quantity", "value", "unit", "difference", "words")
QUANTITY, VALUE, UNIT, DIFFERENCE, WORDS = range(5)
WIDTHS = (49, 11, 8, 20, 94)
CHART_HEIGHT = 340
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
    headings = [texts[f"results.{name}"] for name in COLUMNS]
    cells = [
        label(0, 0, texts["results.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["results.instruction"], "step"),
        label(2, 0, texts["readings.next_step"], "label"),
        formula(2, 1, "={shown_next_step}", texts["step.cautions"], "step"),
        *heading_row(HEADING_ROW, headings),
    ]
    row = FIRST_ROW
    live = [answers for _, answers in own_steps(protocol)]
    for name in (name for name in live if name.startswith("midpoint_")):
        cells += _line(row, texts[f"results.{name}"], f"={{{name}}}", "cm", "result_2")
        row += 1
    first_site = row
    for site in protocol.sites:
        cells += _site_line(row, site, settings, texts)
        row += 1
    last_site = row - 1
    cells += _quantity_lines(row, protocol, settings, texts)
    last = max(cell.row for cell in cells)
    lines = max(lines_needed(text, width, bold=True) for text, width in zip(headings, WIDTHS, strict=True))
    return Tab(
        "results",
        texts["tab.results"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=WIDTHS,
        heights=(
            (0, 24.0),
            *((at, 20.0) for at in range(1, HEADING_ROW)),
            (HEADING_ROW, height_for(lines)),
            *((at, 20.0) for at in range(FIRST_ROW, last + 1)),
        ),
        freeze=(FIRST_ROW, 0),
        landscape=True,
        charts=(_chart(last + 2, first_site, last_site, protocol.sites, texts),),
    )


def _chart(row: int, first: int, last: int, sites: Sequence[Site], texts: Texts) -> Chart:
    """The site values, and beside each how far two readings lie apart; below the table, within its width."""
    return Chart(
        row=row,
        column=0,
        width=sum(map(column_pixels, WIDTHS)) - 10,
        height=CHART_HEIGHT,
        title=texts["results.chart_title"],
        alternative_text=texts["results.chart_alternative"].format(count=len(sites)),
        categories=(first, last, QUANTITY),
        series=(
            Series(texts["results.chart_value"], VALUE, "solid"),
            Series(texts["results.chart_difference"], DIFFERENCE, "striped"),
        ),
        category_title=texts["results.chart_sites"],
        value_title=texts["results.chart_scale"],
    )


def _site_line(row: int, site: Site, settings: SheetSettings, texts: Texts) -> list[Cell]:
    """A site's value, the difference of its two readings, and both in words."""
    word = site.word
    first, second = f"{{corrected_1_{word}}}", f"{{corrected_2_{word}}}"
    difference = f'IF(AND(ISNUMBER({first}),ISNUMBER({second})),ROUND(ABS({first}-{second}),2),"")'
    said = {
        name: quoted(texts[f"results.{name}"])
        for name in ("site_none", "site_two", "site_three", "site_left_out", "site_covered")
    }
    third = f'AND({{third_{word}}}="yes",ISNUMBER({{corrected_{ROUNDS[-1]}_{word}}}))'
    # Two that disagree count until the third is taken, and the row says so.
    tests = [
        (f'{{left_out_{word}}}="yes"', said["site_left_out"]),
        (f"NOT(ISNUMBER({{site_{word}}}))", said["site_none"]),
        (f'{{again_{word}}}="yes"', quoted(texts["note.again"])),
        (third, said["site_three"]),
        (f'{{third_{word}}}="yes"', quoted(texts["note.third"])),
    ]
    shown = {VALUE: f"{{site_{word}}}", DIFFERENCE: difference, WORDS: _chain(tests, said["site_two"])}
    if settings.cover_round_1:
        shown = {
            column: f'IF({{covered}}="yes",{said["site_covered"] if column == WORDS else quoted("")},{text})'
            for column, text in shown.items()
        }
    return [
        label(row, QUANTITY, site.title, "label"),
        formula(row, VALUE, f"={shown[VALUE]}", "", "result_2"),
        label(row, UNIT, "mm", "text"),
        formula(row, DIFFERENCE, f"={shown[DIFFERENCE]}", "", "result_2"),
        formula(row, WORDS, f"={shown[WORDS]}", texts["results.site_none"], "words"),
    ]


def _quantity_lines(row: int, protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[Cell]:
    live = [answers for _, answers in own_steps(protocol)]
    shown_names = [*live, "fat_low", "fat_high"] if protocol.equations else live
    quantities = [(name, unit, shape) for name, unit, shape in _QUANTITIES if name in shown_names]
    # The reason stands at the first estimate, or at the sum where the sheet makes no estimate.
    reason_line = quantities[: 2 if protocol.equations else 1][-1][0]
    hidden = texts["results.never" if settings.show_results == "never" else "results.hidden"]
    cells = []
    for at, (name, unit, shape) in enumerate(quantities, start=row):
        shown = f'=IF({{show_results}}="yes",{{{name}}},"")'
        cells += _line(at, texts[f"results.{name}"], shown, unit, shape)
        words, first = _words(protocol, name, name == reason_line, texts)
        if settings.show_results != "always":
            first = hidden
        text = f'=IF({{show_results}}="yes",{words},{quoted(hidden)})'
        cells.append(formula(at, WORDS, text, first, "words"))
    return cells


def _line(row: int, title: str, text: str, unit: str, shape: str) -> list[Cell]:
    return [
        label(row, QUANTITY, title, "label"),
        formula(row, VALUE, text, "", shape),
        label(row, UNIT, unit, "text"),
    ]


def _words(protocol: Protocol, name: str, is_reason_line: bool, texts: Texts) -> tuple[str, str]:
    """What stands beside a result, as a formula and as it stands in the empty sheet: the reason why there is
    none, what it means, or a note."""
    missing = texts["state.sum-missing"]
    if name == "sum_mm" and not is_reason_line:
        return f"IF(ISNUMBER({{sum_mm}}),{_sum_words(protocol, texts)},{quoted(missing)})", missing
    note = '""'
    if name == "sum_mm":
        note = _sum_words(protocol, texts)
    if name == "fat_percent":
        adults = any(equation.age_maximum >= MAJORITY for equation in protocol.equations)
        thick = quoted(texts["results.thick" if adults else "results.thick_youth"])
        note = f'IF(ISNUMBER({{fat_percent}}),IF({{sum_mm}}>{_THICK_SUM_MM},{thick},""),"")'
    if name == "fat_low":
        note = f'IF(ISNUMBER({{fat_percent}}),{_band_words(texts)},"")'
    if name == "fat_mass_kg":
        no_mass = quoted(texts["results.no_mass"])
        note = f'IF(AND(ISNUMBER({{fat_percent}}),NOT(ISNUMBER({{fat_mass_kg}}))),{no_mass},"")'
    if not is_reason_line:
        return note, ""
    states = [(f'{{estimate_state}}="{state}"', _state_words(state, name, note, texts)) for state in _STATES]
    return _chain(states, note), missing


def _state_words(state: str, name: str, note: str, texts: Texts) -> str:
    """A reason; at the sum itself it stands behind what the sum is made of."""
    reason = quoted(texts[f"state.{state}"])
    return reason if name != "sum_mm" or state == "sum-missing" else f'{note}&"; "&{reason}'


def _sum_words(protocol: Protocol, texts: Texts) -> str:
    return quoted(texts["results.sum_words"].format(count=len(protocol.sites)))


def _band_words(texts: Texts) -> str:
    """The band in one sentence. Joined from rounded numbers, so that each locale writes them its way."""
    before, between, after = texts["results.band"].split("{}")
    low, high = "ROUND({fat_low},1)", "ROUND({fat_high},1)"
    return f"{quoted(before)}&{low}&{quoted(between)}&{high}&{quoted(after)}"


def _chain(tests: Sequence[tuple[str, str]], otherwise: str) -> str:
    """The first that holds."""
    text = otherwise
    for test, then in reversed(tests):
        text = f"IF({test},{then},{text})"
    return text
