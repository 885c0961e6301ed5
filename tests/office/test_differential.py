"""The live formulas against the core: the same entries in a real spreadsheet program and in Python.

Each case fills a built workbook, lets the program recalculate, and compares every live result. A run makes
540 cases of the seven sites and 120 of every other protocol, the nightly form 10,000 of each.
"""

import math
import os
import random
from pathlib import Path

import pytest

from sheetgen.protocols.names import ANSWERS, LEFT_OUT, SEX_WORDS, entry_names, live_names, own_steps
from sheetgen.protocols.recalculation import is_ready, live_values, recalculate
from sheetgen.workbook.layout import Value
from tests.office.client import Office
from tests.sheets import Sheet, settings_with, sheet_of

SEED = 20261125
NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))

# protocol, site rule, kind of tolerance, tolerance, conversion, when results are shown, cases
VARIANTS = (
    ("seven-sites", "median", "mm", 2.0, "siri", "after-working", 90),
    ("seven-sites", "median", "mm", 1.0, "brozek", "always", 90),
    ("seven-sites", "median", "percent", 10.0, "siri", "never", 90),
    ("seven-sites", "closest-pair", "mm", 2.0, "siri", "after-working", 90),
    ("seven-sites", "closest-pair", "mm", 1.0, "brozek", "never", 90),
    ("seven-sites", "closest-pair", "percent", 7.5, "brozek", "always", 90),
    ("three-sites-men", "median", "mm", 2.0, "siri", "always", 120),
    ("three-sites-women", "closest-pair", "mm", 1.0, "brozek", "after-working", 120),
    ("four-sites", "median", "percent", 10.0, "siri", "after-working", 120),
    ("folds-only", "median", "mm", 2.0, "siri", "after-working", 120),
    ("youth-two-sites", "closest-pair", "percent", 5.0, "siri", "always", 120),
)
# protocol and youth estimate of sheets made for someone under 18
UNDER_18 = (
    ("seven-sites", "off"),
    ("four-sites", "on"),
    ("youth-two-sites", "off"),
    ("youth-two-sites", "on"),
)

AGES = (
    18, 55, 56, 61, 62, 17, 16, 19, 20, 29, 30, 39, 40, 49, 50, 68, 69, 72, 73, 8, 24, 35.5, 42, None, "24",
)  # fmt: skip

Case = dict[str, Value]


def _cases_a_run(usual: int) -> int:
    """The nightly form makes 10,000 of each protocol; the seven sites have six variants."""
    return max(usual, 10_000 // (6 if usual == 90 else 1)) if NIGHTLY else usual


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda variant: "-".join(map(str, variant)))
def test_live_results_equal_the_core(
    office: Office, tmp_path: Path, variant: tuple[str, str, str, float, str, str, int]
) -> None:
    protocol_id, rule, kind, tolerance, conversion, shown, count = variant
    sheet = sheet_of(
        settings_with(
            protocol_id=protocol_id, site_rule=rule, tolerance_kind=kind, tolerance=tolerance,
            conversion=conversion, show_results=shown,
        )
    )  # fmt: skip
    dice = random.Random(f"{SEED} {variant}")
    cases = [random_case(dice, sheet) for _ in range(_cases_a_run(count))]
    assert _differences(office, tmp_path, sheet, cases) == []


@pytest.mark.parametrize(("protocol_id", "youth_estimate"), UNDER_18)
def test_live_results_of_a_sheet_under_18_equal_the_core(
    office: Office, tmp_path: Path, protocol_id: str, youth_estimate: str
) -> None:
    sheet = sheet_of(settings_with(protocol_id=protocol_id, under_18=True, youth_estimate=youth_estimate))
    dice = random.Random(f"{SEED} {protocol_id} {youth_estimate}")
    cases = [random_case(dice, sheet) for _ in range(_cases_a_run(60))]
    assert _differences(office, tmp_path, sheet, cases) == []


@pytest.mark.parametrize("protocol_id", ("seven-sites", "three-sites-men", "three-sites-women"))
def test_sums_at_the_ends_of_the_published_range_have_an_estimate_in_the_sheet_too(
    office: Office, tmp_path: Path, protocol_id: str
) -> None:
    """Exactly met, and one hundredth of a millimetre beyond."""
    sheet = sheet_of(settings_with(protocol_id=protocol_id))
    cases, states = [], []
    for equation in sheet.source.protocol.equations:
        assert equation.sum_minimum and equation.sum_maximum
        low, high = round(equation.sum_minimum * 100), round(equation.sum_maximum * 100)
        for whole, state in ((low, "ok"), (low - 1, "sum-below"), (high, "ok"), (high + 1, "sum-above")):
            share, rest = divmod(whole, len(sheet.source.protocol.sites))
            case: Case = {
                "caliper_id": "C1", "cautions_confirmed": "yes", "zero_mm": 0,
                "age_years": 25, "sex_equation": equation.sex, "mass_kg": 61.5,
            }  # fmt: skip
            for at, site in enumerate(sheet.source.protocol.sites):
                case |= {f"reading_{number}_{site.word}": (share + (at < rest)) / 100 for number in (1, 2)}
            cases.append(case)
            states.append(state)
    found = [recalculate(sheet.source.protocol, sheet.source.settings, case).estimate_state for case in cases]
    assert found == states
    assert _differences(office, tmp_path, sheet, cases) == []


def _differences(office: Office, folder: Path, sheet: Sheet, cases: list[Case]) -> list[str]:
    path = folder / "sheet.xlsx"
    path.write_bytes(sheet.data)
    names = live_names(sheet.source.protocol)
    batch = [[[*sheet.place(name), value] for name, value in case.items()] for case in cases]
    with office.workbook(path) as handle:
        answers = office.cases(handle, [sheet.place(name) for name in names], batch)
    return [
        f"{name}: program {found!r}, core {expected[name]!r}, entries {case}"
        for case, answer in zip(cases, answers, strict=True)
        for expected in [expected_of(sheet, case)]
        for name, found in zip(names, answer, strict=True)
        if not equal(found, expected[name])
    ]


# protocol, what its cases must reach for the comparison to mean anything
REACHED = (
    ("seven-sites", {"ok", "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside",
                     "sum-below", "sum-above", "under-18"}),
    ("three-sites-men", {"ok", "sex-outside", "age-outside", "sum-above", "under-18"}),
    ("four-sites", {"ok", "age-outside", "sum-only", "under-18"}),
    ("folds-only", {"no-equation", "sum-missing"}),
)  # fmt: skip


@pytest.mark.parametrize(("protocol_id", "states"), REACHED)
def test_cases_reach_every_state_and_both_answers(protocol_id: str, states: set[str]) -> None:
    sheet = sheet_of(settings_with(protocol_id=protocol_id))
    dice = random.Random(f"{SEED} {protocol_id}")
    results = [
        recalculate(sheet.source.protocol, sheet.source.settings, random_case(dice, sheet))
        for _ in range(800)
    ]
    assert {result.estimate_state for result in results} >= states
    assert {site.third_needed for result in results for site in result.sites} == {"yes", "no", ""}
    assert {site.measure_again for result in results for site in result.sites} == {True, False}


def expected_of(sheet: Sheet, case: Case) -> dict[str, float | str]:
    protocol, settings = sheet.source.protocol, sheet.source.settings
    typed = {name: value for name, value in case.items() if value is not None and str(value).strip()}
    entries: Case = {"data_source": "measured", "side": "right", **typed}
    results = recalculate(protocol, settings, entries)
    ready = "yes" if is_ready(protocol, settings, entries, results) else "no"
    return {**live_values(results), "ready": ready}


def equal(found: object, expected: float | str) -> bool:
    if isinstance(expected, str) or not isinstance(found, int | float):
        return found == expected
    return math.isclose(found, expected, rel_tol=1e-9, abs_tol=1e-9)


def random_case(dice: random.Random, sheet: Sheet) -> Case:
    """One set of entries: mostly plausible, often on an edge, sometimes wrong."""
    tolerance = sheet.source.settings.tolerance
    sites = [site.word for site in sheet.source.protocol.sites]
    edge = dice.random()
    case: Case = {
        "caliper_id": "C1",
        "cautions_confirmed": dice.choice(("yes", "yes", "yes", "no", "")),
        "age_years": dice.choice(AGES),
        "sex_equation": dice.choice((*SEX_WORDS, "female", "male", "Male", "", "other")),
        "mass_kg": dice.choice((54.3, 61.5, 88, 120.25, None, 0, "61")),
        "zero_mm": dice.choice((0, 0, 0.5, -0.5, 3, -1.25, 0.05, None, "0")),
        "length_upper_arm_cm": dice.choice((40, 42, 33.5, None, 0)),
        "length_thigh_cm": dice.choice((40, 45.2, 45.2, None)),
    }
    scale = 2.6 if edge < 0.1 else 0.22 if edge < 0.2 else 1.0
    for word in sites:
        fold = dice.uniform(6, 32) * scale
        first = _reading(dice, fold)
        gap = dice.choice((0, 0.5, tolerance, -tolerance, tolerance + 0.01, 3.3, -4, 0.1, 0.2))
        second = round(first + gap, dice.choice((1, 2)))
        third = dice.choice(
            (None, _reading(dice, fold), round((first + second) / 2, 2), first, round(second + gap, 2))
        )
        case |= {f"reading_1_{word}": first, f"reading_2_{word}": second, f"reading_3_{word}": third}
    for _ in range(dice.choice((0, 0, 0, 1, 2))):
        name = dice.choice([f"reading_{number}_{word}" for number in (1, 2, 3) for word in sites])
        case[name] = dice.choice((None, "12,5", 0, -3, 0.005, 999999, 1000000, 12.345, 2.675, "", " "))
    if dice.random() < 0.12:
        case[f"not_taken_{dice.choice(sites)}"] = dice.choice((LEFT_OUT, "LEFT-OUT", "skin"))
    if dice.random() < 0.12:
        case |= {
            "caliper_id_2": "C2",
            "zero_2_mm": dice.choice((0.4, -0.2, None)),
            "changed_from_round": dice.choice(("1", "2", 3, "4", None)),
            "changed_from_site": dice.choice(("triceps", "Chest", "thigh", "Thigh", "nonsense", None)),
        }
    if dice.random() < 0.05:
        case["caliper_id"] = dice.choice(("7", 7, "c2", "unknown", None))
    if dice.random() < 0.8:
        case |= {f"answer_{word}": dice.choice(("Because it was hard.", "12", 7)) for word in ANSWERS}
    asked = entry_names(sheet.source.protocol)
    case = {name: value for name, value in case.items() if name in asked}
    return case | _own(dice, sheet, case)


def _reading(dice: random.Random, fold: float) -> float:
    return round(fold, dice.choice((0, 1, 1, 2))) or 1.0


def _own(dice: random.Random, sheet: Sheet, case: Case) -> Case:
    """Own working: complete, with a gap, or none."""
    kind = dice.random()
    if kind < 0.3:
        return {}
    live = live_values(recalculate(sheet.source.protocol, sheet.source.settings, case))
    own: Case = {name: 12.5 for name, answers in own_steps(sheet.source.protocol) if live[answers] != ""}
    if own and kind < 0.6:
        own[dice.choice(sorted(own))] = dice.choice((None, "12.5"))
    return own


def test_every_entry_has_a_place() -> None:
    sheet = sheet_of()
    places = [tuple(sheet.place(name)) for name in entry_names(sheet.source.protocol)]
    assert len(set(places)) == len(places)
