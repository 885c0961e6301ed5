"""What a copy of a sheet carries of its own: identity, and practice readings made from its copy code."""

import math
import random
from collections.abc import Mapping
from dataclasses import asdict, dataclass

from sheetgen.protocols.names import PRACTISED, ROUNDS, reading_name, sex_words, start_entries
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.languages import shown_number
from sheetgen.workbook.layout import Identity, Value


@dataclass(frozen=True, slots=True)
class SheetCopy:
    """One sheet to hand out: its code, who measures whom in which session, and with which caliper."""

    copy_code: str
    class_code: str
    student_id: str
    participant_code: str
    session_number: int
    issued_caliper: str


def sheet_identity(
    protocol: Protocol, settings: SheetSettings, texts: Mapping[str, str], copy: SheetCopy
) -> Identity:
    """Return what one copy carries: its identity, its practice readings, and the caliper issued.

    Raises
    ------
    KeyError : the caliper is not in the register.
    """
    register = {caliper.identifier: (at, caliper) for at, caliper in enumerate(settings.calipers, start=1)}
    row, caliper = register[copy.issued_caliper]
    codes: dict[str, Value] = {
        **asdict(copy),
        "protocol_id": protocol.identifier,
        "caliper_zero_mm": caliper.zero,
    }
    # First results of the formulas that follow from the caliper issued.
    from_caliper: dict[str, Value] = {
        "caliper_id": caliper.identifier,
        "in_caliper_id": caliper.identifier,
        "caliper_row": row,
        "caliper_division": caliper.division,
        "caliper_opening": caliper.opening,
        "caliper_zero": caliper.zero,
        "shown_division": caliper.division,
        "shown_opening": caliper.opening,
    }
    said = {key: texts[f"readings.scale_{key}"] for key in ("steps", "opening", "zero", "example", "end")}
    division, opening = (shown_number(value, texts) for value in (caliper.division, caliper.opening))
    from_caliper["shown_scale"] = (
        f"{caliper.identifier}{said['steps']}{division}{said['opening']}{opening}{said['zero']}{said['example']}"
        f"{shown_number(12.5, texts)}{said['end']}"
    )
    today = texts["start.today_whom"].format(**codes)
    line = texts["sheet.line"].format(**codes)
    practice = practice_values(protocol, caliper, copy.copy_code)
    return Identity({**codes, **from_caliper, "sheet_line": line, "today_line": today, **practice})


def practice_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the identity names of the practice set: `practice_` and the entry each stands for."""
    readings = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    details = [name for name in PRACTISED if name in start_entries(protocol)]
    return tuple(f"practice_{name}" for name in (*details, *readings))


def practice_values(protocol: Protocol, caliper: Caliper, copy_code: str) -> dict[str, Value]:
    """Return an invented set of entries on the scale of a caliper, the same for the same copy code.

    Notes
    -----
    Ages 19 to 50, folds 8 to 28 mm: inside the range of the adult equations. Where no equation takes the age
    drawn, it becomes the nearest age that one takes. Two sites have readings more than 3 mm apart. Every site
    has a third reading, for a class with a narrow tolerance. The seed is a text, so the numbers are the same
    on every machine.
    """
    dice = random.Random(f"practice {copy_code}")
    step = caliper.division
    age = dice.randint(19, 50)
    sex = dice.choice(sex_words(protocol)[:-1] or ("sum-only",))
    values: dict[str, Value] = {
        "age_years": _age_with_equation(protocol, sex, age),
        "sex_equation": sex,
        "mass_kg": dice.randint(560, 860) / 10,
        "zero_mm": caliper.zero,
        "length_upper_arm_cm": dice.randint(30, 38),
        "length_thigh_cm": dice.randint(40, 50),
    }
    apart = set(dice.sample([site.word for site in protocol.sites], k=min(2, len(protocol.sites))))
    for site in protocol.sites:
        fold = dice.uniform(8, 28)
        gap = 3.0 + step if site.word in apart else dice.choice((0.0, step, -step))
        for number, reading in zip(ROUNDS, (fold, fold + gap, fold + gap - step), strict=True):
            on_scale = round(round((reading + caliper.zero) / step) * step, 2)
            values[reading_name(number, site.word)] = on_scale
    of_use = practice_names(protocol)
    named = {f"practice_{name}": value for name, value in values.items()}
    return {name: value for name, value in named.items() if name in of_use}


def _age_with_equation(protocol: Protocol, sex: str, age: int) -> int:
    """The nearest whole age that an equation for this sex takes; the age itself where there is none."""
    taken = [
        min(max(age, math.ceil(equation.age_minimum)), math.floor(equation.age_maximum))
        for equation in protocol.equations
        if equation.sex == sex
    ]
    return min(taken, key=lambda other: abs(other - age), default=age)
