"""Commands killed at a random moment, and faults of the disk: old or new, never half. Nightly: 100 each."""

import os
from pathlib import Path

import pytest

from tests.evidence.disk import FAULTS, faulty_runs, writes_of
from tests.evidence.kills import Contents, Stage, halves, killed, stage_of

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))


@pytest.fixture(scope="module", params=("read", "build"))
def stage(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Stage:
    return stage_of(tmp_path_factory.mktemp(request.param), request.param)


@pytest.fixture(scope="module")
def writes(stage: Stage) -> dict[str, int]:
    return writes_of(stage)


def test_a_killed_command_leaves_old_or_new_and_the_next_run_mends_it(stage: Stage) -> None:
    """The one of the ordinary form comes after two thirds of the time."""
    one = killed(stage, 100 if NIGHTLY else 1, seed=27)
    assert (one.halves, one.other, one.touched) == ((), (), ())
    assert one.kills >= 1


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_of_the_disk_is_one_sentence_and_nothing_half_written(
    stage: Stage, writes: dict[str, int], fault: str
) -> None:
    one = faulty_runs(stage, fault, writes[fault], 1_000 if NIGHTLY else 1, seed=6)
    assert one.wrong == ()
    assert one.runs >= 1


def test_half_a_file_would_be_seen() -> None:
    """The judge does tell one."""
    before = Contents({"a": b"old", "b": b"b"}, {})
    stage = Stage(("read",), Path("m"), Path("r"), before, Contents({"a": b"new", "b": b"b"}, {}), 1.0)
    assert halves(stage, Contents({"a": b"new", "b": b"b", ".0f.part": b"n"}, {})) == []
    assert halves(stage, Contents({"a": b"ne"}, {})) == ["a: neither old nor new", "b: gone"]


def test_a_kept_file_is_gone_unless_it_stands_under_the_next_number() -> None:
    kept = Contents({"marks.kept-1.csv": b"a", "marks.kept-2.csv": b"b", "marks.kept-3.csv": b"c"}, {})
    after = Contents({"marks.kept-1.csv": b"n", "marks.kept-2.csv": b"a", "marks.kept-3.csv": b"b"}, {})
    stage = Stage(("read",), Path("m"), Path("r"), kept, after, 1.0)
    moved = Contents({"marks.kept-2.csv": b"a", "marks.kept-3.csv": b"b"}, {})
    assert halves(stage, moved) == []
    assert halves(stage, Contents({"marks.kept-2.csv": b"b", "marks.kept-3.csv": b"c"}, {})) == [
        "marks.kept-1.csv: gone"
    ]
