"""The tabs Working and Results, and equations as a person writes them."""

import re

import pytest
from msgspec.structs import replace

from sheetgen.protocols.protocol import Equation
from sheetgen.sheet.heading import wrapped_lines
from sheetgen.sheet.working import conversion_text, equation_text, equation_title, own_rule
from sheetgen.texts.languages import texts_in
from sheetgen.workbook.cells import column_pixels, height_for
from sheetgen.workbook.layout import Cell, Emphasis, Tab
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import settings_with, sheet_of

SHEET = sheet_of()
TAB = SHEET.layout.tab("working")
TEXTS = SHEET.source.texts
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
    assert equation_text(women) == "D = 1.0970 - 0.00046971 S + 0.00000056 S^2 - 0.00012828 A"


# protocol, equation, title, text; coefficients: Durnin & Womersley 1974, Br J Nutr 32:77-97, table 5;
# Slaughter et al. 1988, Hum Biol 60:709-723
FORMS = (
    ("four-sites", "men-20-29", "male, 20-29 years", "D = 1.1631 - 0.0632 log10(S)"),
    ("four-sites", "women-50-68", "female, 50-68 years", "D = 1.1339 - 0.0645 log10(S)"),
    ("youth-two-sites", "boys-two-sites", "male, 8-17 years", "fat % = 1.0 + 0.735 S"),
    ("youth-two-sites", "girls-two-sites", "female, 8-17 years", "fat % = 5.1 + 0.610 S"),
)


@pytest.mark.parametrize(("protocol_id", "identifier", "title", "text"), FORMS)
def test_equation_text_of_other_forms(protocol_id: str, identifier: str, title: str, text: str) -> None:
    equation = _equation(protocol_id, identifier)
    assert equation_title(equation, SHEET.source.texts) == title
    assert equation_text(equation) == text


def test_equation_text_of_a_negative_constant_keeps_its_sign() -> None:
    equation = SHEET.source.protocol.equations[0]
    turned = replace(equation, coefficients=(("constant", -1.5), *equation.coefficients[1:]), digits=())
    assert equation_text(turned).startswith("D = - 1.5 - 0.00043499 S")


def test_steps_and_questions_stand_in_the_order_of_working() -> None:
    """Midpoints stand on Start, beside their lengths."""
    names = [cell.name for cell in TAB.cells if cell.role == "entry"]
    assert names == [
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
    assert {cell.column for cell in TAB.cells if cell.name.startswith("own_")} == {2}
    assert TAB.first_entry == (4, 2)


def _row(name: str, tab: Tab = TAB) -> dict[int, Cell]:
    row = next(cell.row for cell in tab.cells if cell.name == name)
    return {cell.column: cell for cell in tab.cells if cell.row == row}


def test_columns_of_the_working() -> None:
    assert [AT[3, column].value for column in range(5)] == [
        "Step", "From", "Your answer", "Unit, decimals", "How",
    ]  # fmt: skip


# entry, title, unit and decimals, how
STEPS = (
    (
        "own_site_chest",
        "Site value: Chest",
        "mm, 2 decimals",
        "take the zero off; mean of two, middle of three",
    ),
    ("own_sum_mm", "Sum of the sites", "mm, 2 decimals", "add your site values above"),
    ("own_density_g_ml", "Body density", "g/ml, 4 decimals", "choose the equation and type the age on Start"),
    ("own_fat_percent", "Fat, estimate", "%, 1 decimal", "your density D into: fat % = 495 / D - 450"),
    ("own_fat_mass_kg", "Fat mass", "kg, 1 decimal", "not asked for: no body mass on Start"),
    ("own_fat_free_mass_kg", "Fat-free mass", "kg, 1 decimal", "not asked for: no body mass on Start"),
)


@pytest.mark.parametrize(("name", "title", "unit", "how"), STEPS)
def test_step_says_unit_and_how(name: str, title: str, unit: str, how: str) -> None:
    row = _row(name)
    assert [row[column].value for column in (0, 3, 4)] == [title, unit, how]


def test_step_of_a_site_has_its_readings_and_the_zero_beside_it() -> None:
    line = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in SHEET.layout.tab("calculator").cells}
    readings = "&".join(
        f'IF(ISNUMBER({line[name]}),{line[name]}&"   ","")'
        for name in ("in_reading_1_chest", "in_reading_2_chest", "in_reading_3_chest")
    )
    zero = f'IF(ISNUMBER({line["in_zero_mm"]}),"zero "&{line["in_zero_mm"]},"")'
    assert _row("own_site_chest")[1].formula == f"={readings}&{zero}"


def test_step_of_the_density_shows_the_one_equation_that_fits() -> None:
    line = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in SHEET.layout.tab("calculator").cells}
    how = _row("own_density_g_ml")[4].formula
    assert how.startswith(f'=IF({line["equation_row"]}="","choose the equation and type the age on Start",')
    assert '"your sum S and the age A into: "&INDEX(' in how
    assert how.endswith(f",{line['equation_row']}))")


def test_step_of_the_density_has_the_age_beside_it() -> None:
    line = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in SHEET.layout.tab("calculator").cells}
    age = line["in_age_years"]
    assert _row("own_density_g_ml")[1].formula == f'=IF(ISNUMBER({age}),"A = "&{age},"")'


def test_step_of_the_sum_says_that_none_is_asked_for_where_a_site_is_left_out() -> None:
    assert (
        '<7,"not asked for: a site is left out","add your site values above")'
        in _row("own_sum_mm")[4].formula
    )


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("own_fat_mass_kg", "body mass x your fat % / 100"),
        ("own_fat_free_mass_kg", "body mass - your fat mass"),
    ],
)
def test_step_of_a_mass_says_that_none_is_asked_for_without_a_body_mass(name: str, how: str) -> None:
    assert _row(name)[4].formula.endswith(f'),"{how}","not asked for: no body mass on Start")')


def test_step_of_a_site_says_the_rule_of_the_class_for_three_readings() -> None:
    tab = sheet_of(settings_with(site_rule="closest-pair")).layout.tab("working")
    row = next(cell.row for cell in tab.cells if cell.name == "own_site_chest")
    assert [cell.value for cell in tab.cells if (cell.row, cell.column) == (row, 4)] == [
        "take the zero off; mean of two, or closest two"
    ]


def test_step_follows_the_conversion_of_the_class() -> None:
    tab = sheet_of(settings_with(conversion="brozek")).layout.tab("working")
    assert _row("own_fat_percent", tab)[4].value == "your density D into: fat % = 457 / D - 414.2"


def test_tab_without_an_equation_stops_at_the_sum() -> None:
    own = [cell.name for cell in _tab(under_18=True).cells if cell.name.startswith("own_")]
    assert own == ["own_site_triceps", "own_site_thigh", "own_sum_mm"]


def test_step_to_per_cent_without_a_density_shows_its_equation() -> None:
    tab = _tab(protocol_id="youth-two-sites")
    how = _row("own_fat_percent", tab)[4]
    assert how.value == "choose the equation and type the age on Start"
    assert '"your sum S into: "&INDEX(' in how.formula


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("protocol_id", ["seven-sites", "four-sites", "youth-two-sites"])
def test_row_has_room_for_its_equation(language: str, protocol_id: str) -> None:
    sheet = sheet_in(language, protocol_id=protocol_id, conversion="")
    tab, texts = sheet.layout.tab("working"), sheet.source.texts
    name = "own_fat_percent" if protocol_id == "youth-two-sites" else "own_density_g_ml"
    row = next(cell.row for cell in tab.cells if cell.name == name)
    lead = texts["working.percent_how" if protocol_id == "youth-two-sites" else "working.density_how"]
    longest = max(
        wrapped_lines(lead + equation_text(each, texts), tab.widths[4], indent=1)
        for each in sheet.source.protocol.equations
    )
    assert dict(tab.heights)[row] >= height_for(longest)


def test_equation_and_conversion_in_the_decimal_sign_of_the_language() -> None:
    texts = texts_in("es", "sheet")
    assert equation_text(SHEET.source.protocol.equations[0], texts).startswith("D = 1,112 - 0,00043499 S")
    brozek = SHEET.source.protocol.conversion("brozek")
    assert conversion_text(brozek, texts) == "457 / D - 414,2"
    assert conversion_text(brozek, TEXTS) == "457 / D - 414.2"


def test_own_rule_takes_any_number_and_says_that_the_unit_stays_away() -> None:
    rule = own_rule("A title that is longer than a title may be", TEXTS)
    assert (rule.kind, rule.minimum, rule.maximum, rule.prompt) == ("decimal", -100000, 100000, "")
    assert rule.title == "A title that is longer than a ti"
    assert rule.error == (
        "Type a number only, without the unit. If a decimal is refused, swap point and comma."
    )


def test_row_and_box_of_the_next_step_are_lit() -> None:
    """In the table the answer stands in the third column, of a question in the fifth."""
    assert TAB.emphases == (
        Emphasis(4, 2, 15, 2, "=$G5=1", "lit_entry"),
        Emphasis(4, 0, 15, 4, "=$G5=1", "lit"),
        Emphasis(17, 4, 19, 4, "=$G18=1", "lit_entry"),
        Emphasis(17, 0, 19, 3, "=$G18=1", "lit"),
    )


def test_answers_are_short() -> None:
    rules = [cell.rule for cell in TAB.cells if cell.name.startswith("answer_")]
    assert [(rule.kind, rule.maximum) for rule in rules if rule is not None] == [("length", 500)] * 3


def test_working_gives_no_result_away() -> None:
    """Its formulas look at entries, at the equation that fits, at what comes next, and at the sites left."""
    calculator = SHEET.layout.tab("calculator").cells
    names = {f"Calculator!$B${cell.row + 1}": cell.name for cell in calculator if cell.column == 1}
    names |= {f"Calculator!$C${cell.row + 1}": cell.name for cell in calculator if cell.column == 2}
    seen = {
        names[place] for cell in TAB.cells for place in re.findall(r"Calculator!\$[BC]\$\d+", cell.formula)
    }
    others = {name for name in seen if not name.startswith(("in_reading_", "rank_"))}
    assert others == {
        "counted_step_line", "next_step", "next_rank", "next_tab", "in_age_years", "in_mass_kg", "in_zero_mm",
        "sites_open", "equation_row",
    }  # fmt: skip


def _lines(show_results: str, **changes: object) -> dict[str, tuple[Cell, Cell]]:
    """Title of a line to its value and its words."""
    tab = sheet_of(settings_with(show_results=show_results, **changes)).layout.tab("results")
    at = {(cell.row, cell.column): cell for cell in tab.cells}
    rows = [row for row, column in at if column == 5 and row > 3]
    return {str(at[row, 0].value): (at[row, 1], at[row, 5]) for row in rows}


def test_results_only_display_what_the_hidden_tab_works_out() -> None:
    tab = sheet_of().layout.tab("results")
    formulas = [cell.formula for cell in tab.cells if cell.role == "formula"]
    # Two of the heading, four a site, two a quantity, and how the rounds agreed.
    assert len(formulas) == 2 + 4 * 7 + 2 * 7 + 1
    assert [text for text in formulas if "Calculator!" not in text] == []
    assert [cell for cell in tab.cells if cell.role == "entry"] == []


def test_units() -> None:
    tab = sheet_of().layout.tab("results")
    units = [cell.value for cell in tab.cells if cell.column == 2 and cell.row > 3]
    assert units == ["mm"] * 8 + ["g/ml", "%", "%", "%", "kg", "kg"]


# setting, formula of what is shown of a site value
SITE_SHOWN = (
    ("always", "={0}"),
    ("after-working", '=IF(ISNUMBER({1}),{0},"")'),
    ("never", '=IF(ISNUMBER({1}),{0},"")'),
)


@pytest.mark.parametrize(("show_results", "template"), SITE_SHOWN)
def test_site_value_is_shown_only_once_the_own_line_is_typed(show_results: str, template: str) -> None:
    layout = sheet_of(settings_with(show_results=show_results)).layout
    line = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in layout.tab("calculator").cells}
    value, words = _lines(show_results)["Chest"]
    assert value.formula == template.format(line["site_chest"], line["in_own_site_chest"])
    assert ('"shown once you have worked it out"' in words.formula) == (show_results != "always")


def test_distance_of_each_round_from_the_mean_of_both() -> None:
    layout = sheet_of().layout
    at = {(cell.row, cell.column): cell.formula for cell in layout.tab("results").cells}
    line = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in layout.tab("calculator").cells}
    one, two = line["corrected_1_chest"], line["corrected_2_chest"]
    both = f"AND(ISNUMBER({one}),ISNUMBER({two}))"
    assert at[4, 3] == f'=IF({both},ROUND(({one}-{two})/2,3),"")'
    assert at[4, 4] == f'=IF({both},ROUND(({two}-{one})/2,3),"")'


def test_moment_at_the_end_is_about_the_method() -> None:
    tab = sheet_of().layout.tab("results")
    at = {(cell.row, cell.column): cell for cell in tab.cells}
    row = next(cell.row for cell in tab.cells if cell.value == "How your rounds agreed")
    assert re.findall(r'"( [^"]*)"', at[row, 1].formula) == [
        " sites, ", " readings. Rounds 1 and 2 agreed within the class's limit at ", " of ", " sites.",
    ]  # fmt: skip
    complete = next(
        cell for cell in sheet_of().layout.tab("calculator").cells if cell.name == "round_2_complete"
    )
    assert at[row, 1].formula.startswith(f'=IF(Calculator!$B${complete.row + 1}="yes",')
    assert at[row, 1].formula.count('="no",1,0)') == 7
    assert at[row + 1, 0].value == (
        "An estimate for practice. It says nothing about health, and it is never marked."
    )


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


@pytest.mark.parametrize("show_results", ["always", "after-working", "never"])
def test_sum_line_says_at_once_that_none_will_come_where_a_site_is_left_out(show_results: str) -> None:
    formula = _lines(show_results)["Sum of the sites"][1].formula
    assert '<7,"no sum: a site is left out. That is fine.",' in formula


STATES = (
    "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside", "sum-below", "sum-above",
    "under-18", "no-equation", "sex-outside", "percent-outside",
)  # fmt: skip


def test_density_line_has_words_for_every_state() -> None:
    formula = _lines("always")["Body density"][1].formula
    words = {state: TEXTS[f"state.{state}"].format(minimum=2, maximum=60) for state in STATES}
    assert [state for state in STATES if f'="{state}","{words[state]}",' not in formula] == []
    assert "2 to 60 %" in words["percent-outside"]


ESTIMATE = ["Body density", "Fat, estimate", "Fat, lower end of band", "Fat, upper end of band"]
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


# settings, sums that an equation reads otherwise
THICK: tuple[tuple[dict[str, object], str], ...] = (
    (
        {"protocol_id": "four-sites"},
        '>120,"equations on three or four folds read low above a sum of about 120 mm",""',
    ),
    ({"protocol_id": "three-sites-men"}, '>120,"equations on three or four folds read low above a sum'),
)


@pytest.mark.parametrize(("changes", "words"), THICK)
def test_fat_line_warns_above_a_thick_sum_of_few_folds(changes: dict[str, object], words: str) -> None:
    assert words in _lines("always", **changes)["Fat, estimate"][1].formula


def test_sum_of_seven_folds_above_120_mm_is_an_ordinary_one() -> None:
    assert "120" not in _lines("always")["Fat, estimate"][1].formula


def test_site_line_says_in_words_where_its_value_comes_from() -> None:
    words = _lines("always")["Chest"][1]
    said = (
        '"left out"', '"no value yet"', '"no two agree: measure again"', '"third reading after this round"',
        '"from three readings"', '"mean of two readings"',
    )  # fmt: skip
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
    formula = _lines("always")["Fat, lower end of band"][1].formula
    assert '"between "&ROUND(' in formula
    assert ',1)&" %: for about two people in three like those studied' in formula


def test_mass_line_says_that_there_is_no_body_mass() -> None:
    assert '"no body mass on Start"' in _lines("always")["Fat mass"][1].formula


def test_sum_line_says_how_many_sites_it_adds() -> None:
    assert '"all 7 sites added up"' in _lines("always")["Sum of the sites"][1].formula


def test_chart_shows_distances_from_the_mean_and_no_folds_side_by_side() -> None:
    tab = sheet_of().layout.tab("results")
    (chart,) = tab.charts
    first, last, column = chart.categories
    titles = [cell.value for cell in tab.cells if cell.column == column and first <= cell.row <= last]
    assert titles == [
        "Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh",
    ]  # fmt: skip
    assert [(series.column, series.fill) for series in chart.series] == [(3, "solid"), (4, "striped")]
    assert [series.number for series in chart.series] == ["0.0#;-0.0#;"] * 2


def test_chart_stands_below_the_table_within_its_width() -> None:
    """Beside it, it would shrink the printed page."""
    tab = sheet_of().layout.tab("results")
    (chart,) = tab.charts
    assert chart.row > max(cell.row for cell in tab.cells)
    assert (chart.column, chart.width < sum(map(column_pixels, tab.widths))) == (0, True)


@pytest.mark.parametrize("language", LANGUAGES)
def test_chart_says_its_content_in_words_of_the_class(language: str) -> None:
    sheet = sheet_in(language)
    (chart,) = sheet.layout.tab("results").charts
    texts = sheet.source.texts
    assert chart.alternative_text == texts["results.chart_alternative"].format(count=7)
    assert (chart.category_title, chart.value_title) == (texts["results.chart_sites"], "mm")
    assert [series.name for series in chart.series] == [
        texts["results.chart_first"],
        texts["results.chart_second"],
    ]
