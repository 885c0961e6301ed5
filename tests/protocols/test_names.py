import pytest

from sheetgen.protocols import names as vocabulary
from sheetgen.protocols.protocol import Protocol
from tests.sheets import settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol


def _protocol(**changes: object) -> Protocol:
    return sheet_of(settings_with(**changes)).source.protocol


def test_change_words_follow_the_order_of_taking() -> None:
    words = vocabulary.change_words(PROTOCOL)
    assert words[:8] == (
        "1_chest", "1_midaxillary", "1_triceps", "1_subscapular", "1_abdominal", "1_suprailiac", "1_thigh",
        "2_chest",
    )  # fmt: skip
    assert words[-1] == "3_thigh"
    assert len(words) == 21


def test_reading_name() -> None:
    assert vocabulary.reading_name(3, "thigh") == "reading_3_thigh"


def test_own_steps_pair_each_entry_with_the_result_it_answers() -> None:
    steps = vocabulary.own_steps(PROTOCOL)
    assert steps[0] == ("own_midpoint_upper_arm_cm", "midpoint_upper_arm_cm")
    assert steps[2] == ("own_site_chest", "site_chest")
    assert steps[-1] == ("own_fat_free_mass_kg", "fat_free_mass_kg")
    assert len(steps) == 14


def test_names_are_all_different() -> None:
    names = (*vocabulary.entry_names(PROTOCOL), *vocabulary.live_names(PROTOCOL))
    assert len(set(names)) == len(names) == 16 + 21 + 7 + 14 + 3 + 29


def test_text_entries_stand_on_start() -> None:
    assert set(vocabulary.start_entries(PROTOCOL)) >= vocabulary.TEXT_ENTRIES


def test_start_entries_of_a_protocol_with_every_use() -> None:
    assert vocabulary.start_entries(PROTOCOL) == (
        "cautions_confirmed", "participant_agrees", "data_source", "age_years", "sex_equation", "mass_kg",
        "caliper_id", "zero_mm", "length_upper_arm_cm", "length_thigh_cm", "participant_today", "side",
        "caliper_id_2", "zero_2_mm", "changed_from_round", "changed_from_site",
    )  # fmt: skip


# settings, entries that the protocol has no use for
NO_USE: tuple[tuple[dict[str, object], set[str]], ...] = (
    ({"under_18": True}, {"age_years", "sex_equation", "mass_kg"}),
    ({"estimates": "sums-only"}, {"sex_equation", "mass_kg"}),
    ({"protocol_id": "three-sites-men"}, {"length_upper_arm_cm"}),
    ({"protocol_id": "three-sites-women"}, set()),
    ({"protocol_id": "four-sites"}, {"length_thigh_cm"}),
    ({"protocol_id": "folds-only"}, {"age_years", "sex_equation", "mass_kg"}),
    ({"protocol_id": "youth-two-sites"}, {"length_thigh_cm"}),
)


@pytest.mark.parametrize(("changes", "missing"), NO_USE)
def test_start_entries_leave_out_what_has_no_use(changes: dict[str, object], missing: set[str]) -> None:
    entries = vocabulary.start_entries(_protocol(**changes))
    assert set(vocabulary.start_entries(PROTOCOL)) - set(entries) == missing


# protocol, words of the equation used
SEXES = (
    ("seven-sites", ("female", "male", "sum-only")),
    ("three-sites-men", ("male", "sum-only")),
    ("three-sites-women", ("female", "sum-only")),
    ("folds-only", ("sum-only",)),
)


@pytest.mark.parametrize(("protocol_id", "words"), SEXES)
def test_sex_words(protocol_id: str, words: tuple[str, ...]) -> None:
    assert vocabulary.sex_words(_protocol(protocol_id=protocol_id)) == words


def test_own_steps_of_an_equation_to_per_cent_ask_for_no_density() -> None:
    steps = vocabulary.own_steps(_protocol(protocol_id="youth-two-sites"))
    assert [name for _, name in steps] == [
        "midpoint_upper_arm_cm", "site_triceps", "site_calf", "sum_mm", "fat_percent", "fat_mass_kg",
        "fat_free_mass_kg",
    ]  # fmt: skip


def test_own_steps_without_an_equation_stop_at_the_sum() -> None:
    steps = vocabulary.own_steps(_protocol(under_18=True))
    assert [name for _, name in steps] == [
        "midpoint_upper_arm_cm", "midpoint_thigh_cm", "site_triceps", "site_thigh", "sum_mm",
    ]  # fmt: skip


def test_live_names_have_the_midpoints_of_the_lengths_asked_for() -> None:
    names = vocabulary.live_names(_protocol(protocol_id="three-sites-men"))
    assert [name for name in names if name.startswith("midpoint_")] == ["midpoint_thigh_cm"]


def test_every_step_has_a_text() -> None:
    assert {f"step.{word}" for word in vocabulary.STEPS} <= set(sheet_of().source.texts)
