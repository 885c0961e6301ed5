import pytest

from sheetgen.layout.vocabulary import start_entries
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
