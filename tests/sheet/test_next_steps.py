"""What a sheet asks for next, what it says of a slip, and when it is ready."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from sheetgen.protocols.names import ANSWERS, STEPS, entry_names, own_steps
from sheetgen.protocols.recalculation import is_ready, recalculate
from sheetgen.sheet.next_steps import (
    NOTES,
    WARNED,
    Message,
    fault_lines,
    first_step_line,
    in_hand,
    messages,
    next_step_lines,
    note_lines,
    warning_lines,
)
from sheetgen.workbook.cells import Line, text_pixels
from sheetgen.workbook.layout import Value
from tests.office.client import Office
from tests.returned.given import WOMAN
from tests.sheet.variants import LANGUAGES, sheet_in
from tests.sheets import SETTINGS, settings_with, sheet_of

SHEET = sheet_of()
PROTOCOL, TEXTS = SHEET.source.protocol, SHEET.source.texts
Entries = dict[str, Value]


def _messages(**changes: object) -> list[Message]:
    source = sheet_of(settings_with(**changes)).source
    cells = {name: f"<{name}>" for name in entry_names(source.protocol)}
    return messages(source.protocol, source.texts, cells)


def test_messages_stand_in_the_order_of_the_work() -> None:
    steps = [message.step for message in _messages()]
    order = [STEPS.index(step) for step in steps]
    assert order == sorted(order)
    assert set(STEPS) - set(steps) == {"sites", "hand-in"}


def test_every_entry_that_can_be_due_or_wrong_has_one_message() -> None:
    names = [message.entry for message in _messages()]
    assert len(names) == len(set(names))
    # Those two are told of in the message of the second caliper.
    assert set(entry_names(PROTOCOL)) - set(names) == {"changed_from_round", "changed_from_site"}
    assert set(names) <= set(entry_names(PROTOCOL))


# settings, entries of Start that are asked for
ASKED: tuple[tuple[dict[str, object], list[str]], ...] = (
    ({}, ["data_source", "age_years", "sex_equation", "mass_kg", "caliper_id", "zero_mm"]),
    ({"under_18": True}, ["data_source", "caliper_id", "zero_mm"]),
    ({"estimates": "sums-only"}, ["data_source", "age_years", "caliper_id", "zero_mm"]),
    ({"protocol_id": "folds-only"}, ["data_source", "caliper_id", "zero_mm"]),
)


@pytest.mark.parametrize(("changes", "names"), ASKED)
def test_messages_are_of_what_the_sheet_asks_for(changes: dict[str, object], names: list[str]) -> None:
    found = [message.entry for message in _messages(**changes)]
    first_length = next(at for at, name in enumerate(found) if name.startswith("length_"))
    assert found[2:first_length] == names


@pytest.mark.parametrize("language", LANGUAGES)
def test_texts_of_messages_keep_within_the_format(language: str) -> None:
    for message in _messages(language=language):
        texts = re.findall(r'"((?:[^"]|"")*)"', message.formula)
        assert max(map(len, texts)) <= 255


def test_next_step_is_the_first_message_and_ready_means_none() -> None:
    steps = [step for step in STEPS if step not in ("sites", "hand-in")]
    found = [Message(step.replace("-", "_"), step, "") for step in steps]
    lines = {line.name: line for line in next_step_lines(found, PROTOCOL, TEXTS)}
    assert lines["next_rank"] == Line("next_rank", "=MIN({rank_care}:{rank_working})", 1)
    assert lines["next_tab"] == Line(
        "next_tab", '=IF({next_rank}=0,"",INDEX({tab_care}:{tab_working},{next_rank}))', "Care"
    )
    assert lines["next_step"].formula == (
        '=IF({next_rank}=0,"Done. Save this file, close it and hand it in.",'
        "INDEX({message_care}:{message_working},{next_rank}))"
    )
    assert lines["ready"] == Line("ready", '=IF({next_rank}=0,"yes","no")', "no")


def test_each_message_has_its_rank_beside_it_in_one_column() -> None:
    cells = {cell.name: cell for cell in SHEET.layout.tab("calculator").cells if cell.name}
    names = [message.entry for message in _messages()]
    rows = [cells[f"message_{name}"].row for name in names]
    assert rows == list(range(rows[0], rows[0] + len(names)))
    entries = {
        (cell.name, tab.title) for tab in SHEET.layout.tabs for cell in tab.cells if cell.role == "entry"
    }
    for rank, name in enumerate(names, start=1):
        message, beside, tab = (cells[f"{what}_{name}"] for what in ("message", "rank", "tab"))
        assert (tab.row, tab.column) == (message.row, 3)
        assert (name, tab.value) in entries
        assert (message.column, beside.column, beside.row) == (1, 2, message.row)
        assert beside.formula == f'=IF($B${message.row + 1}="","",{rank})'


def test_first_step_line() -> None:
    assert first_step_line(TEXTS) == (
        "▶ Care ○ Start ○ Sites ○ Round 1 ○ Round 2 ○ Thirds ○ Working ○ Hand in "
    )
    assert first_step_line(TEXTS, PROTOCOL).endswith("○ Hand in   0 of 14 readings")


def test_thing_of_the_caliper_that_a_reading_was_read_on() -> None:
    assert in_hand("opening", 8) == (
        "IF(AND(ISNUMBER({change_row}),{change_row}<=8),{caliper_2_opening},{caliper_opening})"
    )
    assert in_hand("identifier", 1) == (
        "IF(AND(ISNUMBER({change_row}),{change_row}<=1),{in_caliper_id_2},{in_caliper_id})"
    )


def test_every_reading_has_a_line_for_its_fault() -> None:
    lines = list(fault_lines(PROTOCOL, dict.fromkeys(entry_names(PROTOCOL), "<cell>")))
    assert len(lines) == 21
    assert {line.first for line in lines} == {""}
    words = set(re.findall(r'"([a-z]+)"', lines[0].formula))
    assert words == {"text", "zero", "opening", "step"}


def test_every_note_has_its_words_and_is_used() -> None:
    assert {key.removeprefix("note.") for key in TEXTS if key.startswith("note.")} == set(NOTES)
    used = {word for line in note_lines(PROTOCOL) for word in re.findall(r'[,(]"([a-z0-9-]+)"', line.formula)}
    assert used == set(NOTES)


def test_every_warning_has_its_line() -> None:
    lines = {line.name: line for line in warning_lines(PROTOCOL, TEXTS)}
    assert {f"warning_{name}" for name in WARNED} <= set(lines)
    assert {line.first for name, line in lines.items() if not name.startswith("practi")} == {""}
    young = sheet_of(settings_with(under_18=True)).source
    assert "warning_age_years" not in {line.name for line in warning_lines(young.protocol, young.texts)}


COMPLETE: Entries = {
    **WOMAN,
    **{name: 1.5 for name, _ in own_steps(PROTOCOL)},
    **{f"answer_{word}": "Because." for word in ANSWERS},
}
DONE = "Done. Save this file, close it and hand it in."
CARE = "Read the points below, then choose yes at the foot"
SECOND = "Second caliper: fill in all four lines of the second caliper, or none"
FROM_2_CHEST: Entries = {"changed_from_round": "2", "changed_from_site": "Chest"}
MEASURE = "type what the scale shows"
OWN = "work it out and type it"
# what is typed on top of a complete sheet, the next step
SAID: tuple[tuple[Entries, str], ...] = (
    ({}, DONE),
    ({"cautions_confirmed": ""}, CARE),
    ({"cautions_confirmed": "no"}, CARE),
    ({"participant_agrees": "yes"}, DONE),
    ({"data_source": ""}, "Readings come from: choose measured or practice"),
    ({"data_source": "invented"}, "Readings come from: not in the list: invented"),
    ({"age_years": ""}, "Age of the person measured: type the whole years"),
    ({"age_years": "24 years"}, "Age of the person measured: this is not a number: 24 years"),
    ({"age_years": 140}, "Age of the person measured: not between 5 and 110: 140"),
    ({"sex_equation": ""}, "Equation: choose female, male or sum-only"),
    ({"sex_equation": "woman"}, "Equation: not in the list: woman"),
    ({"sex_equation": "sum-only", "age_years": ""}, DONE),
    ({"mass_kg": ""}, DONE),
    ({"mass_kg": "60 kg"}, "Body mass: this is not a number: 60 kg"),
    ({"mass_kg": 4}, "Body mass: not between 10 and 350: 4"),
    ({"caliper_id": ""}, "Caliper: choose the one in your hand"),
    ({"caliper_id": "C9"}, "Caliper: not in the list: C9"),
    ({"caliper_id": "*"}, "Caliper: not in the list: *"),
    ({"caliper_id": " c1 "}, DONE),
    ({"zero_mm": ""}, "Zero of this caliper: close it, read its zero, type it"),
    ({"zero_mm": 11}, "Zero of this caliper: not between -10 and 10: 11"),
    ({"length_thigh_cm": ""}, "Thigh, length: measure it and type the cm"),
    ({"length_thigh_cm": 7}, "Thigh, length: not between 15 and 80: 7"),
    ({"own_midpoint_thigh_cm": ""}, f"Thigh, length, Half of it: {OWN}"),
    ({"own_midpoint_thigh_cm": "half"}, "Thigh, length, Half of it: this is not a number: half"),
    ({"side": ""}, DONE),
    ({"side": "both"}, "Side measured: not in the list: both"),
    ({"reading_1_thigh": ""}, f"Round 1, Thigh: {MEASURE}"),
    ({"reading_1_thigh": "   "}, f"Round 1, Thigh: {MEASURE}"),
    ({"reading_1_thigh": "24,5"}, "Round 1, Thigh: this is not a number: 24,5"),
    ({"reading_1_thigh": 99}, "Round 1, Thigh: 99 cannot be read on C1, it opens to 60 mm"),
    ({"reading_1_thigh": 24.2}, "Round 1, Thigh: 24.2 lies between two marks: C1 has steps of 0.5 mm"),
    ({"reading_1_chest": -3}, "Round 1, Chest: -3 is not above the zero"),
    ({"reading_2_chest": ""}, f"Round 2, Chest: {MEASURE}"),
    ({"reading_2_chest": "", "reading_1_thigh": ""}, f"Round 1, Thigh: {MEASURE}"),
    ({"reading_3_triceps": ""}, f"Round 3, Triceps: {MEASURE}"),
    ({"reading_3_chest": 99}, "Round 3, Chest: 99 cannot be read on C1, it opens to 60 mm"),
    ({"own_site_chest": ""}, f"Site value: Chest: {OWN}"),
    ({"own_sum_mm": ""}, f"Sum of the sites: {OWN}"),
    ({"own_sum_mm": "118,5"}, "Sum of the sites: this is not a number: 118,5"),
    ({"own_fat_percent": ""}, f"Fat, estimate: {OWN}"),
    ({"answer_zero": ""}, "Question 2: write a sentence or two"),
    ({"answer_error": "  "}, "Question 3: write a sentence or two"),
    ({"caliper_id_2": "C2"}, SECOND),
    ({"caliper_id_2": "C2", "zero_2_mm": 0.5}, SECOND),
    ({"caliper_id_2": "C2", "zero_2_mm": 0.5, "changed_from_round": "2"}, SECOND),
    ({"caliper_id_2": "C9", "zero_2_mm": 0.5, **FROM_2_CHEST}, SECOND),
    ({"zero_2_mm": 11}, "Its zero: not between -10 and 10: 11"),
    (
        {"caliper_id_2": "7", "zero_2_mm": 0.5, **FROM_2_CHEST, "reading_2_chest": 12.5},
        "Round 2, Chest: 12.5 lies between two marks: 7 has steps of 1 mm",
    ),
    (
        {"not_taken_thigh": "left-out", "reading_1_thigh": "", "reading_2_thigh": "", "own_sum_mm": ""},
        DONE,
    ),
    ({"age_years": 17, "reading_1_chest": "", "own_sum_mm": "", "own_fat_percent": ""}, DONE),
    # Practice reads like measuring, with the number at the end; the values are those of this copy.
    ({"data_source": "practice"}, DONE),
    ({"data_source": "practice", "age_years": ""}, "Age of the person measured: type 24"),
    ({"data_source": "practice", "sex_equation": ""}, "Equation: type male"),
    ({"data_source": "practice", "reading_1_chest": ""}, "Round 1, Chest: type 9.5"),
    ({"data_source": "practice", "own_sum_mm": ""}, f"Sum of the sites: {OWN}"),
)


@pytest.fixture(scope="module")
def typed(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    path = tmp_path_factory.mktemp("next-steps") / "sheet.xlsx"
    path.write_bytes(SHEET.data)
    with office.workbook(path) as handle:
        yield handle


def _read(office: Office, handle: int, cases: list[Entries], names: list[str]) -> list[list[Value]]:
    """Every case on a sheet as it is handed out, where caliper and side are filled in."""
    batch = [[[*SHEET.place(name), value] for name, value in case.items()] for case in cases]
    return office.cases(handle, [SHEET.place(name) for name in names], batch)  # type: ignore[return-value]


def test_next_step_names_the_cell_and_what_is_due_or_wrong_with_it(office: Office, typed: int) -> None:
    cases = [{**COMPLETE, **changes} for changes, _ in SAID]
    found = _read(office, typed, cases, ["next_step", "ready"])
    assert [step for step, _ in found] == [said for _, said in SAID]
    assert [ready for _, ready in found] == ["yes" if said == DONE else "no" for _, said in SAID]


@pytest.mark.parametrize(("changes", "said"), SAID)
def test_ready_is_recalculated_alike(changes: Entries, said: str) -> None:
    entries = {name: value for name, value in {**COMPLETE, **changes}.items() if value != ""}
    results = recalculate(PROTOCOL, SETTINGS, entries)
    assert is_ready(PROTOCOL, SETTINGS, entries, results) == (said == DONE)


def test_messages_fit_the_narrowest_tab_that_is_typed_into() -> None:
    """Readings: 1109 px, in bold letters of 16 points; a typeface of a usual width takes five sixths of the
    width measured here."""
    assert max(text_pixels(f"w  {said}", bold=True, points=16.0) * 5 / 6 for _, said in SAID) <= 1109 - 15


# a cell that holds an error: what is pasted may be a formula
ERRORS = (
    ("reading_1_chest", "Round 1, Chest: this is not a number: an error"),
    ("age_years", "Age of the person measured: this is not a number: an error"),
    ("own_sum_mm", "Sum of the sites: this is not a number: an error"),
    ("side", "Side measured: not in the list: an error"),
    ("participant_agrees", "Person measured: read and agreed: an error"),
    ("participant_today", "Person measured today: an error"),
    ("changed_from_round", SECOND),
    ("not_taken_chest", "Chest, Left out?: not in the list: an error"),
)


def test_an_error_in_a_cell_is_named_and_the_sheet_is_not_ready(office: Office, tmp_path: Path) -> None:
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(SHEET.data)
    found = []
    with office.workbook(path) as handle:
        office.set(handle, [[*SHEET.place(entry), value] for entry, value in COMPLETE.items()])
        for name, _ in ERRORS:
            tab, row, column = SHEET.place(name)
            office.set_formula(handle, tab, int(row), int(column), "=1/0")
            found.append(office.get(handle, [SHEET.place("next_step"), SHEET.place("ready")]))
            office.set(handle, [[tab, row, column, COMPLETE.get(name)]])
    assert found == [[said, "no"] for _, said in ERRORS]


@pytest.mark.parametrize("name", [name for name, _ in ERRORS])
def test_a_sheet_with_an_error_is_recalculated_as_not_ready(name: str) -> None:
    entries = {**COMPLETE, name: None}
    assert not is_ready(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))


START: Entries = {
    name: value for name, value in COMPLETE.items() if "reading" not in name and "own_s" not in name
}
ROUND_1 = {name: value for name, value in COMPLETE.items() if "reading_1" in name}
ROUND_2 = {name: value for name, value in COMPLETE.items() if "reading_2" in name}
# what is typed, the line of steps
STEP_LINES: tuple[tuple[Entries, str], ...] = (
    ({}, "▶ Care ○ Start ○ Sites ○ Round 1 ○ Round 2 ○ Thirds ○ Working ○ Hand in   0 of 14 readings"),
    (
        {"cautions_confirmed": "yes"},
        "✓ Care ▶ Start ○ Sites ○ Round 1 ○ Round 2 ○ Thirds ○ Working ○ Hand in   0 of 14 readings",
    ),
    (
        START,
        "✓ Care ✓ Start ○ Sites ▶ Round 1 ○ Round 2 ○ Thirds ✓ Working ○ Hand in   0 of 14 readings",
    ),
    (
        {**START, **ROUND_1},
        "✓ Care ✓ Start ✓ Sites ✓ Round 1 ▶ Round 2 ○ Thirds ✓ Working ○ Hand in   7 of 14 readings",
    ),
    (
        {**START, **ROUND_1, **ROUND_2},
        "✓ Care ✓ Start ✓ Sites ✓ Round 1 ✓ Round 2 ▶ Thirds ○ Working ○ Hand in   14 of 14 readings",
    ),
    (
        COMPLETE,
        "✓ Care ✓ Start ✓ Sites ✓ Round 1 ✓ Round 2 ✓ Thirds ✓ Working ▶ Hand in   14 of 14 readings",
    ),
)


def test_line_of_steps_says_done_now_and_to_come(office: Office, typed: int) -> None:
    found = _read(office, typed, [entries for entries, _ in STEP_LINES], ["counted_step_line"])
    assert [line for (line,) in found] == [line for _, line in STEP_LINES]


def test_one_thing_at_a_time_comes_next(office: Office, typed: int) -> None:
    """One row is lit on one tab alone, and on Readings one box."""
    cells = [(tab.title, cell) for tab in SHEET.layout.tabs for cell in tab.cells]
    at = [[title, cell.row, cell.column] for title, cell in cells if cell.name.startswith("next_")]
    named = [cell.name for _, cell in cells if cell.name.startswith("next_")]
    lines = ("next_rank", "next_tab", "next_step")
    telling = [at for at, name in zip(at, named, strict=True) if name not in lines]
    batch = [
        [[*SHEET.place(name), value] for name, value in {**COMPLETE, **changes}.items()]
        for changes, _ in SAID
    ]
    for (_, said), values in zip(SAID, office.cases(typed, telling, batch), strict=True):
        assert len([value for value in values if value]) == (0 if said == DONE else 1), said


SITES = [site.word for site in PROTOCOL.sites]
GOOD: Entries = {
    "cautions_confirmed": "yes",
    "age_years": 34,
    "sex_equation": "female",
    "zero_mm": 0,
    "caliper_id": "C1",
    "data_source": "measured",
    **{f"reading_1_{site}": 12.5 for site in SITES},
    **{f"reading_2_{site}": 13.0 for site in SITES},
}
SECOND_FROM_2: Entries = {"caliper_id_2": "7", "zero_2_mm": 3, **FROM_2_CHEST}
# what is typed on top of good readings, the note of the chest
NOTED: tuple[tuple[Entries, str], ...] = (
    ({}, ""),
    ({"reading_1_chest": 12.3}, "fault-1"),
    ({"reading_2_chest": 125}, "fault-2"),
    ({"reading_2_chest": -3}, "fault-2"),
    ({"reading_1_chest": "12,5"}, "fault-1"),
    ({"reading_3_chest": "about 12"}, "fault-3"),
    ({"reading_1_chest": "   "}, ""),
    ({"reading_1_chest": ""}, ""),
    ({"reading_2_chest": 16}, "third"),
    ({"reading_2_chest": 21.5}, "third-far"),
    ({"reading_2_chest": 21.5, "reading_3_chest": 13}, ""),
    ({"reading_2_chest": 21.5, "reading_3_chest": 50}, "again"),
    ({"reading_3_chest": 13}, "third-extra"),
    ({"not_taken_chest": "left-out"}, "left-out-typed"),
    ({"not_taken_chest": "left-out", "reading_1_chest": "", "reading_2_chest": ""}, "left-out"),
    ({"age_years": 17, "reading_1_chest": "12,5"}, "under-18"),
    # A second caliper from this reading on: steps of 1 mm, zero at 3 mm.
    (SECOND_FROM_2, "third"),
    ({**SECOND_FROM_2, "reading_2_chest": 15.5}, "fault-2"),
)


def test_note_of_a_site_for_each_slip(office: Office, typed: int) -> None:
    found = _read(office, typed, [{**GOOD, **changes} for changes, _ in NOTED], ["note_chest"])
    assert [note for (note,) in found] == [note for _, note in NOTED]


# what is typed, what to do in the row of the chest
TO_DO: tuple[tuple[Entries, str], ...] = (
    ({"reading_1_chest": ""}, "◀ Round 1: type what the scale shows"),
    ({"reading_2_chest": ""}, "◀ Round 2: type what the scale shows"),
    ({"reading_2_chest": 16}, "◀ Round 3: type what the scale shows"),
    ({"reading_1_chest": "", "data_source": "practice"}, "◀ Round 1: type 9.5"),
    ({"reading_1_chest": 99}, "check round 1"),
    ({"reading_3_chest": 13}, "third not needed, not counted"),
    ({}, ""),
)


def test_what_to_do_stands_in_the_row_that_comes_next(office: Office, typed: int) -> None:
    lengths: Entries = {
        "length_upper_arm_cm": 33,
        "own_midpoint_upper_arm_cm": 16.5,
        "length_thigh_cm": 45,
        "own_midpoint_thigh_cm": 22.5,
    }
    cases = [{**GOOD, **lengths, **changes} for changes, _ in TO_DO]
    found = _read(office, typed, cases, ["shown_to_do_chest"])
    assert [said for (said,) in found] == [said for _, said in TO_DO]


# what is typed, warnings of caliper, zero, age
WARNINGS: tuple[tuple[Entries, list[str]], ...] = (
    ({}, ["", "", ""]),
    ({"zero_mm": 0.4}, ["", "Check: plus or minus? The zero in the register is -0.4", ""]),
    ({"zero_mm": -0.6}, ["", "Check: the zero in the register is -0.4", ""]),
    ({"caliper_id": "C1"}, ["Check: the caliper issued is C2", "Check: the zero in the register is 0", ""]),
    ({"age_years": 17}, ["", "", "Check: under 18: no trunk sites, no estimate"]),
    ({"age_years": 70}, ["", "", "Check: no equation for this age: the sum only"]),
    ({"age_years": 70, "sex_equation": "sum-only"}, ["", "", ""]),
)


def test_warning_beside_an_entry(office: Office, tmp_path: Path) -> None:
    sheet = sheet_of(caliper_id="C2")
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    good: Entries = {**GOOD, "caliper_id": "C2", "zero_mm": -0.4}
    names = ["warning_caliper_id", "warning_zero_mm", "warning_age_years"]
    batch = [
        [[*sheet.place(name), value] for name, value in {**good, **changes}.items()]
        for changes, _ in WARNINGS
    ]
    with office.workbook(path) as handle:
        found = office.cases(handle, [sheet.place(name) for name in names], batch)
    assert found == [said for _, said in WARNINGS]


PRACTICE: Entries = {
    f"reading_1_{site}": reading
    for site, reading in zip(SITES, (9.5, 15.5, 8.5, 9.5, 25, 9, 12), strict=True)
}
BARE: Entries = {"cautions_confirmed": "yes", "zero_mm": 0, "data_source": "measured"}
# what is typed, the warning beside where the readings come from
SOURCES: tuple[tuple[Entries, str], ...] = (
    ({}, ""),
    (PRACTICE, "Check: these are the practice readings"),
    ({**PRACTICE, "data_source": "practice"}, ""),
    ({**PRACTICE, "reading_1_thigh": 12.5}, ""),
    (dict(list(PRACTICE.items())[:3]), ""),
)


def test_practice_readings_that_nobody_calls_so(office: Office, typed: int) -> None:
    """Four or more readings, all of them those of the practice set, are no chance."""
    found = _read(office, typed, [{**BARE, **each} for each, _ in SOURCES], ["warning_data_source"])
    assert [said for (said,) in found] == [said for _, said in SOURCES]


def test_words_of_a_list_are_known_without_their_accents(office: Office, tmp_path: Path) -> None:
    sheet = sheet_in("es")
    done = sheet.source.texts["step.done"]
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    cases: list[Entries] = [
        {**COMPLETE, "cautions_confirmed": "sí", "data_source": "medido", "sex_equation": "mujer"},
        {**COMPLETE, "cautions_confirmed": "si", "data_source": "PRACTICA", "sex_equation": "Mujer"},
        {**COMPLETE, "cautions_confirmed": "yes", "data_source": "measured", "sex_equation": "female"},
    ]
    batch = [[[*sheet.place(name), value] for name, value in {**case, "side": ""}.items()] for case in cases]
    with office.workbook(path) as handle:
        assert office.cases(handle, [sheet.place("next_step")], batch) == [[done]] * 3
