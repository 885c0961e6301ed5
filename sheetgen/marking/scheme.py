"""Marking: the scheme a teacher edits, and what a sheet was given for what."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from sheetgen.marking.marking import CHECKS
from sheetgen.marking.slips import WORDS
from sheetgen.protocols.names import ANSWERS, OWN_DECIMALS
from sheetgen.texts import toml_tables as toml
from sheetgen.texts.templates import TemplateKind, examined, path_of, shipped, table_of
from sheetgen.texts.toml_tables import (
    Check,
    Fault,
    FileFault,
    Place,
    Table,
    number_in,
    table_faults,
    tables_of,
)

__all__ = [
    "ITEM_KINDS",
    "ItemMark",
    "Marking",
    "MarkingScheme",
    "Reason",
    "SchemeItem",
    "SlipFit",
    "StepMark",
    "ToBeMarked",
    "find_scheme",
    "load_scheme",
    "scheme_faults",
    "scheme_table_faults",
    "shipped_schemes",
]

ITEM_KINDS = ("procedure", "steps", "answers", "precision")


@dataclass(frozen=True, slots=True)
class SchemeItem:
    """One item of a marking scheme.

    word : unique in the scheme. kind : one of ITEM_KINDS. off : neither marked nor in the total.
    checks : of a procedure item: what is looked at.
    bands : (limit, share of the points) with rising limits; beyond the last limit the share is 0. Of a
        procedure item the limit is a number of lapses, of a precision item a multiple of the site's limit.
    steps, weights : of a steps item: groups of lines of the own working, and how they share the points.
    carry_forward : judged from the student's own line above; otherwise the correct answer only.
    same_slip : `each` line with the same slip costs, or `once` for all of them. In another item it never
        costs again.
    answers : words of the short questions, which a person marks.
    limit_mm, limit_percent : how far a site may be from the teacher's own value: the larger of the two.
    site_limits_mm : (site, limit in mm) where a site has another limit than limit_mm.
    """

    word: str
    title: str
    points: float
    kind: str
    off: bool = False
    checks: tuple[str, ...] = ()
    bands: tuple[tuple[float, float], ...] = ()
    steps: tuple[str, ...] = ()
    weights: tuple[float, ...] = ()
    carry_forward: bool = True
    same_slip: str = "each"
    answers: tuple[str, ...] = ()
    limit_mm: float = 0.0
    limit_percent: float = 0.0
    site_limits_mm: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class MarkingScheme:
    """A marking scheme.

    total : what the points of all items that are not off add up to.
    not_assessable : what becomes of the points of a line that cannot be assessed: `ask` a person,
        `leave-out` of the maximum, or `no-marks`.
    tolerances : (group of steps, allowed beyond the rounding, in the step's unit).
    slip_shares : (slip, share of the line's points that is given all the same).
    """

    identifier: str
    title: str
    total: float
    not_assessable: str
    items: tuple[SchemeItem, ...]
    tolerances: tuple[tuple[str, float], ...] = ()
    slip_shares: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class SlipFit:
    """A slip that explains a line. detail : which site, equation or conversion, or empty."""

    word: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why marks were given or not.

    code : its text stands under `mark_reason.CODE`.
    about : a live result, a check, a short question or a site; empty where it is about the whole item.
    count, chances : lapses, and how many there could have been.
    """

    code: str
    about: str = ""
    slips: tuple[SlipFit, ...] = ()
    count: int = 0
    chances: int = 0


@dataclass(frozen=True, slots=True)
class StepMark:
    """One line of own working.

    step : the live result it answers.
    state : `right`, `wrong`, `again` (a mistake that has cost already), `blank`, `formula`, `unreadable` or
        `not-assessable`.
    yours, from_line_above, from_readings : the three numbers, None where there is none.
    tolerance : what was allowed around from_line_above, in the step's unit.
    score, points : given, and possible. waits : the points that wait for a person.
    """

    step: str
    state: str
    yours: float | None
    from_line_above: float | None
    from_readings: float | None
    tolerance: float
    slips: tuple[SlipFit, ...]
    score: float
    points: float
    waits: float
    reason: Reason


@dataclass(frozen=True, slots=True)
class ItemMark:
    """One item. exempt : there was nothing to judge and nobody's fault; it is not in the maximum."""

    word: str
    title: str
    score: float
    maximum: float
    exempt: bool
    reasons: tuple[Reason, ...]
    steps: tuple[StepMark, ...] = ()


@dataclass(frozen=True, slots=True)
class ToBeMarked:
    """What a person has to mark. about : entry name. text : what stands there."""

    item: str
    about: str
    points: float
    text: str


@dataclass(frozen=True, slots=True)
class Marking:
    """The marks of one sheet.

    score : so far, without what waits for a person. maximum : without what is exempt.
    status : `final`, `to be marked`, or `exempt` where nothing could be marked at all.
    """

    scheme: str
    items: tuple[ItemMark, ...]
    score: float
    maximum: float
    to_be_marked: tuple[ToBeMarked, ...]

    @property
    def status(self) -> str:
        if self.to_be_marked:
            return "to be marked"
        return "final" if self.maximum else "exempt"


_LISTS = ("checks", "steps", "answers")
_NUMBERS = ("points", "limit_mm", "limit_percent")


def _weights(value: Any) -> str:
    right = isinstance(value, list) and value and not any(map(toml.positive, value))
    return "" if right else "a list of numbers above 0, one for each of steps"


def _bands(value: Any) -> str:
    expected = "[[limit, share], ...] with limits of at least 0 that rise and shares from 0 to 1 that fall"
    if not (isinstance(value, list) and value):
        return expected
    for band in value:
        if not (isinstance(band, list) and len(band) == 2 and not any(map(toml.number, band))):
            return expected
        if not (band[0] >= 0 and 0 <= band[1] <= 1):
            return expected
    falling = all(one[0] < other[0] and one[1] >= other[1] for one, other in pairwise(value))
    return "" if falling else expected


def _limits(value: Any) -> str:
    right = isinstance(value, dict) and not any(map(toml.positive, value.values()))
    return "" if right else "{ site = limit in mm, ... }, each above 0"


_GROUPS = tuple(OWN_DECIMALS)

_SCHEME: Mapping[str, Check] = {
    "identifier": toml.identifier,
    "title": toml.text(200),
    "total": toml.positive,
    "not_assessable": toml.one_of(("ask", "leave-out", "no-marks")),
    "tolerances": toml.table,
    "slip_shares": toml.table,
    "items": toml.tables(1, 40),
}
_EVERY_ITEM: Mapping[str, Check] = {
    "word": toml.identifier,
    "title": toml.text(200),
    "points": toml.positive,
    "kind": toml.one_of(ITEM_KINDS),
    "off": toml.truth,
}
_OF_KIND: Mapping[str, Mapping[str, Check]] = {
    "procedure": {"checks": toml.list_of(tuple(CHECKS)), "bands": _bands},
    "steps": {
        "steps": toml.list_of(_GROUPS),
        "weights": _weights,
        "carry_forward": toml.truth,
        "same_slip": toml.one_of(("each", "once")),
    },
    "answers": {"answers": toml.list_of(ANSWERS)},
    "precision": {
        "limit_mm": toml.positive,
        "limit_percent": toml.number_between(0, 100),
        "site_limits_mm": _limits,
        "bands": _bands,
    },
}
_OPTIONAL = (
    "not_assessable", "tolerances", "slip_shares",
    "off", "weights", "carry_forward", "same_slip", "limit_percent", "site_limits_mm",
)  # fmt: skip


def scheme_table_faults(scheme: Table) -> Iterator[Fault]:
    """Find every fault of a marking scheme."""
    yield from table_faults(scheme, _SCHEME, (), _OPTIONAL)
    for key, words, check in (
        ("tolerances", _GROUPS, toml.number_between(0, 1000)),
        ("slip_shares", WORDS, toml.number_between(0, 1)),
    ):
        inside = scheme.get(key)
        if isinstance(inside, dict):
            yield from table_faults(inside, dict.fromkeys(words, check), (key,), words)
    items = tables_of(scheme, "items")
    for index, item in enumerate(items):
        yield from _item_faults(item, ("items", index))
    yield from _used_twice(items)
    yield from _total_faults(scheme, items)


_KIND = TemplateKind("marking scheme", "marking", scheme_table_faults)


def scheme_faults(path: Path) -> tuple[FileFault, ...]:
    """Return every fault of a marking scheme, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return examined(_KIND, path)[1]


def load_scheme(path: Path) -> MarkingScheme:
    """Return the marking scheme in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one.
    """
    return _scheme(table_of(_KIND, path))


def shipped_schemes() -> tuple[str, ...]:
    """Return the identifiers of the shipped marking schemes, sorted."""
    return shipped(_KIND)


def find_scheme(identifier: str) -> MarkingScheme:
    """Return a shipped marking scheme by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    return load_scheme(path_of(_KIND, identifier))


def _item_faults(item: Table, place: Place) -> Iterator[Fault]:
    kind = item.get("kind")
    of_kind = _OF_KIND.get(kind) if isinstance(kind, str) else None
    if of_kind is None:
        # Which keys belong cannot be said; what stands under known ones can.
        of_kind = {key: check for checks in _OF_KIND.values() for key, check in checks.items() if key in item}
    yield from table_faults(item, {**_EVERY_ITEM, **of_kind}, place, _OPTIONAL)
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
    if total is None or not items or any(toml.positive(item.get("points")) for item in counted):
        return
    if any(toml.truth(item.get("off", False)) for item in items):
        return
    added = math.fsum(item["points"] for item in counted)
    if not math.isclose(added, total, abs_tol=1e-9):
        expected = f"{added:g}, what the points of the {len(counted)} items that are not off add up to"
        yield Fault(("total",), f"{total:g}", expected)


def _scheme(table: Table) -> MarkingScheme:
    """Return the record of a table in which no fault was found."""
    return MarkingScheme(
        identifier=table["identifier"],
        title=table["title"],
        total=float(table["total"]),
        not_assessable=table.get("not_assessable", "ask"),
        items=tuple(_item(item) for item in table["items"]),
        tolerances=_pairs(table.get("tolerances", {})),
        slip_shares=_pairs(table.get("slip_shares", {})),
    )


def _item(table: Table) -> SchemeItem:
    changed = {key: tuple(table[key]) for key in _LISTS if key in table}
    numbers = {key: float(table[key]) for key in _NUMBERS if key in table}
    if "bands" in table:
        changed["bands"] = tuple((float(limit), float(share)) for limit, share in table["bands"])
    if "weights" in table:
        changed["weights"] = tuple(float(weight) for weight in table["weights"])
    if "site_limits_mm" in table:
        changed["site_limits_mm"] = _pairs(table["site_limits_mm"])
    return SchemeItem(**{**table, **changed, **numbers})


def _pairs(table: Table) -> tuple[tuple[str, float], ...]:
    return tuple((key, float(value)) for key, value in table.items())
