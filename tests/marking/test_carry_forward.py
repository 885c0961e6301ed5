import pytest
from msgspec.structs import replace

from sheetgen.marking.carry_forward import (
    Step,
    corners,
    steps_of,
    typed_number,
    widened,
    within,
    worked,
)
from sheetgen.protocols.names import OWN_DECIMALS, step_group
from sheetgen.protocols.recalculation import recalculate
from sheetgen.texts.languages import load_texts
from sheetgen.workbook.layout import Value
from tests.marking.marking_given import PROTOCOL, RIGHT
from tests.returned.given import without
from tests.sheets import SETTINGS, settings_with


def steps(entries: dict[str, Value]) -> dict[str, Step]:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    return {step.step: step for step in steps_of(PROTOCOL, SETTINGS, entries, results)[1]}


def test_every_line_of_a_right_sheet_is_expected_where_it_is() -> None:
    for step in steps(RIGHT).values():
        assert step.yours is not None
        assert step.from_line_above is not None
        assert within(step.yours, widened(step.expected[0], step.half_unit))


def test_a_line_written_carries_half_a_unit_of_its_last_decimal() -> None:
    assert steps(RIGHT)["density_g_ml"].inputs[0] == (pytest.approx((118.495, 118.505)),)


def test_a_line_left_empty_carries_the_chain_behind_it() -> None:
    density = steps(without(RIGHT, "own_sum_mm"))["density_g_ml"]
    assert density.from_line_above is None
    # seven sites rounded, and the sum itself
    assert density.inputs[0] == (pytest.approx((118.46, 118.54)),)


def test_a_line_above_that_leads_to_nothing_counts_as_empty() -> None:
    density = steps({**RIGHT, "own_sum_mm": -5})["density_g_ml"]
    assert density.from_line_above is None
    assert len(density.expected) == 2


# what is missing, line, basis
@pytest.mark.parametrize(
    ("changes", "line", "basis"),
    [
        ({"own_site_chest": None}, "site_chest", "asked"),
        ({"reading_1_chest": None}, "site_chest", "no-ground"),
        # from the seven site values that were typed
        ({"reading_1_chest": None}, "sum_mm", "asked"),
        ({"reading_1_chest": None, "own_site_chest": None}, "sum_mm", "no-ground"),
        ({"reading_1_chest": None, "own_site_chest": None}, "density_g_ml", "asked"),
        ({"reading_1_chest": None, "own_site_chest": None, "own_sum_mm": None}, "density_g_ml", "no-ground"),
        ({"reading_1_chest": None, "age_years": 70}, "density_g_ml", "exempt"),
        ({"zero_mm": None}, "site_chest", "no-zero"),
        ({"zero_mm": None, "reading_1_chest": None}, "site_chest", "no-ground"),
        ({"zero_mm": None}, "sum_mm", "asked"),
        ({"zero_mm": None, "own_site_chest": None}, "sum_mm", "no-ground"),
        ({"not_taken_chest": "skin"}, "site_chest", "exempt"),
        ({"not_taken_chest": "skin"}, "sum_mm", "exempt"),
        ({"not_taken_chest": "skin"}, "fat_mass_kg", "exempt"),
        ({"sex_equation": "sum-only"}, "density_g_ml", "exempt"),
        ({"sex_equation": "sum-only", "reading_1_chest": None}, "density_g_ml", "exempt"),
        ({"sex_equation": None}, "density_g_ml", "kept-back"),
        ({"age_years": 70}, "density_g_ml", "exempt"),
        ({"age_years": None}, "density_g_ml", "kept-back"),
        ({"age_years": None}, "fat_percent", "asked"),
        ({"age_years": None, "own_fat_percent": None}, "fat_percent", "kept-back"),
        ({"age_years": None, "own_density_g_ml": None}, "fat_percent", "kept-back"),
        ({"age_years": None, "own_density_g_ml": None}, "fat_mass_kg", "asked"),
        ({"mass_kg": None}, "fat_mass_kg", "exempt"),
        ({"mass_kg": None}, "fat_percent", "asked"),
        # what a line is not asked for goes before what only the participant can give
        ({"mass_kg": None, "age_years": None}, "fat_mass_kg", "exempt"),
        ({"mass_kg": None, "age_years": None}, "fat_free_mass_kg", "exempt"),
        ({"length_thigh_cm": None}, "midpoint_thigh_cm", "no-ground"),
    ],
)
def test_basis(changes: dict[str, Value], line: str, basis: str) -> None:
    assert steps({**RIGHT, **changes})[line].basis == basis


def test_per_cent_straight_from_the_sum_where_this_equation_gives_no_density() -> None:
    """A protocol of a teacher's own, whose equation for women is 5 + 0.1 S: 16.85 % of 118.5 mm. Density is a
    line of its sheet for men alone."""
    direct = replace(PROTOCOL.equations[0], identifier="women-direct", sex="female", form="linear-percent",
                     coefficients=(("constant", 5.0), ("sum_linear", 0.1)))  # fmt: skip
    men = next(one for one in PROTOCOL.equations if one.sex == "male")
    protocol = replace(PROTOCOL, equations=(direct, men))
    entries = without(RIGHT, "own_density_g_ml")
    results = recalculate(protocol, SETTINGS, entries)
    found = {step.step: step for step in steps_of(protocol, SETTINGS, entries, results)[1]}
    assert found["density_g_ml"].basis == "exempt"
    assert found["fat_percent"].basis == "asked"
    assert found["fat_percent"].from_line_above == pytest.approx(16.85)


def test_zero_of_a_site_is_that_of_the_calipers_behind_it() -> None:
    """Rounds 1 and 2 with -0.5 mm and round 3 with 1 mm: where 2 and 3 lie closest, 0.25 mm on average."""
    entries: dict[str, Value] = {
        **RIGHT, "caliper_id_2": "C2", "zero_2_mm": 1.0, "changed_from_round": "3",
        "changed_from_site": "chest", "reading_1_triceps": 12, "reading_2_triceps": 18,
        "reading_3_triceps": 19.5,
    }  # fmt: skip
    closest = settings_with(site_rule="closest-pair")
    ground, _ = steps_of(PROTOCOL, closest, entries, recalculate(PROTOCOL, closest, entries))
    # corrected: 12.5, 18.5 and 18.5
    assert (ground.sites["site_triceps"].value, ground.sites["site_triceps"].zero) == (18.5, 0.25)
    assert ground.sites["site_chest"].zero == -0.5


def test_a_caliper_that_closes_at_nothing_has_a_zero_of_nothing() -> None:
    entries: dict[str, Value] = {**RIGHT, "zero_mm": 0}
    ground, _ = steps_of(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))
    assert (ground.zero, ground.sites["site_chest"].zero) == (0.0, 0.0)


def test_worked_by_the_line_above() -> None:
    ground, _ = steps_of(PROTOCOL, SETTINGS, RIGHT, recalculate(PROTOCOL, SETTINGS, RIGHT))
    assert worked(ground, "midpoint_thigh_cm", ()) == 22.75
    assert worked(ground, "site_chest", ()) == 11.0
    assert worked(ground, "sum_mm", (10, 20.5)) == 30.5
    assert worked(ground, "fat_percent", (1.1,)) == pytest.approx(0, abs=1e-9)
    assert worked(ground, "fat_mass_kg", (25,)) == 15.0
    assert worked(ground, "fat_free_mass_kg", (15,)) == 45.0


def test_what_leads_to_no_value() -> None:
    ground, _ = steps_of(PROTOCOL, SETTINGS, RIGHT, recalculate(PROTOCOL, SETTINGS, RIGHT))
    for line in ("density_g_ml", "fat_percent"):
        assert worked(ground, line, (1.05,)) is not None
        assert worked(ground, line, (0,)) is None
    bare = replace(ground, equation=None, sites={}, midpoints={})
    for line in ("density_g_ml", "site_chest", "midpoint_thigh_cm"):
        assert worked(bare, line, (1.05,)) is None
    # 495 / 1.05 - 450: a density that was typed leads on
    assert worked(bare, "fat_percent", (1.05,)) == pytest.approx(21.428571)
    for age in (None, -1):
        assert worked(replace(ground, age=age), "density_g_ml", (100,)) is None
    assert worked(replace(ground, conversion=None), "fat_percent", (1.05,)) is None
    assert worked(replace(ground, mass=None), "fat_mass_kg", (25,)) is None


def test_per_cent_below_one_is_a_hundredth_of_what_is_meant() -> None:
    """0.232 is 23.2 %; the line below may go on from either."""
    line = steps({**RIGHT, "own_fat_percent": 0.232})["fat_percent"]
    assert (line.as_fraction, line.yours) == (True, pytest.approx(23.2))
    assert line.carried[:2] == (pytest.approx((23.15, 23.25)), pytest.approx((0.2315, 0.2325)))
    assert not steps(RIGHT)["fat_percent"].as_fraction


def test_intervals() -> None:
    assert widened((1, 2), 0.5) == (0.5, 2.5)
    assert within(0.3, (0.1, 0.1 + 0.2))
    assert within(0.1 + 0.2, (0.1, 0.3))
    assert not within(0.301, (0.1, 0.3))
    assert corners(((1, 3), (10, 20))) == ((1, 10), (2, 15), (3, 20))


# what stands in the entry, number
@pytest.mark.parametrize(
    ("value", "number"), [(1.04219, 1.04219), (3, 3.0), ("3", None), (None, None), (1e7, None)]
)
def test_typed_number(value: Value, number: float | None) -> None:
    assert typed_number({"own_density_g_ml": value}, "own_density_g_ml") == number


def test_decimals_are_those_the_sheet_asks_for() -> None:
    texts = load_texts("en")
    words = {"midpoints": "hint.own_midpoint_thigh_cm", "sites": "working.site_unit"}
    for name, step in steps(RIGHT).items():
        group = step_group(name)
        asked = texts[words.get(group, f"working.{name}")]
        assert f", {OWN_DECIMALS[group]} decimal" in asked
        assert step.half_unit == pytest.approx(0.5 / 10 ** OWN_DECIMALS[group])
