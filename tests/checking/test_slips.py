import pytest

from sheetgen.checking.carry_forward import steps_of
from sheetgen.checking.recalculate import recalculate
from sheetgen.checking.slips import SLIPS, explained, slip
from sheetgen.layout.vocabulary import OWN_DECIMALS
from sheetgen.model.layout import Value
from sheetgen.model.marking import SlipFit
from tests.checking.marking_given import PROTOCOL, RIGHT
from tests.sheets import SETTINGS


def explanation(changes: dict[str, Value], line: str) -> tuple[tuple[SlipFit, ...], bool]:
    entries = {**RIGHT, **changes}
    results = recalculate(PROTOCOL, SETTINGS, entries)
    ground, steps = steps_of(PROTOCOL, PROTOCOL.conversion("siri"), entries, results)
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


def test_the_library_is_complete() -> None:
    for one in SLIPS:
        assert one.groups
        assert set(one.groups) <= set(OWN_DECIMALS)
        assert one.match in ("band", "each", "exact")


def test_slip_by_word_and_group() -> None:
    assert slip("density-rounded-2", "fat-percent").match == "each"
    with pytest.raises(KeyError):
        slip("density-rounded-2", "sum")


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
    ground, steps = steps_of(PROTOCOL, PROTOCOL.conversion("siri"), entries, results)
    step = next(step for step in steps if step.step == "sum_mm")
    assert explained(ground, step) == ((), False)
    assert explained(ground, step, 0.5) == ((SlipFit("site-left-out", "thigh"),), False)
