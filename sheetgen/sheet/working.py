"""The tabs Results and Working: what follows from the readings, and the same steps by hand.

Results only displays, in numbers, in words and as a chart. Nothing there ranks anyone: the chart shows the
sites of one person beside how far two readings lie apart.
"""

from collections.abc import Mapping
from decimal import Decimal

from sheetgen.protocols.names import ANSWERS, MAJORITY, ROUNDS, own_steps
from sheetgen.protocols.protocol import TERMS, Conversion, Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.live_formulas import difference_text, uncovered
from sheetgen.texts.languages import shown_number, with_decimal_sign
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
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
_QUANTITIES = (
    ("sum_mm", "mm", "result_2"),
    ("density_g_ml", "g/ml", "result_4"),
    ("fat_percent", "%", "result_1"),
    ("fat_low", "%", "result_1"),
    ("fat_high", "%", "result_1"),
    ("fat_mass_kg", "kg", "result_1"),
    ("fat_free_mass_kg", "kg", "result_1"),
)
_HOWS = {
    "sum_mm": "sum_how", "density_g_ml": "density_how", "fat_percent": "percent_how",
    "fat_mass_kg": "fat_mass_how", "fat_free_mass_kg": "fat_free_mass_how",
}  # fmt: skip
_ANSWER_LENGTH = 500
_ANSWER_LINES = 6

Texts = Mapping[str, str]


def results_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Results."""
    headings = [texts[f"results.{name}"] for name in _COLUMNS]
    cells = [*tab_head("results", 2, texts), *heading_row(_FIRST_ROW - 1, headings)]
    row = _FIRST_ROW
    for name in (live for _, live in own_steps(protocol) if live.startswith("midpoint_")):
        cells += _line(row, texts[f"results.{name}"], f"={{{name}}}", "cm", "result_2")
        row += 1
    quantities = row + len(protocol.sites)
    for at, site in enumerate(protocol.sites, start=row):
        cells += _site_line(at, site, settings, texts)
    cells += _quantity_lines(quantities, protocol, settings, texts)
    last = cells[-1].row
    chart = Chart(
        row=last + 2,
        column=0,
        width=sum(map(column_pixels, _RESULTS_WIDTHS)) - 10,
        height=_CHART_HEIGHT,
        title=texts["results.chart_title"],
        alternative_text=texts["results.chart_alternative"].format(count=len(protocol.sites)),
        categories=(row, quantities - 1, _QUANTITY),
        series=(
            Series(texts["results.chart_value"], _VALUE, "solid"),
            Series(texts["results.chart_difference"], _DIFFERENCE, "striped"),
        ),
        category_title=texts["results.chart_sites"],
        value_title=texts["results.chart_scale"],
    )
    lines = max(map(lines_needed, headings, _RESULTS_WIDTHS, [True] * len(headings)))
    return Tab(
        "results",
        texts["tab.results"],
        tuple(cells),
        widths=_RESULTS_WIDTHS,
        heights=(
            (0, 24.0),
            *((at, 20.0) for at in range(1, _FIRST_ROW - 1)),
            (_FIRST_ROW - 1, height_for(lines)),
            *((at, 20.0) for at in range(_FIRST_ROW, last + 1)),
        ),
        freeze=(_FIRST_ROW, 0),
        landscape=True,
        charts=(chart,),
    )


def _line(row: int, title: str, text: str, unit: str, shape: str) -> list[Cell]:
    return [
        label(row, _QUANTITY, title, "label"),
        formula(row, _VALUE, text, "", shape),
        label(row, _UNIT, unit, "text"),
    ]


def _site_line(row: int, site: Site, settings: SheetSettings, texts: Texts) -> list[Cell]:
    """A site's value, the difference of its two readings, and both in words."""
    word = site.word
    third = f'AND({{third_{word}}}="yes",ISNUMBER({{corrected_{ROUNDS[-1]}_{word}}}))'
    # Two that disagree count until the third is taken, and the row says so.
    tests = [
        (f'{{left_out_{word}}}="yes"', "results.site_left_out"),
        (f"NOT(ISNUMBER({{site_{word}}}))", "results.site_none"),
        (f'{{again_{word}}}="yes"', "note.again"),
        (third, "results.site_three"),
        (f'{{third_{word}}}="yes"', "note.third"),
    ]
    words = chain([(test, quoted(texts[key])) for test, key in tests], quoted(texts["results.site_two"]))

    words = uncovered(settings, words, quoted(texts["results.site_covered"]))
    return [
        *_line(row, site.title, uncovered(settings, f"{{site_{word}}}"), "mm", "result_2"),
        formula(row, _DIFFERENCE, uncovered(settings, difference_text(word)), "", "result_2"),
        formula(row, _WORDS, words, texts["results.site_none"], "words"),
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
        cells.append(formula(at, _WORDS, text, first, "words"))
    return cells


def _words(protocol: Protocol, name: str, is_reason_line: bool, texts: Texts) -> tuple[str, str]:
    """What stands beside a result, as a formula and as it stands in the empty sheet: the reason why there is
    none, what it means, or a note."""
    missing, note, percent = texts["state.sum-missing"], '""', "ISNUMBER({fat_percent})"
    if name == "sum_mm":
        note = quoted(texts["results.sum_words"].format(count=len(protocol.sites)))
        if not is_reason_line:
            return f"IF(ISNUMBER({{sum_mm}}),{note},{quoted(missing)})", missing
    elif name == "fat_percent":
        adults = any(equation.age_maximum >= MAJORITY for equation in protocol.equations)
        thick = quoted(texts["results.thick" if adults else "results.thick_youth"])
        note = f'IF({percent},IF({{sum_mm}}>{_THICK_SUM_MM},{thick},""),"")'
    elif name == "fat_low":
        # The band in one sentence. Joined from rounded numbers, so that each locale writes them its way.
        before, between, after = map(quoted, texts["results.band"].split("{}"))
        band = f"{before}&ROUND({{fat_low}},1)&{between}&ROUND({{fat_high}},1)&{after}"
        note = f'IF({percent},{band},"")'
    elif name == "fat_mass_kg":
        no_mass = quoted(texts["results.no_mass"])
        note = f'IF(AND({percent},NOT(ISNUMBER({{fat_mass_kg}}))),{no_mass},"")'
    if not is_reason_line:
        return note, ""
    reasons = []
    for state in _STATES:
        before = f'{note}&"; "&' if name == "sum_mm" and state != "sum-missing" else ""
        reasons.append((f'{{estimate_state}}="{state}"', before + quoted(texts[f"state.{state}"])))
    return chain(reasons, note), missing


def working_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Working."""
    columns = [texts[f"working.{name}"] for name in ("step", "answer", "unit", "how")]
    cells = [*tab_head("working", 2, texts), *heading_row(_FIRST_ROW - 1, columns)]
    steps = _steps(protocol, settings, texts)
    for row, (name, title, unit, how) in enumerate(steps, start=_FIRST_ROW):
        cells += [
            label(row, 0, title, "label"),
            entry(row, 1, name, own_rule(title, texts), "entry_number"),
            label(row, 2, unit),
            label(row, 3, how),
        ]
    last_step = _FIRST_ROW + len(steps)
    row = last_step + 1
    if protocol.equations:
        cells.append(label(row, 0, texts["working.equations"], "heading"))
    for equation in protocol.equations:
        row += 1
        cells += [
            label(row, 0, equation_title(equation, texts), "label"),
            label(row, 1, equation_text(equation, texts)),
        ]
    row += 2
    cells.append(label(row, 0, texts["working.questions"], "heading"))
    question_heights = []
    for at, word in enumerate(ANSWERS, start=row + 1):
        question = texts[f"working.question_{word}"]
        rule = text_rule(texts, _ANSWER_LENGTH, texts["rule.title_text"], question)
        cells += [label(at, 0, question, "wrap"), entry(at, 1, f"answer_{word}", rule, "entry_long")]
        lines = max(_ANSWER_LINES, lines_needed(question, _WORKING_WIDTHS[0]))
        question_heights.append((at, height_for(lines)))
    return Tab(
        "working",
        texts["tab.working"],
        tuple(cells),
        widths=_WORKING_WIDTHS,
        heights=(
            (0, 24.0),
            *((at, 20.0) for at in range(1, _FIRST_ROW)),
            *((at, 22.0) for at in range(_FIRST_ROW, last_step)),
            *question_heights,
        ),
        freeze=(_FIRST_ROW, 0),
        landscape=True,
        first_entry=(_FIRST_ROW, 1),
    )


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


def _steps(protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[tuple[str, str, str, str]]:
    """(own entry, title, unit and decimals, how) in the order of working."""
    sites = {f"site_{site.word}": site.title for site in protocol.sites}
    steps = []
    for own, name in own_steps(protocol):
        title = texts["working.site"] + sites[name] if name in sites else texts[f"results.{name}"]
        kind = name.split("_")[0]
        if kind in ("site", "midpoint"):
            unit, how = texts[f"working.{kind}_unit"], texts[f"working.{kind}_how"]
        else:
            unit, how = texts[f"working.{name}"], texts[f"working.{_HOWS[name]}"]
        if name == "fat_percent" and protocol.conversions:
            numbers = _conversion_numbers(protocol.conversion(settings.conversion), texts)
            how = texts["working.fat_percent_how"].format(**numbers)
        steps.append((own, title, unit, how))
    return steps


def conversion_text(conversion: Conversion, texts: Texts) -> str:
    """Return a conversion of density to per cent fat as a person writes it."""
    return "{numerator} / D - {offset}".format(**_conversion_numbers(conversion, texts))


def _conversion_numbers(conversion: Conversion, texts: Texts) -> dict[str, str]:
    return {name: shown_number(getattr(conversion, name), texts) for name in ("numerator", "offset")}
