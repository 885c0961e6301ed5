"""The tabs Results and Working: what follows from the readings, and the same steps by hand.

Results only displays, in numbers, in words and as a chart. Nothing there ranks anyone: the chart shows the
sites of one person beside how far two readings lie apart.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from sheetgen.protocols.names import ANSWERS, MAJORITY, midpoint_names, own_steps
from sheetgen.protocols.protocol import TERMS, Conversion, Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.live_formulas import difference_text, uncovered
from sheetgen.texts.languages import shown_number, with_decimal_sign
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
    Texts,
    chain,
    column_pixels,
    entry,
    formula,
    heading_row,
    height_for,
    label,
    lines_needed,
    tab_head,
    text_rule,
)
from sheetgen.workbook.layout import Cell, Chart, Rule, Series, Tab

_FIRST_ROW = 5
_COLUMNS = ("quantity", "value", "unit", "difference", "words")
_QUANTITY, _VALUE, _UNIT, _DIFFERENCE, _WORDS = range(5)
_RESULTS_WIDTHS = (49, 11, 8, 20, 94)
_WORKING_WIDTHS = (49, 33, 28, 73)
_CHART_HEIGHT = 340
_THICK_SUM_MM = 120
_STATES = (
    "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside", "sum-below", "sum-above",
    "under-18", "no-equation", "sex-outside",
)  # fmt: skip
_QUANTITIES = {
    "sum_mm": ("mm", "result_2", "sum_how"),
    "density_g_ml": ("g/ml", "result_4", "density_how"),
    "fat_percent": ("%", "result_1", "percent_how"),
    "fat_low": ("%", "result_1", ""),
    "fat_high": ("%", "result_1", ""),
    "fat_mass_kg": ("kg", "result_1", "fat_mass_how"),
    "fat_free_mass_kg": ("kg", "result_1", "fat_free_mass_how"),
}
"""By live result: unit, format of the cell, and the text that says how it is worked out by hand."""
_ANSWER_LENGTH = 500
_ANSWER_LINES = 6


def results_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Results."""
    headings = [texts[f"results.{name}"] for name in _COLUMNS]
    cells = [*tab_head("results", 2, texts), *heading_row(_FIRST_ROW - 1, headings)]
    heights = head_heights(_FIRST_ROW - 1, headings, _RESULTS_WIDTHS)
    midpoints = [
        _result(texts[f"results.{name}"], f"={{{name}}}", "cm", "result_2")
        for name in midpoint_names(protocol)
    ]
    sites = [_site(site, settings, texts) for site in protocol.sites]
    rows = [*midpoints, *sites, *_quantities(protocol, settings, texts)]
    for row, row_cells in enumerate(rows, start=_FIRST_ROW):
        cells += [replace(cell, row=row) for cell in row_cells]
        heights.append((row, 20.0))
    first_site = _FIRST_ROW + len(midpoints)
    chart = Chart(
        row=_FIRST_ROW + len(rows) + 1,
        column=0,
        width=sum(map(column_pixels, _RESULTS_WIDTHS)) - 10,
        height=_CHART_HEIGHT,
        title=texts["results.chart_title"],
        alternative_text=texts["results.chart_alternative"].format(count=len(sites)),
        categories=(first_site, first_site + len(sites) - 1, _QUANTITY),
        series=(
            Series(texts["results.chart_value"], _VALUE, "solid"),
            Series(texts["results.chart_difference"], _DIFFERENCE, "striped"),
        ),
        category_title=texts["results.chart_sites"],
        value_title=texts["results.chart_scale"],
    )
    tab = Tab("results", texts["tab.results"], tuple(cells), _RESULTS_WIDTHS, tuple(heights), landscape=True)
    return replace(tab, freeze=(_FIRST_ROW, 0), charts=(chart,))


def head_heights(
    rows: int, headings: Sequence[str] = (), widths: Sequence[float] = ()
) -> list[tuple[int, float]]:
    """Return the heights of the rows above a table, and that of its headings, which are wrapped."""
    lines = [lines_needed(title, width, bold=True) for title, width in zip(headings, widths, strict=True)]
    above = [(0, 24.0), *((row, 20.0) for row in range(1, rows))]
    return [*above, (rows, height_for(max(lines)))] if lines else above


def _result(title: str, text: str, unit: str, shape: str) -> list[Cell]:
    """The first cells of a row, whose number is still to come."""
    value = formula(0, _VALUE, text, "", shape)
    return [label(0, _QUANTITY, title, "label"), value, label(0, _UNIT, unit, "text")]


def _site(site: Site, settings: SheetSettings, texts: Texts) -> list[Cell]:
    """A site's value, the difference of its two readings, and both in words."""
    # Two that disagree count until the third is taken, and the row says so.
    tests = {
        '{left_out_@}="yes"': "results.site_left_out",
        "NOT(ISNUMBER({site_@}))": "results.site_none",
        '{again_@}="yes"': "note.again",
        'AND({third_@}="yes",ISNUMBER({corrected_3_@}))': "results.site_three",
        '{third_@}="yes"': "note.third",
    }
    told = [(test.replace("@", site.word), quoted(texts[key])) for test, key in tests.items()]
    words, covered = chain(told, quoted(texts["results.site_two"])), quoted(texts["results.site_covered"])
    return [
        *_result(site.title, uncovered(settings, f"{{site_{site.word}}}"), "mm", "result_2"),
        formula(0, _DIFFERENCE, uncovered(settings, difference_text(site.word)), "", "result_2"),
        formula(0, _WORDS, uncovered(settings, words, covered), texts["results.site_none"], "words"),
    ]


def _quantities(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Iterator[list[Cell]]:
    """What follows from all sites; beside it the reason why there is none, what it means, or a note."""
    band = ["fat_low", "fat_high"] if protocol.equations else []
    asked = [*band, *(answers for _, answers in own_steps(protocol))]
    names = [name for name in _QUANTITIES if name in asked]
    # The reason stands at the first estimate, or at the sum where the sheet makes no estimate.
    reason_name = names[1 if protocol.equations else 0]
    notes, missing = _notes(protocol, texts), texts["state.sum-missing"]
    states = [(f'{{estimate_state}}="{state}"', quoted(texts[f"state.{state}"])) for state in _STATES]
    hidden = texts["results.never" if settings.show_results == "never" else "results.hidden"]
    for name in names:
        words, first = notes.get(name, '""'), missing if name in ("sum_mm", reason_name) else ""
        if name == reason_name:
            joined = f'{words}&"; "&' if name == "sum_mm" else ""
            words = chain([states[0], *((test, joined + reason) for test, reason in states[1:])], words)
        elif name == "sum_mm":
            words = f"IF(ISNUMBER({{sum_mm}}),{words},{quoted(missing)})"
        words = f'=IF({{show_results}}="yes",{words},{quoted(hidden)})'
        first = first if settings.show_results == "always" else hidden
        value, (unit, shape, _) = f'=IF({{show_results}}="yes",{{{name}}},"")', _QUANTITIES[name]
        shown = _result(texts[f"results.{name}"], value, unit, shape)
        yield [*shown, formula(0, _WORDS, words, first, "words")]


def _notes(protocol: Protocol, texts: Texts) -> dict[str, str]:
    """What a result means, as a formula text by its name."""
    adults = any(equation.age_maximum >= MAJORITY for equation in protocol.equations)
    thick = quoted(texts["results.thick" if adults else "results.thick_youth"])
    # The band in one sentence. Joined from rounded numbers, so that each locale writes them its way.
    before, between, after = map(quoted, texts["results.band"].split("{}"))
    band = f"{before}&ROUND({{fat_low}},1)&{between}&ROUND({{fat_high}},1)&{after}"
    no_mass = "AND(ISNUMBER({fat_percent}),NOT(ISNUMBER({fat_mass_kg})))"
    return {
        "sum_mm": quoted(texts["results.sum_words"].format(count=len(protocol.sites))),
        "fat_percent": f'IF(ISNUMBER({{fat_percent}}),IF({{sum_mm}}>{_THICK_SUM_MM},{thick},""),"")',
        "fat_low": f'IF(ISNUMBER({{fat_percent}}),{band},"")',
        "fat_mass_kg": f'IF({no_mass},{quoted(texts["results.no_mass"])},"")',
    }


def working_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Working."""
    columns = [texts[f"working.{name}"] for name in ("step", "answer", "unit", "how")]
    cells = [*tab_head("working", 2, texts), *heading_row(_FIRST_ROW - 1, columns)]
    steps = [*_steps(protocol, settings, texts)]
    for row, (name, title, unit, how) in enumerate(steps, start=_FIRST_ROW):
        cells += [label(row, 0, title, "label"), label(row, 2, unit), label(row, 3, how)]
        cells.append(entry(row, 1, name, own_rule(title, texts), "entry_number"))
    first = _FIRST_ROW + len(steps) + 1
    if protocol.equations:
        cells.append(label(first, 0, texts["working.equations"], "heading"))
    for row, equation in enumerate(protocol.equations, start=first + 1):
        cells.append(label(row, 0, equation_title(equation, texts), "label"))
        cells.append(label(row, 1, equation_text(equation, texts)))
    heights = [*head_heights(_FIRST_ROW), *((row, 22.0) for row in range(_FIRST_ROW, first - 1))]
    first += len(protocol.equations) + 2
    cells.append(label(first, 0, texts["working.questions"], "heading"))
    for row, word in enumerate(ANSWERS, start=first + 1):
        question = texts[f"working.question_{word}"]
        rule = text_rule(texts, _ANSWER_LENGTH, texts["rule.title_text"], question)
        cells += [label(row, 0, question, "wrap"), entry(row, 1, f"answer_{word}", rule, "entry_long")]
        heights.append((row, height_for(max(_ANSWER_LINES, lines_needed(question, _WORKING_WIDTHS[0])))))
    tab = Tab("working", texts["tab.working"], tuple(cells), _WORKING_WIDTHS, tuple(heights), landscape=True)
    return replace(tab, freeze=(_FIRST_ROW, 0), first_entry=(_FIRST_ROW, 1))


def own_rule(title: str, texts: Texts) -> Rule:
    """Return the rule of a line of own working: any number."""
    error = texts["rule.own_error"]
    return Rule("decimal", title[:32], texts["rule.own"], error, minimum=-100000, maximum=100000)


def equation_text(equation: Equation, texts: Texts | None = None) -> str:
    """Return an equation as a person writes it, every coefficient to its last digit.

    Parameters
    ----------
    texts : of the language; None: English.
    """
    texts = texts or {"working.fat": "fat %"}
    result = "D" if equation.gives_density else texts["working.fat"]
    parts = []
    for key, value in equation.coefficients:
        sign = "-" if value < 0 else "+"
        # Never as a power of ten, and never cut: a teacher's own coefficient may have any number of digits.
        digits = with_decimal_sign(f"{Decimal(repr(abs(value))):f}".removesuffix(".0"), texts)
        parts.append(f"{sign} {digits}{TERMS[key].written}")
    return f"{result} = " + " ".join(parts).removeprefix("+ ")


def equation_title(equation: Equation, texts: Texts) -> str:
    """Return whom an equation is for: sex and ages."""
    ages = f"{equation.age_minimum:g}-{equation.age_maximum:g}"
    return f"{texts[f'working.{equation.sex}']}, {ages} {texts['working.years']}"


def _steps(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Iterator[tuple[str, str, str, str]]:
    """(own entry, title, unit and decimals, how) in the order of working."""
    titles = {f"site_{site.word}": texts["working.site"] + site.title for site in protocol.sites}
    for own, name in own_steps(protocol):
        kind = name.split("_")[0]
        keys = (name, _QUANTITIES[name][2]) if name in _QUANTITIES else (f"{kind}_unit", f"{kind}_how")
        unit, how = (texts[f"working.{key}"] for key in keys)
        if name == "fat_percent" and protocol.conversions:
            numbers = _conversion_numbers(protocol.conversion(settings.conversion), texts)
            how = texts["working.fat_percent_how"].format(**numbers)
        yield own, titles.get(name) or texts[f"results.{name}"], unit, how


def conversion_text(conversion: Conversion, texts: Texts) -> str:
    """Return a conversion of density to per cent fat as a person writes it."""
    return "{numerator} / D - {offset}".format(**_conversion_numbers(conversion, texts))


def _conversion_numbers(conversion: Conversion, texts: Texts) -> dict[str, str]:
    return {name: shown_number(getattr(conversion, name), texts) for name in ("numerator", "offset")}
