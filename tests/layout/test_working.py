from dataclasses import replace

import pytest

from sheetgen.layout.working import equation_text, equation_title
from sheetgen.model.layout import Tab
from sheetgen.model.protocol import Equation
from tests.sheets import settings_with, sheet_of

SHEET = sheet_of()
TAB = SHEET.layout.tab("working")
AT = {(cell.row, cell.column): cell for cell in TAB.cells}


def _equation(protocol_id: str, identifier: str) -> Equation:
    equations = sheet_of(settings_with(protocol_id=protocol_id)).source.protocol.equations
    return next(one for one in equations if one.identifier == identifier)


def _tab(**changes: object) -> Tab:
    return sheet_of(settings_with(**changes)).layout.tab("working")


def test_equation_text_of_men_to_the_last_digit() -> None:
    """Coefficients: Jackson & Pollock 1978, Br J Nutr 40:497-504."""
    men = next(one for one in SHEET.source.protocol.equations if one.sex == "male")
    assert equation_text(men) == "D = 1.112 - 0.00043499 S + 0.00000055 S^2 - 0.00028826 A"


def test_equation_text_of_women_to_the_last_digit() -> None:
    """Coefficients: Jackson, Pollock & Ward 1980, Med Sci Sports Exerc 12:175-182."""
    women = next(one for one in SHEET.source.protocol.equations if one.sex == "female")
    assert equation_text(women) == "D = 1.097 - 0.00046971 S + 0.00000056 S^2 - 0.00012828 A"


# protocol, equation, title, text; coefficients: Durnin & Womersley 1974, Br J Nutr 32:77-97, table 5;
# Slaughter et al. 1988, Hum Biol 60:709-723
FORMS = (
    ("four-sites", "men-20-29", "male, 20-29 years", "D = 1.1631 - 0.0632 log10(S)"),
    ("four-sites", "women-50-68", "female, 50-68 years", "D = 1.1339 - 0.0645 log10(S)"),
    ("youth-two-sites", "boys-two-sites", "male, 8-17 years", "fat % = 1 + 0.735 S"),
    ("youth-two-sites", "girls-two-sites", "female, 8-17 years", "fat % = 5.1 + 0.61 S"),
)


@pytest.mark.parametrize(("protocol_id", "identifier", "title", "text"), FORMS)
def test_equation_text_of_other_forms(protocol_id: str, identifier: str, title: str, text: str) -> None:
    equation = _equation(protocol_id, identifier)
    assert equation_title(equation, SHEET.source.texts) == title
    assert equation_text(equation) == text


def test_equation_text_of_a_negative_constant_keeps_its_sign() -> None:
    equation = SHEET.source.protocol.equations[0]
    turned = replace(equation, coefficients=(("constant", -1.5), *equation.coefficients[1:]))
    assert equation_text(turned).startswith("D = - 1.5 - 0.00043499 S")


def test_steps_and_questions_stand_in_the_order_of_working() -> None:
    names = [cell.name for cell in TAB.cells if cell.role == "entry"]
    assert names == [
        "own_midpoint_upper_arm_cm",
        "own_midpoint_thigh_cm",
        "own_site_chest",
        "own_site_midaxillary",
        "own_site_triceps",
        "own_site_subscapular",
        "own_site_abdominal",
        "own_site_suprailiac",
        "own_site_thigh",
        "own_sum_mm",
        "own_density_g_ml",
        "own_fat_percent",
        "own_fat_mass_kg",
        "own_fat_free_mass_kg",
        "answer_repeat",
        "answer_zero",
        "answer_error",
    ]


def test_step_says_unit_and_how() -> None:
    row = next(cell.row for cell in TAB.cells if cell.name == "own_fat_percent")
    assert [AT[row, column].value for column in (0, 2, 3)] == [
        "Fat, estimate",
        "%, 1 decimal",
        "fat % = 495 / D - 450",
    ]


def test_step_follows_the_conversion_of_the_class() -> None:
    tab = sheet_of(settings_with(conversion="brozek")).layout.tab("working")
    assert "fat % = 457 / D - 414.2" in {cell.value for cell in tab.cells}


def test_tab_without_an_equation_stops_at_the_sum() -> None:
    tab = _tab(under_18=True)
    own = [cell.name for cell in tab.cells if cell.name.startswith("own_")]
    assert own[-1] == "own_sum_mm"
    values = {cell.value for cell in tab.cells}
    assert "Equations (S in mm, A in years, D in g/ml)" not in values
    assert "Equations (S in mm, A in years, D in g/ml)" in {cell.value for cell in TAB.cells}


def test_step_to_per_cent_without_a_density_points_at_the_equation() -> None:
    tab = _tab(protocol_id="youth-two-sites")
    row = next(cell.row for cell in tab.cells if cell.name == "own_fat_percent")
    hows = [cell.value for cell in tab.cells if (cell.row, cell.column) == (row, 3)]
    assert hows == ["put the sum S into your equation below"]


def test_answers_are_short() -> None:
    rules = [cell.rule for cell in TAB.cells if cell.name.startswith("answer_")]
    assert [(rule.kind, rule.maximum) for rule in rules if rule is not None] == [("length", 500)] * 3


def test_tab_gives_no_result_away() -> None:
    """It shows the next step, and nothing else that is worked out."""
    assert [(cell.row, cell.column) for cell in TAB.cells if cell.role == "formula"] == [(2, 1)]
