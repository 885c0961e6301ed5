from collections.abc import Iterator, Sequence

import pytest
from msgspec.structs import replace

from sheetgen.marking.carry_forward import Ground, Step, steps_of
from sheetgen.marking.scheme import SlipFit
from sheetgen.marking.slips import FAMILIES, SLIPS, Line, explained, not_contradicted, swapped
from sheetgen.protocols.names import OWN_DECIMALS, step_group
from sheetgen.protocols.recalculation import recalculate
from sheetgen.workbook.layout import Value
from tests.marking.marking_given import PROTOCOL, RIGHT
from tests.returned.given import MAN, SITES
from tests.sheets import SETTINGS, settings_with, sheet_of

CLOSEST = settings_with(site_rule="closest-pair")
PLAIN = sheet_of(CLOSEST).source.protocol
SUM = (21.5, 22.0, 18.0, 28.0, 34.0, 30.0, 24.5)
DETAILS = {
    "site-left-out": SITES,
    "site-twice": SITES,
    "age-misread": ("43",),
    "other-conversion": ("brozek",),
    "reading-swapped": ("13", "30.1") * 2,
}
"""What a slip says besides its name; the others say nothing."""


def values_in(
    ground: Ground, slip: str, step: Step, above: Sequence[float]
) -> Iterator[tuple[float | None, str]]:
    known = next(one for one in SLIPS if one.word == slip and step.group in one.groups)
    return known.values(Line(ground, step, step.yours or 0.0, above))


# slip, line, lines above, values worked out by hand; zero 3 mm, seven sites, 178 mm, 34 years, 80.5 kg
@pytest.mark.parametrize(
    ("slip", "line", "above", "values"),
    [
        ("zero-left-in", "site_triceps", (), [21.0]),
        ("zero-twice", "site_triceps", (), [15.0]),
        ("zero-wrong-sign", "site_triceps", (), [24.0]),
        ("zero-left-in", "sum_mm", SUM, [199.0]),
        ("zero-twice", "sum_mm", SUM, [157.0]),
        ("zero-wrong-sign", "sum_mm", SUM, [220.0]),
        ("zero-once-from-sum", "sum_mm", SUM, [196.0, 175.0]),
        # chest: 19 22 21
        ("third-left-out", "site_chest", (), [20.5]),
        ("mean-of-three", "site_chest", (), [20.6667]),
        ("third-left-out", "site_midaxillary", (), []),
        ("mean-of-three", "site_midaxillary", (), []),
        ("site-left-out", "sum_mm", SUM, [178 - value for value in SUM]),
        ("site-twice", "sum_mm", SUM, [178 + value for value in SUM]),
        ("age-misread", "density_g_ml", (178,), [1.0422 - 9 * 0.00028826]),
        ("age-left-out", "density_g_ml", (178,), [1.0422 + 34 * 0.00028826]),
        ("natural-log", "density_g_ml", (178,), []),
        ("square-dropped", "density_g_ml", (178,), [1.0422 - 0.00000055 * (178**2 - 178)]),
        ("square-sign", "density_g_ml", (178,), [1.0422 - 0.0000011 * 178**2]),
        ("density-rounded-2", "density_g_ml", (178,), [1.04]),
        ("density-rounded-3", "density_g_ml", (178,), [1.042]),
        ("density-rounded-2", "fat_percent", (1.0422,), [25.9615]),
        ("density-multiplied", "fat_percent", (1.0422,), [65.889]),
        ("other-conversion", "fat_percent", (1.0422,), [24.2955]),
        ("decimal-slip", "fat_percent", (0.0,), [None] * 3),
        # the class takes the closest pair
        ("middle-of-three", "site_chest", (), [21.0]),
        ("closest-pair", "site_chest", (), []),
        ("round-1-only", "site_chest", (), [19.0]),
        # 19 + 22, 22 + 25 - 3; with the third 62 and 71 - 3
        ("rounds-added", "site_chest", (), [41.0, 44.0, 62.0, 68.0]),
        # 31 and 31 less 3: 13 for 31 gives 10 and 28, 30.1 gives 27.1 and 28
        ("reading-swapped", "site_subscapular", (), [19.0, 27.55, 19.0, 27.55]),
        ("truncated", "site_chest", (), [21.0]),
        ("truncated", "density_g_ml", (178.0,), [1.0421]),
        ("truncated", "density_g_ml", (178.5,), [1.042]),
        # 1.05208; a density is never written as 1.0
        ("truncated", "density_g_ml", (140.0,), [1.052]),
        ("rounded-early", "site_chest", (), [22.0, 21.5]),
        ("rounded-early", "fat_percent", (1.0422,), [25.0]),
    ],
)
def test_values(slip: str, line: str, above: tuple[float, ...], values: list[float]) -> None:
    results = recalculate(PLAIN, CLOSEST, MAN)
    ground, _ = steps_of(PLAIN, CLOSEST, MAN, results)
    found = list(values_in(ground, slip, Step(line, step_group(line), "asked"), above))
    assert [value for value, _ in found] == [
        None if value is None else pytest.approx(value, abs=5e-5) for value in values
    ]
    assert tuple(detail for _, detail in found) == DETAILS.get(slip, ("",) * len(values))


def test_values_of_what_was_rounded_before_it_was_worked_on() -> None:
    """Of the sum: 21.5 and 24.5 count as 22 and 25."""
    *_, above = (one for one in SLIPS if one.word == "rounded-early")
    assert list(above.values(Line(ground_of(), Step("sum_mm", "sum", "asked"), 0.0, SUM))) == [
        (179.0, ""), (178.0, ""),
    ]  # fmt: skip
    site = replace(ground_of().sites["site_triceps"], taken=((18.4, 3.0), (21.4, 3.0), (22.9, 3.0)))
    ground = ground_of(sites={"site_triceps": site})
    # 15.4, 18.4 and 19.9 to 15, 18 and 20: the closest are 18 and 20
    assert list(above.values(Line(ground, Step("site_triceps", "sites", "asked"), 0.0, ()))) == [(19.0, "")]


# line, lines above, what is typed, slip, values; right are 21.5 mm, 20 cm, 25 % of 80.5 kg
SCALED: tuple[tuple[str, tuple[float, ...], float, str, list[float | None]], ...] = (
    ("fat_mass_kg", (25.0,), 44.4, "pounds", [44.4]),
    ("fat_mass_kg", (25.0,), 20.0, "pounds", [20.075 * 2.2046226218]),
    ("fat_mass_kg", (25.0,), 99.0, "pounds", [20.175 * 2.2046226218]),
    ("fat_free_mass_kg", (20.1,), 133.2, "pounds", [133.2, 177.4721 - 20.1]),
    ("midpoint_upper_arm_cm", (), 7.87, "inches", [7.87, 19.95 * 2.54]),
    ("site_chest", (), 0.0, "inches", [21.495 / 25.4]),
    ("sum_mm", SUM, 99.0, "inches", [178.005 / 25.4]),
    ("site_chest", (), 99.0, "centimetres", [2.1505]),
    ("sum_mm", SUM, 0.0, "decimal-slip", [1779.95, 17.7995, 17799.5, 1.77995]),
    ("fat_percent", (1.0422,), 9999.0, "decimal-slip", [250.0682, 2.5007, 2500.6822]),
    # a fraction is a hundred times what was typed: 25.0068 %
    ("fat_percent", (1.0422,), 25.4, "percent-as-fraction", [25.4]),
    ("fat_percent", (1.0422,), 24.6, "percent-as-fraction", [24.6]),
    ("fat_percent", (1.0422,), 24.4, "percent-as-fraction", [None]),
    ("fat_percent", (1.0422,), 25.6, "percent-as-fraction", [None]),
    ("midpoint_upper_arm_cm", (), 40.0, "length-not-halved", [40.0]),
    ("site_chest", (), 12.5, "digits-swapped", [12.5, 25.1, 21.05] * 2),
    ("fat_free_mass_kg", (20.1,), 6.4, "digits-swapped", [6.4, 64.0, 6.4, 64.0, 60.04]),
)


@pytest.mark.parametrize(("line", "above", "typed", "slip", "values"), SCALED)
def test_values_of_a_line_with_something_typed(
    line: str, above: tuple[float, ...], typed: float, slip: str, values: list[float | None]
) -> None:
    """A factor may stand before or after the rounding: what comes nearest to the line is taken."""
    step = Step(line, step_group(line), "asked", typed, as_fraction=slip == "percent-as-fraction")
    assert list(values_in(ground_of(), slip, step, above)) == [
        (None if value is None else pytest.approx(value, abs=5e-5), "") for value in values
    ]


def ground_of(**changes: object) -> Ground:
    """What the lines of the man's sheet are worked out from, with something of it changed."""
    ground, _ = steps_of(
        PLAIN,
        CLOSEST,
        MAN,
        recalculate(PLAIN, CLOSEST, MAN),
    )
    return replace(ground, **changes)  # type: ignore[arg-type]


def values_of(slip: str, line: str, above: float, **changes: object) -> list[tuple[float | None, str]]:
    """Values to six places, with details."""
    found = values_in(ground_of(**changes), slip, Step(line, step_group(line), "asked"), (above,))
    return [(None if value is None else round(value, 6), detail) for value, detail in found]


def test_a_reading_with_a_decimal_is_swapped_in_the_digits_that_stand_there() -> None:
    """12.5 and 21, less 3 mm: 21.5 or 15.2 for 12.5; 12 or 20.1 for 21. Nobody reads 12.05."""
    site = replace(ground_of().sites["site_triceps"], taken=((12.5, 3.0), (21.0, 3.0)))
    found = values_of("reading-swapped", "site_triceps", 0.0, sites={"site_triceps": site})
    assert [detail for _, detail in found] == ["21.5", "15.2", "12", "20.1"]


def test_values_by_the_equation_of_the_other_sex() -> None:
    """1.097 - 0.00046971 x 178 + 0.00000056 x 178^2 - 0.00012828 x 34; it holds from 18 to 55 years."""
    women = (1.026773, "women-seven-sites")
    assert values_of("other-sex", "density_g_ml", 178.0) == [women]
    for age, found in ((17.9, 0), (18.0, 1), (55.0, 1), (55.1, 0), (None, 0)):
        assert len(values_of("other-sex", "density_g_ml", 178.0, age=age)) == found
    assert values_of("other-sex", "fat_percent", 1.0422) == []
    assert values_of("other-sex", "density_g_ml", 178.0, equation=None) == []


def test_values_by_an_equation_that_gives_per_cent_at_once() -> None:
    """Of two lines for boys and girls; density is no line there, and rounds nothing."""
    boys = replace(PLAIN.equations[0], identifier="boys", form="linear-percent",
                   coefficients=(("constant", 1.0), ("sum_linear", 0.735)), age_minimum=8.0)  # fmt: skip
    girls = replace(boys, identifier="girls", sex="female",
                    coefficients=(("constant", 5.1), ("sum_linear", 0.61)))  # fmt: skip
    youth = {
        "protocol": replace(PLAIN, equations=(boys, girls)),
        "equation": boys,
        "conversion": None,
    }
    assert values_of("other-sex", "fat_percent", 30.0, **youth) == [(23.4, "girls")]
    for word in ("density-rounded-2", "density-rounded-3", "other-conversion", "density-multiplied"):
        assert values_of(word, "fat_percent", 30.0, **youth) == []


def test_values_by_equations_of_other_ages() -> None:
    """1.1631 - 0.0632 lg 50 and 1.1422 - 0.0544 lg 50, then the natural logarithm of 50."""
    younger = replace(PLAIN.equations[0], identifier="younger", form="log10",
                      coefficients=(("constant", 1.1631), ("sum_log10", -0.0632)))  # fmt: skip
    older = replace(younger, identifier="older",
                    coefficients=(("constant", 1.1422), ("sum_log10", -0.0544)))  # fmt: skip
    women = replace(older, identifier="women", sex="female")
    bands = {
        "protocol": replace(PLAIN, equations=(younger, older, women)),
        "equation": younger,
    }
    assert values_of("other-age-band", "density_g_ml", 50.0, **bands) == [(1.049776, "older")]
    assert values_of("natural-log", "density_g_ml", 50.0, **bands) == [(0.91586, "")]
    assert values_of("natural-log", "density_g_ml", 0.0, **bands) == []
    for word in ("age-misread", "age-left-out", "square-dropped", "square-sign"):
        assert values_of(word, "density_g_ml", 50.0, **bands) == []


def test_values_without_an_age() -> None:
    assert values_of("age-misread", "density_g_ml", 178.0, age=None) == []
    assert values_of("square-dropped", "density_g_ml", 178.0, age=None) == []
    assert values_of("square-sign", "density_g_ml", 178.0, age=None) == []


def test_values_without_an_equation() -> None:
    none = {"equation": None, "conversion": None}
    for word in (
        "age-misread", "age-left-out", "natural-log", "square-dropped", "square-sign", "density-rounded-2",
        "other-age-band",
    ):  # fmt: skip
        assert values_of(word, "density_g_ml", 178.0, **none) == []
    for word in ("density-rounded-2", "density-multiplied", "other-conversion"):
        assert values_of(word, "fat_percent", 1.0422, **none) == []


def test_a_density_that_is_the_same_to_two_and_three_places_was_rounded_to_three() -> None:
    """At 186.4 mm it is 1.04033, so 1.04 to three places as well: the lesser slip is what it is called."""
    assert values_of("density-rounded-3", "density_g_ml", 186.4) == [(1.04, "")]
    assert values_of("density-rounded-2", "density_g_ml", 186.4) == []


# number, decimals, what it may become
@pytest.mark.parametrize(
    ("value", "decimals", "changed"),
    [
        (12.5, 1, (21.5, 15.2)),
        (-12.5, 1, (-21.5, -15.2)),
        (11.0, 1, (10.1,)),
        (34, 0, (43.0,)),
        (1.0422, 4, (0.1422, 1.4022, 1.0242)),
    ],
)
def test_swapped(value: float, decimals: int, changed: tuple[float, ...]) -> None:
    assert swapped(value, decimals) == changed


def test_the_library_is_complete() -> None:
    for one in SLIPS:
        assert one.groups
        assert set(one.groups) <= set(OWN_DECIMALS)
        assert one.match in ("band", "each", "exact")


def test_slips_of_the_zero_are_one_family() -> None:
    assert {word for word, family in FAMILIES.items() if family == "zero"} == {
        "zero-left-in", "zero-twice", "zero-wrong-sign", "zero-once-from-sum",
    }  # fmt: skip


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
