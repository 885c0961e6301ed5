import pytest

from sheetgen.checking.progress import next_step
from sheetgen.checking.recalculate import recalculate
from sheetgen.layout.vocabulary import STEPS, own_steps
from sheetgen.model.layout import Value
from tests.checking.given import WOMAN, without
from tests.sheets import SETTINGS, sheet_of

PROTOCOL = sheet_of().source.protocol
OWN: dict[str, Value] = {name: 1.5 for name, _ in own_steps(PROTOCOL)}
COMPLETE = {**WOMAN, **OWN}


def _step(entries: dict[str, Value]) -> str:
    return next_step(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))


# entries, next step
STEPS_TO_GO: tuple[tuple[dict[str, Value], str], ...] = (
    ({}, "cautions"),
    ({**COMPLETE, "cautions_confirmed": "no"}, "cautions"),
    (without(COMPLETE, "sex_equation"), "sex-equation"),
    (without(COMPLETE, "age_years"), "age"),
    ({**COMPLETE, "caliper_id": "C9"}, "caliper"),
    ({**COMPLETE, "caliper_id": "*"}, "caliper"),
    (without(COMPLETE, "zero_mm"), "zero"),
    (without(COMPLETE, "length_thigh_cm"), "lengths"),
    (without(COMPLETE, "reading_1_thigh"), "round-1"),
    ({**COMPLETE, "reading_1_thigh": "24"}, "round-1"),
    (without(COMPLETE, "reading_2_chest"), "round-2"),
    (without(COMPLETE, "reading_3_triceps"), "third"),
    ({**COMPLETE, "reading_1_chest": -3}, "values"),
    (without(COMPLETE, "own_sum_mm"), "working"),
    ({**COMPLETE, "own_sum_mm": "118,5"}, "working"),
    (COMPLETE, "done"),
)


@pytest.mark.parametrize(("entries", "step"), STEPS_TO_GO)
def test_next_step(entries: dict[str, Value], step: str) -> None:
    assert _step(entries) == step


def test_every_step_is_reached_above() -> None:
    assert {step for _, step in STEPS_TO_GO} == set(STEPS)


def test_next_step_of_sum_only_asks_for_no_age() -> None:
    entries = without(
        {**COMPLETE, "sex_equation": "sum-only"}, "age_years", "own_density_g_ml", "own_fat_percent"
    )
    assert _step(entries) == "done"


def test_next_step_with_a_site_left_out_asks_for_no_working_on_the_sum() -> None:
    entries = {**COMPLETE, "not_taken_thigh": "declined"}
    left_out = ("reading_1_thigh", "reading_2_thigh", "own_site_thigh", "own_sum_mm", "own_density_g_ml")
    assert _step(without(entries, *left_out, "own_fat_percent", "own_fat_mass_kg")) == "done"


def test_next_step_takes_words_in_any_case() -> None:
    assert _step({**COMPLETE, "cautions_confirmed": " YES", "caliper_id": "c1"}) == "done"
