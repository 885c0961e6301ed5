"""Sheets with one slip each: named or honestly not, one penalty, full marks after it, and no other slip.

And a correct answer is never accused.
"""

import os
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

import pytest
from msgspec.structs import replace

from sheetgen.commands.demo import sample_entries
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import Marking
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.marking.slips import SLIPS
from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.returned.entries import entries_of
from sheetgen.returned.one_file import examined
from sheetgen.sheet.student import source_of
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.snapshot import CellState, TabState
from tests.own_working import lines_by_hand
from tests.returned.given import WOMAN, returned, without
from tests.sheets import SETTINGS, settings_with, sheet_of

SCHEME = replace(find_scheme("usual"), slip_shares={})

ANSWERED = {"answer_repeat": "Thigh.", "answer_zero": "More.", "answer_error": "Marks."}
READINGS = ("reading_1_", "reading_2_", "reading_3_")

# The zero of -0.5 mm adds half a millimetre to every reading: 10 + 14 + 16 + 14 = 54 mm.
FOUR: dict[str, Value] = {
    **{name: value for name, value in WOMAN.items() if not name.startswith((*READINGS, "length_thigh"))},
    "reading_1_biceps": 9.5, "reading_2_biceps": 9.5, "reading_1_triceps": 13, "reading_2_triceps": 14,
    "reading_1_subscapular": 15, "reading_2_subscapular": 16, "reading_1_suprailiac": 13.5,
    "reading_2_suprailiac": 13.5,
}  # fmt: skip
# 14 + 11 = 25 mm; the thigh and its length are not asked for.
YOUTH: dict[str, Value] = {
    **{name: value for name, value in FOUR.items() if not name.startswith(READINGS)},
    "age_years": 12, "mass_kg": 41.5, "reading_1_triceps": 13, "reading_2_triceps": 14,
    "reading_1_calf": 10, "reading_2_calf": 11,
}  # fmt: skip

SHEETS: Mapping[str, tuple[SheetSettings, Mapping[str, Value]]] = {
    # without the third reading nobody asked for
    "seven": (SETTINGS, without(WOMAN, "reading_3_suprailiac")),
    "closest": (settings_with(site_rule="closest-pair"), without(WOMAN, "reading_3_suprailiac")),
    "four": (settings_with(protocol_id="four-sites"), FOUR),
    "youth": (
        settings_with(protocol_id="youth-two-sites", conversion="", under_18=True, youth_estimate="on"),
        YOUTH,
    ),
}


@dataclass(frozen=True)
class Case:
    """A slip in a sheet. slip : its word, empty where nobody can name it.

    lines : live result to the wrong value, from the right values of all lines. either : fits as well.
    """

    slip: str
    sheet: str
    item: str
    lines: Callable[[Mapping[str, float]], Mapping[str, float]]
    either: tuple[str, ...] = ()


def line(name: str, change: Callable[[float], float]) -> Callable[[Mapping[str, float]], Mapping[str, float]]:
    return lambda right: {name: change(right[name])}


def every_site(change: Callable[[float], float]) -> Callable[[Mapping[str, float]], Mapping[str, float]]:
    return lambda right: {
        name: round(change(value), 2) for name, value in right.items() if name.startswith("site_")
    }


ROUND_1 = {
    "site_chest": 10.5, "site_midaxillary": 12.5, "site_triceps": 16.0, "site_abdominal": 20.5,
    "site_suprailiac": 14.5, "site_thigh": 24.5,
}  # fmt: skip
"""Corrected readings of round 1; the subscapular fold was 12.5 mm both times."""

CASES = (
    # z = -0.5 mm, seven sites; the sum without a slip is 118.5 mm
    Case("zero-left-in", "seven", "zero-correction", every_site(lambda value: value - 0.5)),
    Case("zero-left-in", "seven", "sum", line("sum_mm", lambda value: 115.0)),
    Case("zero-twice", "seven", "zero-correction", every_site(lambda value: value + 0.5)),
    Case("zero-twice", "seven", "sum", line("sum_mm", lambda value: 122.0)),
    Case("zero-wrong-sign", "seven", "zero-correction", every_site(lambda value: value - 1.0)),
    Case("zero-wrong-sign", "seven", "sum", line("sum_mm", lambda value: 111.5)),
    Case("zero-once-from-sum", "seven", "sum", line("sum_mm", lambda value: 115.5)),
    # every site uncorrected, then the zero once from their sum: one mistake
    Case(
        "zero-left-in", "seven", "zero-correction",
        lambda right: {**every_site(lambda value: value - 0.5)(right), "sum_mm": 115.5},
    ),
    # triceps: 16, 18.5 and 17.5 mm, the middle one counts
    Case("third-left-out", "seven", "zero-correction", line("site_triceps", lambda value: 17.25)),
    Case("mean-of-three", "seven", "zero-correction", line("site_triceps", lambda value: 17.33)),
    Case("site-left-out", "seven", "sum", line("sum_mm", lambda value: 118.5 - 25.25)),
    Case("site-twice", "seven", "sum", line("sum_mm", lambda value: 118.5 + 17.5)),
    # the men's equation: 1.112 - 0.00043499 x 118.5 + 0.00000055 x 118.5^2 - 0.00028826 x 24
    Case("other-sex", "seven", "density", line("density_g_ml", lambda value: 1.0613)),
    Case("other-sex", "youth", "fat-percent", line("fat_percent", lambda value: 19.4)),
    # women 30 to 39: 1.1423 - 0.0632 log10(54)
    Case("other-age-band", "four", "density", line("density_g_ml", lambda value: 1.0328)),
    # 42 years for 24: 18 x 0.00012828 less
    Case("age-misread", "seven", "density", line("density_g_ml", lambda value: round(value - 0.00231, 4))),
    Case("age-left-out", "seven", "density", line("density_g_ml", lambda value: round(value + 0.00308, 4))),
    # 1.1599 - 0.0717 x 3.98898
    Case("natural-log", "four", "density", line("density_g_ml", lambda value: 0.8739)),
    Case("square-dropped", "seven", "density", line("density_g_ml", lambda value: 1.0383)),
    Case("square-sign", "seven", "density", line("density_g_ml", lambda value: 1.0304)),
    Case("density-rounded-2", "seven", "density", line("density_g_ml", lambda value: 1.05)),
    Case("density-rounded-3", "seven", "density", line("density_g_ml", lambda value: 1.046)),
    Case("density-rounded-2", "seven", "fat-percent", line("fat_percent", lambda value: 21.4)),
    Case("density-rounded-3", "four", "fat-percent", line("fat_percent", lambda value: 27.8)),
    # the density without a slip is 1.0461: 457 / 1.0461 - 414.2, 495 x 1.0461 - 450
    Case("other-conversion", "seven", "fat-percent", line("fat_percent", lambda value: 22.7)),
    Case("density-multiplied", "seven", "fat-percent", line("fat_percent", lambda value: 67.8)),
    Case("percent-as-fraction", "seven", "fat-percent", line("fat_percent", lambda value: 0.23)),
    # 60 kg are 132.3 lb; both masses in pounds are one mistake
    Case(
        "pounds", "seven", "fat-percent", line("fat_mass_kg", lambda value: round(value * 2.2046, 1))
    ),
    Case(
        "pounds", "seven", "fat-percent",
        lambda right: {
            "fat_mass_kg": round(right["fat_mass_kg"] * 2.2046, 1),
            "fat_free_mass_kg": round(right["fat_free_mass_kg"] * 2.2046, 1),
        },
    ),
    Case("inches", "seven", "midpoints", line("midpoint_thigh_cm", lambda value: 9.0)),
    Case("inches", "seven", "sum", line("sum_mm", lambda value: 4.67)),
    Case(
        "centimetres", "seven", "sum", line("sum_mm", lambda value: 11.85), ("decimal-slip",)
    ),
    Case("decimal-slip", "seven", "sum", line("sum_mm", lambda value: 1185)),
    Case("decimal-slip", "seven", "fat-percent", line("fat_percent", lambda value: round(value * 10, 1))),
    Case("digits-swapped", "seven", "zero-correction", line("site_thigh", lambda value: 52.25)),
    Case("digits-swapped", "seven", "sum", line("sum_mm", lambda value: 181.5)),
    Case("digits-swapped", "seven", "midpoints", line("midpoint_upper_arm_cm", lambda value: 15.6)),
    # chest and suprailiac are what the zero left in would give at one of them: the others tell
    Case("round-1-only", "seven", "zero-correction", lambda right: ROUND_1),
    Case("round-1-only", "closest", "zero-correction", lambda right: ROUND_1),
    # 17.5 and 18.5; of 20.5, 23.5 and 26.5 the middle one counts by either rule; 17.5 to whole mm is 18 too
    Case(
        "closest-pair", "seven", "zero-correction", line("site_triceps", lambda value: 18.0),
        ("rounded-early",),
    ),
    Case("middle-of-three", "closest", "zero-correction", line("site_triceps", lambda value: 17.5)),
    Case("rounds-added", "seven", "zero-correction", line("site_subscapular", lambda value: 26.0)),
    # 24 + 25.5 mm, and the zero of -0.5 once
    Case("rounds-added", "seven", "zero-correction", line("site_thigh", lambda value: 50.0)),
    # 42 for 24: 42.5 and 26
    Case("reading-swapped", "seven", "zero-correction", line("site_thigh", lambda value: 34.25)),
    # 15.2 for 12.5: 15.7 and 13
    Case("reading-swapped", "seven", "zero-correction", line("site_subscapular", lambda value: 14.35)),
    Case("length-not-halved", "seven", "midpoints", line("midpoint_thigh_cm", lambda value: 45.5)),
    Case("truncated", "seven", "zero-correction", line("site_thigh", lambda value: 25.2)),
    Case("truncated", "seven", "sum", line("sum_mm", lambda value: 118)),
    Case("truncated", "seven", "fat-percent", line("fat_percent", lambda value: 23.1)),
    # 1.1599 - 0.0717 log10(54) = 1.035687
    Case("truncated", "four", "density", line("density_g_ml", lambda value: 1.0356)),
    Case("truncated", "seven", "midpoints", line("midpoint_thigh_cm", lambda value: 22)),
    Case("rounded-early", "seven", "zero-correction", line("site_suprailiac", lambda value: 14.8)),
    # the readings of 24.5 and 26 as 25 and 26
    Case("rounded-early", "seven", "zero-correction", line("site_thigh", lambda value: 25.5)),
    Case("rounded-early", "seven", "sum", line("sum_mm", lambda value: 119), ("zero-once-from-sum",)),
    # 11 + 13.5 + 17.5 + 13 + 23.5 + 14.8 + 25.3, and 11 + 14 + 18 + 13 + 24 + 15 + 25
    Case("rounded-early", "seven", "sum", line("sum_mm", lambda value: 118.6)),
    Case("rounded-early", "seven", "sum", line("sum_mm", lambda value: 120)),
    Case("rounded-early", "seven", "fat-percent", line("fat_percent", lambda value: 23)),
    Case("rounded-early", "four", "fat-percent", line("fat_mass_kg", lambda value: 17)),
    Case("rounded-early", "youth", "fat-percent", line("fat_percent", lambda value: 20)),
    Case("site-left-out", "four", "sum", line("sum_mm", lambda value: 40.0)),
    Case("site-twice", "youth", "sum", line("sum_mm", lambda value: 39.0)),
    Case("zero-twice", "four", "zero-correction", every_site(lambda value: value + 0.5)),
    # 13.5 and 10.5 mm are what round 1 alone gives as well
    Case(
        "zero-left-in", "youth", "zero-correction", every_site(lambda value: value - 0.5), ("round-1-only",)
    ),
    # what the zero would do at one site, while six others have it right: a slip of the hand, or of the head
    Case("", "seven", "zero-correction", line("site_thigh", lambda value: 25.75)),
    Case("", "seven", "zero-correction", line("site_chest", lambda value: 12.0)),
    # slips of adding, and what leads nowhere
    Case("", "seven", "zero-correction", line("site_midaxillary", lambda value: 15.1)),
    Case("", "seven", "sum", line("sum_mm", lambda value: 127.0)),
    Case("", "seven", "sum", line("sum_mm", lambda value: 117.15)),
    Case("", "seven", "density", line("density_g_ml", lambda value: 1.0433)),
    Case("", "four", "density", line("density_g_ml", lambda value: 1.0411)),
    Case("", "seven", "fat-percent", line("fat_percent", lambda value: 24.4)),
    Case("", "seven", "fat-percent", line("fat_mass_kg", lambda value: 11.7)),
    Case("", "seven", "midpoints", line("midpoint_thigh_cm", lambda value: 21.7)),
)  # fmt: skip


def entered_on(sheet: str) -> tuple[Protocol, SheetSettings, dict[str, Value]]:
    settings, entries = SHEETS[sheet]
    return sheet_of(settings).source.protocol, settings, {**entries, **ANSWERED}


@lru_cache(maxsize=8)
def right_values(sheet: str) -> dict[str, float]:
    protocol, settings, entries = entered_on(sheet)
    own = lines_by_hand(protocol, settings, entries)
    return {name.removeprefix("own_"): float(str(value)) for name, value in own.items()}


def marked_sheet(sheet: str, own: Mapping[str, Value]) -> Marking:
    """The marks of a built sheet that came back with these entries."""
    _, settings, typed = entered_on(sheet)
    built = sheet_of(settings)
    examination = examined(built.issued, returned({**typed, **own}, sheet=built))
    entries, results, findings = examination.entries, examination.results, examination.findings
    return marked(SCHEME, Seen(built.source.protocol, settings, entries, results, findings))


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_sheet_without_a_slip_has_full_marks(sheet: str) -> None:
    protocol, settings, entries = entered_on(sheet)
    marking = marked_sheet(sheet, lines_by_hand(protocol, settings, entries))
    assert {mark.word for mark in marking.items if mark.score != mark.maximum} == {"questions"}
    assert marking.score == marking.maximum - 15


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.slip}-{case.sheet}-{case.item}")
def test_a_slip_is_named_or_honestly_not_and_costs_once(case: Case) -> None:
    protocol, settings, entries = entered_on(case.sheet)
    wrong = case.lines(right_values(case.sheet))
    own = lines_by_hand(protocol, settings, entries, wrong)
    marking = marked_sheet(case.sheet, own)
    lost = {mark.word for mark in marking.items if mark.score < mark.maximum} - {"questions"}
    assert lost == {case.item}
    steps = [step for mark in marking.items for step in mark.steps]
    charged = [step for step in steps if step.state == "wrong"]
    assert {fit.word for step in charged for fit in step.slips} == {case.slip, *case.either} - {""}
    assert {step.step for step in steps if step.state != "right"} == set(wrong)
    assert [step.step for step in charged] == list(wrong)[: len(charged)]
    assert [mark.about for mark in marking.to_be_marked] == list(ANSWERED)


def test_every_slip_of_the_library_has_a_case_for_each_way_it_shows() -> None:
    tried = {(case.slip, case.item) for case in CASES}
    assert {word for word, _ in tried} - {""} == {slip.word for slip in SLIPS}
    assert len(CASES) >= 50
    several = [slip.word for slip in SLIPS if [one.word for one in SLIPS].count(slip.word) > 1]
    assert {word for word in several if len({item for name, item in tried if name == word}) < 2} == set()


CORRECT_SETS = 1_000 if os.environ.get("SHEETGEN_NIGHTLY") else 200
_CALIPERS = (
    Caliper("C1", "spring caliper", 0.5, 60.0, 0.5),
    Caliper("C2", "dial caliper", 0.2, 80.0, -0.4),
    Caliper("C3", "sliding caliper", 1.0, 60.0, 3.0),
    Caliper("C4", "digital caliper", 0.1, 60.0, 0.1),
)


def correct_entries(number: int) -> tuple[Protocol, SheetSettings, dict[str, Value]]:
    """A correct sheet: each line rounded or written as the calculator shows it, worked on with either.

    And typed in some style of numbers.
    """
    dice = random.Random(f"correct {number}")
    identifier = shipped_protocols()[number % len(shipped_protocols())]
    protocol, caliper = find_protocol_once(identifier), dice.choice(_CALIPERS)
    youth = identifier == "youth-two-sites"
    settings = SheetSettings(
        protocol_id=identifier,
        language="en",
        site_rule=dice.choice(("median", "closest-pair")),
        tolerance_kind="mm",
        tolerance=dice.choice((1.0, 2.0)),
        conversion=dice.choice([one.identifier for one in protocol.conversions] or [""]),
        show_results="never",
        calipers=_CALIPERS,
        under_18=youth,
        youth_estimate="on" if youth else "off",
    )
    entries: dict[str, Value] = {
        **sample_entries(protocol, settings, caliper, str(number)),
        "caliper_id": caliper.identifier,
        "side": "right",
    }
    if youth:
        entries["age_years"] = dice.randint(8, 17)

    def write(line: str, value: float, decimals: int) -> tuple[float, float]:
        half_up = float(Decimal(repr(value)).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP))
        as_written = dice.choice((round(value, decimals), half_up, value, round(value, decimals + 1)))
        return as_written, dice.choice((as_written, value))

    own = lines_by_hand(protocol, settings, entries, write=write)
    typed = {name: in_some_style(dice, name, value) for name, value in {**entries, **own}.items()}
    return protocol, settings, as_read(settings.protocol_id, typed)


ARABIC = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")


def in_some_style(dice: random.Random, name: str, value: Value) -> Value:
    """A number of own working as people type it: a number, a text, with a comma, a unit or a % sign."""
    if not name.startswith("own_") or not isinstance(value, float | int):
        return value
    text = f"{value:.15g}"
    unit = {"_mm": "mm", "_cm": "cm", "_g_ml": "g/ml", "_percent": "%", "_kg": "kg"}
    units = [each for ending, each in unit.items() if name.endswith(ending)] or ["mm"]
    styles: list[Value] = [
        value, value, text, text.replace(".", ","), f" {text} ", f"+{text}", text.translate(ARABIC),
        f"{text} {units[0]}", f"{text}{units[0]}".replace(".", ","),
    ]  # fmt: skip
    # 10.9 % is stored as 0.109
    return dice.choice([*styles, value / 100, value / 100] if name == "own_fat_percent" else styles)


def as_read(identifier: str, typed: Mapping[str, Value]) -> dict[str, Value]:
    """Entries as they are read from the cells of a sheet."""
    layout = layout_of(identifier)
    tabs = {
        tab.key: TabState(
            tab.title,
            {
                (cell.row, cell.column): CellState(typed[cell.name])
                for cell in tab.cells
                if cell.name in typed
            },
            protected=True,
            visibility="visible",
        )
        for tab in layout.tabs
    }
    return dict(entries_of(layout, tabs).meant)


@lru_cache(maxsize=8)
def layout_of(identifier: str) -> Layout:
    youth = {"conversion": "", "under_18": True, "youth_estimate": "on"}
    plain = {"conversion": "siri" if find_protocol_once(identifier).conversions else ""}
    changes = youth if identifier == "youth-two-sites" else plain
    return source_of(settings_with(protocol_id=identifier, **changes)).layout


@lru_cache(maxsize=8)
def find_protocol_once(identifier: str) -> Protocol:
    return find_protocol(identifier)


def test_correct_sheets_have_full_marks_and_no_accusation() -> None:
    accused = []
    for number in range(CORRECT_SETS):
        protocol, settings, entries = correct_entries(number)
        results = recalculate(protocol, settings, entries)
        marking = marked(SCHEME, Seen(protocol, settings, entries, results, ()))
        steps = [step for mark in marking.items for step in mark.steps]
        lost = [mark.word for mark in marking.items if mark.score != mark.maximum] != ["questions"]
        if lost or len(steps) < 3 or any(step.state != "right" or step.slips for step in steps):
            accused.append((number, protocol.identifier, [one for one in steps if one.state != "right"]))
    assert accused == []
