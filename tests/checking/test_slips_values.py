import pytest

from sheetgen.checking.carry_forward import Step, steps_of
from sheetgen.checking.recalculate import recalculate
from sheetgen.checking.slips_values import VALUES, swapped
from sheetgen.layout.vocabulary import step_group
from tests.checking.given import MAN
from tests.sheets import settings_with, sheet_of

SETTINGS = settings_with(site_rule="closest-pair")
PROTOCOL = sheet_of(SETTINGS).source.protocol
SUM = (21.5, 22.0, 18.0, 28.0, 34.0, 30.0, 24.5)


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
        ("decimal-slip", "fat_percent", (1.0422,), [None] * 3),
    ],
)
def test_values(slip: str, line: str, above: tuple[float, ...], values: list[float]) -> None:
    results = recalculate(PROTOCOL, SETTINGS, MAN)
    ground, _ = steps_of(PROTOCOL, PROTOCOL.conversion("siri"), MAN, results)
    found = [value for value, _ in VALUES[slip](ground, Step(line, step_group(line), "asked"), above)]
    assert found == [None if value is None else pytest.approx(value, abs=5e-5) for value in values]


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
