"""The interpreter's own habits are as before once a read is over, however it ends."""

import gc

import pytest

from sheetgen.flows.sweeps import seldom_swept


def test_old_objects_are_looked_through_seldom_within_and_as_before_afterwards() -> None:
    before = gc.get_threshold()
    with seldom_swept():
        within = gc.get_threshold()
    assert within == (*before[:2], 1_000_000)
    assert gc.get_threshold() == before


def test_a_read_that_fails_leaves_things_as_they_were() -> None:
    before = gc.get_threshold()
    with pytest.raises(ValueError, match="failed"), seldom_swept():
        raise ValueError("failed")
    assert gc.get_threshold() == before
