"""Recompute everything that follows from the entries of one sheet, from the raw readings alone."""

import math
from collections.abc import Mapping

from msgspec import Struct

from sheetgen.measurement import composition, readings
from sheetgen.measurement.numbers import hundredths, millimetres
from sheetgen.protocols.names import (
    ANSWERS,
    FILLED_IN,
    LEFT_OUT,
    MAJORITY,
    ROUNDS,
    SEX_WORDS,
    START_ENTRIES,
    SUM_AND_ESTIMATE,
    TEXT_ENTRIES,
    StartEntry,
    change_words,
    entry_names,
    listed_words,
    live_names,
    midpoints_of,
    not_taken_names,
    own_steps,
    reading_name,
    sex_words,
    start_entries,
)
from sheetgen.protocols.protocol import Equation, Protocol, Site
from sheetgen.protocols.settings import Caliper, SheetSettings

Entries = Mapping[str, str | float | None]
"""Entry name to what was entered; a name that is absent counts as empty."""


class SiteResult(Struct, frozen=True):
    """What follows from the readings of one site. corrected : the three readings with the zero deducted [mm],
    None where there is none. value_mm : the site value. kept_rounds : the rounds it came from.
    third_needed : `yes`, `no` or empty. measure_again : no two of three within the tolerance.
    not_taken : `left-out`, `under-18` for a trunk site of someone under 18, or empty."""

    site: str
    corrected: tuple[float | None, float | None, float | None]
    value_mm: float | None
    kept_rounds: tuple[int, ...]
    third_needed: str
    measure_again: bool
    not_taken: str


class Results(Struct, frozen=True):
    """Everything that follows from the entries of one sheet.
    estimate_state : `ok`, or the code word of why there is none. equation_id : what fits, or empty."""

    sites: tuple[SiteResult, ...]
    midpoint_upper_arm_cm: float | None
    midpoint_thigh_cm: float | None
    sum_mm: float | None
    density_g_ml: float | None
    fat_percent: float | None
    fat_mass_kg: float | None
    fat_free_mass_kg: float | None
    estimate_state: str
    equation_id: str


LARGEST_ENTRY = 1_000_000
"""Numbers of this size or more are no entry of this trade; the sheet leaves them out as well."""


def recalculate(
    protocol: Protocol, settings: SheetSettings, entries: Entries, *, within_limits: bool = True
) -> Results:
    """Return every result of a sheet. entries : entry name to number or text; a text in a number entry counts
    as missing. within_limits : an estimate outside the protocol's limits of per cent fat is none. Sheets of
    the first two forms did not know any. Results with None where a value cannot be worked out, and the state
    of the estimate. ValueError : the settings hold an unknown site rule or tolerance."""
    sites = tuple(_site_result(protocol, settings, entries, site) for site in protocol.sites)
    values = [None if site.value_mm is None else round(site.value_mm * 1000) for site in sites]
    sum_thousandths = composition.sum_of_sites(values)
    sum_mm = None if sum_thousandths is None else sum_thousandths / 1000
    equation, state = _estimate(protocol, settings, entries, sum_thousandths)
    density = percent = fat = lean = None
    age, mass = number_of(entries, "age_years"), number_of(entries, "mass_kg")
    if state == "ok" and equation is not None and sum_mm is not None and age is not None:
        value = equation.value(sum_mm, age)
        density, percent = (value, None) if equation.gives_density else (None, value)
        # Coefficients of a teacher's own may lead to no density at all.
        if density is not None and density > 0:
            percent = protocol.conversion(settings.conversion).percent(density)
        low, high = protocol.fat_minimum, protocol.fat_maximum
        if within_limits and (percent is None or not low <= percent <= high):
            density, percent, state = None, None, "percent-outside"
        if percent is not None and mass is not None and mass > 0:
            fat, lean = composition.fat_mass(mass, percent), composition.fat_free_mass(mass, percent)
    return Results(
        sites=sites,
        midpoint_upper_arm_cm=_midpoint(protocol, entries, "length_upper_arm_cm"),
        midpoint_thigh_cm=_midpoint(protocol, entries, "length_thigh_cm"),
        sum_mm=sum_mm,
        density_g_ml=density,
        fat_percent=percent,
        fat_mass_kg=fat,
        fat_free_mass_kg=lean,
        estimate_state=state,
        equation_id=equation.identifier if equation is not None else "",
    )


def repeat_difference(entries: Entries, site: SiteResult) -> float | None:
    """Return |round 1 - round 2| [mm] of the corrected readings, of the raw ones where the zero is missing,
    worked out on whole hundredths; None where one of them is missing."""
    raw = [number_of(entries, reading_name(number, site.site)) for number in (1, 2)]
    first, second = raw if site.corrected[0] is None else site.corrected[:2]
    return None if first is None or second is None else abs(hundredths(first) - hundredths(second)) / 100


def live_values(results: Results) -> dict[str, float | str]:
    """Return the live results as the sheet's named cells hold them; empty text where there is no value."""
    names = ("midpoint_upper_arm_cm", "midpoint_thigh_cm", *SUM_AND_ESTIMATE)
    values: dict[str, float | str | None] = {name: getattr(results, name) for name in names}
    for site in results.sites:
        values[f"site_{site.site}"] = site.value_mm
        values[f"third_{site.site}"] = site.third_needed
        values[f"again_{site.site}"] = "yes" if site.measure_again else "no"
    return {name: "" if value is None else value for name, value in values.items()}


def stored_results(
    protocol: Protocol, settings: SheetSettings, entries: Entries
) -> dict[str, str | float | None]:
    """Return the live results a spreadsheet program would store for these entries, by cell name."""
    seen = {name: value for name, value in entries.items() if value is not None}
    results = recalculate(protocol, settings, seen)
    ready = "yes" if is_ready(protocol, settings, {**FILLED_IN, **seen}, results) else "no"
    live = {**live_values(results), "ready": ready}
    return {name: live[name] for name in live_names(protocol)}


def is_ready(protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results) -> bool:
    """Tell whether a sheet is ready to hand in: every entry that is due is there, the short questions too,
    and nothing in a cell is an error: there, and None."""
    sex = text_of(entries, "sex_equation") if protocol.equations else "sum-only"
    due = {name for name in ("zero_mm", *midpoints_of(protocol)) if name in start_entries(protocol)}
    if "age_years" in start_entries(protocol) and not (protocol.equations and sex == "sum-only"):
        due.add("age_years")
    live = live_values(results)
    due |= {own for own, name in own_steps(protocol) if not isinstance(live[name], str)}
    for site in results.sites:
        rounds = () if site.not_taken else ROUNDS if site.third_needed == "yes" else ROUNDS[:2]
        due |= {reading_name(number, site.site) for number in rounds}
    lists = {name: listed_words(name) for name in ("cautions_confirmed", "data_source", "sex_equation")}
    lists |= {name: ("", *listed_words(name)) for name in ("side", *not_taken_names(protocol))}
    lists["caliper_id"] = tuple(caliper.identifier.casefold() for caliper in settings.calipers)
    return (
        all(number_of(entries, name) is not None for name in due)
        and all(text_of(entries, f"answer_{word}") for word in ANSWERS)
        and all(
            text_of(entries, name) in words for name, words in lists.items() if name in entry_names(protocol)
        )
        and not any(_is_no_number(entries, name) for name in entry_names(protocol))
        and not any(
            reading_faults(protocol, settings, entries, number, site.site)
            for site in results.sites
            for number in (() if site.not_taken else ROUNDS)
        )
        and not any(entries.get(name, "") is None for name in (*TEXT_ENTRIES, *not_taken_names(protocol)))
        and _second_caliper_complete(protocol, settings, entries)
    )


def _is_no_number(entries: Entries, name: str) -> bool:
    """Whether what stands in a number entry is none, or out of its range."""
    limits = START_ENTRIES.get(name, StartEntry()).limits
    if name not in entries or not (limits or name.startswith(("own_", "reading_"))):
        return False
    value = number_of(entries, name)
    if value is None:
        return not (name.startswith("own_") and isinstance(entries[name], float | int))
    return limits is not None and not limits[1] <= value <= limits[2]


def caliper_of(
    protocol: Protocol, settings: SheetSettings, entries: Entries, round_number: int, site: str
) -> Caliper | None:
    """Return the caliper of the register that a reading was taken with, None where it is not known."""
    second = _with_second(protocol, entries, round_number, site)
    chosen = text_of(entries, "caliper_id_2" if second else "caliper_id")
    return next((each for each in settings.calipers if each.identifier.casefold() == chosen), None)


def reading_faults(
    protocol: Protocol, settings: SheetSettings, entries: Entries, round_number: int, site: str
) -> dict[str, float]:
    """Return the limits [mm] that a reading breaks, as far as zero and caliper in hand are known: it is not
    above the `zero`, beyond the `opening`, or between two marks of the scale, a `division` apart."""
    reading = number_of(entries, reading_name(round_number, site))
    if reading is None:
        return {}
    zero = zero_of(protocol, entries, round_number, site)
    caliper = caliper_of(protocol, settings, entries, round_number, site)
    faults = {} if zero is None or hundredths(reading) > hundredths(zero) else {"zero": zero}
    if caliper is not None and hundredths(reading) > hundredths(caliper.opening):
        faults["opening"] = caliper.opening
    elif caliper is not None and (step := hundredths(caliper.division)) > 0 and hundredths(reading) % step:
        faults["division"] = caliper.division
    return faults


def _second_caliper_complete(protocol: Protocol, settings: SheetSettings, entries: Entries) -> bool:
    """Whether all that says of a second caliper is there, or nothing."""
    names = ("caliper_id_2", "zero_2_mm", "changed_from_round", "changed_from_site", "changed_from")
    known = {caliper.identifier.casefold() for caliper in settings.calipers}
    whole = text_of(entries, "caliper_id_2") in known and number_of(entries, "zero_2_mm") is not None
    changed = _change_at(protocol, entries) < len(change_words(protocol))
    return (whole and changed) or not any(name in entries for name in names)


def number_of(entries: Entries, name: str) -> float | None:
    """Return a number entry to hundredths, None where it is empty, a text, or a million or more. An age
    counts in whole years, as people count it: 17.996 is 17."""
    value = entries.get(name)
    if value is None or isinstance(value, str) or not abs(value) < LARGEST_ENTRY:
        return None
    return math.floor(value) if name == "age_years" else millimetres(hundredths(value))


def text_of(entries: Entries, name: str) -> str:
    """Return a text entry in lower case; a number as the text a person would write. Spaces are taken away as
    the sheet does it: at both ends, and all but one within."""
    value = entries.get(name)
    if value is None:
        return ""
    if not isinstance(value, str):
        return f"{value:.15g}"
    return " ".join(part for part in value.split(" ") if part).casefold()


def zero_of(protocol: Protocol, entries: Entries, round_number: int, site: str) -> float | None:
    """Return the zero [mm] of the caliper a reading was taken with."""
    second = _with_second(protocol, entries, round_number, site)
    return number_of(entries, "zero_2_mm" if second else "zero_mm")


def lacks_zero(protocol: Protocol, entries: Entries, site: str) -> bool:
    """Tell whether the two first readings of a site are there and a zero of theirs is not."""
    both = [number_of(entries, reading_name(number, site)) for number in (1, 2)]
    return None not in both and None in [zero_of(protocol, entries, number, site) for number in (1, 2)]


def change_of(entries: Entries) -> str:
    """Return the first reading with a second caliper as ROUND_SITE, empty where it is not told. Round and
    site stand in two entries; in one, `changed_from`, on sheets of the first two layouts."""
    site = text_of(entries, "changed_from_site")
    return f"{text_of(entries, 'changed_from_round')}_{site}" if site else text_of(entries, "changed_from")


def _with_second(protocol: Protocol, entries: Entries, round_number: int, site: str) -> bool:
    """Whether a reading was taken with the second caliper."""
    if not change_of(entries):
        return False
    return _change_at(protocol, entries) <= change_words(protocol).index(f"{round_number}_{site}")


def _change_at(protocol: Protocol, entries: Entries) -> int:
    order, changed = change_words(protocol), change_of(entries)
    return order.index(changed) if changed in order else len(order)


def is_under_18(protocol: Protocol, entries: Entries) -> bool:
    """Tell whether the age typed is below 18; a sheet that asks for no age does not know."""
    age = number_of(entries, "age_years") if "age_years" in start_entries(protocol) else None
    return age is not None and age < MAJORITY


def _midpoint(protocol: Protocol, entries: Entries, name: str) -> float | None:
    length = number_of(entries, name) if name in start_entries(protocol) else None
    return readings.midpoint(length) if length is not None and length > 0 else None


def _site_result(protocol: Protocol, settings: SheetSettings, entries: Entries, site: Site) -> SiteResult:
    not_taken = LEFT_OUT if text_of(entries, f"not_taken_{site.word}") else ""
    if not not_taken and site.trunk and is_under_18(protocol, entries):
        not_taken = "under-18"

    def corrected(number: int) -> int | None:
        reading = number_of(entries, reading_name(number, site.word))
        zero = zero_of(protocol, entries, number, site.word)
        if not_taken or reading is None or zero is None:
            return None
        return readings.corrected(hundredths(reading), hundredths(zero))

    first, second, third = map(corrected, ROUNDS)
    tolerance = readings.Tolerance(settings.tolerance_kind, hundredths(settings.tolerance))
    value = readings.site_value(first, second, third, tolerance, settings.site_rule)
    needed = readings.third_needed(first, second, tolerance)
    return SiteResult(
        site=site.word,
        corrected=(_in_mm(first), _in_mm(second), _in_mm(third)),
        value_mm=None if value is None else value.millimetres,
        kept_rounds=() if value is None else value.kept_rounds,
        third_needed=needed,
        measure_again=needed == "yes" and readings.measure_again(first, second, third, tolerance),
        not_taken=not_taken,
    )


def _in_mm(whole_hundredths: int | None) -> float | None:
    return None if whole_hundredths is None else millimetres(whole_hundredths)


def _estimate(
    protocol: Protocol, settings: SheetSettings, entries: Entries, sum_thousandths: int | None
) -> tuple[Equation | None, str]:
    """The equation that fits, and `ok` or the reason why there is no estimate."""
    sex, age = text_of(entries, "sex_equation"), number_of(entries, "age_years")
    equations, young = protocol.equations, is_under_18(protocol, entries)
    youth = settings.under_18 and settings.youth_estimate == "on"
    fitting = [
        equation
        for equation in equations
        if equation.sex == sex and age is not None and equation.age_minimum <= age <= equation.age_maximum
    ]
    reasons = (
        ("under-18", equations and young and not youth),
        ("sum-missing", sum_thousandths is None),
        ("under-18", not equations and (young or settings.under_18)),
        ("no-equation", not equations),
        ("sex-missing", sex not in SEX_WORDS),
        ("sum-only", sex == "sum-only"),
        ("sex-outside", sex not in sex_words(protocol)),
        ("age-missing", age is None),
        ("age-outside", not fitting),
    )
    reason = next((word for word, holds in reasons if holds), "")
    if reason or sum_thousandths is None:
        return None, reason
    lowest, highest = fitting[0].sum_minimum, fitting[0].sum_maximum
    if lowest is not None and sum_thousandths < round(lowest * 1000):
        return fitting[0], "sum-below"
    if highest is not None and sum_thousandths > round(highest * 1000):
        return fitting[0], "sum-above"
    return fitting[0], "ok"
