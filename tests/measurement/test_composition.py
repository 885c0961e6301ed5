import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.measurement.composition import (
    density_log10,
    density_quadratic,
    fat_free_mass,
    fat_mass,
    fat_percent,
    percent_linear,
    sum_of_sites,
)
from tests.reference_values import rows

NAMES = ("constant", "sum_linear", "sum_squared", "age")
EQUATIONS = {
    row["equation"]: {name: float(row[name]) for name in NAMES}
    for row in rows("equations")
    if row["form"] == "quadratic"
}
BANDS = {
    row["equation"]: {name: float(row[name]) for name in ("constant", "sum_log10")}
    for row in rows("equations")
    if row["form"] == "log10"
}
PAIRS = {row["conversion"]: (float(row["numerator"]), float(row["offset"])) for row in rows("conversions")}
EXAMPLE = {row["step"]: row["value"] for row in rows("worked_example")}
SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")

equations = st.sampled_from(sorted(EQUATIONS))


def density(equation: str, sum_mm: float, age_years: float) -> float:
    return density_quadratic(sum_mm, age_years, **EQUATIONS[equation])


def percent(conversion: str, density_g_ml: float) -> float:
    numerator, offset = PAIRS[conversion]
    return fat_percent(density_g_ml, numerator=numerator, offset=offset)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([12500], 12500),
        ([12500, 14500, 5], 27005),
        ([12500, None], None),
        ([None, 12500], None),
        ([None], None),
    ],
)
def test_sum_of_sites_present_and_missing(values: list[int | None], expected: int | None) -> None:
    assert sum_of_sites(values) == expected


def test_sum_of_no_sites_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one site"):
        sum_of_sites([])


@given(st.lists(st.none() | st.integers(1, 90_000), min_size=1, max_size=9))
def test_sum_is_none_exactly_where_a_site_is_missing(values: list[int | None]) -> None:
    assert (sum_of_sites(values) is None) is (None in values)


def test_worked_example_gives_the_printed_steps() -> None:
    """A printed course example; its age step takes a misprint, which is set in here as printed."""
    total = sum_of_sites([int(EXAMPLE[site]) * 1000 for site in SITES])
    assert total == 178_000
    sum_mm, age_years = total / 1000, float(EXAMPLE["age_years"])
    only = dict.fromkeys(NAMES, 0.0)
    men = EQUATIONS["men-seven-sites"]

    def term(name: str, value: float) -> float:
        return abs(density_quadratic(sum_mm, age_years, **{**only, name: value}))

    assert round(term("sum_linear", men["sum_linear"]), 8) == float(EXAMPLE["linear_term"])
    assert round(term("sum_squared", men["sum_squared"]), 7) == float(EXAMPLE["squared_term"])
    assert round(term("age", -0.0002882), 7) == float(EXAMPLE["age_term_with_misprint"])
    assert round(term("age", men["age"]), 8) == float(EXAMPLE["age_term"])


def test_worked_example_gives_the_printed_density_and_per_cent() -> None:
    result = density("men-seven-sites", 178, 34)
    assert round(result, 4) == float(EXAMPLE["density_g_ml"]) == 1.0422
    assert round(result, 6) == float(EXAMPLE["density_g_ml_six_places"]) == 1.042197
    assert round(percent("siri", result), 2) == float(EXAMPLE["fat_percent_unrounded"]) == 24.96
    assert round(percent("siri", round(result, 2))) == float(EXAMPLE["fat_percent_from_two_places"]) == 26


@pytest.mark.parametrize(
    "wrong",
    [
        1.112 - 0.07742822 + 0.00000055 * 178 - 0.00980084,  # square left off the second term
        1.112 - 0.07742822 - 0.0174262 - 0.00980084,  # quadratic term inside the minus bracket
        1.112 - 0.07742822 + 0.0174262,  # age left out
    ],
)
def test_density_differs_from_circulating_mistakes(wrong: float) -> None:
    assert abs(density("men-seven-sites", 178, 34) - wrong) > 0.005


def test_density_of_printed_slips_follows_from_the_equation() -> None:
    for row in rows("printed_slips"):
        result = density(row["equation"], float(row["sum_mm"]), float(row["age_years"]))
        assert round(result, 5) == float(row["right_density"])
        assert abs(result - float(row["printed_density"])) > 0.004


@pytest.mark.parametrize("misprint", [1.0994291, 1.099421])
def test_density_of_a_misprinted_constant_is_told_apart(misprint: float) -> None:
    (row,) = (row for row in rows("printed_slips") if row["equation"] == "women-three-sites")
    coefficients = {**EQUATIONS["women-three-sites"], "constant": misprint}
    result = density_quadratic(float(row["sum_mm"]), float(row["age_years"]), **coefficients)
    assert round(result, 5) != float(row["right_density"])


@pytest.mark.parametrize(
    ("equation", "sum_mm", "age_years", "expected"),
    [
        # by hand from the published coefficients
        ("men-seven-sites", 100, 20, 1.112 - 0.043499 + 0.0055 - 0.0057652),
        ("women-seven-sites", 100, 20, 1.0970 - 0.046971 + 0.0056 - 0.0025656),
        ("men-three-sites", 100, 20, 1.10938 - 0.08267 + 0.016 - 0.005148),
        ("women-three-sites", 100, 20, 1.0994921 - 0.09929 + 0.023 - 0.002784),
        ("men-seven-sites", 100, 0, 1.112 - 0.043499 + 0.0055),
    ],
)
def test_density_term_by_term(equation: str, sum_mm: float, age_years: float, expected: float) -> None:
    assert density(equation, sum_mm, age_years) == pytest.approx(expected, abs=1e-12)


def test_density_turns_back_at_the_vertex() -> None:
    for row in rows("vertices"):
        vertex = float(row["sum_mm"])
        lowest = density(row["equation"], vertex, 20)
        assert density(row["equation"], vertex - 1, 20) > lowest
        assert density(row["equation"], vertex + 1, 20) > lowest


@given(equations, st.data(), st.integers(0, 100))
def test_density_falls_with_the_sum_below_the_vertex(equation: str, data: st.DataObject, age: int) -> None:
    vertex = int({row["equation"]: row["sum_mm"] for row in rows("vertices")}[equation])
    tenths = st.integers(1, (vertex - 2) * 10)
    thin, thick = sorted(data.draw(st.lists(tenths, min_size=2, max_size=2, unique=True)))
    assert density(equation, thin / 10, age) > density(equation, thick / 10, age)


@given(equations, st.integers(10, 200), st.integers(0, 99))
def test_density_falls_with_age(equation: str, sum_mm: int, age: int) -> None:
    assert density(equation, sum_mm, age) > density(equation, sum_mm, age + 1)


@pytest.mark.parametrize("sum_mm", [0, -1, float("nan")])
def test_density_refuses_a_sum_not_above_nought(sum_mm: float) -> None:
    with pytest.raises(ValueError, match="sum of folds must be above 0"):
        density("men-seven-sites", sum_mm, 20)


@pytest.mark.parametrize("age_years", [-1, float("nan"), float("inf")])
def test_density_refuses_a_negative_age(age_years: float) -> None:
    with pytest.raises(ValueError, match="age must be at least 0"):
        density("men-seven-sites", 100, age_years)


def column_percent(column: str, sum_mm: float) -> float:
    """Per cent fat under one printed column: the mean of two bands in the columns of the youngest."""
    sex, low, high = column.split("_")
    bands = [f"{sex}-{low}-19", f"{sex}-20-{high}"] if high == "29" else [f"{sex}-{low}-{high}"]
    densities = [density_log10(sum_mm, **BANDS[band]) for band in bands]
    return sum(percent("siri", one) for one in densities) / len(densities)


@pytest.mark.parametrize(
    ("sum_mm", "column", "printed"),
    [
        (float(row["sum_mm"]), column, float(row[column]))
        for row in rows("durnin_womersley_1974")
        for column in row
        if column not in ("sum_mm", "basis")
    ],
)
def test_log10_density_and_siri_give_the_printed_per_cent(sum_mm: float, column: str, printed: float) -> None:
    """Durnin & Womersley 1974; 20, 40 and 60 mm seen printed, the other sums from memory."""
    assert abs(column_percent(column, sum_mm) - printed) <= 0.3


@pytest.mark.parametrize("column", ["men_30_39", "women_50_68"])
def test_printed_per_cent_is_missed_with_the_natural_logarithm(column: str) -> None:
    """A mistake that circulates: the natural logarithm for the common one."""
    band = BANDS[column.replace("_", "-")]
    natural = band["constant"] + band["sum_log10"] * math.log(40)
    (row,) = (row for row in rows("durnin_womersley_1974") if row["sum_mm"] == "40")
    assert abs(percent("siri", natural) - float(row[column])) > 20


@pytest.mark.parametrize(
    ("band", "sum_mm", "expected"),
    [
        # by hand from the published coefficients: log10 of 10 and of 100 are whole
        ("men-17-19", 10, 1.1620 - 0.0630),
        ("men-50-72", 100, 1.1715 - 2 * 0.0779),
        ("women-16-19", 100, 1.1549 - 2 * 0.0678),
        ("women-40-49", 1, 1.1333),
    ],
)
def test_log10_density_by_hand(band: str, sum_mm: float, expected: float) -> None:
    assert density_log10(sum_mm, **BANDS[band]) == pytest.approx(expected, abs=1e-15)


@given(st.sampled_from(sorted(BANDS)), st.lists(st.integers(1, 4000), min_size=2, max_size=2, unique=True))
def test_log10_density_falls_with_the_sum(band: str, tenths: list[int]) -> None:
    thin, thick = sorted(tenths)
    assert density_log10(thin / 10, **BANDS[band]) > density_log10(thick / 10, **BANDS[band])


@pytest.mark.parametrize(
    ("equation", "sum_mm", "expected"),
    [
        # by hand from the published coefficients
        ("boys-two-sites", 20, 15.7),
        ("girls-two-sites", 20, 17.3),
        ("boys-two-sites", 33.5, 25.6225),
        ("girls-two-sites", 100, 66.1),
    ],
)
def test_percent_linear_by_hand(equation: str, sum_mm: float, expected: float) -> None:
    (row,) = (row for row in rows("equations") if row["equation"] == equation)
    coefficients = {name: float(row[name]) for name in ("constant", "sum_linear")}
    assert percent_linear(sum_mm, **coefficients) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("sum_mm", [0, -1, float("nan"), float("inf")])
def test_other_forms_refuse_a_sum_not_above_nought(sum_mm: float) -> None:
    with pytest.raises(ValueError, match="sum of folds must be above 0"):
        density_log10(sum_mm, constant=1.16, sum_log10=-0.06)
    with pytest.raises(ValueError, match="sum of folds must be above 0"):
        percent_linear(sum_mm, constant=1.0, sum_linear=0.7)


def test_fat_percent_with_age_constants_is_nought_at_the_printed_fat_free_density() -> None:
    """And all fat at 0.9007 g/ml, the density of fat behind every pair (from memory)."""
    for row in rows("age_constants"):
        numerator, offset = 100 * float(row["first"]), 100 * float(row["second"])
        assert round(numerator / offset, 3) == float(row["fat_free_density"])
        assert fat_percent(numerator / offset, numerator=numerator, offset=offset) == pytest.approx(
            0, abs=1e-9
        )
        assert fat_percent(0.9007, numerator=numerator, offset=offset) == pytest.approx(100, abs=0.1)


def test_fat_percent_is_equal_where_the_conversions_cross() -> None:
    (row,) = rows("crossing_point")
    crossing = (495 - 457) / (450 - 414.2)
    assert round(crossing, 5) == float(row["density_g_ml"])
    for conversion in ("siri", "brozek"):
        assert round(percent(conversion, crossing), 2) == float(row["fat_percent"])
    assert percent("siri", crossing) == pytest.approx(percent("brozek", crossing), abs=1e-12)


def test_fat_percent_is_nought_and_all_at_the_densities_behind_siri() -> None:
    (row,) = (row for row in rows("conversions") if row["conversion"] == "siri")
    assert percent("siri", float(row["fat_free_density"])) == pytest.approx(0, abs=1e-12)
    assert percent("siri", float(row["fat_density"])) == pytest.approx(100, abs=1e-12)


def test_fat_percent_is_negative_above_the_density_of_lean_mass() -> None:
    assert percent("siri", 1.11) == pytest.approx(-4.054054054054, abs=1e-9)


@pytest.mark.parametrize(("conversion", "apart"), [("siri", [71, 231]), ("brozek", [11, 71])])
def test_fat_percent_of_measured_densities(conversion: str, apart: list[int]) -> None:
    """26 men: all agree within the rounding of the stored values, but those whose own do not fit together."""
    numerator, _ = PAIRS[conversion]
    exceptions = []
    for row in rows("density_26_men"):
        stored, measured = float(row[conversion]), float(row["density"])
        if abs(stored - percent(conversion, measured)) > 0.05 + 0.00005 * numerator / measured**2:
            exceptions.append(int(row["case"]))
    assert exceptions == apart


two_densities = st.lists(st.integers(900, 1200), min_size=2, max_size=2, unique=True)


@given(st.sampled_from(("siri", "brozek")), two_densities)
def test_fat_percent_falls_with_density(conversion: str, thousandths: list[int]) -> None:
    low, high = sorted(thousandths)
    assert percent(conversion, low / 1000) > percent(conversion, high / 1000)


@pytest.mark.parametrize("bad", [0, -1.05, float("nan"), float("inf")])
def test_fat_percent_refuses_a_density_not_above_nought(bad: float) -> None:
    with pytest.raises(ValueError, match="density must be above 0"):
        percent("siri", bad)


def test_masses_of_the_identity() -> None:
    for row in rows("masses"):
        mass, share = float(row["body_mass"]), float(row["fat_percent"])
        assert fat_mass(mass, share) == pytest.approx(float(row["fat_mass"]), abs=1e-12)
        assert fat_free_mass(mass, share) == pytest.approx(float(row["fat_free_mass"]), abs=1e-12)


@pytest.mark.parametrize(
    ("mass", "share", "expected", "rest"), [(70, 0, 0, 70), (70, 100, 70, 0), (70, -2, -1.4, 71.4)]
)
def test_masses_at_the_edges(mass: float, share: float, expected: float, rest: float) -> None:
    assert fat_mass(mass, share) == pytest.approx(expected)
    assert fat_free_mass(mass, share) == pytest.approx(rest)


@given(st.floats(1, 400), st.floats(0, 100))
def test_masses_add_up(mass: float, share: float) -> None:
    assert fat_mass(mass, share) + fat_free_mass(mass, share) == pytest.approx(mass)


@pytest.mark.parametrize("function", [fat_mass, fat_free_mass])
@pytest.mark.parametrize("mass", [0, -70, float("nan"), float("inf")])
def test_masses_refuse_a_mass_not_above_nought(
    function: Callable[[float, float], float], mass: float
) -> None:
    with pytest.raises(ValueError, match="body mass must be above 0"):
        function(mass, 20)


@pytest.mark.parametrize("function", [fat_mass, fat_free_mass])
@pytest.mark.parametrize("share", [float("nan"), float("inf"), float("-inf")])
def test_masses_refuse_a_per_cent_that_is_not_finite(
    function: Callable[[float, float], float], share: float
) -> None:
    with pytest.raises(ValueError, match="per cent fat must be finite"):
        function(70, share)
