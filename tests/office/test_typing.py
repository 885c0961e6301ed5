"""The sheet tried as a new user: the cursor's way is the program's own, and slips are pointed out."""

from pathlib import Path

import pytest

from sheetgen.protocols.settings import SheetSettings
from tests.office.client import Office
from tests.office.typing_slips import SLIPS, Outcome, Slip
from tests.office.typing_trial import blocks, count_line, keys_table, pointed_out, slips_tried
from tests.office.typist import entries_to_type, looks_back, settings_for, typing_of
from tests.sheets import settings_with, sheet_of

# protocol, measured or practice, own working: values, least, keys, past, tabs, jumps, plain, eye
KEYS = {
    ("seven-sites", "measured", "without"): (23, 89, 98, 6, 3, 0, 2, 2),
    ("seven-sites", "measured", "with"): (37, 156, 165, 5, 4, 0, 2, 2),
    ("seven-sites", "practice", "without"): (24, 98, 108, 6, 3, 1, 3, 2),
    ("seven-sites", "practice", "with"): (38, 165, 175, 5, 4, 1, 3, 2),
    ("four-sites", "measured", "without"): (16, 59, 64, 2, 3, 0, 2, 2),
    ("four-sites", "measured", "with"): (26, 107, 113, 2, 4, 0, 2, 2),
    ("three-sites-women", "measured", "with"): (25, 103, 109, 2, 4, 0, 2, 2),
    ("folds-only", "measured", "without"): (14, 49, 54, 2, 3, 0, 2, 0),
    ("youth-two-sites", "practice", "without"): (13, 55, 60, 1, 3, 1, 3, 2),
}


@pytest.fixture(scope="module")
def done(office: Office, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Slip, Outcome]]:
    return slips_tried(office, tmp_path_factory.mktemp("slips"))


def test_keys_to_fill_a_sheet_from_its_paper_form() -> None:
    found = {line[:3]: line[3:] for line in keys_table()}
    assert {way: found[way] for way in KEYS} == KEYS
    assert len(found) == 24


def test_hand_looks_for_no_cell_but_the_one_that_chooses_practice() -> None:
    """One or two keys up from where the cursor waits; else nothing but Enter and the next tab on top."""
    for _, source, _, _, least, keys, past, tabs, jumps, _, _ in keys_table():
        assert jumps == int(source == "practice")
        assert 0 <= keys - least - past - tabs <= 2 * jumps
        assert keys <= 1.14 * least


def test_eye_goes_back_up_the_paper_for_the_mass_and_the_zero_only() -> None:
    sheet = sheet_of()
    assert looks_back(sheet, entries_to_type(sheet, practice=False, own=True)) == ("mass_kg", "zero_mm")


def test_program_whose_enter_leads_down_only_asks_for_arrows_twice() -> None:
    """From the last site of a round up to the first site that comes next."""
    sheet = sheet_of()
    typing = typing_of(sheet, entries_to_type(sheet, practice=False, own=False), skips_locked=False)
    assert (typing.jumps, typing.strokes) == (2, 108)


TYPED: tuple[tuple[SheetSettings, bool, bool], ...] = (
    (settings_for("seven-sites"), False, False),
    (settings_with(language="es", cover_round_1=True), True, False),
    (settings_for("youth-two-sites"), False, True),
)


@pytest.mark.office
@pytest.mark.parametrize(("settings", "practice", "own"), TYPED, ids=["usual", "Spanish", "youth"])
def test_keys_alone_fill_the_sheet_in_the_program(
    office: Office, tmp_path: Path, settings: SheetSettings, practice: bool, own: bool
) -> None:
    """Every key leads where the table counts on it; no value is refused; the sheet is ready."""
    sheet = sheet_of(settings)
    entries = entries_to_type(sheet, practice, own)
    typing = typing_of(sheet, entries)
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    with office.workbook(path) as handle:
        places = office.typed(handle, typing.keys)
        typed = dict(zip(entries, office.get(handle, [sheet.place(name) for name in entries]), strict=True))
        (step,) = office.get(handle, [sheet.place("next_step")])
    visible = [(key, tuple(place)) for key, place in zip(typing.keys, places, strict=True)]
    expected = list(zip(typing.keys, typing.places, strict=True))
    # A tab that is only passed has no cursor that anybody uses.
    stays = [at for at, key in enumerate(typing.keys[:-1]) if (key, typing.keys[at + 1]) != ("next tab",) * 2]
    assert [visible[at] for at in stays] == [expected[at] for at in stays]
    words = {name: sheet.source.texts.get(f"word.{value}", value) if isinstance(value, str) else value
             for name, value in entries.items()}  # fmt: skip
    assert typed == words
    texts = sheet.source.texts
    question = f"{texts['ask.question'].format(number=1)}: {texts['ask.answer']}"
    half = f"{texts['entry.length_upper_arm_cm']}, {texts['entry.own_midpoint_upper_arm_cm']}"
    assert step == (question if own else f"{half}: {texts['ask.own_midpoint_upper_arm_cm']}")


@pytest.mark.office
def test_every_slip_that_a_sheet_can_know_is_pointed_out(done: list[tuple[Slip, Outcome]]) -> None:
    missed = [(slip.title, outcome) for slip, outcome in done
              if slip.known == "yes" and not pointed_out(slip, outcome)]  # fmt: skip
    assert missed == []
    assert count_line(done) == "slips made 50, knowable 39, pointed out 39"


@pytest.mark.office
def test_slip_that_is_an_error_keeps_the_sheet_from_being_ready(done: list[tuple[Slip, Outcome]]) -> None:
    known = [(slip, outcome) for slip, outcome in done if slip.known == "yes"]
    assert [slip.title for slip, outcome in known if blocks(slip, outcome) is not slip.blocks] == []
    assert sum(slip.blocks for slip, _ in known) == 31


@pytest.mark.office
def test_rule_of_an_entry_refuses_just_what_the_table_says(done: list[tuple[Slip, Outcome]]) -> None:
    refused = {slip.title for slip, outcome in done if outcome.refused}
    assert refused == {slip.title for slip in SLIPS if slip.place == "refused"}
    assert len(refused) == 17


@pytest.mark.office
def test_slip_that_no_sheet_can_know_gets_no_word(done: list[tuple[Slip, Outcome]]) -> None:
    said = {slip.title: outcome.said for slip, outcome in done if slip.known != "yes"}
    assert {title: words for title, words in said.items() if words} == {}
    assert len(said) == 11
