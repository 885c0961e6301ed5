import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from sheetgen.errors import TemplateError, UsageError
from sheetgen.marking.scheme import Marking, ToBeMarked
from sheetgen.marking.scheme_files import (
    find_scheme,
    scheme_table_faults,
)
from sheetgen.texts.templates import read_template

ANSWER = ToBeMarked("questions", "answer_zero", 5, "More.")


# maximum, what waits for a person, status
@pytest.mark.parametrize(
    ("maximum", "waiting", "status"),
    [(100, (), "final"), (100, (ANSWER,), "to be marked"), (0, (), "exempt")],
)
def test_status(maximum: float, waiting: tuple[ToBeMarked, ...], status: str) -> None:
    assert Marking("usual", (), 0, maximum, waiting).status == status


USUAL = read_template("marking/usual.toml")


def file_of(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    """Return the usual scheme under a name of its own, with some of its text changed."""
    text = USUAL.replace('identifier = "usual"', 'identifier = "own"')
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "scheme.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults_in(path: Path) -> list[tuple[str, str, str]]:
    """Place, what was found and what was expected, of every fault that the refusal of a file lists."""
    with pytest.raises(TemplateError) as refusal:
        find_scheme(str(path))
    return re.findall(r"\n  (?:line \d+, )?(?:([a-z_0-9 ]+): )?(.+); expected ([^\n]+)", str(refusal.value))


def test_the_usual_scheme() -> None:
    scheme = find_scheme("usual")
    # the usual frame, common practice; setting up is two items of 6 and 4
    assert [item.points for item in scheme.items if not item.off] == [6, 4, 15, 10, 10, 10, 15, 10, 15, 5]
    assert [item.word for item in scheme.items if item.off] == ["precision"]
    assert (scheme.total, scheme.not_assessable) == (100, "ask")
    assert scheme.items[7].weights == (3, 1, 1)
    assert dict(scheme.slip_shares) == {
        "density-rounded-3": 0.7, "density-rounded-2": 0.3, "truncated": 0.7, "rounded-early": 0.7,
    }  # fmt: skip


def test_a_teachers_own_scheme_by_its_path(tmp_path: Path) -> None:
    path = file_of(tmp_path, ("limit_percent = 10", "limit_percent = 10\nsite_limits_mm = { thigh = 3 }"))
    scheme = find_scheme(str(path))
    assert scheme.identifier == "own"
    assert scheme.items[-1].site_limits_mm == {"thigh": 3.0}


def test_every_fault_at_once_with_its_line(tmp_path: Path) -> None:
    path = file_of(
        tmp_path,
        ("total = 100", "total = 90"),
        ("points = 6", 'points = "6"'),
        ('"zero-read"', '"zero-red"'),
        ("carry_forward = true\nsame", "carry_forwards = true\nsame"),
    )
    assert [(place, found) for place, found, _ in faults_in(path)] == [
        ("items 1 points", "'6'"),
        ("items 1 checks", "a list of 3"),
        ("items 2 carry_forwards", "unknown key"),
    ]
    with pytest.raises(TemplateError) as refusal:
        find_scheme(str(path))
    lines = path.read_text(encoding="utf-8").splitlines()
    for start in ('points = "6"', "carry_forwards"):
        number = next(at for at, line in enumerate(lines, start=1) if line.startswith(start))
        assert f"\n  line {number}, items " in str(refusal.value)
    assert "(did you mean 'zero-read'?)" in str(refusal.value)


@pytest.mark.parametrize("number", ["9" * 400, "-" + "9" * 400, "1" + "0" * 400 + ".5", "0x" + "f" * 5_000])
def test_numbers_of_hundreds_of_digits_are_one_line_each(tmp_path: Path, number: str) -> None:
    path = file_of(tmp_path, ("total = 100", f"total = {number}"))
    ((place, found, expected),) = faults_in(path)
    assert (place, expected) == ("total", "a number above 0")
    assert len(found) <= 60
    path = file_of(tmp_path, ("points = 6", f"points = {number}"))
    assert [(where, expected) for where, _, expected in faults_in(path)] == [
        ("items 1 points", "a number above 0")
    ]


def test_points_that_do_not_add_up(tmp_path: Path) -> None:
    path = file_of(tmp_path, ("points = 15", "points = 25"))
    expected = "110, what the points of the 10 items that are not off add up to"
    assert faults_in(path) == [("total", "100", expected)]


# content, fault
@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"title = \xff", ("", "byte 9 is not UTF-8", "a file saved as UTF-8 text")),
        (b"#" * 200_001, ("", "more than 200 kB", "a marking scheme file of a few kB")),
    ],
)
def test_a_file_that_is_no_text(tmp_path: Path, content: bytes, fault: tuple[str, str, str]) -> None:
    path = tmp_path / "scheme.toml"
    path.write_bytes(content)
    assert faults_in(path) == [fault]


def test_a_line_that_is_no_toml_is_named_once(tmp_path: Path) -> None:
    path = file_of(tmp_path, ('title = "Usual frame"', "title = Usual frame"))
    ((_, found, _),) = faults_in(path)
    assert found.startswith("not TOML")


def test_the_name_of_a_shipped_scheme_is_taken(tmp_path: Path) -> None:
    path = file_of(tmp_path, ('identifier = "own"', 'identifier = "usual"'))
    assert [place for place, _, _ in faults_in(path)] == ["identifier"]


def test_no_such_scheme(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="Did you mean 'usual'"):
        find_scheme("usal")
    with pytest.raises(TemplateError, match="cannot be read"):
        find_scheme(str(tmp_path / "none.toml"))


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
        (0, "bands", 0.5),
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
        (8, "models", ["More."]),
        (8, "models", {"weight": "More."}),
        (8, "models", {"zero": ""}),
        (8, "models", {"zero": "M" * 1001}),
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


def test_model_answers_are_texts_of_at_most_a_thousand_characters() -> None:
    scheme = usual()
    scheme["items"][8]["models"] = {"zero": "M" * 1000, "error": "Marks.", "repeat": "Thigh."}
    assert places_of(scheme) == []


def test_bands_of_one_share_are_allowed() -> None:
    scheme = usual()
    scheme["items"][0]["bands"] = [[0, 1.0], [1, 1.0], [2, 0.5]]
    assert places_of(scheme) == []


@pytest.mark.parametrize("total", [99.5, 100.5, 100.01])
def test_a_total_that_is_a_fraction_of_a_point_off(total: float) -> None:
    assert places_of({**usual(), "total": total}) == [("total",)]


def test_a_word_that_is_a_list_is_one_fault() -> None:
    scheme = usual()
    scheme["items"][0]["word"] = ["sum"]
    assert places_of(scheme) == [("items", 0, "word")]


def test_points_of_an_item_that_is_off_are_not_in_the_total() -> None:
    scheme = usual()
    scheme["items"][10]["off"] = False
    assert places_of(scheme) == [("total",)]
    scheme["total"] = 110
    assert places_of(scheme) == []
