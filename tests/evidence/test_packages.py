"""Damaged and hostile packages: an answer to every one. The nightly form reads 20,000."""

import os
from pathlib import Path

import pytest

from tests.evidence.bombs import BOMBS, read_alone
from tests.evidence.honest_programs import saved_by_program
from tests.evidence.packages import MUTATIONS, mutated, read_mutated
from tests.evidence.twins import Twin
from tests.office.client import Office

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))


@pytest.mark.office
def test_every_damaged_package_is_answered(office: Office, twins: tuple[Twin, ...], tmp_path: Path) -> None:
    made = {one.way: one.data for one in saved_by_program(office, twins[0], tmp_path)}
    bases = [twins[0].data, twins[2].data, made["LibreOffice .xlsx"], made["LibreOffice .ods"]]
    many = 20_000 if NIGHTLY else 3 * len(MUTATIONS)
    outcome = read_mutated(bases, many, seed=4)
    assert outcome.faults == ()
    assert outcome.counts.total() == many
    # One in eighty waits for the teacher, so of few perhaps none.
    assert set(outcome.counts) >= {"accepted", "refused"}
    assert {"file-truncated", "file-unsafe", "file-unreadable"} <= set(outcome.codes)


def test_the_same_seed_damages_the_same(twins: tuple[Twin, ...]) -> None:
    bases = [twins[0].data]
    once = [one.kind for one in mutated(bases, len(MUTATIONS), 7)]
    assert once == list(MUTATIONS)
    assert [one.data for one in mutated(bases, 8, 7)] == [one.data for one in mutated(bases, 8, 7)]


@pytest.mark.parametrize("name", list(BOMBS) if NIGHTLY else [name for name in BOMBS if "zeros" in name])
def test_a_bomb_is_refused_without_unpacking_it(tmp_path: Path, name: str) -> None:
    """In a process of its own: 300 MB would be far more than any sheet needs."""
    path = tmp_path / "bomb.xlsx"
    path.write_bytes(BOMBS[name]())
    alone = read_alone(path)
    assert alone.status == "refused"
    assert alone.peak_mb < (200 if "zeros" in name else 300)
