"""The estimate on the hidden tab: which equation fits, why there is none, density, fat, masses."""

from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import sex_words
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["EQUATION_FIELDS", "estimate_lines"]

EQUATION_FIELDS = (
    "form", "constant", "sum_linear", "sum_squared", "sum_log10", "age", "sum_minimum", "sum_maximum",
    "standard_error_percent",
)  # fmt: skip
"""What the table of equations holds of each; a coefficient that a form does not have is 0."""


def estimate_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines from the equation that fits to fat-free mass."""
    if not protocol.equations:
        return _no_estimate_lines(settings)
    return [
        *_equation_lines(protocol),
        Line("estimate_state", _state(protocol, settings), "sum-missing"),
        Line(
            "density_g_ml",
            '=IF({estimate_state}<>"ok","",IF({equation_form}="linear-percent","",'
            "{equation_constant}+{equation_sum_linear}*{sum_mm}+{equation_sum_squared}*{sum_mm}^2"
            "+{equation_sum_log10}*LOG10({sum_mm})+{equation_age}*{in_age_years}))",
        ),
        *_fat_lines(protocol, settings),
        Line("fat_low", '=IF(ISNUMBER({fat_percent}),{fat_percent}-{equation_standard_error_percent},"")'),
        Line("fat_high", '=IF(ISNUMBER({fat_percent}),{fat_percent}+{equation_standard_error_percent},"")'),
        Line(
            "fat_mass_kg",
            "=IF(AND(ISNUMBER({fat_percent}),ISNUMBER({in_mass_kg})),"
            'IF({in_mass_kg}>0,{in_mass_kg}*{fat_percent}/100,""),"")',
        ),
        Line("fat_free_mass_kg", '=IF(ISNUMBER({fat_mass_kg}),{in_mass_kg}-{fat_mass_kg},"")'),
    ]


def _no_estimate_lines(settings: SheetSettings) -> list[Line]:
    reason = "under-18" if settings.under_18 else "no-equation"
    empty = ("density_g_ml", "fat_percent", "fat_low", "fat_high", "fat_mass_kg", "fat_free_mass_kg")
    state = f'=IF({{sum_mm}}="","sum-missing",IF({{under_18}}="yes","under-18","{reason}"))'
    return [Line("estimate_state", state, "sum-missing"), *(Line(name, '=""') for name in empty)]


def _equation_lines(protocol: Protocol) -> list[Line]:
    age, sex = "{in_age_years}", "{in_sex_equation}"
    row = '""'
    for index in range(len(protocol.equations), 0, -1):
        row = f"IF({{fits_{index}}}=1,{index},{row})"
    lines = [
        Line(
            f"fits_{index}",
            f'=IF(AND({sex}="{equation.sex}",ISNUMBER({age})),'
            f"IF(AND({age}>={_number(equation.age_minimum)},{age}<={_number(equation.age_maximum)}),1,0),0)",
            0,
        )
        for index, equation in enumerate(protocol.equations, start=1)
    ]
    lines.append(Line("equation_row", f"={row}"))
    for field in EQUATION_FIELDS:
        column = f"{{equation_{field}_first}}:{{equation_{field}_last}}"
        text = f'=IF({{equation_row}}="","",INDEX({column},{{equation_row}}))'
        lines.append(Line(f"equation_{field}", text))
    return lines


def _state(protocol: Protocol, settings: SheetSettings) -> str:
    age, sex, rounded_sum = "{in_age_years}", "{in_sex_equation}", "ROUND({sum_mm},3)"
    tests = [
        ('{sum_mm}=""', "sum-missing"),
        (f'{sex}="sum-only"', "sum-only"),
        (f'AND({sex}<>"female",{sex}<>"male")', "sex-missing"),
        (f"NOT(ISNUMBER({age}))", "age-missing"),
        ('{equation_row}=""', "age-outside"),
        (f"AND(ISNUMBER({{equation_sum_minimum}}),{rounded_sum}<{{equation_sum_minimum}})", "sum-below"),
        (f"AND(ISNUMBER({{equation_sum_maximum}}),{rounded_sum}>{{equation_sum_maximum}})", "sum-above"),
    ]
    for sex_word in ("female", "male"):
        if sex_word not in sex_words(protocol):
            tests.insert(3, (f'{sex}="{sex_word}"', "sex-outside"))
    if not (settings.under_18 and settings.youth_estimate == "on"):
        tests.insert(0, ('{under_18}="yes"', "under-18"))
    text = '"ok"'
    for test, word in reversed(tests):
        text = f'IF({test},"{word}",{text})'
    return f"={text}"


def _fat_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    linear = "{equation_constant}+{equation_sum_linear}*{sum_mm}"
    if not protocol.conversions:
        return [Line("fat_percent", f'=IF({{estimate_state}}="ok",{linear},"")')]
    conversion = protocol.conversion(settings.conversion)
    from_density = (
        "IF(ISNUMBER({density_g_ml}),IF({density_g_ml}>0,"
        '{conversion_numerator}/{density_g_ml}-{conversion_offset},""),"")'
    )
    return [
        Line("conversion_numerator", "", conversion.numerator),
        Line("conversion_offset", "", conversion.offset),
        Line(
            "fat_percent",
            f'=IF({{estimate_state}}<>"ok","",IF({{equation_form}}="linear-percent",{linear},{from_density}))',
        ),
    ]


def _number(value: float) -> str:
    return repr(int(value)) if value == int(value) else repr(value)
