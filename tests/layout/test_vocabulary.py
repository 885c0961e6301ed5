from sheetgen.layout import vocabulary
from tests.sheets import sheet_of

PROTOCOL = sheet_of().source.protocol


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
    assert len(set(names)) == len(names) == 14 + 21 + 7 + 14 + 3 + 29


def test_text_entries_stand_on_start() -> None:
    assert set(vocabulary.START_ENTRIES) >= vocabulary.TEXT_ENTRIES


def test_every_step_has_a_text() -> None:
    assert {f"step.{word}" for word in vocabulary.STEPS} <= set(sheet_of().source.texts)
