"""Invented entries for the sample class: plausible readings, own working, and a fault here and there."""

import random
from collections.abc import Callable, Mapping

from sheetgen.checking.recalculate import live_values, next_step, recalculate
from sheetgen.layout.vocabulary import entry_names, live_names, own_decimals, own_steps, sex_words
from sheetgen.model.layout import Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, SheetSettings

__all__ = ["FAULTS", "sample_entries", "stored_results", "with_own_working"]

Entries = dict[str, Value]

_TYPICAL_FOLD_MM = {
    "chest": 11, "midaxillary": 12, "triceps": 14, "subscapular": 14, "abdominal": 19, "suprailiac": 16,
    "thigh": 20,
}  # fmt: skip
_REPEAT_ERROR_MM = 0.6


def sample_entries(protocol: Protocol, settings: SheetSettings, caliper: Caliper, seed: str) -> Entries:
    """Return a full set of entries without a fault, the same for the same seed.

    Readings are a fold of the person, an error of repeating of 0.6 mm, and the caliper's zero, on its scale.
    """
    dice = random.Random(f"sample {seed}")
    step = caliper.division

    def read(fold: float) -> float:
        return round(round((fold + dice.gauss(0, _REPEAT_ERROR_MM) + caliper.zero) / step) * step, 2)

    sex = dice.choice(sex_words(protocol)[:-1] or ("sum-only",))
    entries: Entries = {
        "cautions_confirmed": "yes",
        "age_years": dice.randint(19, 44),
        "sex_equation": sex,
        "mass_kg": round(dice.uniform(54, 92), 1),
        "zero_mm": caliper.zero,
        "length_upper_arm_cm": dice.randint(31, 38),
        "length_thigh_cm": dice.randint(40, 49),
    }
    build = dice.uniform(0.7, 1.35)
    folds = {
        site.word: _TYPICAL_FOLD_MM.get(site.word, 14) * build * dice.uniform(0.8, 1.2)
        for site in protocol.sites
    }
    for number in (1, 2):
        for word, fold in folds.items():
            entries[f"reading_{number}_{word}"] = read(fold)
    for site in recalculate(protocol, settings, entries).sites:
        if site.third_needed == "yes":
            entries[f"reading_3_{site.site}"] = read(folds[site.site])
    entries["answer_repeat"] = "The thigh, because the fold was hard to lift the same way twice."
    entries["answer_zero"] = "It would be off by the zero at each site, seven times in all."
    entries["answer_error"] = (
        "Placing the mark, and reading too late; mark with a second person and count to two."
    )
    asked = entry_names(protocol)
    return with_own_working(
        protocol, settings, {name: value for name, value in entries.items() if name in asked}
    )


def with_own_working(protocol: Protocol, settings: SheetSettings, entries: Entries) -> Entries:
    """Return the entries with every line of own working right, to the decimals asked for."""
    live = live_values(recalculate(protocol, settings, entries))
    own: Entries = {}
    for name, answers in own_steps(protocol):
        value = live[answers]
        if isinstance(value, str):
            continue
        own[name] = round(value, own_decimals(answers))
    return {**entries, **own}


def stored_results(
    protocol: Protocol, settings: SheetSettings, entries: Mapping[str, Value]
) -> dict[str, Value]:
    """Return the live results a spreadsheet program would store for these entries, by cell name."""
    seen = {
        name: None if isinstance(value, str) and _is_number_name(name) else value
        for name, value in entries.items()
    }
    results = recalculate(protocol, settings, seen)
    ready = "yes" if next_step(protocol, settings, seen, results) == "done" else "no"
    live = {**live_values(results), "ready": ready}
    return {name: live[name] for name in live_names(protocol)}


def _is_number_name(name: str) -> bool:
    return name.startswith(("reading_", "own_", "length_")) or name.endswith(("_mm", "_kg", "_years"))


def _third_left_out(entries: Entries) -> None:
    entries["reading_2_thigh"] = _number(entries, "reading_1_thigh") + 4
    entries["reading_3_thigh"] = None


def _third_not_needed(entries: Entries) -> None:
    entries["reading_2_chest"] = entries["reading_1_chest"]
    entries["reading_3_chest"] = entries["reading_1_chest"]


def _digits_swapped(entries: Entries) -> None:
    entries["reading_1_triceps"], entries["reading_2_triceps"] = 12.5, 21.5
    entries["reading_3_triceps"] = 13.0


def _comma_text(entries: Entries) -> None:
    entries["reading_1_subscapular"] = f"{_number(entries, 'reading_1_subscapular'):.1f}".replace(".", ",")


def _off_scale(entries: Entries) -> None:
    entries["reading_2_suprailiac"] = _number(entries, "reading_2_suprailiac") + 0.3


def _decimal_slip(entries: Entries) -> None:
    entries["reading_1_midaxillary"] = _number(entries, "reading_1_midaxillary") * 10
    entries["reading_3_midaxillary"] = entries["reading_2_midaxillary"]


def _zero_sign(entries: Entries) -> None:
    entries["zero_mm"] = -_number(entries, "zero_mm")


def _other_caliper(entries: Entries) -> None:
    entries["caliper_id"] = "C1"


def _site_declined(entries: Entries) -> None:
    for number in (1, 2, 3):
        entries[f"reading_{number}_abdominal"] = None
    entries["not_taken_abdominal"] = "declined"


def _age_missing(entries: Entries) -> None:
    entries["age_years"] = None


def _sum_only(entries: Entries) -> None:
    entries["sex_equation"] = "sum-only"


def _other_participant(entries: Entries) -> None:
    entries["participant_today"] = "P-GUEST"


FAULTS: dict[str, Callable[[Entries], None]] = {
    "L02": _third_left_out,
    "L03": _third_not_needed,
    "L05": _digits_swapped,
    "L06": _comma_text,
    "L08": _off_scale,
    "L09": _decimal_slip,
    "L11": _zero_sign,
    "L12": _other_caliper,
    "L14": _site_declined,
    "L15": _age_missing,
    "L17": _sum_only,
    "L18": _other_participant,
}
"""student_id in the sample class to the fault in what they typed."""


def _number(entries: Entries, name: str) -> float:
    value = entries[name]
    if not isinstance(value, int | float):
        raise TypeError(f"{name} holds {value!r}, not a number")
    return float(value)
