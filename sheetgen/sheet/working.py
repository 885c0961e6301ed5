"""The tabs Working and Results: the steps by hand beside what they need; what follows from the readings.

Results only displays, in numbers, in words and as a chart of how far the rounds lie apart. Nothing there
ranks anyone.
"""

from decimal import Decimal

from sheetgen.protocols.names import (
    ANSWERS,
    CAUTION_HEALTH_DATA,
    CAUTIONS,
    MAJORITY,
    ROUNDS,
    own_steps,
    reading_name,
)
from sheetgen.protocols.protocol import TERMS, Conversion, Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.heading import (
    COLUMN_HEADINGS,
    HEADING_HEIGHT,
    column_headings,
    head,
    lit,
    next_here,
    sheet_tab,
    wrapped_lines,
)
from sheetgen.sheet.live_formulas import shown_site, uncovered
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import chain, column_pixels, entry, formula, height_for, label, text_rule
from sheetgen.workbook.layout import Cell, Chart, Rule, Series, Tab

_FIRST_ROW = COLUMN_HEADINGS + 1
_ROW = 24.0
_WORKING_WIDTHS = (31, 27, 14, 19, 51, 16, 0)
_STEP, _FROM, _ANSWER, _UNIT, _HOW, _, _NEXT = range(7)
_RESULTS_COLUMNS = ("quantity", "value", "unit", "from_mean_1", "from_mean_2", "words")
_RESULTS_WIDTHS = (31, 10, 10, 12, 12, 62, 17)
_QUANTITY, _VALUE, _RESULT_UNIT, _FROM_MEAN_1, _FROM_MEAN_2, _WORDS = range(6)
_RESULT_ROW = 18.5
_LONG_WORDS = ("results.band", "state.percent-outside")
_CHART_HEIGHT = 252
_THICK_SUM_MM = 120
_MOST_FOLDS_READ_LOW = 4
"""Adult equations on so many folds or fewer read low above the sum; for more it is an ordinary sum."""
_STATES = (
    "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside", "sum-below", "sum-above",
    "under-18", "no-equation", "sex-outside", "percent-outside",
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
_ANSWER_LINES = 4


def working_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Working: each step beside what it needs, and the short questions."""
    columns = [texts[f"working.{name}"] for name in ("step", "from", "answer", "unit", "how")]
    cells = [*head("working", 6, _FROM, protocol, texts), *column_headings(columns)]
    steps = [(own, live) for own, live in own_steps(protocol) if not live.startswith("midpoint_")]
    for row, (own, live) in enumerate(steps, start=_FIRST_ROW):
        cells += _step_row(row, own, live, protocol, settings, texts)
    row = _FIRST_ROW + len(steps)
    heights = dict.fromkeys(range(_FIRST_ROW, row), _ROW)
    for cell in cells:
        if cell.row in heights and cell.column == _HOW:
            longest = max((equation_text(each, texts) for each in protocol.equations), key=len, default="")
            text = f"{cell.value or ''} {longest if cell.value == texts['working.density_choose'] else ''}"
            heights[cell.row] = max(_ROW, height_for(wrapped_lines(text, _WORKING_WIDTHS[_HOW], indent=1)))
    cells.append(label(row, 0, texts["working.questions"], "part"))
    heights[row] = 30.0
    for word in ANSWERS:
        row += 1
        question = texts[f"working.question_{word}"]
        rule = text_rule(texts, _ANSWER_LENGTH, texts["rule.title_text"], "")
        cells += [
            label(row, 0, question, "question"),
            entry(row, _HOW, f"answer_{word}", rule, "entry_long"),
            next_here(row, _NEXT, f"answer_{word}"),
        ]
        cells += [label(row, column, None, "plain") for column in (_FROM, _ANSWER, _UNIT)]
        lines = wrapped_lines(question, _WORKING_WIDTHS[0])
        heights[row] = height_for(max(_ANSWER_LINES, lines))
    asked = range(_FIRST_ROW, _FIRST_ROW + len(steps))
    questions = range(row - len(ANSWERS) + 1, row + 1)
    emphases = lit(asked, (_STEP, _HOW), _ANSWER, _NEXT) + lit(questions, (_STEP, _UNIT), _HOW, _NEXT)
    return sheet_tab(
        "working",
        cells,
        _WORKING_WIDTHS,
        ((COLUMN_HEADINGS, HEADING_HEIGHT), *heights.items()),
        texts,
        emphases=emphases,
        landscape=True,
        first_entry=(_FIRST_ROW, _ANSWER),
    )


def _step_row(
    row: int, own: str, live: str, protocol: Protocol, settings: SheetSettings, texts: Texts
) -> list[Cell]:
    sites = {f"site_{site.word}": site for site in protocol.sites}
    site = sites.get(live)
    title = texts[f"results.{live}"] if site is None else texts["working.site"] + site.title
    cells = [
        label(row, _STEP, title, "line_label"),
        entry(row, _ANSWER, own, own_rule(title, texts), "entry_own"),
        label(row, _UNIT, texts[f"working.{live}" if site is None else "working.site_unit"], "hint"),
        next_here(row, _NEXT, own),
    ]
    if live == "density_g_ml":
        age = 'IF(ISNUMBER({in_age_years}),"A = "&{in_age_years},"")'
        cells.append(formula(row, _FROM, f"={age}", "", "from"))
    elif site is None:
        cells.append(label(row, _FROM, None, "plain"))
    else:
        names = [f"{{in_{reading_name(number, site.word)}}}" for number in ROUNDS]
        readings = "&".join(f'IF(ISNUMBER({name}),{name}&"   ","")' for name in names)
        zero = f'IF(ISNUMBER({{in_zero_mm}}),{quoted(texts["working.zero"])}&{{in_zero_mm}},"")'
        cells.append(formula(row, _FROM, f"={readings}&{zero}", "", "from"))
    how = texts[f"working.{_HOWS[live]}" if site is None else f"working.site_how_{settings.site_rule}"]
    if live == "fat_percent" and protocol.conversions:
        numbers = _conversion_numbers(protocol.conversion(settings.conversion), texts)
        how = texts["working.fat_percent_how"].format(**numbers)
    shown, first = "", how
    if live == "sum_mm":
        shown = f"IF({{sites_open}}<{len(protocol.sites)},{quoted(texts['working.sum_none'])},{quoted(how)})"
    elif live in ("fat_mass_kg", "fat_free_mass_kg"):
        first = texts["working.mass_none"]
        shown = f"IF(ISNUMBER({{in_mass_kg}}),{quoted(how)},{quoted(first)})"
    elif live == "density_g_ml" or (live == "fat_percent" and not protocol.conversions):
        first = texts["working.density_choose"]
        chosen = "INDEX({equation_text_first}:{equation_text_last},{equation_row})"
        shown = f'IF({{equation_row}}="",{quoted(first)},{quoted(how)}&{chosen})'
    cells.append(formula(row, _HOW, f"={shown}", first, "hint") if shown else label(row, _HOW, how, "hint"))
    return cells


def results_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Results: a word on how the rounds agreed, what follows from the readings, and a chart of
    how far the rounds lie apart; never of folds side by side."""
    headings = [texts[f"results.{name}"] for name in _RESULTS_COLUMNS]
    cells = [*head("results", 7, 1, protocol, texts), *column_headings(headings)]
    row = _FIRST_ROW
    quantities = row + len(protocol.sites)
    for at, site in enumerate(protocol.sites, start=row):
        cells += _site_line(at, site, settings, texts)
    lines = _quantity_lines(quantities, protocol, settings, texts)
    last = lines[-1].row + 1
    cells += [
        *lines,
        label(last, _QUANTITY, texts["results.moment"], "line_label"),
        formula(last, _VALUE, f"={_moment(protocol, settings, texts)}", "", "words"),
        label(last + 1, _QUANTITY, texts["results.instruction"], "words"),
    ]
    chart = Chart(
        row=last + 3,
        column=0,
        width=sum(map(column_pixels, _RESULTS_WIDTHS[:-1])) - 8,
        height=_CHART_HEIGHT,
        title=texts["results.chart_title"],
        alternative_text=texts["results.chart_alternative"].format(count=len(protocol.sites)),
        categories=(row, quantities - 1, _QUANTITY),
        series=(
            Series(texts["results.chart_first"], _FROM_MEAN_1, "solid", "0.0#;-0.0#;"),
            Series(texts["results.chart_second"], _FROM_MEAN_2, "striped", "0.0#;-0.0#;"),
        ),
        category_title=texts["results.chart_sites"],
        value_title=texts["results.chart_scale"],
    )
    # The two lines that may say the most; with a percentage one of them is long.
    long = max(wrapped_lines(texts[key], _RESULTS_WIDTHS[_WORDS], indent=1) for key in _LONG_WORDS)
    heights = {cell.row: height_for(long) for cell in lines if cell.format == "words_wrapped"}
    high = max(map(wrapped_lines, headings, _RESULTS_WIDTHS[:-1], [True] * len(headings)))
    rows = ((at, heights.get(at, _RESULT_ROW)) for at in range(row, last + 2))
    high_rows = ((COLUMN_HEADINGS, height_for(high)), *rows)
    return sheet_tab("results", cells, _RESULTS_WIDTHS, high_rows, texts, landscape=True, charts=(chart,))


def _line(row: int, title: str, text: str, unit: str, shape: str) -> list[Cell]:
    return [
        label(row, _QUANTITY, title, "line_label"),
        formula(row, _VALUE, text, "", shape),
        label(row, _RESULT_UNIT, unit, "hint"),
    ]


def _site_line(row: int, site: Site, settings: SheetSettings, texts: Texts) -> list[Cell]:
    """A site's value, how far each of its first two rounds lies from their mean, and it in words."""
    word = site.word
    third = f'AND({{third_{word}}}="yes",ISNUMBER({{corrected_{ROUNDS[-1]}_{word}}}))'
    tests = [
        (f'{{left_out_{word}}}="yes"', "results.site_left_out"),
        (f"NOT(ISNUMBER({{site_{word}}}))", "results.site_none"),
        (f'{{again_{word}}}="yes"', "note.again"),
        (f'AND({{third_{word}}}="yes",NOT({third}))', "note.third"),
    ]
    if settings.show_results != "always":
        tests.append((f"NOT(ISNUMBER({{in_own_site_{word}}}))", "results.site_own"))
    tests.append((third, "results.site_three"))
    words = chain([(test, quoted(texts[key])) for test, key in tests], quoted(texts["results.site_two"]))
    words = uncovered(settings, words, quoted(texts["results.site_covered"]))
    one, two = f"{{corrected_1_{word}}}", f"{{corrected_2_{word}}}"
    both = f"AND(ISNUMBER({one}),ISNUMBER({two}))"
    cells = _line(row, site.title, uncovered(settings, shown_site(word, settings)), "mm", "result_2")
    for column, (mine, other) in ((_FROM_MEAN_1, (one, two)), (_FROM_MEAN_2, (two, one))):
        apart = f'IF({both},ROUND(({mine}-{other})/2,3),"")'
        cells.append(formula(row, column, uncovered(settings, apart), "", "result_2"))
    return [*cells, formula(row, _WORDS, words, texts["results.site_none"], "words")]


def _moment(protocol: Protocol, settings: SheetSettings, texts: Texts) -> str:
    """How the rounds agreed, once round 2 is in: about the method, never about the body."""
    words = [site.word for site in protocol.sites]
    agreed = "+".join(f'IF({{third_{word}}}="no",1,0)' for word in words)
    compared = "+".join(f'IF({{third_{word}}}<>"",1,0)' for word in words)
    thirds = ",".join(f"{{in_reading_3_{word}}}" for word in words)
    said = {key: quoted(texts[f"results.moment_{key}"]) for key in ("sites", "readings", "of", "end")}
    taken = f"{{sites_open}}&{said['sites']}&{{readings_made}}+COUNT({thirds})&{said['readings']}"
    text = f"{taken}&{agreed}&{said['of']}&{compared}&{said['end']}"
    return f'IF({{round_2_complete}}="yes",{text},"")'


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
        first = first if settings.show_results == "always" else hidden
        text = f'IF({{show_results}}="yes",{words},{quoted(hidden)})'
        if name == "sum_mm":
            # A site left out is told at once: nobody waits for a sum that does not come.
            text = f"IF({{sites_open}}<{len(protocol.sites)},{quoted(texts['results.sum_left_out'])},{text})"
        long = protocol.equations and name in ("fat_low", reason_line)
        cells.append(formula(at, _WORDS, f"={text}", first, "words_wrapped" if long else "words"))
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
        if not adults or len(protocol.sites) <= _MOST_FOLDS_READ_LOW:
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
        limits = {"minimum": f"{protocol.fat_minimum:g}", "maximum": f"{protocol.fat_maximum:g}"}
        words = quoted(texts[f"state.{state}"].format(**limits))
        reasons.append((f'{{estimate_state}}="{state}"', before + words))
    return chain(reasons, note), missing


def own_rule(title: str, texts: Texts) -> Rule:
    """Return the rule of a line of own working: any number."""
    return Rule("decimal", title[:32], "", texts["rule.own_error"], minimum=-100000, maximum=100000)


def equation_text(equation: Equation, texts: Texts | None = None) -> str:
    """Return an equation as a person writes it, every coefficient with all its published digits.
    texts : of the language; None: English."""
    texts = texts or {"working.fat": "fat %"}
    result = "D" if equation.gives_density else texts["working.fat"]
    parts = []
    # Never as a power of ten, and never cut: a teacher's own coefficient may have any number of digits.
    plain = [f"{Decimal(repr(abs(value))):f}".removesuffix(".0") for _, value in equation.coefficients]
    for (key, value), digits in zip(equation.coefficients, equation.digits or plain, strict=True):
        parts.append(f"{'-' if value < 0 else '+'} {with_decimal_sign(digits, texts)}{TERMS[key].written}")
    return f"{result} = " + " ".join(parts).removeprefix("+ ")


def equation_title(equation: Equation, texts: Texts) -> str:
    """Return whom an equation is for: sex and ages."""
    ages = f"{equation.age_minimum:g}-{equation.age_maximum:g}"
    return f"{texts[f'working.{equation.sex}']}, {ages} {texts['working.years']}"


def cautions_of(protocol: Protocol, settings: SheetSettings, texts: Texts) -> dict[str, str]:
    """Return every caution by its key. The first says by how much the protocol's own equations are out for
    about one person in three: one standard error of the estimate; that on health data names the day to
    delete them, where the class has one."""
    errors = sorted({equation.standard_error_percent for equation in protocol.equations})
    said = {key: texts[key] for key in CAUTIONS}
    if settings.delete_on:
        said[CAUTION_HEALTH_DATA] += " " + texts["caution.delete_on"].format(day=settings.delete_on)
    if not errors:
        return {**said, CAUTIONS[0]: texts["caution.c01_sum"]}
    least, most = (shown_number(error, texts) for error in (errors[0], errors[-1]))
    error = least if least == most else texts["caution.error_range"].format(least=least, most=most)
    return {**said, CAUTIONS[0]: said[CAUTIONS[0]].format(error=error)}


def conversion_text(conversion: Conversion, texts: Texts) -> str:
    """Return a conversion of density to per cent fat as a person writes it."""
    return "{numerator} / D - {offset}".format(**_conversion_numbers(conversion, texts))


def _conversion_numbers(conversion: Conversion, texts: Texts) -> dict[str, str]:
    return {name: shown_number(getattr(conversion, name), texts) for name in ("numerator", "offset")}
