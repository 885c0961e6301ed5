from pathlib import Path

import pytest

from sheetgen.errors import TemplateError, UsageError
from sheetgen.store.marking_schemes import (
    find_scheme,
    load_scheme,
    scheme_faults,
    shipped_schemes,
)
from sheetgen.store.template_files import TemplateFault
from sheetgen.store.templates import read_template

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


def test_the_usual_scheme() -> None:
    assert shipped_schemes() == ("usual",)
    scheme = find_scheme("usual")
    # the usual frame, common practice; setting up is two items of 6 and 4
    assert [item.points for item in scheme.items if not item.off] == [6, 4, 15, 10, 10, 10, 15, 10, 15, 5]
    assert [item.word for item in scheme.items if item.off] == ["precision"]
    assert (scheme.total, scheme.not_assessable) == (100, "ask")
    assert scheme.items[7].weights == (3, 1, 1)
    assert dict(scheme.slip_shares) == {"density-rounded-3": 0.7, "density-rounded-2": 0.3}


def test_a_teachers_own_scheme_by_its_path(tmp_path: Path) -> None:
    path = file_of(tmp_path, ("limit_percent = 10", "limit_percent = 10\nsite_limits_mm = { thigh = 3 }"))
    scheme = find_scheme(str(path))
    assert scheme.identifier == "own"
    assert scheme.items[-1].site_limits_mm == (("thigh", 3.0),)


def test_every_fault_at_once_with_its_line(tmp_path: Path) -> None:
    path = file_of(
        tmp_path,
        ("total = 100", "total = 90"),
        ("points = 6", 'points = "6"'),
        ('"zero-read"', '"zero-red"'),
        ("carry_forward = true\nsame", "carry_forwards = true\nsame"),
    )
    assert [(fault.place, fault.found) for fault in scheme_faults(path)] == [
        ("items 1 points", "'6'"),
        ("items 1 checks", "a list of 3"),
        ("items 2 carry_forwards", "unknown key"),
    ]
    with pytest.raises(TemplateError) as refusal:
        load_scheme(path)
    lines = path.read_text(encoding="utf-8").splitlines()
    for start in ('points = "6"', "carry_forwards"):
        number = next(at for at, line in enumerate(lines, start=1) if line.startswith(start))
        assert f"\n  line {number}, items " in str(refusal.value)
    assert "(did you mean 'zero-read'?)" in str(refusal.value)


def test_points_that_do_not_add_up(tmp_path: Path) -> None:
    path = file_of(tmp_path, ("points = 15", "points = 25"))
    (fault,) = scheme_faults(path)
    assert (fault.place, fault.found) == ("total", "100")
    assert fault.expected == "110, what the points of the 10 items that are not off add up to"


# content, fault
@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"title = \xff", TemplateFault(1, "", "byte 9 is not UTF-8", "a file saved as UTF-8 text")),
        (b"#" * 200_001, TemplateFault(0, "", "more than 200 kB", "a marking scheme file of a few kB")),
    ],
)
def test_a_file_that_is_no_text(tmp_path: Path, content: bytes, fault: TemplateFault) -> None:
    path = tmp_path / "scheme.toml"
    path.write_bytes(content)
    assert scheme_faults(path) == (fault,)


def test_a_line_that_is_no_toml_is_named_once(tmp_path: Path) -> None:
    path = file_of(tmp_path, ('title = "Usual frame"', "title = Usual frame"))
    (fault,) = scheme_faults(path)
    assert fault.found.startswith("not TOML")


def test_the_name_of_a_shipped_scheme_is_taken(tmp_path: Path) -> None:
    path = file_of(tmp_path, ('identifier = "own"', 'identifier = "usual"'))
    assert [fault.place for fault in scheme_faults(path)] == ["identifier"]


def test_no_such_scheme(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="Did you mean 'usual'"):
        find_scheme("usal")
    with pytest.raises(TemplateError, match="cannot be read"):
        load_scheme(tmp_path / "none.toml")
