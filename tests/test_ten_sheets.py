"""Ten sheets marked by hand, step by step, and the same by the program.

Every number here was worked out on paper from the published equation:
women D = 1.097 - 0.00046971 S + 0.00000056 S^2 - 0.00012828 x 24, men D = 1.112 - 0.00043499 S
+ 0.00000055 S^2 - 0.00028826 x 34, fat % = 495 / D - 450, masses by 60 kg and 80.5 kg.
The usual scheme: setting up 6, midpoints 4, recording 15, third readings 10, sites 10, sum 10, density 15,
per cent 6, masses 2 and 2, questions 15 (nobody answered them here), care 5. A right sheet has 85.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.settings import SheetSettings
from sheetgen.returned.one_file import examined
from sheetgen.workbook.layout import Value
from tests.returned.given import MAN, SITES, WOMAN, returned, with_cell, with_tab, without
from tests.sheets import SETTINGS, settings_with, sheet_of

READ = without(WOMAN, "reading_3_suprailiac")
# With the zero of -0.5 mm: 10.5 and 11.5 | 12.5 and 14.5 | 16, 18.5 and 17.5, the middle one | 13 and 13
# | 20.5, 23.5 and 26.5, the middle one | 14.5 and 15 | 24.5 and 26
SITE_VALUES = (11, 13.5, 17.5, 13, 23.5, 14.75, 25.25)

Line = tuple[str, Value, float | None, float | None, str, float]
"""Line, typed, from the line above, from the readings, state, points."""

# 33 and 45.5 cm halved
MIDPOINTS: tuple[Line, ...] = (
    ("midpoint_upper_arm_cm", 16.5, 16.5, 16.5, "right", 2),
    ("midpoint_thigh_cm", 22.8, 22.75, 22.75, "right", 2),
)
# 118.5: 1.097 - 0.055660635 + 0.00786366 - 0.00307872; 495 / 1.0461 - 450; 60 x 0.232; 60 - 13.9
SUM: Line = ("sum_mm", 118.5, 118.5, 118.5, "right", 10)
DENSITY: Line = ("density_g_ml", 1.0461, 1.046124305, 1.046124305, "right", 15)
PERCENT: Line = ("fat_percent", 23.2, 23.18612, 23.17513, "right", 6)
MASSES: tuple[Line, ...] = (
    ("fat_mass_kg", 13.9, 13.92, 13.90508, "right", 2),
    ("fat_free_mass_kg", 46.1, 46.1, 46.09492, "right", 2),
)


def sites(values: Mapping[str, tuple[float, str, float]] | None = None) -> tuple[Line, ...]:
    """The lines of the sites, right but for some: site to (typed, state, points)."""
    lines = zip(SITES, SITE_VALUES, strict=True)
    right = {site: (value, *(values or {}).get(site, (value, "right", 10 / 7))) for site, value in lines}
    return tuple((f"site_{site}", typed, value, value, state, points)
                 for site, (value, typed, state, points) in right.items())  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """A sheet and its marks by hand.

    lost : item to its points, of items that are not full. slips : line to the slip named.
    waits : (entry, points). formulas : entry to a formula that stands there.
    """

    title: str
    lines: tuple[Line, ...]
    score: float
    lost: Mapping[str, float] = field(default_factory=dict)
    slips: Mapping[str, str] = field(default_factory=dict)
    waits: tuple[tuple[str, float], ...] = ()
    read: Mapping[str, Value] = field(default_factory=lambda: READ)
    settings: SheetSettings = SETTINGS
    formulas: Mapping[str, str] = field(default_factory=dict)


SHEETS = (
    Sheet("everything right", (*MIDPOINTS, *sites(), SUM, DENSITY, PERCENT, *MASSES), 85),
    # 118.5 - 25.25; 1.097 - 0.0438004575 + 0.004869515 - 0.00307872; 495 / 1.055 - 450; 60 x 0.192
    Sheet(
        "the thigh left out of the sum costs the sum",
        (
            *MIDPOINTS, *sites(),
            ("sum_mm", 93.25, 118.5, 118.5, "wrong", 0),
            ("density_g_ml", 1.055, 1.0549903375, 1.046124305, "right", 15),
            ("fat_percent", 19.2, 19.19431, 23.17513, "right", 6),
            ("fat_mass_kg", 11.5, 11.52, 13.90508, "right", 2),
            ("fat_free_mass_kg", 48.5, 48.5, 46.09492, "right", 2),
        ),
        75, {"sum": 0}, {"sum_mm": "site-left-out"},
    ),
    # Every site half a millimetre less: 115; 1.097 - 0.05401665 + 0.007406 - 0.00307872
    Sheet(
        "the zero left in costs the sites",
        (
            *MIDPOINTS,
            *sites({site: (value - 0.5, "wrong", 0) for site, value in zip(SITES, SITE_VALUES, strict=True)}),
            ("sum_mm", 115, 115, 118.5, "right", 10),
            ("density_g_ml", 1.0473, 1.04731063, 1.046124305, "right", 15),
            ("fat_percent", 22.6, 22.64394, 23.17513, "right", 6),
            ("fat_mass_kg", 13.6, 13.56, 13.90508, "right", 2),
            ("fat_free_mass_kg", 46.4, 46.4, 46.09492, "right", 2),
        ),
        75, {"zero-correction": 0}, {f"site_{site}": "zero-left-in" for site in SITES},
    ),
    # The zero is one of three things in setting up: half of 6. Third readings: 15.5 and 18, 20 and 23 differ
    # by more than 2 mm with any zero. The seven sites are one question; below them everything follows from
    # what was typed.
    Sheet(
        "no zero typed: one question, and half of setting up",
        (
            *MIDPOINTS,
            *((f"site_{site}", value, None, None, "not-assessable", 0)
              for site, value in zip(SITES, SITE_VALUES, strict=True)),
            ("sum_mm", 118.5, 118.5, None, "right", 10),
            ("density_g_ml", 1.0461, 1.046124305, None, "right", 15),
            ("fat_percent", 23.2, 23.18612, None, "right", 6),
            ("fat_mass_kg", 13.9, 13.92, None, "right", 2),
            ("fat_free_mass_kg", 46.1, 46.1, None, "right", 2),
        ),
        72, {"setting-up": 3, "zero-correction": 0}, waits=(("zero_mm", 10),), read=without(READ, "zero_mm"),
    ),
    Sheet(
        "no age typed: a person looks at the density, the rest follows from it",
        (
            *MIDPOINTS, *sites(), SUM,
            ("density_g_ml", 1.0461, None, None, "not-assessable", 0),
            ("fat_percent", 23.2, 23.18612, None, "right", 6),
            ("fat_mass_kg", 13.9, 13.92, None, "right", 2),
            ("fat_free_mass_kg", 46.1, 46.1, None, "right", 2),
        ),
        70, {"density": 0}, waits=(("own_density_g_ml", 15),), read=without(READ, "age_years"),
    ),
    Sheet(
        "the sum left empty costs the sum; the density follows from the sites",
        (
            *MIDPOINTS, *sites(),
            ("sum_mm", None, 118.5, 118.5, "blank", 0),
            ("density_g_ml", 1.0461, None, 1.046124305, "right", 15),
            PERCENT, *MASSES,
        ),
        75, {"sum": 0},
    ),
    # 70 % of 15; 495 / 1.046 - 450 = 23.23136
    Sheet(
        "the density to three places keeps seven tenths",
        (
            *MIDPOINTS, *sites(), SUM,
            ("density_g_ml", 1.046, 1.046124305, 1.046124305, "wrong", 10.5),
            ("fat_percent", 23.2, 23.23136, 23.17513, "right", 6),
            *MASSES,
        ),
        80.5, {"density": 10.5}, {"density_g_ml": "density-rounded-3"},
    ),
    Sheet(
        "per cent typed with its sign is right",
        (
            *MIDPOINTS, *sites(), SUM, DENSITY,
            ("fat_percent", 0.232, 23.18612, 23.17513, "right", 6),
            *MASSES,
        ),
        85,
    ),
    # The sum is a formula over what was typed: working. The density is the sheet's own: none.
    Sheet(
        "a formula over own lines is working, one that takes a result is none",
        (
            *MIDPOINTS, *sites(), SUM,
            ("density_g_ml", 1.0461, 1.046124305, 1.046124305, "formula", 0),
            PERCENT, *MASSES,
        ),
        70, {"density": 0},
        formulas={
            "own_sum_mm": "=SUM({own_site_chest}:{own_site_thigh})", "own_density_g_ml": "=density_g_ml",
        },
    ),
    # A class of the closest pair, a zero of 3 mm. Chest: 19, 22 and 21, the closest are 22 and 21; the middle
    # one was taken, or 21.5 was cut off, which keeps seven tenths.
    # 21 + 22 + 18 + 28 + 34 + 30 + 24.5 = 177.5; 1.112 - 0.077210725 + 0.0173284375 - 0.00980084;
    # 495 / 1.0423 - 450; 80.5 x 0.249 = 20.0445 kg, in pounds 44.2; 80.5 - 44.2
    Sheet(
        "the other rule at one site and a mass in pounds",
        (
            ("midpoint_upper_arm_cm", 20, 20, 20, "right", 2),
            ("midpoint_thigh_cm", 21, 21, 21, "right", 2),
            ("site_chest", 21, 21.5, 21.5, "wrong", 1),
            *((f"site_{site}", value, value, value, "right", 10 / 7)
              for site, value in zip(SITES[1:], (22, 18, 28, 34, 30, 24.5), strict=True)),
            ("sum_mm", 177.5, 177.5, 178, "right", 10),
            ("density_g_ml", 1.0423, 1.0423168725, 1.04219714, "right", 15),
            ("fat_percent", 24.9, 24.91125, 24.95814, "right", 6),
            ("fat_mass_kg", 44.2, 20.0445, 20.0913, "wrong", 0),
            ("fat_free_mass_kg", 36.3, 36.3, 60.4087, "right", 2),
        ),
        # 60 / 7 + 1 and 8 for 10 and 10
        82.57, {"zero-correction": 9.57, "fat-percent": 8},
        {"site_chest": "middle-of-three/truncated", "fat_mass_kg": "pounds"},
        read=MAN, settings=settings_with(site_rule="closest-pair"),
    ),
)  # fmt: skip


def test_there_are_ten() -> None:
    assert len(SHEETS) == 10


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.title)
def test_a_sheet_marked_by_hand(sheet: Sheet) -> None:
    built = sheet_of(sheet.settings, str(sheet.read["caliper_id"]))
    own = {f"own_{line}": typed for line, typed, *_ in sheet.lines if typed is not None}
    state = returned({**sheet.read, **own}, sheet=built)
    places = built.layout.places()
    titles = {tab.key: tab.title for tab in built.layout.tabs}
    for name, formula in sheet.formulas.items():
        key, row, column = places[name]
        tab = next(one for one in state.tabs if one.title == titles[key])
        text = formula.format_map(
            {each: f"${chr(65 + at)}${row + 1}" for each, (_, row, at) in places.items()}
        )
        cells = with_cell(tab, row, column, formula=text).cells
        state = with_tab(state, titles[key], cells=cells)
    examination = examined(built.issued, state)
    seen = Seen(built.source.protocol, sheet.settings, examination.entries, examination.results,
                examination.findings)  # fmt: skip
    marking = marked(find_scheme("usual"), seen, examination.formula_names)
    steps = {step.step: step for item in marking.items for step in item.steps}
    assert [
        (step.step, step.yours, step.from_line_above, step.from_readings, step.state, step.score)
        for step in steps.values()
    ] == [
        (line, typed, _near(above), _near(by_readings), state, pytest.approx(points))
        for line, typed, above, by_readings, state, points in sheet.lines
    ]
    full = {item.word: item.maximum for item in marking.items if item.word != "questions"}
    assert {item.word: item.score for item in marking.items} == {**full, "questions": 0, **sheet.lost}
    named = {step.step: "/".join(fit.word for fit in step.slips) for step in steps.values() if step.slips}
    assert named == sheet.slips
    assert tuple((one.about, one.points) for one in marking.to_be_marked) == sheet.waits
    assert (marking.score, marking.maximum) == (sheet.score, 100)


def _near(value: float | None) -> object:
    return None if value is None else pytest.approx(value, abs=6e-5)
