import pytest

from sheetgen.layout.text_size import column_pixels
from sheetgen.model.layout import Cell, Emphasis
from tests.sheets import settings_with, sheet_of

TAB = sheet_of().layout.tab("readings")
AT = {(cell.row, cell.column): cell for cell in TAB.cells}
BY_NAME = {cell.name: cell for cell in TAB.cells if cell.name}
# What the rule of a trunk site asks for besides, in the row of the chest.
OPEN = ',$I$8<>"not taken under 18"'


def _formula_of_rule(name: str) -> str:
    rule = BY_NAME[name].rule
    assert rule is not None
    return rule.formula


def test_headings_stand_in_the_order_of_the_contract() -> None:
    headings = [AT[6, column].value for column in range(9)]
    assert headings == [
        "Site",
        "Round 1, mm",
        "Round 2, mm",
        "Differ by, mm",
        "Third needed",
        "Round 3, mm",
        "Site value, mm",
        "Not taken",
        "What to do",
    ]
    # Nothing stands above the practice readings before someone chooses them.
    assert [AT[6, column].value for column in (9, 10, 11)] == ["", "", ""]
    assert ',"Practice 3",""' in AT[6, 11].formula


def test_rows_are_the_sites_in_circuit_order_so_that_enter_goes_down_the_circuit() -> None:
    sites = ["Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh"]
    assert [AT[row, 0].value for row in range(7, 14)] == sites
    names = [AT[row, 1].name for row in range(7, 14)]
    assert names == [f"reading_1_{site.lower()}" for site in sites]
    assert (AT[7, 2].name, AT[7, 5].name, AT[7, 7].name) == (
        "reading_2_chest",
        "reading_3_chest",
        "not_taken_chest",
    )


def test_cursor_waits_at_the_first_reading() -> None:
    assert TAB.first_entry == (7, 1)


def test_rule_of_round_1_asks_for_the_scale_of_the_caliper_in_hand() -> None:
    """From the first reading with a second caliper on, its zero, opening and division hold."""
    zero, opening, division = (
        f"IF($L$5<=1,{second},{first})"
        for second, first in (("$K$5", "$K$4"), ("$I$5", "$I$4"), ("$F$5", "$F$4"))
    )
    count = f"$B$8/{division}"
    assert _formula_of_rule("reading_1_chest") == (
        f"=AND(ISNUMBER($B$8),$B$8>{zero},$B$8<={opening},ABS({count}-ROUND({count},0))<0.001{OPEN})"
    )


def test_rule_of_round_2_waits_for_round_1() -> None:
    assert _formula_of_rule("reading_2_chest").endswith(f',$B$6="yes"{OPEN})')
    assert "IF($L$5<=8," in _formula_of_rule("reading_2_chest")


def test_rule_of_round_3_waits_until_it_is_asked_for() -> None:
    assert _formula_of_rule("reading_3_thigh").endswith(',$E$14="yes")')
    assert "IF($L$5<=21," in _formula_of_rule("reading_3_thigh")


@pytest.mark.parametrize(("site", "row"), [("chest", 8), ("abdominal", 12), ("suprailiac", 13)])
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
    assert lines["note_chest"].formula.startswith(f'=IF($B${lines["under_18"].row + 1}="yes","under-18",IF(')
    assert "under-18" not in lines["note_thigh"].formula
    words = {cell.value for cell in lines.values() if cell.name.startswith("note_text_")}
    assert words == {"not taken under 18", "third not needed, left out"}


def test_what_to_do_shows_the_words_of_the_note() -> None:
    lines = {cell.name: cell for cell in sheet_of().layout.tab("calculator").cells if cell.name}
    note = f"Calculator!$B${lines['note_chest'].row + 1}"
    assert AT[7, 8].formula == (
        f'=IF({note}="","",INDEX(Calculator!$N$3:$N$17,MATCH({note},Calculator!$M$3:$M$17,0)))'
    )


def test_rules_look_at_their_own_tab_only() -> None:
    formulas = [cell.rule.formula for cell in TAB.cells if cell.rule is not None]
    assert [text for text in formulas if "!" in text] == []


def test_conditional_formats_look_at_their_own_tab_only() -> None:
    """The first edition of the file format takes no other tab in them."""
    tab = sheet_of(settings_with(cover_round_1=True)).layout.tab("readings")
    assert [one.formula for one in tab.emphases if "!" in one.formula] == []


def test_status_shows_the_caliper_in_hand() -> None:
    assert [AT[3, column].value for column in (0, 3, 6, 9)] == [
        "Caliper",
        "Scale step, mm",
        "Opens to, mm",
        "Zero, mm",
    ]
    names = [AT[3, column].name for column in (1, 5, 8, 10)]
    assert names == ["shown_caliper", "shown_division", "shown_opening", "shown_zero"]


def test_next_step_stands_above_the_readings() -> None:
    assert (AT[2, 0].value, AT[2, 1].value) == (
        "Next step",
        "read the cautions on the tab Start and answer yes",
    )


def test_second_caliper_is_shown_only_where_one_took_over() -> None:
    row: list[Cell] = [cell for cell in TAB.cells if cell.row == 4]
    assert len(row) == 9
    assert {cell.value for cell in row} == {""}
    assert all(cell.formula.startswith("=IF(ISNUMBER(Calculator!$B$") for cell in row)


def test_third_needed_is_said_in_words() -> None:
    assert AT[7, 4].formula.endswith('="no","no",""))')
    assert '="yes","yes",' in AT[7, 4].formula


def test_practice_readings_show_only_where_practice_is_chosen() -> None:
    assert AT[7, 9].formula.startswith("=IF(Calculator!$B$")
    assert '="practice",' in AT[7, 9].formula
    assert AT[7, 11].formula.count('="yes"') == 1


def test_emphases_hold_for_the_rows_of_the_sites() -> None:
    assert TAB.emphases == (
        Emphasis(7, 4, 13, 4, '=$E8="yes"', "wanted"),
        Emphasis(7, 8, 13, 8, '=$I8<>""', "wanted"),
    )


def test_round_1_is_covered_while_round_2_is_taken_where_the_class_says_so() -> None:
    """The words above the table say so, and the format of the readings follows those words."""
    sheet = sheet_of(settings_with(cover_round_1=True))
    tab = sheet.layout.tab("readings")
    covered = "Round 1 is covered until round 2 is in. Go down the column of round 2, at every site."
    assert tab.emphases[2] == Emphasis(7, 1, 13, 1, f'=$A$2="{covered}"', "covered")
    at = {(cell.row, cell.column): cell for cell in tab.cells}
    assert at[1, 0].value == AT[1, 0].value
    assert f',"{covered}",' in at[1, 0].formula
    lines = {cell.name: cell for cell in sheet.layout.tab("calculator").cells if cell.name}
    shut = f'=IF(Calculator!$B${lines["covered"].row + 1}="yes","",'
    assert [at[7, column].formula.startswith(shut) for column in (3, 4, 6)] == [True] * 3


def test_round_1_is_never_covered_where_the_class_does_not_say_so() -> None:
    lines = {cell.name: cell for cell in sheet_of().layout.tab("calculator").cells if cell.name}
    assert lines["covered"].formula == '="no"'
    assert AT[1, 0].role == "label"


def test_warnings_of_the_calipers_stand_above_the_table() -> None:
    assert (AT[5, 2].value, AT[5, 2].format) == ("", "wanted_words")
    assert AT[5, 2].formula.count("Calculator!") == 8


def test_drawings_stand_beside_their_sites() -> None:
    assert [image.row for image in TAB.images] == [7, 8, 9, 10, 11, 12, 13]
    assert {image.column for image in TAB.images} == {0}
    assert all(image.x_offset + image.width <= column_pixels(TAB.widths[0]) for image in TAB.images)
