import tomllib
from typing import Any

import pytest

from sheetgen.store.marking_scheme_faults import scheme_table_faults
from sheetgen.store.templates import read_template

Place = tuple[str | int, ...]


def usual() -> dict[str, Any]:
    return tomllib.loads(read_template("marking/usual.toml"))


def places_of(scheme: Any) -> list[Place]:
    return [fault.place for fault in scheme_table_faults(scheme)]


def test_the_usual_scheme_has_no_fault() -> None:
    assert places_of(usual()) == []


# item by its number, key, value
@pytest.mark.parametrize(
    ("item", "key", "value"),
    [
        (0, "word", "Setting up"),
        (0, "title", ""),
        (0, "points", 0),
        (0, "points", True),
        (0, "points", float("nan")),
        (0, "kind", "guess"),
        (0, "kind", ["steps"]),
        (0, "checks", []),
        (0, "checks", ["zero-read", "zero-read"]),
        (0, "checks", [1]),
        (0, "bands", []),
        (0, "bands", [[0, 1.0, 2]]),
        (0, "bands", [[0, "all"]]),
        (0, "bands", [[0, 1.5]]),
        (0, "bands", [[1, 1.0], [0, 0.5]]),
        (0, "bands", [[0, 0.5], [1, 0.9]]),
        (1, "steps", ["midpoint"]),
        (1, "carry_forward", "yes"),
        (1, "same_slip", "never"),
        (7, "weights", [1, 1]),
        (7, "weights", [1, 1, 0]),
        (8, "answers", ["weight"]),
        (10, "off", "no"),
        (10, "limit_mm", -2),
        (10, "limit_percent", 101),
        (10, "site_limits_mm", {"thigh": "wide"}),
    ],
)
def test_a_value_that_is_not_allowed(item: int, key: str, value: object) -> None:
    scheme = usual()
    scheme["items"][item][key] = value
    assert places_of(scheme) == [("items", item, key)]


# key, value
@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("identifier", 5),
        ("total", "100"),
        ("not_assessable", "guess"),
        ("tolerances", [1]),
        ("items", {}),
        ("items", ["sum"]),
    ],
)
def test_a_value_at_the_top_that_is_not_allowed(key: str, value: object) -> None:
    assert places_of({**usual(), key: value}) == [(key,)]


def test_unknown_lines_and_slips() -> None:
    scheme = {**usual(), "tolerances": {"sums": 1, "sum": -1}, "slip_shares": {"ln": 1, "natural-log": 2}}
    assert sorted(places_of(scheme), key=str) == [
        ("slip_shares", "ln"),
        ("slip_shares", "natural-log"),
        ("tolerances", "sum"),
        ("tolerances", "sums"),
    ]


def test_keys_that_are_missing_and_keys_of_another_kind() -> None:
    scheme = usual()
    del scheme["items"][0]["checks"]
    scheme["items"][0]["steps"] = ["sum"]
    # Item 6 has the sum as well, and cannot be told apart from the mistake.
    assert places_of(scheme) == [("items", 0, "steps"), ("items", 0, "checks"), ("items", 5, "steps")]


def test_a_line_and_a_word_belong_to_one_item() -> None:
    scheme = usual()
    scheme["items"][6]["steps"] = ["density", "sum"]
    scheme["items"][9]["word"] = "sum"
    assert places_of(scheme) == [("items", 6, "steps"), ("items", 9, "word")]


def test_points_of_an_item_that_is_off_are_not_in_the_total() -> None:
    scheme = usual()
    scheme["items"][10]["off"] = False
    assert places_of(scheme) == [("total",)]
    scheme["total"] = 110
    assert places_of(scheme) == []
