"""Gathering places into rectangles."""

import pytest

from tests.office.blocks import Block, Place, blocks_of, blocks_to_read, bounding_block

L_SHAPE = [(0, 0, 0), (0, 1, 0), (0, 2, 0), (0, 2, 1)]


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        ([], []),
        ([(1, 4, 2)], [(1, 4, 2, 4, 2)]),
        ([(0, 1, 1), (0, 0, 0), (0, 1, 0), (0, 0, 1), (0, 0, 0)], [(0, 0, 0, 1, 1)]),
        (L_SHAPE, [(0, 0, 0, 1, 0), (0, 2, 0, 2, 1)]),
        ([(0, 0, 0), (1, 0, 0), (0, 0, 2)], [(0, 0, 0, 0, 0), (0, 0, 2, 0, 2), (1, 0, 0, 0, 0)]),
        ([(0, 0, 0), (0, 2, 0)], [(0, 0, 0, 0, 0), (0, 2, 0, 2, 0)]),
    ],
)
def test_blocks_of_hold_these_places_and_no_other(places: list[Place], expected: list[Block]) -> None:
    assert blocks_of(places) == expected


def test_bounding_block_of_an_l_shape() -> None:
    assert bounding_block(L_SHAPE) == (0, 0, 0, 2, 1)


def test_blocks_to_read_bound_what_is_close_and_part_what_is_far() -> None:
    assert blocks_to_read([*L_SHAPE, (1, 0, 0), (1, 900, 900)]) == [
        (0, 0, 0, 2, 1),
        (1, 0, 0, 0, 0),
        (1, 900, 900, 900, 900),
    ]
