"""Where validation covers a tab, and by which rule, without spreading out whole columns."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import product

from lxml import etree

from sheetgen.finding import RefusedError, too_large
from sheetgen.workbook.addresses import column_number
from sheetgen.workbook.read.parts import attribute_true, local_name, shift_formula
from sheetgen.workbook.snapshot import Block, RuleState

ROW_LIMIT = 5_000
COLUMN_LIMIT = 256

_LARGEST_SPREAD_BLOCK = 2_000
_MOST_SPREAD_PLACES = 200_000
_MOST_WIDE_BLOCKS = 200
# Beyond so many cells of a tab a rule that reads differently in each is left alone: a sheet has some dozens.
_MOST_MOVED = 1_000
_MOST_READ = 2_000

_REFERENCE = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,9})")
_EXTENSION_RULE = "{http://schemas.microsoft.com/office/spreadsheetml/2009/9/main}dataValidation"

_Place = tuple[int, int]
_Understood = tuple[RuleState | None, _Place | None]
_NOT_UNDERSTOOD: _Understood = (None, None)

_KINDS = {
    "list": "list",
    "whole": "whole",
    "decimal": "decimal",
    "textLength": "length",
    "custom": "custom",
    "date": "date",
    "time": "time",
}
_COUNTS = {"whole", "length"}
# Longer ones are none of a sheet handed out, and would take long to move from cell to cell.
_LONGEST_FORMULA = 2_000
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_WORDS = re.compile(r'"((?:[^"]|"")*)"')


@dataclass(frozen=True, slots=True)
class RuledPlaces:
    """Places that a validation covers: small blocks place by place, wide ones as blocks.

    rules, wide_rules : of those whose rule is understood.
    """

    places: frozenset[tuple[int, int]]
    wide: tuple[Block, ...]
    rules: Mapping[tuple[int, int], RuleState] = field(default_factory=dict)
    wide_rules: tuple[tuple[Block, RuleState], ...] = ()

    def covers(self, place: tuple[int, int]) -> bool:
        """Say whether any validation covers a place."""
        if place in self.places:
            return True
        row, column = place
        return any(top <= row <= bottom and left <= column <= right for top, left, bottom, right in self.wide)


@lru_cache(maxsize=16_384)
def place_of(reference: str) -> tuple[int, int] | None:
    """Return row and column of a cell reference, from 0; None where it is not one.

    Examples
    --------
    >>> place_of("B9"), place_of("9B")
    ((8, 1), None)
    """
    match = _REFERENCE.fullmatch(reference)
    return None if match is None else (int(match[2]) - 1, column_number(match[1]))


def read_rules(root: etree._Element, namespace: str) -> RuledPlaces:
    """Return the places that a tab's validation covers, those in the extension list included, and the rules.

    A validation of type `none` only shows a message and refuses nothing, so it does not count. Where several
    cover a place, the last one that is understood tells the rule.
    """
    places: set[_Place] = set()
    wide: list[Block] = []
    rules: dict[_Place, RuleState] = {}
    wide_rules: list[tuple[Block, RuleState]] = []
    moves_left = _MOST_MOVED
    owners, understood = _block_texts(root, namespace)
    for text, owner in owners.items():
        block = _block_of(text)
        if block is None:
            continue
        top, left, bottom, right = block
        size = (bottom - top + 1) * (right - left + 1)
        rule, base = understood[owner] if owner < len(understood) else _NOT_UNDERSTOOD
        if base is not None:
            moves_left -= size
            if moves_left < 0:
                rule = None
        if size > _LARGEST_SPREAD_BLOCK:
            wide.append(block)
            if rule is not None:
                wide_rules.append((block, rule))
        else:
            spread = list(product(range(top, bottom + 1), range(left, right + 1)))
            places.update(spread)
            rules.update(_by_place(rule, base, spread))
        if len(places) > _MOST_SPREAD_PLACES or len(wide) > _MOST_WIDE_BLOCKS:
            raise RefusedError(too_large("rules", most=_MOST_WIDE_BLOCKS))
    return RuledPlaces(frozenset(places), tuple(dict.fromkeys(wide)), rules, tuple(wide_rules))


def _by_place(rule: RuleState | None, base: _Place | None, places: list[_Place]) -> dict[_Place, RuleState]:
    if rule is None:
        return {}
    if base is None:
        return dict.fromkeys(places, rule)
    return {place: rule_at_distance(rule, place[0] - base[0], place[1] - base[1]) for place in places}


def _block_texts(root: etree._Element, namespace: str) -> tuple[dict[str, int], list[_Understood]]:
    """Return every block with the number of its rule, and what the rules mean, as far as they are read."""
    owners: dict[str, int] = {}
    understood: list[_Understood] = []
    for number, (rule, text) in enumerate(_validations(root, namespace)):
        texts = text.split()
        for one in texts:
            owners.pop(one, None)
        owners.update(dict.fromkeys(texts, number))
        if number < _MOST_READ:
            understood.append(_meaning(rule, texts))
    return owners, understood


def _validations(root: etree._Element, namespace: str) -> Iterator[tuple[etree._Element, str]]:
    """Every validation that refuses something, and the text of its blocks."""
    for container in root.iterchildren(f"{namespace}dataValidations"):
        for rule in container.iterchildren(f"{namespace}dataValidation"):
            if rule.get("type", "none") != "none":
                yield rule, rule.get("sqref", "")
    for extensions in root.iterchildren(f"{namespace}extLst"):
        for rule in extensions.iter(_EXTENSION_RULE):
            if rule.get("type", "none") != "none":
                yield rule, " ".join(child.text or "" for child in rule if local_name(child) == "sqref")


def _meaning(rule: etree._Element, texts: list[str]) -> _Understood:
    """Return what a rule lets through and, where it reads differently from cell to cell, from which on."""
    state = rule_state(rule)
    if state is None or not is_relative(state):
        return state, None
    corners = [block[:2] for one in texts if (block := _block_of(one)) is not None]
    if not corners:
        return _NOT_UNDERSTOOD
    row, column = min(row for row, _ in corners), min(column for _, column in corners)
    # Programs differ in which corner counts, the first block's or that of them all.
    return (state, (row, column)) if corners[0] == (row, column) else _NOT_UNDERSTOOD


def _block_of(text: str) -> Block | None:
    """Return a block cut down to the kept addresses, None where none of it is kept or it is not one."""
    first_text, colon, last_text = text.partition(":")
    first = place_of(first_text)
    last = place_of(last_text) if colon else first
    if first is None or last is None:
        return None
    top, bottom = sorted((first[0], last[0]))
    left, right = sorted((first[1], last[1]))
    if top >= ROW_LIMIT or left >= COLUMN_LIMIT:
        return None
    return top, left, min(bottom, ROW_LIMIT - 1), min(right, COLUMN_LIMIT - 1)


def rule_state(rule: etree._Element) -> RuleState | None:
    """Return what a validation lets through; None where it is written in a form that is not understood.

    A list that is no text of words but a reference has no words. A limit that is no number is not understood.
    """
    kind = _KINDS.get(rule.get("type", ""))
    first, second = _formula(rule, "formula1"), _formula(rule, "formula2")
    if kind is None or max(len(first), len(second)) > _LONGEST_FORMULA:
        return None
    stops = rule.get("errorStyle", "stop") == "stop" and attribute_true(rule, "showErrorMessage")
    operator = rule.get("operator", "between")
    return _state(kind, operator, stops, attribute_true(rule, "allowBlank"), first, second)


# The same rules come back with every sheet; each is short.
@lru_cache(maxsize=1_024)
def _state(
    kind: str, operator: str, stops: bool, ignores_blank: bool, first: str, second: str
) -> RuleState | None:
    state = RuleState(kind, stops=stops, ignores_blank=ignores_blank)
    if kind == "custom":
        return replace(state, formula=f"={first}")
    if kind == "list":
        inside = _WORDS.fullmatch(first)
        if inside is None:
            return state
        return replace(state, words=frozenset(map(str.strip, inside[1].replace('""', '"').split(","))))
    if kind in ("date", "time"):
        return state
    limits = _limits(operator, first, second, 1 if kind in _COUNTS else 0)
    return None if limits is None else replace(state, minimum=limits[0], maximum=limits[1])


def is_relative(state: RuleState) -> bool:
    """Say whether a rule means another thing at another place."""
    return bool(state.formula) and _is_relative(state.formula)


@lru_cache(maxsize=1_024)
def _is_relative(formula: str) -> bool:
    return shift_formula(formula, 1, 1) != formula


def rule_at_distance(state: RuleState, rows: int, columns: int) -> RuleState:
    """Return a rule as it is for a cell so far from the one it is written for."""
    return replace(state, formula=shift_formula(state.formula, rows, columns))


def _formula(rule: etree._Element, name: str) -> str:
    """In the extension list the text stands one element deeper."""
    for one in rule:
        if local_name(one) == name:
            return "".join(map(str, one.itertext())).strip()
    return ""


def _limits(operator: str, first: str, second: str, step: int) -> tuple[float | None, float | None] | None:
    """Return the least and the most that is let through, None for a side that is open.

    step : to the next number, where only whole ones count; 0 where there is no next one.
    """
    pair = operator in ("between", "notBetween")
    if not _NUMBER.fullmatch(first) or (pair and not _NUMBER.fullmatch(second)):
        return None
    limit = float(first)
    return {
        "between": (limit, float(second) if pair else None),
        "equal": (limit, limit),
        "greaterThanOrEqual": (limit, None),
        "lessThanOrEqual": (None, limit),
        "greaterThan": (limit + step, None),
        "lessThan": (None, limit - step),
        "notBetween": (None, None),
        "notEqual": (None, None),
    }.get(operator)
