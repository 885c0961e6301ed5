"""The tab Calipers of the class book: the register, the last check of each, and what the checks say."""

import re
from collections.abc import Sequence

from sheetgen.checking.class_book_cells import (
    Line,
    day_of,
    faulty_id,
    in_range,
    number_of,
    problem,
    text_of,
    word_of,
)
from sheetgen.layout.class_book_checks import blocks_off, check_again_by, zero_is_large
from sheetgen.layout.class_book_words import BLOCKS, DIVISIONS, LONGEST, YES_NO, ZERO_LIMIT
from sheetgen.model.finding import Finding, listed, quoted
from sheetgen.model.settings import Caliper, CaliperCheck

__all__ = ["calipers_from"]

_CALIPER_LABEL = re.compile(r'[^,;"\s]([^,;"]*[^,;"\s])?')


def calipers_from(
    lines: Sequence[Line], today: str = ""
) -> tuple[tuple[Caliper, ...], tuple[CaliperCheck, ...], list[Finding]]:
    """Return the register, the checks on record, and the faults; what a check says is a warning.

    Parameters
    ----------
    lines : of the tab Calipers.
    today : the day as YYYY-MM-DD; empty: nothing is said of checks that are old or missing.
    """
    calipers: list[Caliper] = []
    checks: list[CaliperCheck] = []
    problems: list[Finding] = []
    seen: dict[str, str] = {}
    for line in lines:
        caliper, faults = _caliper(line, seen)
        problems += faults
        check, faults = _check(line, caliper.identifier if caliper is not None else "")
        problems += faults
        if caliper is None:
            continue
        calipers.append(caliper)
        if check.blocks or check.checked_on or check.checked_by:
            checks.append(check)
        if caliper.in_service:
            problems += _warnings(line, caliper, check, today)
    return tuple(calipers), tuple(checks), problems


def _caliper(line: Line, seen: dict[str, str]) -> tuple[Caliper | None, list[Finding]]:
    identifier, problems = text_of(line, "identifier", LONGEST["identifier"])
    if identifier and not _CALIPER_LABEL.fullmatch(identifier):
        problems.append(problem("class-book-caliper-id", line, "identifier", {"id": quoted(identifier)}))
    build, build_faults = text_of(line, "build", LONGEST["build"])
    steps = listed(tuple(f"{step:g}" for step in DIVISIONS), "or")
    division, division_faults = number_of(line, "division", lambda number: number in DIVISIONS, steps)
    opening, opening_faults = in_range(line, "opening", "opening")
    zero, zero_faults = in_range(line, "zero", "zero")
    in_service, service_faults = word_of(line, "in_service", YES_NO, YES_NO[0])
    problems += [*build_faults, *division_faults, *opening_faults, *zero_faults, *service_faults]
    if faulty_id(line, "identifier", identifier, seen, problems):
        return None, problems
    if division is None or opening is None or zero is None:
        return None, problems
    return Caliper(identifier, build, division, opening, zero, in_service == YES_NO[0]), problems


def _check(line: Line, identifier: str) -> tuple[CaliperCheck, list[Finding]]:
    problems: list[Finding] = []
    blocks: list[tuple[float, float]] = []
    for block in BLOCKS:
        word = f"block_{block:g}"
        state = line.cells[word]
        if not state.is_error and (state.value is None or not str(state.value).strip()):
            continue
        reading, faults = in_range(line, word, "block")
        problems += faults
        if reading is not None:
            blocks.append((block, reading))
    checked_on, day_faults = day_of(line, "checked_on")
    checked_by, text_faults = text_of(line, "checked_by", LONGEST["checked_by"])
    problems += [*day_faults, *text_faults]
    return CaliperCheck(identifier, tuple(blocks), checked_on, checked_by), problems


def _warnings(line: Line, caliper: Caliper, check: CaliperCheck, today: str) -> list[Finding]:
    problems: list[Finding] = []

    def warn(code: str, word: str, **values: str | float) -> None:
        about = {"caliper": caliper.identifier, **values}
        problems.append(problem(code, line, word, about, severity="warning"))

    if zero_is_large(caliper):
        warn("class-book-caliper-zero", "zero", zero=caliper.zero, limit=ZERO_LIMIT)
    for block, reading in blocks_off(caliper, check):
        values = {"reading": reading, "block": block, "zero": caliper.zero, "division": caliper.division}
        warn("class-book-caliper-block", f"block_{block:g}", **values)
    if today and not check.checked_on:
        warn("class-book-check-missing", "checked_on")
    elif today and check_again_by(check) < today:
        warn("class-book-check-old", "checked_on", day=check.checked_on)
    return problems
