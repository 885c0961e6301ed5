"""The pure parts of the mutation run: names, sampling, verdicts, the table and the list of survivors."""

import importlib
import tomllib

import pytest

from tests.mutation.run import (
    ROOT,
    SURVIVORS,
    changed,
    known_survivors,
    sampled,
    split_name,
    table_of,
    verdict,
)

NAMES = [f"sheetgen.room.large.x_one__mutmut_{number}" for number in range(1, 81)]
NAMES += [f"sheetgen.room.small.x__two__mutmut_{number}" for number in range(1, 21)]


def test_sample_in_proportion_of_the_modules() -> None:
    """80 and 20 of 100: 8 and 2 of 10."""
    chosen = sampled(NAMES, 10)
    assert len(set(chosen)) == 10
    assert sum("small" in name for name in chosen) == 2


def test_sample_is_the_same_every_time() -> None:
    """Whatever order the names come in; and a larger one holds a smaller one."""
    assert sampled(reversed(NAMES), 10) == sampled(NAMES, 10)
    assert set(sampled(NAMES, 10)) < set(sampled(NAMES, 30))


def test_sample_of_more_than_there_are() -> None:
    assert sampled(NAMES, 1000) == sorted(NAMES)


@pytest.mark.parametrize(
    ("exit_code", "word"),
    [(1, "killed"), (-24, "killed"), (0, "survived"), (33, "survived"), (None, "not run"), (-11, "unclear")],
)
def test_verdict_of_an_exit_code(exit_code: int | None, word: str) -> None:
    """A test that never ends notices the change; where there is no test, none does."""
    assert verdict(exit_code) == word


def test_table_of_two_modules() -> None:
    """Mutants that were not run are not counted."""
    words = dict(zip(NAMES[78:82], ("killed", "survived", "killed", "not run"), strict=True))
    assert table_of(words).splitlines()[2:] == [
        "| room.large | 2 | 1 | 1 | 0 | 50.0 |",
        "| room.small | 1 | 1 | 0 | 0 | 100.0 |",
        "| in all | 3 | 2 | 1 | 0 | 66.7 |",
    ]


def test_change_of_a_diff() -> None:
    diff = "# name: survived\n--- a\n+++ b\n@@ -1,2 +1,2 @@\n def one():\n-    return 1\n+    return 2\n"
    assert changed(diff) == ("return 1", "return 2")


def test_survivors_listed_are_in_the_source_still() -> None:
    """Each with a reason; a line that has been rewritten is dropped from the list."""
    for entry in tomllib.loads(SURVIVORS.read_text(encoding="utf-8"))["survivor"]:
        assert entry["reason"]
    for module, function, was, became in known_survivors(SURVIVORS.read_text(encoding="utf-8")):
        assert hasattr(importlib.import_module(f"sheetgen.{module}"), function.partition(".")[0])
        source = (ROOT / "sheetgen" / f"{module.replace('.', '/')}.py").read_text(encoding="utf-8")
        assert was in " ".join(source.split()), (module, was)
        assert was != became


def test_name_of_a_mutant() -> None:
    assert split_name(NAMES[80]) == ("room.small", "_two")
