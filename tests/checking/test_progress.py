import pytest

from sheetgen.checking.progress import next_step
from sheetgen.checking.recalculate import recalculate
from sheetgen.layout.vocabulary import STEPS, own_steps
from sheetgen.model.layout import Value
from tests.checking.given import WOMAN, without
from tests.sheets import SETTINGS, settings_with, sheet_of

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


TRUNK = tuple(site.word for site in PROTOCOL.sites if site.trunk)


def test_next_step_under_18_asks_for_no_trunk_site() -> None:
    readings = [f"reading_{number}_{site}" for number in (1, 2, 3) for site in TRUNK]
    own = [name for name in OWN if name not in OWN_UNDER_18]
    assert _step(without({**COMPLETE, "age_years": 17}, *readings, *own)) == "done"


OWN_UNDER_18 = {
    "own_midpoint_upper_arm_cm", "own_midpoint_thigh_cm", "own_site_triceps", "own_site_thigh",
}  # fmt: skip


# settings, entries besides cautions, caliper and zero that lead to the working
ASKED: tuple[tuple[dict[str, object], tuple[str, ...]], ...] = (
    ({"under_18": True}, ("length_upper_arm_cm", "length_thigh_cm")),
    ({"estimates": "sums-only"}, ("age_years", "length_upper_arm_cm", "length_thigh_cm")),
    ({"protocol_id": "three-sites-men"}, ("sex_equation", "age_years", "length_thigh_cm")),
    ({"protocol_id": "youth-two-sites", "under_18": True}, ("length_upper_arm_cm",)),
)
STEP_OF = {
    "sex_equation": "sex-equation",
    "age_years": "age",
    "length_upper_arm_cm": "lengths",
    "length_thigh_cm": "lengths",
}


@pytest.mark.parametrize(("changes", "names"), ASKED)
def test_next_step_asks_for_what_the_sheet_asks_for(
    changes: dict[str, object], names: tuple[str, ...]
) -> None:
    source = sheet_of(settings_with(**changes)).source

    def step(entries: dict[str, Value]) -> str:
        results = recalculate(source.protocol, source.settings, entries)
        return next_step(source.protocol, source.settings, entries, results)

    sites = [site.word for site in source.protocol.sites]
    entries: dict[str, Value] = {
        "cautions_confirmed": "yes",
        "caliper_id": "C1",
        "zero_mm": 0,
        **{name: WOMAN[name] for name in names},
        **{f"reading_{number}_{site}": 12 for number in (1, 2) for site in sites},
    }
    own: dict[str, Value] = {name: 1.5 for name, _ in own_steps(source.protocol)}
    assert step(entries) == "working"
    assert step({**entries, **own}) == "done"
    for name in names:
        assert step(without({**entries, **own}, name)) == STEP_OF[name]
