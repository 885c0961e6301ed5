import pytest

from sheetgen.marking.carry_forward import steps_of
from sheetgen.marking.explanations import explained, not_contradicted
from sheetgen.marking.scheme import SlipFit
from sheetgen.protocols.recalculation import recalculate
from sheetgen.workbook.layout import Value
from tests.marking.marking_given import PROTOCOL, RIGHT
from tests.sheets import SETTINGS


def explanation(changes: dict[str, Value], line: str) -> tuple[tuple[SlipFit, ...], bool]:
    entries = {**RIGHT, **changes}
    results = recalculate(PROTOCOL, SETTINGS, entries)
    ground, steps = steps_of(PROTOCOL, SETTINGS, entries, results)
    return explained(ground, next(step for step in steps if step.step == line))


def test_one_slip_that_fits_is_named_with_its_detail() -> None:
    # 118.5 mm without the thigh of 25.25 mm
    assert explanation({"own_sum_mm": 93.25}, "sum_mm") == ((SlipFit("site-left-out", "thigh"),), False)


def test_two_slips_that_fit_equally_are_both_named() -> None:
    fits, _ = explanation({"own_site_chest": 1.1}, "site_chest")
    assert [fit.word for fit in fits] == ["centimetres", "decimal-slip"]
    # Zero of -0.5 mm, seven sites: 3.5 mm less. One site of 3.5 mm left out looks the same.
    small = {"reading_1_chest": 3.0, "reading_2_chest": 3.0, "own_site_chest": 3.5, "own_sum_mm": 107.5}
    fits, _ = explanation(small, "sum_mm")
    assert set(fits) == {SlipFit("zero-left-in"), SlipFit("site-left-out", "chest")}


def test_a_slip_that_fits_exactly_comes_before_one_that_fits_by_rounding() -> None:
    # The zero left in gives 115.00; a site of 3.54 mm left out would give 114.96 by its rounding.
    small = {"reading_1_chest": 3.04, "reading_2_chest": 3.04, "own_site_chest": 3.54, "own_sum_mm": 107.54}
    assert explanation(small, "sum_mm")[0] == (SlipFit("zero-left-in"),)


def test_a_mistake_of_no_known_kind_is_not_explained() -> None:
    assert explanation({"own_sum_mm": 127.0}, "sum_mm") == ((), False)


def test_a_zero_within_the_rounding_cannot_be_told() -> None:
    """The zero of 0.01 mm left in at a site gives 11.52 mm for 11.51; written is 11.524."""
    small = {"zero_mm": 0.01, "reading_1_chest": 11.52, "reading_2_chest": 11.52, "own_site_chest": 11.524}
    assert explanation(small, "site_chest") == ((), True)


# own density, what is said of it: the density itself is 1.046124
DENSITIES = (
    (1.046, (SlipFit("density-rounded-3"),)),
    (1.05, (SlipFit("density-rounded-2"),)),
    (1.0433, ()),
    (1.4061, (SlipFit("digits-swapped"),)),
    (1.0416, (SlipFit("digits-swapped"),)),
    (1.0492, (SlipFit("age-left-out"),)),
)


@pytest.mark.parametrize(("typed", "fits"), DENSITIES)
def test_density_by_a_slip(typed: float, fits: tuple[SlipFit, ...]) -> None:
    assert explanation({"own_density_g_ml": typed}, "density_g_ml") == (fits, False)


def test_a_line_with_nothing_typed_is_explained_by_no_slip() -> None:
    assert explanation({"own_sum_mm": None}, "sum_mm") == ((), False)


def test_what_the_scheme_allows_widens_a_slip() -> None:
    """93.25 mm without the thigh; 93.5 mm is within half a millimetre of it."""
    entries = {**RIGHT, "own_sum_mm": 93.5}
    results = recalculate(PROTOCOL, SETTINGS, entries)
    ground, steps = steps_of(PROTOCOL, SETTINGS, entries, results)
    step = next(step for step in steps if step.step == "sum_mm")
    assert explained(ground, step) == ((), False)
    assert explained(ground, step, 0.5) == ((SlipFit("site-left-out", "thigh"),), False)


def standing(changes: dict[str, Value], group: str = "sites") -> dict[str, set[str]]:
    """Line to the slips that the others leave standing, of the lines that are changed to a number."""
    entries = {**RIGHT, **changes}
    ground, steps = steps_of(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))
    lines = [step for step in steps if step.group == group]
    fits = {step.step: explained(ground, step)[0] for step in lines if f"own_{step.step}" in changes}
    found = not_contradicted(ground, lines, {name: slips for name, slips in fits.items() if slips})
    return {name: {fit.word for fit in slips} for name, slips in found.items()}


def test_a_way_of_working_that_the_other_lines_contradict_is_not_named() -> None:
    """Thigh 25.75 for 25.25 mm: what the zero of -0.5 mm deducted twice gives, at one site of seven."""
    entries = {**RIGHT, "own_site_thigh": 25.75}
    ground, steps = steps_of(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))
    thigh = next(step for step in steps if step.step == "site_thigh")
    assert [fit.word for fit in explained(ground, thigh)[0]] == ["zero-twice"]
    assert standing({"own_site_thigh": 25.75}) == {"site_thigh": set()}


def test_a_way_of_working_needs_more_lines_that_show_it_than_lines_that_do_not() -> None:
    """Four of seven, then three; lines left empty say nothing."""
    twice = {
        "own_site_thigh": 25.75, "own_site_triceps": 18.0, "own_site_abdominal": 24.0, "own_site_chest": 11.5,
    }  # fmt: skip
    assert standing(twice)["site_thigh"] == {"zero-twice"}
    del twice["own_site_chest"]
    assert standing(twice)["site_thigh"] == set()
    empty = {"own_site_chest": None, "own_site_subscapular": None}
    assert standing({**twice, **empty})["site_thigh"] == {"zero-twice"}


def test_of_several_slips_the_one_that_explains_the_most_lines_stays() -> None:
    """Round 1 alone: at the chest, 10.5 mm, the zero left in would give the same."""
    round_1 = {
        "own_site_chest": 10.5, "own_site_midaxillary": 12.5, "own_site_triceps": 16.0,
        "own_site_abdominal": 20.5, "own_site_suprailiac": 14.5, "own_site_thigh": 24.5,
    }  # fmt: skip
    assert standing(round_1) == {name.removeprefix("own_"): {"round-1-only"} for name in round_1}


def test_a_slip_of_the_hand_needs_no_other_line() -> None:
    assert standing({"own_site_thigh": 52.25}) == {"site_thigh": {"digits-swapped"}}


def test_a_slip_that_cannot_be_told_is_named_beside_one_that_can() -> None:
    """21.4 % by 1.05, the density to two places; 21.44 % by a density of 1.04999 could be no slip at all."""
    entries = {"own_density_g_ml": 1.0499, "own_fat_percent": 21.4}
    fits, cannot_tell = explanation(entries, "fat_percent")
    # 495 / 1.0499 - 450 = 21.473, cut off
    assert {fit.word for fit in fits} == {"truncated", "density-rounded-2", "density-rounded-3"}
    assert not cannot_tell
