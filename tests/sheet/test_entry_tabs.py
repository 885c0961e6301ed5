import pytest

from sheetgen.protocols.names import start_entries
from sheetgen.workbook.cells import column_pixels
from sheetgen.workbook.layout import Cell, Emphasis
from tests.sheets import settings_with, sheet_of

TAB = sheet_of().layout.tab("start")
AT = {(cell.row, cell.column): cell for cell in TAB.cells}


def test_entries_stand_below_each_other_in_their_order() -> None:
    assert tuple(cell.name for cell in TAB.cells if cell.role == "entry") == start_entries(
        sheet_of().source.protocol
    )
    assert {cell.column for cell in TAB.cells if cell.role == "entry"} == {1}


ALWAYS_FIRST = ["cautions_confirmed", "data_source", "participant_today"]
SECOND_CALIPER = ["caliper_id_2", "zero_2_mm", "changed_from"]
# settings, entries between the participant and the second caliper
ENTRIES: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({"under_18": True}, ["caliper_id", "zero_mm", "side", "length_upper_arm_cm", "length_thigh_cm"]),
    (
        {"estimates": "sums-only"},
        ["age_years", "caliper_id", "zero_mm", "side", "length_upper_arm_cm", "length_thigh_cm"],
    ),
    (
        {"protocol_id": "three-sites-men"},
        ["age_years", "sex_equation", "mass_kg", "caliper_id", "zero_mm", "side", "length_thigh_cm"],
    ),
    (
        {"protocol_id": "youth-two-sites", "under_18": True},
        ["caliper_id", "zero_mm", "side", "length_upper_arm_cm"],
    ),
    (
        {"protocol_id": "youth-two-sites", "under_18": True, "youth_estimate": "on"},
        ["age_years", "sex_equation", "mass_kg", "caliper_id", "zero_mm", "side", "length_upper_arm_cm"],
    ),
    (
        {"protocol_id": "folds-only"},
        ["caliper_id", "zero_mm", "side", "length_upper_arm_cm", "length_thigh_cm"],
    ),
)


@pytest.mark.parametrize(("changes", "between"), ENTRIES)
def test_entries_are_those_the_protocol_has_a_use_for(changes: dict[str, object], between: list[str]) -> None:
    cells = sheet_of(settings_with(**changes)).layout.tab("start").cells
    entries = [(cell.row, cell.name) for cell in cells if cell.role == "entry"]
    assert [name for _, name in entries] == [*ALWAYS_FIRST, *between, *SECOND_CALIPER]
    assert [row for row, _ in entries] == list(range(7, 7 + len(entries)))


def test_cautions_stand_whole_beside_fewer_entries() -> None:
    tab = sheet_of(settings_with(under_18=True)).layout.tab("start")
    assert [cell.row for cell in tab.cells if cell.column == 4 and cell.row > 6] == list(range(7, 20))
    assert [row for row, _ in tab.heights] == list(range(20))


def test_entries_handed_out_filled_in() -> None:
    values = {cell.name: cell.value for cell in TAB.cells if cell.role == "entry" and cell.value is not None}
    assert values == {"data_source": "measured", "side": "right"}


def test_numbers_and_words_look_different() -> None:
    formats = {cell.name: cell.format for cell in TAB.cells if cell.role == "entry"}
    assert formats["age_years"] == "entry_number"
    assert formats["sex_equation"] == "entry_text"


def test_progress_lines() -> None:
    assert [AT[row, 0].value for row in range(2, 6)] == [
        "Next step",
        "Entries made",
        "Own working",
        "Ready to hand in",
    ]
    assert AT[2, 1].value == "read the cautions on the tab Start and answer yes"
    assert AT[4, 1].value == "0 of 0 lines due so far are done"
    assert AT[5, 1].value == "not yet; first: read the cautions on the tab Start and answer yes"


def test_ready_line_says_yes_or_the_next_step() -> None:
    assert AT[5, 1].formula.endswith('="yes","yes","not yet; first: "&$B$3)')


def test_next_step_stands_out_until_all_is_done() -> None:
    emphasis, _ = TAB.emphases
    assert emphasis.formula == '=$B$3<>"save, close and hand in this file"'
    assert (emphasis.first_row, emphasis.first_column) == (2, 1)


def test_cautions_stand_beside_the_entries() -> None:
    cautions = [AT[row, 4].value for row in range(7, 20)]
    texts = sheet_of().source.texts
    assert cautions == [texts[f"caution.c{number:02}"] for number in range(1, 14)]


def test_hint_shows_the_unit_or_the_midpoint_or_the_practice_value() -> None:
    hints = {cell.name: AT[cell.row, 2] for cell in TAB.cells if cell.role == "entry"}
    assert hints["caliper_id"].value == "as on its label"
    assert '"practice: type "&' in hints["age_years"].formula
    assert '"midpoint at "&ROUND(' in hints["length_thigh_cm"].formula
    assert hints["length_thigh_cm"].value == "cm from groin crease to top of kneecap"


def test_cursor_waits_at_the_first_entry() -> None:
    assert TAB.first_entry == (7, 1)


WARNED = (
    ("age_years", "age_warning"),
    ("caliper_id", "caliper_warning"),
    ("zero_mm", "zero_warning"),
    ("caliper_id_2", "second_warning"),
)


@pytest.mark.parametrize(("entry", "warning"), WARNED)
def test_a_slip_is_said_beside_its_entry_and_stands_out(entry: str, warning: str) -> None:
    lines = {cell.name: cell for cell in sheet_of().layout.tab("calculator").cells if cell.name}
    at = f"Calculator!$B${lines[warning].row + 1}"
    row = next(cell.row for cell in TAB.cells if cell.name == entry)
    assert AT[row, 2].formula.startswith(f'=IF({at}<>"",{at},')
    assert '"Check: ' in lines[warning].formula
    assert TAB.emphases[1].formula == '=LEFT($C8,7)="Check: "'


READINGS = sheet_of().layout.tab("readings")
READINGS_AT = {(cell.row, cell.column): cell for cell in READINGS.cells}
BY_NAME = {cell.name: cell for cell in READINGS.cells if cell.name}
# What the rule of a trunk site asks for besides, in the row of the chest.
OPEN = ',$I$8<>"not taken under 18"'


def _formula_of_rule(name: str) -> str:
    rule = BY_NAME[name].rule
    assert rule is not None
    return rule.formula


def test_headings_stand_in_the_order_of_the_contract() -> None:
    headings = [READINGS_AT[6, column].value for column in range(9)]
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
    assert [READINGS_AT[6, column].value for column in (9, 10, 11)] == ["", "", ""]
    assert ',"Practice 3",""' in READINGS_AT[6, 11].formula


def test_rows_are_the_sites_in_circuit_order_so_that_enter_goes_down_the_circuit() -> None:
    sites = ["Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh"]
    assert [READINGS_AT[row, 0].value for row in range(7, 14)] == sites
    names = [READINGS_AT[row, 1].name for row in range(7, 14)]
    assert names == [f"reading_1_{site.lower()}" for site in sites]
    assert (READINGS_AT[7, 2].name, READINGS_AT[7, 5].name, READINGS_AT[7, 7].name) == (
        "reading_2_chest",
        "reading_3_chest",
        "not_taken_chest",
    )


def test_cursor_waits_at_the_first_reading() -> None:
    assert READINGS.first_entry == (7, 1)


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
    assert READINGS_AT[7, 8].formula == (
        f'=IF({note}="","",INDEX(Calculator!$N$3:$N$17,MATCH({note},Calculator!$M$3:$M$17,0)))'
    )


def test_rules_look_at_their_own_tab_only() -> None:
    formulas = [cell.rule.formula for cell in READINGS.cells if cell.rule is not None]
    assert [text for text in formulas if "!" in text] == []


def test_conditional_formats_look_at_their_own_tab_only() -> None:
    """The first edition of the file format takes no other tab in them."""
    tab = sheet_of(settings_with(cover_round_1=True)).layout.tab("readings")
    assert [one.formula for one in tab.emphases if "!" in one.formula] == []


def test_status_shows_the_caliper_in_hand() -> None:
    assert [READINGS_AT[3, column].value for column in (0, 3, 6, 9)] == [
        "Caliper",
        "Scale step, mm",
        "Opens to, mm",
        "Zero, mm",
    ]
    names = [READINGS_AT[3, column].name for column in (1, 5, 8, 10)]
    assert names == ["shown_caliper", "shown_division", "shown_opening", "shown_zero"]


def test_next_step_stands_above_the_readings() -> None:
    assert (READINGS_AT[2, 0].value, READINGS_AT[2, 1].value) == (
        "Next step",
        "read the cautions on the tab Start and answer yes",
    )


def test_second_caliper_is_shown_only_where_one_took_over() -> None:
    row: list[Cell] = [cell for cell in READINGS.cells if cell.row == 4]
    assert len(row) == 9
    assert {cell.value for cell in row} == {""}
    assert all(cell.formula.startswith("=IF(ISNUMBER(Calculator!$B$") for cell in row)


def test_third_needed_is_said_in_words() -> None:
    assert READINGS_AT[7, 4].formula.endswith('="no","no",""))')
    assert '="yes","yes",' in READINGS_AT[7, 4].formula


def test_practice_readings_show_only_where_practice_is_chosen() -> None:
    assert READINGS_AT[7, 9].formula.startswith("=IF(Calculator!$B$")
    assert '="practice",' in READINGS_AT[7, 9].formula
    assert READINGS_AT[7, 11].formula.count('="yes"') == 1


def test_emphases_hold_for_the_rows_of_the_sites() -> None:
    assert READINGS.emphases == (
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
    assert at[1, 0].value == READINGS_AT[1, 0].value
    assert f',"{covered}",' in at[1, 0].formula
    lines = {cell.name: cell for cell in sheet.layout.tab("calculator").cells if cell.name}
    shut = f'=IF(Calculator!$B${lines["covered"].row + 1}="yes","",'
    assert [at[7, column].formula.startswith(shut) for column in (3, 4, 6)] == [True] * 3


def test_round_1_is_never_covered_where_the_class_does_not_say_so() -> None:
    lines = {cell.name: cell for cell in sheet_of().layout.tab("calculator").cells if cell.name}
    assert lines["covered"].formula == '="no"'
    assert READINGS_AT[1, 0].role == "label"


def test_warnings_of_the_calipers_stand_above_the_table() -> None:
    assert (READINGS_AT[5, 2].value, READINGS_AT[5, 2].format) == ("", "wanted_words")
    assert READINGS_AT[5, 2].formula.count("Calculator!") == 8


def test_drawings_stand_beside_their_sites() -> None:
    assert [image.row for image in READINGS.images] == [7, 8, 9, 10, 11, 12, 13]
    assert {image.column for image in READINGS.images} == {0}
    assert all(image.x_offset + image.width <= column_pixels(READINGS.widths[0]) for image in READINGS.images)
