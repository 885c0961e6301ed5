from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.recalculation import recalculate
from sheetgen.report.working_numbers import working_numbers
from sheetgen.texts.languages import load_texts
from tests.report.invented import PROTOCOL, SETTINGS, entries
from tests.returned.given import WOMAN
from tests.sheets import SETTINGS as SEVEN

TEXTS = {**load_texts("en"), **load_texts("feedback.en")}


def test_every_line_has_its_numbers() -> None:
    typed = {**entries(length_upper_arm_cm=32.6), "own_sum_mm": 31.3}
    results = recalculate(PROTOCOL, SETTINGS, typed)
    assert working_numbers(PROTOCOL, SETTINGS, typed, results, TEXTS) == {
        "midpoint_upper_arm_cm": "32.6 / 2",
        "site_triceps": "readings 9.5; 11.5; zero -0.5; readings less zero 10; 12",
        "site_front_thigh": "readings 19.5; 22.5; 20; zero -0.5; readings less zero 20; 23; 20.5",
        # The invented site values 11.00 and 20.25.
        "sum_mm": "11 + 20.25",
        # The line above as it was typed.
        "density_g_ml": "D = 1.25 - 0.0078125 S + 0 S^2 + 0 A; S = 31.3; A = 20",
        "fat_percent": "500 / D - 450; D = 1.0055",
        # Not rounded on the way: 500 / 1.00546875 - 450.
        "fat_mass_kg": "60.5 * 47.2805 / 100",
        "fat_free_mass_kg": "60.5 - 28.6047",
    }


def test_the_published_equation_stands_there() -> None:
    protocol = find_protocol("seven-sites")
    numbers = working_numbers(protocol, SEVEN, WOMAN, recalculate(protocol, SEVEN, WOMAN), TEXTS)
    written = "- 0.00046971 S + 0.00000056 S^2 - 0.00012828 A; S = 118.5; A = 24"
    assert numbers["density_g_ml"].endswith(written)


def test_a_line_that_nothing_leads_to_has_no_numbers() -> None:
    typed = {**entries(), "reading_1_triceps": None}
    numbers = working_numbers(PROTOCOL, SETTINGS, typed, recalculate(PROTOCOL, SETTINGS, typed), TEXTS)
    assert sorted(numbers) == ["site_front_thigh"]
