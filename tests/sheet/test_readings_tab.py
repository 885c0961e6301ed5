"""The tab Readings: a row a site, a box a round, what to do beside them."""

import pytest

from sheetgen.protocols.names import change_words
from sheetgen.sheet.next_steps import NOTES
from sheetgen.sheet.readings_tab import readings_tab
from sheetgen.workbook.cells import column_pixels, lines_needed
from sheetgen.workbook.layout import Emphasis, Tab
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import settings_with, sheet_of

SHEET = sheet_of()
TEXTS = SHEET.source.texts
TAB = SHEET.layout.tab("readings")
AT = {(cell.row, cell.column): cell for cell in TAB.cells}
BY_NAME = {cell.name: cell for cell in TAB.cells if cell.name}
LINE = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in SHEET.layout.tab("calculator").cells}
SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")


def _rule(name: str) -> str:
    rule = BY_NAME[name].rule
    assert rule is not None
    return rule.formula


def test_columns_stand_in_the_order_of_the_contract() -> None:
    assert [AT[3, column].value for column in range(9)] == [
        "Site",
        "Figure",
        "Round 1",
        "Round 2",
        "Round 3",
        "Differ, mm",
        "Site value",
        "What to do",
        "Left out?",
    ]


def test_rows_are_the_sites_in_circuit_order_so_that_enter_goes_down_the_circuit() -> None:
    assert [AT[row, 0].value for row in range(4, 11)] == [
        "Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh",
    ]  # fmt: skip
    for column, kind in ((2, "reading_1"), (3, "reading_2"), (4, "reading_3"), (8, "not_taken")):
        names = [cell.name for cell in TAB.cells if cell.column == column and cell.role == "entry"]
        assert names == [f"{kind}_{site}" for site in SITES]
    assert TAB.first_entry == (4, 2)


def test_all_sites_of_the_longest_protocol_fit_below_the_ribbon() -> None:
    """With the line that says what the caliper can show. Of 768 px a ribbon leaves about 500."""
    last = BY_NAME["shown_scale"].row
    assert sum(height for row, height in TAB.heights if row <= last) * 96 / 72 <= 500


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(("narrow", "widest"), [(False, 1160), (True, 1000)])
def test_all_columns_fit_the_window(language: str, narrow: bool, widest: int) -> None:
    """Of 1366 px the program takes some; a small screen shows about 1000 at four fifths of the size."""
    tab = sheet_in(language, narrow=narrow).layout.tab("readings")
    assert sum(column_pixels(width) for width in tab.widths if width) <= widest


def test_scale_of_the_caliper_in_hand_stands_where_the_rules_can_see_it() -> None:
    names = ["division", "opening", "zero", "division_2", "opening_2", "zero_2", "change"]
    assert [(AT[row, 12].name, AT[row, 12].format) for row in range(4, 11)] == [
        (f"shown_{name}", "unseen") for name in names
    ]
    assert TAB.widths[9:] == (1, 0, 0, 0)
    assert AT[4, 12].formula == f"={LINE['caliper_division']}"
    assert AT[9, 12].formula == f"={LINE['in_zero_2_mm']}"
    assert AT[10, 12].formula == f"={LINE['change_row']}"


def test_rule_of_a_reading_asks_for_the_scale_in_hand_and_an_open_box() -> None:
    """From the first reading with a second caliper on, its zero, opening and division hold."""
    division, zero, opening = (
        f"IF($M$11<=1,{second},{first})"
        for first, second in (("$M$5", "$M$8"), ("$M$7", "$M$10"), ("$M$6", "$M$9"))
    )
    count = f"$C$5/{division}"
    assert _rule("reading_1_chest") == (
        f"=AND(ISNUMBER($C$5),$C$5>{zero},$C$5<={opening},ABS({count}-ROUND({count},0))<0.001,$L$5>=1)"
    )


# entry, place in the circuit, cell that says which box is open, round
OPEN = (
    ("reading_2_chest", 8, "$L$5", 2),
    ("reading_3_chest", 15, "$L$5", 3),
    ("reading_1_thigh", 7, "$L$11", 1),
    ("reading_3_thigh", 21, "$L$11", 3),
)


@pytest.mark.parametrize(("name", "place", "cell", "number"), OPEN)
def test_rule_of_a_reading_waits_for_its_round(name: str, place: int, cell: str, number: int) -> None:
    assert f"IF($M$11<={place}," in _rule(name)
    assert _rule(name).endswith(f",{cell}>={number})")
    assert change_words(SHEET.source.protocol)[place - 1] == name.removeprefix("reading_")


def test_box_of_round_1_opens_after_cautions_caliper_and_zero() -> None:
    assert BY_NAME["open_round_chest"].formula == (
        f'=IF({LINE["left_out_chest"]}="yes",0,IF(AND({LINE["in_cautions_confirmed"]}="yes",'
        f"ISNUMBER({LINE['caliper_row']}),ISNUMBER({LINE['in_zero_mm']})),"
        f'IF({LINE["round_1_complete"]}="yes",IF({LINE["third_chest"]}="yes",3,2),1),0))'
    )
    assert BY_NAME["open_round_chest"].value == 0


def test_row_of_the_next_step_says_which_round() -> None:
    ranks = {
        cell.name: f"Calculator!$C${cell.row + 1}"
        for cell in SHEET.layout.tab("calculator").cells
        if cell.name.startswith("rank_")
    }
    one, two, three = (ranks[f"rank_reading_{number}_chest"] for number in (1, 2, 3))
    now = LINE["next_rank"]
    assert BY_NAME["next_round_chest"].formula == (
        f"=IF({now}=0,0,IF({one}={now},1,IF({two}={now},2,IF({three}={now},3,0))))"
    )


def test_next_box_is_lit_boxes_not_open_are_grey_and_the_row_is_lit() -> None:
    assert TAB.emphases == (
        Emphasis(4, 2, 10, 2, "=$K5=1", "lit_entry"),
        Emphasis(4, 2, 10, 2, "=$L5<1", "not_open"),
        Emphasis(4, 3, 10, 3, "=$K5=2", "lit_entry"),
        Emphasis(4, 3, 10, 3, "=$L5<2", "not_open"),
        Emphasis(4, 4, 10, 4, "=$K5=3", "lit_entry"),
        Emphasis(4, 4, 10, 4, "=$L5<3", "not_open"),
        Emphasis(4, 0, 10, 1, "=$K5>0", "lit"),
        Emphasis(4, 5, 10, 7, "=$K5>0", "lit"),
    )


def test_what_to_do_says_a_fault_first_then_what_to_type_then_the_note() -> None:
    note = LINE["note_chest"]
    text = f"INDEX(Calculator!$M$3:$M$15,MATCH({note},Calculator!$L$3:$L$15,0))"
    formula = AT[4, 7].formula
    assert formula.startswith(f'=IF(LEFT({note},5)="fault",{text},IF($K$5>0,"◀ "&')
    assert formula.endswith(f',IF({note}="","",{text})))')


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("narrow", [False, True])
def test_what_to_do_fits_its_row_in_a_wide_typeface(language: str, narrow: bool) -> None:
    """Bold letters of 12 points, an indent of one step."""
    sheet = sheet_in(language, narrow=narrow)
    tab, texts = sheet.layout.tab("readings"), sheet.source.texts
    said = [texts[f"note.{word}"] for word in NOTES]
    said.append(texts["readings.here"] + texts["readings.round_3"] + texts["readings.here_measure"])
    most = max(lines_needed(text, tab.widths[7], bold=True, indent=1, points=12.0) for text in said)
    assert most * 1.25 * 12 <= dict(tab.heights)[4]


def test_practice_readings_look_like_measuring_with_the_number_at_the_end() -> None:
    formula = AT[4, 7].formula
    assert '="practice",": type "&IF($K$5=1,' in formula
    assert ',": type what the scale shows")' in formula
    assert TEXTS["readings.here_type"].startswith(TEXTS["readings.here_measure"][:7])
    # Nothing else on the tab knows of practice: no column, no word.
    assert [cell for cell in TAB.cells if "practice" in cell.formula and cell.column != 7] == []
    assert [cell for cell in TAB.cells if "practice" in str(cell.value)] == []


# setting, formula of what is shown of the site value
SHOWN = (
    ("always", "={0}"),
    ("after-working", '=IF(ISNUMBER({1}),{0},"")'),
    ("never", '=IF(ISNUMBER({1}),{0},"")'),
)


@pytest.mark.parametrize(("show_results", "template"), SHOWN)
def test_site_value_is_shown_once_the_own_one_is_typed(show_results: str, template: str) -> None:
    layout = sheet_of(settings_with(show_results=show_results)).layout
    cell = next(cell for cell in layout.tab("readings").cells if cell.name == "shown_site_chest")
    lines = {line.name: f"Calculator!$B${line.row + 1}" for line in layout.tab("calculator").cells}
    assert cell.formula == template.format(lines["site_chest"], lines["in_own_site_chest"])


def test_line_below_the_table_says_what_the_caliper_can_show_in_the_decimal_sign_of_the_program() -> None:
    cell = BY_NAME["shown_scale"]
    assert (cell.row, cell.column) == (11, 0)
    assert '" mm. A number looks like "&12.5&" here."' in cell.formula
    assert cell.formula.startswith(f'=IF({LINE["caliper_row"]}="","Choose the caliper on Start;')
    assert f'IF(ISNUMBER({LINE["in_zero_mm"]})," mm, zero "&{LINE["in_zero_mm"]},"")' in cell.formula
    assert AT[12, 0].value == (
        "Grey boxes open when they are needed. Site values appear once you have worked them out yourself."
    )


def test_line_about_own_values_is_left_out_where_results_are_always_shown() -> None:
    tab = sheet_of(settings_with(show_results="always")).layout.tab("readings")
    texts = [cell.value for cell in tab.cells if (cell.row, cell.column) == (12, 0)]
    assert texts == ["Grey boxes open when they are needed."]


@pytest.mark.parametrize("language", LANGUAGES)
def test_refused_number_gets_one_short_text_with_the_unit(language: str) -> None:
    tab = sheet_in(language).layout.tab("readings")
    errors = {cell.rule.error for cell in tab.cells if cell.rule is not None and "reading" in cell.name}
    (error,) = errors
    assert " mm " in error
    assert len(error) <= 120


def test_site_is_left_out_without_a_reason() -> None:
    rules = [cell.rule for cell in TAB.cells if cell.name.startswith("not_taken_")]
    assert [rule.words for rule in rules if rule is not None] == [("left-out",)] * 7


def test_small_figures_stand_beside_their_sites() -> None:
    assert [(image.row, image.column) for image in TAB.images] == [(row, 1) for row in range(4, 11)]
    rows = dict(TAB.heights)
    for image in TAB.images:
        assert image.x_offset + image.width <= column_pixels(TAB.widths[1])
        assert image.y_offset + image.height <= rows[image.row] * 96 / 72


def _narrow() -> Tab:
    return sheet_of(settings_with(narrow=True)).layout.tab("readings")


def test_narrow_sheet_has_no_figures_and_keeps_the_site_beside_the_round() -> None:
    tab = _narrow()
    assert tab.images == ()
    assert tab.widths[1] == 0
    assert tab.freeze == (4, 1)
    assert TAB.freeze == (4, 0)
    # The same cells: a sheet is read the same way.
    assert [cell.name for cell in tab.cells if cell.role == "entry"] == [
        cell.name for cell in TAB.cells if cell.role == "entry"
    ]


def test_round_1_is_covered_until_round_2_is_in_where_the_class_says_so() -> None:
    sheet = sheet_of(settings_with(cover_round_1=True))
    tab = sheet.layout.tab("readings")
    at = {(cell.row, cell.column): cell for cell in tab.cells}
    lines = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in sheet.layout.tab("calculator").cells}
    assert tab.emphases[0] == Emphasis(4, 2, 10, 2, "=$M$12=1", "covered")
    assert at[11, 12].formula == f'=IF({lines["covered"]}="yes",1,0)'
    shut = f'=IF({lines["covered"]}="yes","",'
    assert [at[4, column].formula.startswith(shut) for column in (5, 6)] == [True] * 2
    said = f'=IF({lines["covered"]}="yes","Round 1 is covered until round 2 is in. ","")&'
    assert next(cell for cell in tab.cells if cell.name == "shown_scale").formula.startswith(said)


def test_round_1_is_never_covered_where_the_class_does_not_say_so() -> None:
    lines = {cell.name: cell for cell in SHEET.layout.tab("calculator").cells if cell.name}
    assert lines["covered"].formula == '="no"'
    assert "shown_covered" not in BY_NAME


def test_tab_of_fewer_sites_still_shows_the_whole_scale() -> None:
    """The seven lines that the rules look at go beyond the row of a single site."""
    source = sheet_of(settings_with(protocol_id="three-sites-men", under_18=True)).source
    tab = readings_tab(source.protocol, source.settings, source.texts)
    assert [cell.row for cell in tab.cells if cell.format == "unseen" and cell.column == 12] == [
        4, 5, 6, 7, 8, 9, 10,
    ]  # fmt: skip
    assert len([cell for cell in tab.cells if cell.format == "site" and cell.value]) == 1
