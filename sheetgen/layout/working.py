"""The tab Working: the same steps by hand, and the short questions."""

from collections.abc import Mapping
from decimal import Decimal

from sheetgen.layout.cells import entry, formula, heading_row, identity, label
from sheetgen.layout.number_text import shown_number, with_decimal_sign
from sheetgen.layout.rules import own_rule, text_rule
from sheetgen.layout.text_size import height_for, lines_needed
from sheetgen.layout.vocabulary import ANSWERS, own_steps
from sheetgen.model.layout import Tab
from sheetgen.model.protocol import Equation, Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["equation_text", "equation_title", "working_tab"]

FIRST_ROW = 5
WIDTHS = (49, 33, 28, 73)
_ANSWER_LENGTH = 500
_ANSWER_LINES = 6
_FACTORS = {
    "constant": "", "sum_linear": " S", "sum_squared": " S^2", "sum_log10": " log10(S)", "age": " A",
}  # fmt: skip

Texts = Mapping[str, str]


def working_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Working."""
    columns = [texts[f"working.{name}"] for name in ("step", "answer", "unit", "how")]
    cells = [
        label(0, 0, texts["working.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["working.instruction"], "step"),
        label(2, 0, texts["readings.next_step"], "label"),
        formula(2, 1, "={shown_next_step}", texts["step.cautions"], "step"),
        *heading_row(FIRST_ROW - 1, columns),
    ]
    row = FIRST_ROW
    for name, title, unit, how in _steps(protocol, settings, texts):
        cells += [
            label(row, 0, title, "label"),
            entry(row, 1, f"own_{name}", own_rule(title, texts), "entry_number"),
            label(row, 2, unit),
            label(row, 3, how),
        ]
        row += 1
    last_step = row
    row += 1
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
    for word in ANSWERS:
        row += 1
        question = texts[f"working.question_{word}"]
        rule = text_rule(texts, _ANSWER_LENGTH, texts["rule.title_text"], question)
        cells += [label(row, 0, question, "wrap"), entry(row, 1, f"answer_{word}", rule, "entry_long")]
        question_heights.append((row, height_for(max(_ANSWER_LINES, lines_needed(question, WIDTHS[0])))))
    return Tab(
        "working",
        texts["tab.working"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=WIDTHS,
        heights=(
            (0, 24.0),
            *((at, 20.0) for at in range(1, FIRST_ROW)),
            *((at, 22.0) for at in range(FIRST_ROW, last_step)),
            *question_heights,
        ),
        freeze=(FIRST_ROW, 0),
        landscape=True,
        first_entry=(FIRST_ROW, 1),
    )


def equation_text(equation: Equation, texts: Texts | None = None) -> str:
    """Return an equation as a person writes it, every coefficient to its last digit.

    Parameters
    ----------
    texts : of the language; None: English.
    """
    texts = texts or {"working.fat": "fat %"}
    result = texts["working.fat"] if equation.form == "linear-percent" else "D"
    parts = []
    for key, value in equation.coefficients:
        sign = "-" if value < 0 else "+"
        # Never as a power of ten, and never cut: a teacher's own coefficient may have any number of digits.
        digits = with_decimal_sign(f"{Decimal(repr(abs(value))):f}".removesuffix(".0"), texts)
        parts.append(f"{sign} {digits}{_FACTORS[key]}")
    return f"{result} = " + " ".join(parts).removeprefix("+ ")


def equation_title(equation: Equation, texts: Texts) -> str:
    """Return whom an equation is for: sex and ages."""
    ages = f"{equation.age_minimum:g}-{equation.age_maximum:g}"
    return f"{texts[f'working.{equation.sex}']}, {ages} {texts['working.years']}"


def _steps(protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[tuple[str, str, str, str]]:
    """(live result, title, unit and decimals, how) in the order of working."""
    site_title = {f"site_{site.word}": texts["working.site"] + site.title for site in protocol.sites}
    hows = {
        "sum_mm": texts["working.sum_how"],
        "density_g_ml": texts["working.density_how"],
        "fat_percent": _percent_how(protocol, settings, texts),
        "fat_mass_kg": texts["working.fat_mass_how"],
        "fat_free_mass_kg": texts["working.fat_free_mass_how"],
    }
    steps = []
    for _, name in own_steps(protocol):
        if name in site_title:
            steps.append((name, site_title[name], texts["working.site_unit"], texts["working.site_how"]))
        elif name in hows:
            steps.append((name, texts[f"results.{name}"], texts[f"working.{name}"], hows[name]))
        else:
            unit, how = texts["working.midpoint_unit"], texts["working.midpoint_how"]
            steps.append((name, texts[f"results.{name}"], unit, how))
    return steps


def _percent_how(protocol: Protocol, settings: SheetSettings, texts: Texts) -> str:
    if not protocol.conversions:
        return texts["working.percent_how"]
    conversion = protocol.conversion(settings.conversion)
    numerator, offset = shown_number(conversion.numerator, texts), shown_number(conversion.offset, texts)
    return texts["working.fat_percent_how"].format(numerator=numerator, offset=offset)
