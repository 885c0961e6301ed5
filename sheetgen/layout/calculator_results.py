"""The live results of the hidden tab, as formulas that every spreadsheet program works out.

Only functions of the first Open XML edition are used. Empty results are the empty text, so every formula
tests its inputs with ISNUMBER before it computes.
"""

from sheetgen.core.number_policy import hundredths
from sheetgen.layout.calculator_flow import flow_lines
from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import ROUNDS
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["result_lines"]


def result_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return every line from the caliper in hand to `ready`, in the order of working."""
    words = [site.word for site in protocol.sites]
    return [
        *_caliper_lines(),
        *(line for name in ("upper_arm", "thigh") for line in _midpoint_lines(name)),
        *(line for place, word in enumerate(words) for line in _corrected_lines(word, place, len(words))),
        *(line for word in words for line in _site_lines(word, settings)),
        *_sum_lines(words),
        *_estimate_lines(protocol, settings),
        *flow_lines(protocol, settings),
    ]


def _range(prefix: str) -> str:
    return f"{{{prefix}_first}}:{{{prefix}_last}}"


def _caliper_lines() -> list[Line]:
    lines = []
    for caliper, entry in (("caliper", "in_caliper_id"), ("caliper_2", "in_caliper_id_2")):
        lines.append(_lookup_line(f"{caliper}_row", entry, "register_identifier"))
        for field in ("division", "opening", "zero"):
            text = f"INDEX({_range(f'register_{field}')},{{{caliper}_row}})"
            lines.append(Line(f"{caliper}_{field}", f'=IF({{{caliper}_row}}="","",{text})'))
    lines.append(_lookup_line("change_row", "in_changed_from", "change"))
    lines.append(
        Line(
            "zero_difference",
            '=IF(AND(ISNUMBER({in_zero_mm}),ISNUMBER({caliper_zero})),ROUND({in_zero_mm}-{caliper_zero},2),"")',
        )
    )
    return lines


def _lookup_line(name: str, entry: str, table: str) -> Line:
    """The row of a word in a table; MATCH takes * and ? for any text, so what it found is compared."""
    found = f"MATCH({{{entry}}},{_range(table)},0)"
    same = f"INDEX({_range(table)},{found})={{{entry}}}"
    return Line(name, f'=IF({{{entry}}}="","",IF(ISNUMBER({found}),IF({same},{found},""),""))')


def _midpoint_lines(name: str) -> list[Line]:
    length = f"{{in_length_{name}_cm}}"
    return [Line(f"midpoint_{name}_cm", f'=IF(ISNUMBER({length}),IF({length}>0,{length}/2,""),"")')]


def _corrected_lines(site: str, place: int, sites: int) -> list[Line]:
    """A reading less the zero of the caliper it was taken with; 0 or less gives nothing."""
    lines = []
    for number in ROUNDS:
        order = (number - 1) * sites + place + 1
        zero = f"zero_{number}_{site}"
        changed = f"AND(ISNUMBER({{change_row}}),{{change_row}}<={order})"
        lines.append(Line(zero, f"=IF({changed},{{in_zero_2_mm}},{{in_zero_mm}})"))
        reading = f"{{in_reading_{number}_{site}}}"
        value = f"ROUND({reading}-{{{zero}}},2)"
        present = f'AND({{in_not_taken_{site}}}="",ISNUMBER({reading}),ISNUMBER({{{zero}}}))'
        lines.append(Line(f"corrected_{number}_{site}", f'=IF({present},IF({value}>0,{value},""),"")'))
    return lines


def _exceeds(first: str, second: str, settings: SheetSettings) -> str:
    """A test on whole hundredths, as the core makes it."""
    limit = hundredths(settings.tolerance)
    gap = f"ROUND(ABS({first}-{second})*100,0)"
    if settings.tolerance_kind == "mm":
        return f"{gap}>{limit}"
    return f"{gap}*20000>{limit}*ROUND(({first}+{second})*100,0)"


def _site_lines(site: str, settings: SheetSettings) -> list[Line]:
    one, two, three = (f"{{corrected_{number}_{site}}}" for number in ROUNDS)
    both = f"AND(ISNUMBER({one}),ISNUMBER({two}))"
    mean = f"({one}+{two})/2"
    odd_one_out = f"MEDIAN({one},{two},{three})"
    lines = [Line(f"third_{site}", f'=IF({both},IF({_exceeds(one, two, settings)},"yes","no"),"")')]
    counts = f'AND({{third_{site}}}="yes",ISNUMBER({three}))'
    if settings.site_rule == "closest-pair":
        gaps = [f"gap_{pair}_{site}" for pair in ("12", "13", "23")]
        for gap, (first, second) in zip(gaps, ((one, two), (one, three), (two, three)), strict=True):
            lines.append(Line(gap, f'=IF({counts},ROUND(ABS({first}-{second})*100,0),"")'))
        smallest = "MIN({" + "},{".join(gaps) + "})"
        lines.append(Line(f"smallest_gap_{site}", f'=IF({counts},{smallest},"")'))
        is_smallest = [f"{{{gap}}}={{smallest_gap_{site}}}" for gap in gaps]
        ties = "+".join(f"IF({test},1,0)" for test in is_smallest)
        odd_one_out = (
            f"IF({ties}>1,{odd_one_out},IF({is_smallest[0]},{mean},"
            f"IF({is_smallest[1]},({one}+{three})/2,({two}+{three})/2)))"
        )
    lines.append(Line(f"site_{site}", f'=IF({both},IF({counts},{odd_one_out},{mean}),"")'))
    apart = ",".join(
        _exceeds(first, second, settings) for first, second in ((one, two), (one, three), (two, three))
    )
    lines.append(Line(f"again_{site}", f'=IF({counts},IF(AND({apart}),"yes","no"),"no")', "no"))
    return lines


def _sum_lines(words: list[str]) -> list[Line]:
    values = ",".join(f"{{site_{word}}}" for word in words)
    return [Line("sum_mm", f'=IF(COUNT({values})={len(words)},SUM({values}),"")')]


def _estimate_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    conversion = protocol.conversion(settings.conversion)
    rounded_sum = "ROUND({sum_mm},3)"
    age, sex = "{in_age_years}", "{in_sex_equation}"
    row_tests = '""'
    for index in range(len(protocol.equations), 0, -1):
        row_tests = f"IF({{fits_{index}}}=1,{index},{row_tests})"
    state = (
        '=IF({sum_mm}="","sum-missing",'
        f'IF({sex}="sum-only","sum-only",IF(AND({sex}<>"female",{sex}<>"male"),"sex-missing",'
        f'IF(NOT(ISNUMBER({age})),"age-missing",IF({{equation_row}}="","age-outside",'
        f'IF(AND(ISNUMBER({{equation_sum_minimum}}),{rounded_sum}<{{equation_sum_minimum}}),"sum-below",'
        f'IF(AND(ISNUMBER({{equation_sum_maximum}}),{rounded_sum}>{{equation_sum_maximum}}),"sum-above","ok")))))))'
    )
    lines = [
        Line(
            f"fits_{index}",
            f'=IF(AND({sex}="{equation.sex}",ISNUMBER({age})),'
            f"IF(AND({age}>={_number(equation.age_minimum)},{age}<={_number(equation.age_maximum)}),1,0),0)",
            0,
        )
        for index, equation in enumerate(protocol.equations, start=1)
    ]
    lines.append(Line("equation_row", f"={row_tests}"))
    for field in (
        "constant", "sum_linear", "sum_squared", "age", "sum_minimum", "sum_maximum",
        "standard_error_percent",
    ):  # fmt: skip
        column = _range(f"equation_{field}")
        lines.append(
            Line(f"equation_{field}", f'=IF({{equation_row}}="","",INDEX({column},{{equation_row}}))')
        )
    return [
        *lines,
        Line("estimate_state", state, "sum-missing"),
        Line(
            "density_g_ml",
            '=IF({estimate_state}="ok",{equation_constant}+{equation_sum_linear}*{sum_mm}'
            f'+{{equation_sum_squared}}*{{sum_mm}}^2+{{equation_age}}*{age},"")',
        ),
        Line("conversion_numerator", "", conversion.numerator),
        Line("conversion_offset", "", conversion.offset),
        Line(
            "fat_percent",
            "=IF(ISNUMBER({density_g_ml}),IF({density_g_ml}>0,"
            '{conversion_numerator}/{density_g_ml}-{conversion_offset},""),"")',
        ),
        Line("fat_low", '=IF(ISNUMBER({fat_percent}),{fat_percent}-{equation_standard_error_percent},"")'),
        Line("fat_high", '=IF(ISNUMBER({fat_percent}),{fat_percent}+{equation_standard_error_percent},"")'),
        Line(
            "fat_mass_kg",
            "=IF(AND(ISNUMBER({fat_percent}),ISNUMBER({in_mass_kg})),"
            'IF({in_mass_kg}>0,{in_mass_kg}*{fat_percent}/100,""),"")',
        ),
        Line("fat_free_mass_kg", '=IF(ISNUMBER({fat_mass_kg}),{in_mass_kg}-{fat_mass_kg},"")'),
    ]


def _number(value: float) -> str:
    return repr(int(value)) if value == int(value) else repr(value)
