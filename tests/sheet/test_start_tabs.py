"""The tabs Care and Start: what is read and agreed to, and what is typed before the first fold."""

import re

import pytest
from msgspec.structs import replace

from sheetgen.protocols.names import CAUTIONS, CAUTIONS_OF_PARTICIPANT, ON_CARE, SELDOM, start_entries
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet import next_steps
from sheetgen.sheet.heading import wrapped_lines
from sheetgen.sheet.start_tabs import care_tab, start_tab
from sheetgen.sheet.working import cautions_of
from sheetgen.workbook.cells import height_for
from sheetgen.workbook.layout import Cell, Rule, Tab
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import SETTINGS, settings_with, sheet_of

SHEET = sheet_of()
PROTOCOL, TEXTS = SHEET.source.protocol, SHEET.source.texts
CARE, START = SHEET.layout.tab("care"), SHEET.layout.tab("start")


def _at(tab: Tab) -> dict[tuple[int, int], Cell]:
    return {(cell.row, cell.column): cell for cell in tab.cells}


def _entries(tab: Tab) -> list[str]:
    return [cell.name for cell in tab.cells if cell.role == "entry"]


def _rule(name: str, tab: Tab = START) -> Rule:
    rule = next(cell.rule for cell in tab.cells if cell.name == name)
    assert rule is not None
    return rule


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_caution_stands_on_care_once_those_of_the_person_measured_first_and_larger(
    language: str,
) -> None:
    sheet = sheet_in(language)
    cells = [cell for cell in sheet.layout.tab("care").cells if cell.column == 1 and cell.row >= 3]
    said = cautions_of(sheet.source.protocol, sheet.source.settings, sheet.source.texts)
    keys = {text: key for key, text in said.items()}
    shown = [(keys[str(cell.value)], cell.format) for cell in cells if cell.value in keys]
    assert sorted(key for key, _ in shown) == list(CAUTIONS)
    assert len(shown) == 13
    of_participant = [key for key, format in shown if format == "care_participant"]
    assert tuple(of_participant) == CAUTIONS_OF_PARTICIPANT
    assert shown[:7] == [(key, "care_participant") for key in of_participant]


def test_cautions_are_numbered_through() -> None:
    numbers = [cell.value for cell in CARE.cells if cell.column == 0 and cell.format.endswith("_number")]
    assert numbers == list(range(1, 14))


def test_yes_of_both_roles_stands_below_the_last_caution() -> None:
    last = max(cell.row for cell in CARE.cells if cell.format == "care_both")
    entries = [cell for cell in CARE.cells if cell.role == "entry"]
    assert [(cell.name, cell.row, cell.value) for cell in entries] == [
        ("cautions_confirmed", last + 1, None),
        ("participant_agrees", last + 2, None),
    ]
    assert {_rule(name, CARE).words for name in ON_CARE} == {("yes",)}
    assert CARE.first_entry == (last + 1, 3)


def test_care_lights_up_the_yes_of_the_measurer_alone() -> None:
    """The person measured may stay silent."""
    row = _at(CARE)
    confirmed = next(cell.row for cell in CARE.cells if cell.name == "cautions_confirmed")
    assert row[confirmed, 6].name == "next_cautions_confirmed"
    assert {(each.first_row, each.last_row, each.formula) for each in CARE.emphases} == {
        (confirmed, confirmed, f"=$G{confirmed + 1}=1")
    }


def test_cautions_are_the_same_for_everyone_but_for_the_error_of_an_estimate() -> None:
    young = sheet_of(settings_with(protocol_id="folds-only", under_18=True)).source.protocol
    one, other = (
        {cell.value for cell in care_tab(each, SETTINGS, TEXTS).cells if cell.format.startswith("care_")}
        for each in (PROTOCOL, young)
    )
    assert other - one == {"This is a teaching exercise. It adds up folds; it does not diagnose."}
    assert len(one) == len(other) == 26


def test_day_to_delete_stands_with_the_caution_on_health_data() -> None:
    cells = care_tab(PROTOCOL, replace(SETTINGS, delete_on="2027-07-31"), TEXTS).cells
    (line,) = (str(cell.value) for cell in cells if "health data" in str(cell.value))
    assert line.endswith("delete on the date your teacher names. In this class: 2027-07-31.")


FIRST = ["data_source"]
ADULT = ["age_years", "sex_equation", "mass_kg"]
CALIPER = ["caliper_id", "zero_mm"]
ARM = ["length_upper_arm_cm", "own_midpoint_upper_arm_cm"]
THIGH = ["length_thigh_cm", "own_midpoint_thigh_cm"]
AT_FOOT = [
    "participant_today", "side", "caliper_id_2", "zero_2_mm", "changed_from_round", "changed_from_site",
]  # fmt: skip
# settings, entries before those that are seldom needed
ENTRIES: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({}, [*FIRST, *ADULT, *CALIPER, *ARM, *THIGH]),
    ({"under_18": True}, [*FIRST, *CALIPER, *ARM, *THIGH]),
    ({"estimates": "sums-only"}, [*FIRST, "age_years", *CALIPER, *ARM, *THIGH]),
    ({"protocol_id": "three-sites-men"}, [*FIRST, *ADULT, *CALIPER, *THIGH]),
    ({"protocol_id": "youth-two-sites", "under_18": True}, [*FIRST, *CALIPER, *ARM]),
    (
        {"protocol_id": "youth-two-sites", "under_18": True, "youth_estimate": "on"},
        [*FIRST, *ADULT, *CALIPER, *ARM],
    ),
    ({"protocol_id": "folds-only"}, [*FIRST, *CALIPER, *ARM, *THIGH]),
)


@pytest.mark.parametrize(("changes", "first"), ENTRIES)
def test_entries_are_those_the_protocol_has_a_use_for(changes: dict[str, object], first: list[str]) -> None:
    """Below each other, so that Enter goes down; a half below its length; the seldom ones at the foot."""
    tab = sheet_of(settings_with(**changes)).layout.tab("start")
    entries = [cell for cell in tab.cells if cell.role == "entry"]
    assert [cell.name for cell in entries] == [*first, *AT_FOOT]
    assert {cell.column for cell in entries} == {1}
    rows = [cell.row for cell in entries]
    assert rows == [*range(4, 4 + len(first)), *range(5 + len(first), 11 + len(first))]
    assert _at(tab)[4 + len(first), 0].value == "Only if you need it"


def test_every_entry_of_start_is_on_care_or_start() -> None:
    assert {*ON_CARE, *_entries(START)} >= set(start_entries(PROTOCOL))
    assert tuple(AT_FOOT) == SELDOM


def test_entries_handed_out_filled_in() -> None:
    values = {
        cell.name: cell.value for cell in START.cells if cell.role == "entry" and cell.value is not None
    }
    assert values == {"data_source": "measured", "side": "right"}


# entry, kind, words, minimum, maximum
RULES = (
    ("data_source", "list", ("measured", "practice"), None, None),
    ("age_years", "whole", (), 5, 110),
    ("sex_equation", "list", ("female", "male", "sum-only"), None, None),
    ("mass_kg", "decimal", (), 10, 350),
    ("caliper_id", "list", ("C1", "C2", "7"), None, None),
    ("zero_mm", "decimal", (), -10, 10),
    ("length_upper_arm_cm", "decimal", (), 10, 60),
    ("own_midpoint_upper_arm_cm", "decimal", (), -100000, 100000),
    ("length_thigh_cm", "decimal", (), 15, 80),
    ("own_midpoint_thigh_cm", "decimal", (), -100000, 100000),
    ("participant_today", "length", (), 0, 12),
    ("side", "list", ("right", "left"), None, None),
    ("caliper_id_2", "list", ("C1", "C2", "7"), None, None),
    ("zero_2_mm", "decimal", (), -10, 10),
    ("changed_from_round", "list", ("1", "2", "3"), None, None),
    (
        "changed_from_site",
        "list",
        ("Chest", "Midaxillary", "Triceps", "Subscapular", "Abdominal", "Suprailiac", "Thigh"),
        None,
        None,
    ),
)


@pytest.mark.parametrize(("name", "kind", "words", "minimum", "maximum"), RULES)
def test_rule_of_an_entry(
    name: str, kind: str, words: tuple[str, ...], minimum: float | None, maximum: float | None
) -> None:
    rule = _rule(name)
    assert (rule.kind, rule.words, rule.minimum, rule.maximum) == (kind, words, minimum, maximum)


def test_rules_are_all_listed_here() -> None:
    assert [row[0] for row in RULES] == _entries(START)


# protocol, words offered
EQUATIONS_USED = (
    ("three-sites-men", ("male", "sum-only")),
    ("three-sites-women", ("female", "sum-only")),
    ("four-sites", ("female", "male", "sum-only")),
)


@pytest.mark.parametrize(("protocol_id", "words"), EQUATIONS_USED)
def test_equations_offered_are_those_that_the_protocol_has(protocol_id: str, words: tuple[str, ...]) -> None:
    tab = sheet_of(settings_with(protocol_id=protocol_id)).layout.tab("start")
    assert _rule("sex_equation", tab).words == words


def _caliper(identifier: str) -> Caliper:
    return Caliper(identifier, "spring caliper", 0.5, 60.0, 0.0)


# identifiers: a comma or a quote would end a word of the list, and a list is at most 255 characters long
REGISTERS = (
    (tuple(f"caliper-{at:02}" for at in range(40)),),
    (("C1", "left, old"),),
    (("C1", 'the "old" one'),),
)


@pytest.mark.parametrize(("identifiers",), REGISTERS)
@pytest.mark.parametrize("name", ["caliper_id", "caliper_id_2"])
def test_caliper_is_looked_up_in_the_register_where_a_list_cannot_hold_it(
    identifiers: tuple[str, ...], name: str
) -> None:
    settings = settings_with(calipers=tuple(_caliper(identifier) for identifier in identifiers))
    rule = _rule(name, start_tab(PROTOCOL, settings, TEXTS))
    assert (rule.kind, rule.words) == ("custom", ())
    table = "{register_identifier_first}:{register_identifier_last}"
    assert rule.formula == f'=ISNUMBER(MATCH({{{name}}}&"",{table},0))'


def _hint(name: str) -> Cell:
    row = next(cell.row for cell in START.cells if cell.name == name)
    return _at(START)[row, 2]


PRACTISED = ("age_years", "sex_equation", "mass_kg", "zero_mm", "length_upper_arm_cm", "length_thigh_cm")


@pytest.mark.parametrize("name", PRACTISED)
def test_hint_of_a_practice_set_reads_like_any_other_with_the_value_at_the_end(name: str) -> None:
    formula = _hint(name).formula
    assert '="practice","type "&' in formula
    assert _hint(name).value == TEXTS[f"hint.{name}"]


def test_word_practice_stands_on_start_alone_of_the_tabs_that_are_typed_into() -> None:
    """From a step away practice looks like measuring; formulas compare with the code word."""

    def shown(key: str) -> list[str]:
        cells = SHEET.layout.tab(key).cells
        said = [str(cell.value or "") for cell in cells]
        said += [text for cell in cells for text in re.findall(r'(?<!=)"([^"]*)"', cell.formula)]
        return [text for text in said if "practice" in text]

    assert {*shown("start")} == {"or practice, at any moment"}
    assert [*shown("readings"), *shown("working"), *shown("sites")] == []


@pytest.mark.parametrize("name", next_steps.WARNED)
def test_a_likely_slip_is_said_beside_its_entry(name: str) -> None:
    line = next(cell for cell in SHEET.layout.tab("calculator").cells if cell.name == f"warning_{name}")
    at = f"Calculator!$B${line.row + 1}"
    assert _hint(name).formula.startswith(f'=IF({at}<>"",{at},')
    assert '"Check: ' in line.formula


@pytest.mark.parametrize("language", LANGUAGES)
def test_warning_fits_the_row_of_its_entry(language: str) -> None:
    sheet = sheet_in(language)
    tab, texts = sheet.layout.tab("start"), sheet.source.texts
    for name, keys in next_steps.WARNED.items():
        row = next(cell.row for cell in tab.cells if cell.name == name)
        for key in keys:
            said = texts["warning.check"] + texts[key].format(age=18) + ("-10" if "zero" in key else "")
            assert dict(tab.heights)[row] >= height_for(wrapped_lines(said, tab.widths[2], indent=1))


def test_sheet_that_asks_no_age_warns_of_none() -> None:
    tab = sheet_of(settings_with(under_18=True)).layout.tab("start")
    assert "hint_age_years" not in {cell.name for cell in tab.cells}


@pytest.mark.parametrize("part", ["upper_arm", "thigh"])
def test_half_of_a_length_is_answered_once_it_is_typed(part: str) -> None:
    lines = {cell.name: f"Calculator!$B${cell.row + 1}" for cell in SHEET.layout.tab("calculator").cells}
    own, live = lines[f"in_own_midpoint_{part}_cm"], lines[f"midpoint_{part}_cm"]
    hint = _hint(f"own_midpoint_{part}_cm")
    assert hint.value == "cm, 1 decimal: where the mark goes"
    assert hint.formula == (
        f"=IF(AND(ISNUMBER({own}),ISNUMBER({live})),"
        f'ROUND({live},2)&" cm: the mark goes there","cm, 1 decimal: where the mark goes")'
    )


def test_every_entry_that_is_asked_for_lights_up_in_its_turn() -> None:
    at = _at(START)
    asked = {cell.row for cell in START.cells if cell.name.startswith("next_")}
    silent = [cell.name for (row, _), cell in at.items() if cell.role == "entry" and row not in asked]
    assert silent == ["participant_today", "changed_from_round", "changed_from_site"]
    rows = [cell.row for cell in START.cells if cell.role == "entry"]
    assert [(each.format, each.first_row, each.last_row) for each in START.emphases] == [
        ("lit_entry", min(rows), max(rows)),
        ("lit", min(rows), max(rows)),
    ]


def test_what_holds_today_stands_beside_the_entries_with_the_code_of_the_person_measured() -> None:
    at = _at(START)
    assert at[3, 4].value == "Today"
    assert (at[4, 4].role, at[4, 4].name) == ("identity", "today_line")
    said = [at[row, 4].value for row in range(5, 12)]
    assert said[0] == "Somebody else? See the foot of this tab."
    assert [key for key in TEXTS if key.startswith("start.today_") and key != "start.today_whom"] == [
        key for text in said for key in TEXTS if TEXTS[key] == text
    ]


def test_cursor_waits_at_the_age_below_what_is_filled_in() -> None:
    assert START.first_entry == (5, 1)
    assert start_tab(PROTOCOL, SETTINGS, TEXTS).first_entry == (5, 1)
