"""Practice readings: every sheet carries a set of its own, so that a person can choose not to be measured.

They are invented from the copy code alone, differ from sheet to sheet, and two sites ask for a third reading.
"""

import math
import random

from sheetgen.layout.vocabulary import ROUNDS, sex_words, start_entries
from sheetgen.model.layout import Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper

__all__ = ["practice_names", "practice_values"]

_DETAILS = ("age_years", "sex_equation", "mass_kg", "zero_mm", "length_upper_arm_cm", "length_thigh_cm")


def practice_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the identity names of the practice set: `practice_` and the entry each stands for."""
    readings = [f"reading_{number}_{site.word}" for number in ROUNDS for site in protocol.sites]
    details = [name for name in _DETAILS if name in start_entries(protocol)]
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
            values[f"reading_{number}_{site.word}"] = on_scale
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
    return min(taken, key=lambda one: abs(one - age), default=age)
