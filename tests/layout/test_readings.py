import pytest

from sheetgen.model.layout import Cell
from tests.sheets import sheet_of

TAB = sheet_of().layout.tab("readings")
AT = {(cell.row, cell.column): cell for cell in TAB.cells}
BY_NAME = {cell.name: cell for cell in TAB.cells if cell.name}
# What the rule of a trunk site asks for besides, in the row of the chest.
OPEN = ',$I$7<>"not taken under 18"'


def _formula_of_rule(name: str) -> str:
    rule = BY_NAME[name].rule
    assert rule is not None
    return rule.formula


def test_headings_stand_in_the_order_of_the_contract() -> None:
    headings = [AT[5, column].value for column in range(12)]
    assert headings == [
        "Site",
        "Round 1, mm",
        "Round 2, mm",
        "Difference, mm",
        "Third needed",
        "Round 3, mm",
        "Site value, mm",
        "Not taken",
        "What to do",
        "Practice 1",
        "Practice 2",
        "Practice 3",
    ]


def test_rows_are_the_sites_in_circuit_order_so_that_enter_goes_down_the_circuit() -> None:
    sites = ["Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh"]
    assert [AT[row, 0].value for row in range(6, 13)] == sites
    names = [AT[row, 1].name for row in range(6, 13)]
    assert names == [f"reading_1_{site.lower()}" for site in sites]
    assert (AT[6, 2].name, AT[6, 5].name, AT[6, 7].name) == (
        "reading_2_chest",
        "reading_3_chest",
        "not_taken_chest",
    )


def test_cursor_waits_at_the_first_reading() -> None:
    assert TAB.first_entry == (6, 1)


def test_rule_of_round_1_asks_for_the_scale_of_the_caliper_in_hand() -> None:
    """From the first reading with a second caliper on, its zero, opening and division hold."""
    zero, opening, division = (
        f"IF($L$5<=1,{second},{first})"
        for second, first in (("$I$5", "$I$3"), ("$G$5", "$G$3"), ("$E$5", "$E$3"))
    )
    count = f"$B$7/{division}"
    assert _formula_of_rule("reading_1_chest") == (
        f"=AND(ISNUMBER($B$7),$B$7>{zero},$B$7<={opening},ABS({count}-ROUND({count},0))<0.001{OPEN})"
    )


def test_rule_of_round_2_waits_for_round_1() -> None:
    assert _formula_of_rule("reading_2_chest").endswith(f',$B$4="yes"{OPEN})')
    assert "IF($L$5<=8," in _formula_of_rule("reading_2_chest")


def test_rule_of_round_3_waits_until_it_is_asked_for() -> None:
    assert _formula_of_rule("reading_3_thigh").endswith(',$E$13="third reading needed")')
    assert "IF($L$5<=21," in _formula_of_rule("reading_3_thigh")


@pytest.mark.parametrize(("site", "row"), [("chest", 7), ("abdominal", 11), ("suprailiac", 12)])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_rule_of_a_trunk_site_is_closed_under_18(site: str, row: int, number: int) -> None:
    formula = _formula_of_rule(f"reading_{number}_{site}")
    assert formula.endswith(f',$I${row}<>"not taken under 18")')


@pytest.mark.parametrize("site", ["triceps", "thigh"])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_rule_of_a_limb_site_is_the_same_at_every_age(site: str, number: int) -> None:
    assert "under 18" not in _formula_of_rule(f"reading_{number}_{site}")


def test_what_to_do_closes_a_trunk_site_under_18_before_anything_else() -> None:
    """A reason for leaving it out must not open the entries again: the rules look for these words."""
    lines = {cell.name: cell for cell in sheet_of().layout.tab("calculator").cells if cell.name}
    under_18 = f"Calculator!$B${lines['under_18'].row + 1}"
    assert AT[6, 8].formula.startswith(f'=IF({under_18}="yes","not taken under 18",IF(')
    assert under_18 not in AT[8, 8].formula
    assert "not taken under 18" not in AT[12, 8].formula


def test_rules_look_at_their_own_tab_only() -> None:
    formulas = [cell.rule.formula for cell in TAB.cells if cell.rule is not None]
    assert [text for text in formulas if "!" in text] == []


def test_status_shows_the_caliper_in_hand() -> None:
    assert [AT[2, column].value for column in (0, 3, 5, 7)] == [
        "Caliper",
        "Scale step, mm",
        "Opens to, mm",
        "Zero, mm",
    ]
    names = [AT[2, column].name for column in (1, 4, 6, 8)]
    assert names == ["shown_caliper", "shown_division", "shown_opening", "shown_zero"]


def test_second_caliper_is_shown_only_where_one_took_over() -> None:
    row: list[Cell] = [cell for cell in TAB.cells if cell.row == 4]
    assert len(row) == 10
    assert {cell.value for cell in row} == {""}
    assert all(cell.formula.startswith("=IF(ISNUMBER(Calculator!$B$") for cell in row)


def test_third_needed_and_measure_again_are_said_in_words() -> None:
    assert AT[6, 4].formula.endswith('="no","no",""))')
    assert '"third reading needed"' in AT[6, 4].formula
    assert '"measure again: no two agree"' in AT[6, 8].formula
    assert '"left out, no marks lost"' in AT[6, 8].formula


def test_practice_readings_show_only_where_practice_is_chosen() -> None:
    assert AT[6, 9].formula.startswith("=IF(Calculator!$B$")
    assert '="practice",' in AT[6, 9].formula
    assert AT[6, 11].formula.count('="yes"') == 1


def test_emphases_hold_for_the_rows_of_the_sites() -> None:
    assert [(one.first_row, one.last_row, one.format) for one in TAB.emphases] == [
        (6, 12, "wanted"),
        (6, 12, "wanted"),
    ]
