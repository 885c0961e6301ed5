"""Marking schemes in TOML: read, checked, every fault named with its line."""

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

import msgspec

from sheetgen.marking.marking import CHECKS
from sheetgen.marking.scheme import ITEM_KINDS, MarkingScheme
from sheetgen.marking.slips import FAMILIES
from sheetgen.protocols.names import ANSWERS, OWN_DECIMALS
from sheetgen.texts import toml_tables as toml
from sheetgen.texts.templates import TemplateKind, path_of, table_of


def _weights(value: Any) -> str:
    right = isinstance(value, list) and value and not any(map(toml.positive, value))
    return "" if right else "a list of numbers above 0, one for each of steps"


def _bands(value: Any) -> str:
    expected = "[[limit, share], ...] with limits of at least 0 that rise and shares from 0 to 1 that fall"
    each = value if isinstance(value, list) else []
    pairs = all(isinstance(one, list) and len(one) == 2 and not any(map(toml.number, one)) for one in each)
    if not each or not pairs or not all(limit >= 0 and 0 <= share <= 1 for limit, share in each):
        return expected
    falling = all(lower[0] < upper[0] and lower[1] >= upper[1] for lower, upper in pairwise(each))
    return "" if falling else expected


def _limits(value: Any) -> str:
    right = isinstance(value, dict) and not any(map(toml.positive, value.values()))
    return "" if right else "{ site = limit in mm, ... }, each above 0"


def _models(value: Any) -> str:
    right = isinstance(value, dict) and not any(toml.text(1000)(text) for text in value.values())
    return "" if right and value.keys() <= set(ANSWERS) else "{ question = model answer, ... }"


_GROUPS = tuple(OWN_DECIMALS)

_SCHEME: Mapping[str, toml.Check] = {
    "identifier": toml.identifier,
    "title": toml.text(200),
    "total": toml.positive,
    "not_assessable": toml.one_of(("ask", "leave-out", "no-marks")),
    "tolerances": toml.table,
    "slip_shares": toml.table,
    "items": toml.tables(1, 40),
}
_EVERY_ITEM: Mapping[str, toml.Check] = {
    "word": toml.identifier,
    "title": toml.text(200),
    "points": toml.positive,
    "kind": toml.one_of(ITEM_KINDS),
    "off": toml.truth,
}
_OF_KIND: Mapping[str, Mapping[str, toml.Check]] = {
    "procedure": {"checks": toml.list_of(tuple(CHECKS)), "bands": _bands},
    "steps": {
        "steps": toml.list_of(_GROUPS),
        "weights": _weights,
        "carry_forward": toml.truth,
        "same_slip": toml.one_of(("each", "once")),
    },
    "answers": {"answers": toml.list_of(ANSWERS), "models": _models},
    "precision": {
        "limit_mm": toml.positive,
        "limit_percent": toml.number_between(0, 100),
        "site_limits_mm": _limits,
        "bands": _bands,
    },
}
_OPTIONAL = (
    "not_assessable", "tolerances", "slip_shares",
    "off", "weights", "carry_forward", "same_slip", "limit_percent", "site_limits_mm", "models",
)  # fmt: skip


def scheme_table_faults(scheme: toml.Table) -> Iterator[toml.Fault]:
    """Find every fault of a marking scheme."""
    yield from toml.table_faults(scheme, _SCHEME, (), _OPTIONAL)
    for key, words, check in (
        ("tolerances", _GROUPS, toml.number_between(0, 1000)),
        ("slip_shares", tuple(FAMILIES), toml.number_between(0, 1)),
    ):
        inside = scheme.get(key)
        if isinstance(inside, dict):
            yield from toml.table_faults(inside, dict.fromkeys(words, check), (key,), words)
    items = toml.tables_of(scheme, "items")
    for index, item in enumerate(items):
        yield from _item_faults(item, ("items", index))
    yield from _used_twice(items)
    yield from _total_faults(scheme, items)


_KIND = TemplateKind("marking scheme", "marking", scheme_table_faults)


def find_scheme(identifier: str) -> MarkingScheme:
    """Return a shipped marking scheme by its identifier, or a teacher's own by the path of its .toml file.
    UsageError : there is none of that name. TemplateError : it cannot be read, or has faults, all listed."""
    return msgspec.convert(table_of(_KIND, path_of(_KIND, identifier)), MarkingScheme)


def _item_faults(item: toml.Table, place: toml.Place) -> Iterator[toml.Fault]:
    kind = item.get("kind")
    of_kind = _OF_KIND.get(kind) if isinstance(kind, str) else None
    if of_kind is None:
        # Which keys belong cannot be said; what stands under known ones can.
        of_kind = {key: check for checks in _OF_KIND.values() for key, check in checks.items() if key in item}
    yield from toml.table_faults(item, {**_EVERY_ITEM, **of_kind}, place, _OPTIONAL)
    steps, weights = item.get("steps"), item.get("weights")
    if isinstance(steps, list) and isinstance(weights, list) and len(steps) != len(weights):
        yield toml.Fault(
            (*place, "weights"), f"{len(weights)} weights", f"{len(steps)}, one for each of steps"
        )


def _used_twice(items: Sequence[toml.Table]) -> Iterator[toml.Fault]:
    """An item's word, a line and a question belong to one item only, so that nothing costs twice."""
    seen: set[tuple[str, str]] = set()
    for index, item in enumerate(items):
        for key in ("word", "steps", "answers"):
            value = item.get(key)
            if item.get("off") is True and key != "word":
                continue
            words = value if isinstance(value, list) and key != "word" else [value]
            # A word twice in one list is named there.
            for word in dict.fromkeys(word for word in words if isinstance(word, str)):
                if (key, word) in seen:
                    yield toml.Fault(
                        ("items", index, key), f"'{word}' a second time", "each in one item only"
                    )
                seen.add((key, word))


def _total_faults(scheme: toml.Table, items: Sequence[toml.Table]) -> Iterator[toml.Fault]:
    total = toml.number_in(scheme, "total")
    counted = [item for item in items if item.get("off") is not True]
    unclear = any(toml.positive(item.get("points")) for item in counted)
    if total is None or not items or unclear or any(toml.truth(item.get("off", False)) for item in items):
        return
    added = math.fsum(item["points"] for item in counted)
    if not math.isclose(added, total, abs_tol=1e-9):
        expected = f"{added:g}, what the points of the {len(counted)} items that are not off add up to"
        yield toml.Fault(("total",), f"{total:g}", expected)
