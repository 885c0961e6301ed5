"""Faults of a marking scheme, of single values and of values that are wrong only together."""

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from sheetgen.checking.marking import CHECKS
from sheetgen.checking.slips import WORDS
from sheetgen.layout.vocabulary import ANSWERS, OWN_DECIMALS
from sheetgen.model.marking import ITEM_KINDS
from sheetgen.store.protocol_keys import Fault, Table, near, number_in, shown, tables_of
from sheetgen.store.toml_lines import Place

__all__ = ["scheme_table_faults"]

_Check = Callable[[Any], str]
"""Returns what was expected, or nothing where the value is right."""


def _text(value: Any) -> str:
    right = isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= 200
    return "" if right else "one line of text, 1 to 200 characters, without a tab"


def _word(value: Any) -> str:
    right = isinstance(value, str) and re.fullmatch(r"[a-z][a-z0-9-]{0,39}", value)
    return "" if right else "1 to 40 lower case letters, digits and hyphens, a letter first"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _number(low: float, high: float) -> _Check:
    def check(value: Any) -> str:
        return "" if _is_number(value) and low <= value <= high else f"a number from {low:g} to {high:g}"

    return check


def _positive(value: Any) -> str:
    return "" if _is_number(value) and 0 < value <= 1e6 else "a number above 0"


def _truth(value: Any) -> str:
    return "" if isinstance(value, bool) else "true or false"


def _one_of(words: Sequence[str]) -> _Check:
    def check(value: Any) -> str:
        return "" if isinstance(value, str) and value in words else " or ".join(words) + near(value, words)

    return check


def _words_of(words: Sequence[str]) -> _Check:
    def check(value: Any) -> str:
        if not (isinstance(value, list) and value):
            return "a list of words out of " + ", ".join(words)
        for one in value:
            if not isinstance(one, str) or one not in words:
                return f"instead of {shown(one)} one of {', '.join(words)}{near(one, words)}"
        twice = next((one for one in value if value.count(one) > 1), None)
        return "" if twice is None else f"'{twice}' only once"

    return check


def _weights(value: Any) -> str:
    right = isinstance(value, list) and value and not any(map(_positive, value))
    return "" if right else "a list of numbers above 0, one for each of steps"


def _bands(value: Any) -> str:
    expected = "[[limit, share], ...] with limits of at least 0 that rise and shares from 0 to 1 that fall"
    if not (isinstance(value, list) and value):
        return expected
    for band in value:
        if not (isinstance(band, list) and len(band) == 2 and all(map(_is_number, band))):
            return expected
        if not (band[0] >= 0 and 0 <= band[1] <= 1):
            return expected
    falling = all(one[0] < other[0] and one[1] >= other[1] for one, other in pairwise(value))
    return "" if falling else expected


def _limits(value: Any) -> str:
    right = isinstance(value, dict) and not any(map(_positive, value.values()))
    return "" if right else "{ site = limit in mm, ... }, each above 0"


def _table(value: Any) -> str:
    return "" if isinstance(value, dict) else "a table"


def _items(value: Any) -> str:
    right = isinstance(value, list) and 1 <= len(value) <= 40 and not any(map(_table, value))
    return "" if right else "1 to 40 tables"


_GROUPS = tuple(OWN_DECIMALS)

_SCHEME: Mapping[str, _Check] = {
    "identifier": _word,
    "title": _text,
    "total": _positive,
    "not_assessable": _one_of(("ask", "leave-out", "no-marks")),
    "tolerances": _table,
    "slip_shares": _table,
    "items": _items,
}
_EVERY_ITEM: Mapping[str, _Check] = {
    "word": _word,
    "title": _text,
    "points": _positive,
    "kind": _one_of(ITEM_KINDS),
    "off": _truth,
}
_OF_KIND: Mapping[str, Mapping[str, _Check]] = {
    "procedure": {"checks": _words_of(tuple(CHECKS)), "bands": _bands},
    "steps": {
        "steps": _words_of(_GROUPS),
        "weights": _weights,
        "carry_forward": _truth,
        "same_slip": _one_of(("each", "once")),
    },
    "answers": {"answers": _words_of(ANSWERS)},
    "precision": {
        "limit_mm": _positive,
        "limit_percent": _number(0, 100),
        "site_limits_mm": _limits,
        "bands": _bands,
    },
}
_AT_WILL = (
    "not_assessable", "tolerances", "slip_shares",
    "off", "weights", "carry_forward", "same_slip", "limit_percent", "site_limits_mm",
)  # fmt: skip


def scheme_table_faults(scheme: Table) -> Iterator[Fault]:
    """Find every fault of a marking scheme."""
    yield from _faults_of_table(scheme, _SCHEME, ())
    for key, words, check in (
        ("tolerances", _GROUPS, _number(0, 1000)),
        ("slip_shares", WORDS, _number(0, 1)),
    ):
        inside = scheme.get(key)
        if isinstance(inside, dict):
            checks = dict.fromkeys(words, check)
            yield from _faults_of_table(inside, checks, (key,), all_at_will=True)
    items = tables_of(scheme, "items")
    for index, item in enumerate(items):
        yield from _item_faults(item, ("items", index))
    yield from _used_twice(items)
    yield from _total_faults(scheme, items)


def _item_faults(item: Table, place: Place) -> Iterator[Fault]:
    kind = item.get("kind")
    of_kind = _OF_KIND.get(kind) if isinstance(kind, str) else None
    if of_kind is None:
        # Which keys belong cannot be said; what stands under known ones can.
        of_kind = {key: check for checks in _OF_KIND.values() for key, check in checks.items() if key in item}
    yield from _faults_of_table(item, {**_EVERY_ITEM, **of_kind}, place)
    steps, weights = item.get("steps"), item.get("weights")
    if isinstance(steps, list) and isinstance(weights, list) and len(steps) != len(weights):
        yield Fault((*place, "weights"), f"{len(weights)} weights", f"{len(steps)}, one for each of steps")


def _used_twice(items: Sequence[Table]) -> Iterator[Fault]:
    """An item's word, a line and a question belong to one item only, so that nothing costs twice."""
    seen: set[tuple[str, str]] = set()
    for index, item in enumerate(items):
        for key in ("word", "steps", "answers"):
            value = item.get(key)
            if item.get("off") is True and key != "word":
                continue
            words = value if isinstance(value, list) and key != "word" else [value]
            # A word twice in one list is named there.
            for one in {word: None for word in words if isinstance(word, str)}:
                if (key, one) in seen:
                    yield Fault(("items", index, key), f"'{one}' a second time", "each in one item only")
                seen.add((key, one))


def _total_faults(scheme: Table, items: Sequence[Table]) -> Iterator[Fault]:
    total = number_in(scheme, "total")
    counted = [item for item in items if item.get("off") is not True]
    if total is None or not items or any(_positive(item.get("points")) for item in counted):
        return
    if any(_truth(item.get("off", False)) for item in items):
        return
    added = math.fsum(item["points"] for item in counted)
    if not math.isclose(added, total, abs_tol=1e-9):
        expected = f"{added:g}, what the points of the {len(counted)} items that are not off add up to"
        yield Fault(("total",), f"{total:g}", expected)


def _faults_of_table(
    table: Table, checks: Mapping[str, _Check], place: Place, all_at_will: bool = False
) -> Iterator[Fault]:
    for key in table:
        if key not in checks:
            yield Fault(
                (*place, key), "unknown key", "one of " + ", ".join(checks) + near(key, tuple(checks))
            )
    for key, check in checks.items():
        if key in table:
            expected = check(table[key])
            if expected:
                yield Fault((*place, key), shown(table[key]), expected)
        elif not all_at_will and key not in _AT_WILL:
            yield Fault((*place, key), "missing", check(None))
