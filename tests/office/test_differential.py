"""The live formulas against the core: the same entries in a real spreadsheet program and in Python.

Each case fills a built workbook, lets the program recalculate, and compares every live result. A run makes
2,100 cases, the nightly form 10,000.
"""

import math
import os
import random
from pathlib import Path

import pytest

from sheetgen.checking.progress import next_step
from sheetgen.checking.recalculate import live_values, recalculate
from sheetgen.layout.vocabulary import NOT_TAKEN_WORDS, SEX_WORDS, entry_names, live_names, own_steps
from sheetgen.model.layout import Value
from tests.office.client import Office
from tests.sheets import Sheet, settings_with, sheet_of

SEED = 20261125
CASES = 10_000 if os.environ.get("SHEETGEN_NIGHTLY") else 2_100

# site rule, kind of tolerance, tolerance, conversion, when results are shown
VARIANTS = (
    ("median", "mm", 2.0, "siri", "after-working"),
    ("median", "mm", 1.0, "brozek", "always"),
    ("median", "percent", 10.0, "siri", "never"),
    ("closest-pair", "mm", 2.0, "siri", "after-working"),
    ("closest-pair", "mm", 1.0, "brozek", "never"),
    ("closest-pair", "percent", 7.5, "brozek", "always"),
)

Case = dict[str, Value]


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda variant: "-".join(map(str, variant)))
def test_live_results_equal_the_core(office: Office, tmp_path: Path, variant: tuple[str, str, float, str, str]) -> None:
    rule, kind, tolerance, conversion, shown = variant
    sheet = sheet_of(
        settings_with(
            site_rule=rule, tolerance_kind=kind, tolerance=tolerance, conversion=conversion, show_results=shown
        )
    )
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    dice = random.Random(f"{SEED} {variant}")
    cases = [_case(dice, tolerance) for _ in range(CASES // len(VARIANTS))]
    names = live_names(sheet.source.protocol)
    batch = [[[*sheet.place(name), value] for name, value in case.items()] for case in cases]
    with office.workbook(path) as handle:
        answers = office.cases(handle, [sheet.place(name) for name in names], batch)
    differences = [
        f"{name}: program {found!r}, core {expected[name]!r}, entries {case}"
        for case, answer in zip(cases, answers, strict=True)
        for expected in [_expected(sheet, case)]
        for name, found in zip(names, answer, strict=True)
        if not _equal(found, expected[name])
    ]
    assert differences == []


def test_cases_cover_every_state_and_both_answers() -> None:
    """The differential test proves little if its cases never reach an estimate or a third reading."""
    sheet = sheet_of()
    dice = random.Random(f"{SEED} {VARIANTS[0]}")
    results = [
        recalculate(sheet.source.protocol, sheet.source.settings, _case(dice, 2.0)) for _ in range(CASES // len(VARIANTS))
    ]
    states = {result.estimate_state for result in results}
    assert states >= {"ok", "sum-missing", "sum-only", "sex-missing", "age-missing", "age-outside", "sum-below"}
    assert "sum-above" in states
    assert {site.third_needed for result in results for site in result.sites} == {"yes", "no", ""}
    assert {site.measure_again for result in results for site in result.sites} == {True, False}


def _expected(sheet: Sheet, case: Case) -> dict[str, float | str]:
    protocol, settings = sheet.source.protocol, sheet.source.settings
    entries = {"data_source": "measured", "side": "right", **case}
    results = recalculate(protocol, settings, entries)
    ready = "yes" if next_step(protocol, settings, entries, results) == "done" else "no"
    return {**live_values(results), "ready": ready}


def _equal(found: object, expected: float | str) -> bool:
    if isinstance(expected, str) or not isinstance(found, int | float):
        return found == expected
    return math.isclose(found, expected, rel_tol=1e-9, abs_tol=1e-9)


def _case(dice: random.Random, tolerance: float) -> Case:
    """One set of entries: mostly plausible, often on an edge, sometimes wrong."""
    sheet = sheet_of()
    sites = [site.word for site in sheet.source.protocol.sites]
    edge = dice.random()
    case: Case = {
        "caliper_id": "C1",
        "cautions_confirmed": dice.choice(("yes", "yes", "yes", "no", "")),
        "age_years": dice.choice((18, 55, 56, 61, 62, 17, 19, 30, 42, 24, 35.5, None, "24")),
        "sex_equation": dice.choice((*SEX_WORDS, "female", "male", "Male", "", "other")),
        "mass_kg": dice.choice((54.3, 61.5, 88, 120.25, None, 0, "61")),
        "zero_mm": dice.choice((0, 0, 0.5, -0.5, 3, -1.25, 0.05, None, "0")),
        "length_upper_arm_cm": dice.choice((40, 42, 33.5, None, 0)),
        "length_thigh_cm": dice.choice((40, 45.2, 45.2, None)),
    }
    scale = 2.5 if edge < 0.1 else 0.3 if edge < 0.2 else 1.0
    for word in sites:
        fold = dice.uniform(6, 32) * scale
        first = _reading(dice, fold)
        gap = dice.choice((0, 0.5, tolerance, -tolerance, tolerance + 0.01, 3.3, -4, 0.1, 0.2))
        second = round(first + gap, dice.choice((1, 2)))
        third = dice.choice((None, _reading(dice, fold), round((first + second) / 2, 2), first, round(second + gap, 2)))
        case |= {f"reading_1_{word}": first, f"reading_2_{word}": second, f"reading_3_{word}": third}
    for _ in range(dice.choice((0, 0, 0, 1, 2))):
        name = dice.choice([f"reading_{number}_{word}" for number in (1, 2, 3) for word in sites])
        case[name] = dice.choice((None, "12,5", 0, -3, 0.005, 999999, 1000000, 12.345, 2.675, "", " "))
    if dice.random() < 0.12:
        case[f"not_taken_{dice.choice(sites)}"] = dice.choice(NOT_TAKEN_WORDS)
    if dice.random() < 0.12:
        case |= {
            "caliper_id_2": "C2",
            "zero_2_mm": dice.choice((0.4, -0.2, None)),
            "changed_from": dice.choice(("1_triceps", "2_chest", "3_thigh", "2_Thigh", "nonsense")),
        }
    if dice.random() < 0.05:
        case["caliper_id"] = dice.choice(("7", 7, "c2", "unknown", None))
    case |= _own(dice, sheet, case)
    return case


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
