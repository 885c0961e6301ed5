from dataclasses import replace

import pytest

from sheetgen.protocols.protocol import Equation
from sheetgen.sheet.working import equation_text, equation_title
from sheetgen.workbook.cells import column_pixels
from sheetgen.workbook.layout import Cell, Tab
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


def _lines(show_results: str, **changes: object) -> dict[str, tuple[Cell, Cell]]:
    """Title of a line to its value and its words."""
    tab = sheet_of(settings_with(show_results=show_results, **changes)).layout.tab("results")
    at = {(cell.row, cell.column): cell for cell in tab.cells}
    rows = [row for row, column in at if column == 4 and row > 4]
    return {str(at[row, 0].value): (at[row, 1], at[row, 4]) for row in rows}


def test_tab_only_displays_what_the_hidden_tab_works_out() -> None:
    tab = sheet_of().layout.tab("results")
    formulas = [cell.formula for cell in tab.cells if cell.role == "formula"]
    assert len(formulas) == 1 + 2 + 3 * 7 + 2 * 7
    assert [text for text in formulas if "Calculator!" not in text] == ["=Start!$B$3"]


def test_units() -> None:
    tab = sheet_of().layout.tab("results")
    units = [cell.value for cell in tab.cells if cell.column == 2 and cell.row > 4]
    assert units == ["cm"] * 2 + ["mm"] * 8 + ["g/ml", "%", "%", "%", "kg", "kg"]


def test_results_wait_for_the_own_working() -> None:
    value, words = _lines("after-working")["Body density"]
    assert value.formula.startswith("=IF(Calculator!$B$")
    assert words.formula.endswith(',"shown when your own working is complete")')
    assert words.value == "shown when your own working is complete"


def test_results_never_shown() -> None:
    value, words = _lines("never")["Sum of the sites"]
    assert (value.value, words.value) == ("", "not shown in this class")


def test_results_always_shown_say_from_the_start_why_there_are_none() -> None:
    words = {title: cells[1].value for title, cells in _lines("always").items()}
    assert words["Sum of the sites"] == "no sum: a site has no value"
    assert words["Body density"] == "no sum: a site has no value"
    assert words["Fat, estimate"] == ""


def test_density_line_has_words_for_every_state() -> None:
    texts = sheet_of().source.texts
    formula = _lines("always")["Body density"][1].formula
    states = (
        "sum-missing",
        "sum-only",
        "sex-missing",
        "age-missing",
        "age-outside",
        "sum-below",
        "sum-above",
        "under-18",
        "sex-outside",
    )
    assert [state for state in states if f'="{state}","{texts[f"state.{state}"]}",' not in formula] == []


ESTIMATE = ["Body density", "Fat, estimate", "Fat, lower end of the band", "Fat, upper end of the band"]
MASSES = ["Fat mass", "Fat-free mass"]
# settings, lines below the sites
LINES: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({}, ["Sum of the sites", *ESTIMATE, *MASSES]),
    ({"protocol_id": "youth-two-sites"}, ["Sum of the sites", *ESTIMATE[1:], *MASSES]),
    ({"under_18": True}, ["Sum of the sites"]),
    ({"estimates": "sums-only"}, ["Sum of the sites"]),
    ({"protocol_id": "folds-only"}, ["Sum of the sites"]),
)


@pytest.mark.parametrize(("changes", "lines"), LINES)
def test_lines_are_those_the_protocol_leads_to(changes: dict[str, object], lines: list[str]) -> None:
    sites = [site.title for site in sheet_of(settings_with(**changes)).source.protocol.sites]
    assert list(_lines("always", **changes)) == [*sites, *lines]


# settings, line that says why there is no estimate
REASON_LINES: tuple[tuple[dict[str, object], str], ...] = (
    ({"under_18": True}, "Sum of the sites"),
    ({"protocol_id": "folds-only"}, "Sum of the sites"),
    ({"protocol_id": "youth-two-sites"}, "Fat, estimate"),
    ({"protocol_id": "four-sites"}, "Body density"),
)


@pytest.mark.parametrize(("changes", "title"), REASON_LINES)
def test_first_estimate_or_the_sum_says_why_there_is_none(changes: dict[str, object], title: str) -> None:
    lines = _lines("always", **changes)
    speaking = [line for line, cells in lines.items() if "under 18" in cells[1].formula]
    assert speaking == [title]
    assert lines[title][1].value == "no sum: a site has no value"


def test_fat_line_warns_above_a_thick_sum() -> None:
    assert '>120,"adult equations read low above a sum of about 120 mm",""' in (
        _lines("always")["Fat, estimate"][1].formula
    )


def test_site_line_says_in_words_where_its_value_comes_from() -> None:
    words = _lines("always")["Chest"][1]
    said = ('"left out"', '"no value yet"', '"measure again: no two agree"', '"from three readings"',
            '"third reading needed"', '"mean of two readings"')  # fmt: skip
    at = [words.formula.index(one) for one in said]
    assert at == sorted(at)
    assert words.value == "no value yet"


def test_site_line_is_covered_with_round_1() -> None:
    value, words = _lines("always", cover_round_1=True)["Chest"]
    assert value.formula.startswith("=IF(Calculator!$B$")
    assert '="yes","",' in value.formula
    assert '="yes","covered until round 2 is in",' in words.formula
    assert "covered" not in _lines("always")["Chest"][1].formula


def test_band_is_one_sentence() -> None:
    """Rounded numbers are joined in, and no format text: each locale writes the decimal sign its way."""
    formula = _lines("always")["Fat, lower end of the band"][1].formula
    assert '"between "&ROUND(' in formula
    assert ',1)&" %: about two in three people of the sample lie inside this band"' in formula


def test_mass_line_says_that_there_is_no_body_mass() -> None:
    assert '"no body mass on Start"' in _lines("always")["Fat mass"][1].formula


def test_sum_line_says_how_many_sites_it_adds() -> None:
    assert '"all 7 sites added up"' in _lines("always")["Sum of the sites"][1].formula


def test_chart_shows_the_sites_and_nothing_that_waits_for_the_own_working() -> None:
    tab = sheet_of().layout.tab("results")
    (chart,) = tab.charts
    first, last, column = chart.categories
    titles = [cell.value for cell in tab.cells if cell.column == column and first <= cell.row <= last]
    assert titles == [
        "Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh",
    ]  # fmt: skip
    assert [(series.column, series.fill) for series in chart.series] == [(1, "solid"), (3, "striped")]


def test_chart_stands_below_the_table_within_its_width() -> None:
    """Beside it, it would shrink the printed page."""
    tab = sheet_of().layout.tab("results")
    (chart,) = tab.charts
    assert chart.row > max(cell.row for cell in tab.cells)
    assert (chart.column, chart.width < sum(map(column_pixels, tab.widths))) == (0, True)


def test_chart_says_its_content_in_words() -> None:
    (chart,) = sheet_of().layout.tab("results").charts
    assert chart.alternative_text.startswith("Bars for the 7 sites in the order of the circuit:")
    assert (chart.category_title, chart.value_title) == (
        "Site, in the order of the circuit; a bar appears once the site has a value",
        "mm",
    )
