"""The numbers that go into a line of own working: raw readings, zero, coefficients, the line above."""

from collections.abc import Iterable

from sheetgen.marking.carry_forward import Ground, Step, corners, steps_of
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, Results
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.working import conversion_text, equation_text
from sheetgen.texts.languages import Texts, with_decimal_sign


def working_numbers(
    protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results, texts: Texts
) -> dict[str, str]:
    """Return line of own working to the numbers that go into it, as a person writes them; what a line is
    worked out from is the line above as it was typed, else as it follows from the readings. texts : those of
    `feedback.LANGUAGE` with those of a sheet. Lines that nothing leads to are left out."""
    ground, steps = steps_of(protocol, settings, entries, results)
    numbers = {step.step: _numbers(ground, step, texts) for step in steps if step.inputs}
    return {line: text for line, text in numbers.items() if text}


def _numbers(ground: Ground, step: Step, texts: Texts) -> str:
    above = [_shown(value, texts) for value in corners(step.inputs[0])[1]]
    mass = _shown(ground.mass or 0.0, texts)
    if step.group == "midpoints":
        return f"{_shown(2 * ground.midpoints[step.step], texts)} / 2"
    if step.group == "sites":
        site = ground.sites[step.step]
        zeros = dict.fromkeys(zero for _, zero in site.taken)
        return texts["feedback.numbers_site"].format(
            readings=_listed((reading for reading, _ in site.taken), texts),
            zero=_listed(zeros, texts),
            corrected=_listed(site.corrected, texts),
        )
    if step.group == "sum":
        return " + ".join(above)
    if step.group == "fat-mass":
        return f"{mass} * {above[0]} / 100"
    if step.group == "fat-free-mass":
        return f"{mass} - {above[0]}"
    by_density = step.group == "fat-percent" and (ground.equation is None or ground.equation.gives_density)
    if by_density:
        return f"{conversion_text(ground.conversion, texts)}; D = {above[0]}" if ground.conversion else ""
    if ground.equation is None:
        return ""
    written = equation_text(ground.equation, texts)
    age = f"; A = {_shown(ground.age or 0.0, texts)}" if " A" in written else ""
    return f"{written}; S = {above[0]}{age}"


def _listed(values: Iterable[float], texts: Texts) -> str:
    return "; ".join(_shown(value, texts) for value in values)


def _shown(value: float, texts: Texts) -> str:
    return with_decimal_sign(f"{round(value, 4):.10g}", texts)
