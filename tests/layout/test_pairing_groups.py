import pytest

from sheetgen.layout.pairing_groups import circle, group_sizes, groups_of

SIZES = [
    # people, size, sizes of the groups
    (0, 2, ()),
    (1, 2, ()),
    (2, 6, (2,)),
    (30, 2, (2,) * 15),
    (31, 2, (2,) * 14 + (3,)),
    (5, 3, (2, 3)),
    (10, 3, (3, 3, 4)),
    (5, 4, (5,)),
    (6, 4, (3, 3)),
    (13, 6, (6, 7)),
    (8, 6, (4, 4)),
]


@pytest.mark.parametrize(("count", "size", "expected"), SIZES)
def test_group_sizes(count: int, size: int, expected: tuple[int, ...]) -> None:
    assert group_sizes(count, size) == expected


def test_groups_of_people_with_wishes_that_do_not_all_fit() -> None:
    """One wish that cannot be met costs no other."""
    groups, alone = groups_of("abcdef", 2, [("a", "f"), ("b", "f"), ("c", "e")], {})
    assert (groups, alone) == ((("a", "f"), ("b", "d"), ("c", "e")), ())


def test_groups_of_people_who_must_look_further() -> None:
    """Taken in order, a and b would go together and leave c and d, who are to be kept apart."""
    apart = {"c": {"d"}, "d": {"c"}}
    assert groups_of("cdab", 2, [], apart) == ((("c", "a"), ("d", "b")), ())
    assert groups_of("abcd", 2, [], apart) == ((("a", "c"), ("b", "d")), ())


def test_groups_of_two_circles_where_one_wish_is_too_many() -> None:
    """Two threes who wish to stay together, with groups of four."""
    wishes = [("a", "b"), ("b", "c"), ("d", "e"), ("e", "f")]
    groups, _ = groups_of("abcdefgh", 4, wishes, {})
    assert groups == (("a", "b", "c", "g"), ("d", "e", "f", "h"))
    wishes = [("a", "b"), ("b", "c"), ("d", "e"), ("e", "f"), ("g", "h")]
    groups, _ = groups_of("abcdefgh", 4, wishes, {})
    assert sorted(map(len, groups)) == [4, 4]


def test_groups_of_a_search_that_is_given_up() -> None:
    """Twenty-four of whom any two are to be kept apart, but for one pair: the others are named."""
    people = [f"s{number}" for number in range(24)]
    apart = {one: {other for other in people if other != one} for one in people}
    apart["s0"].discard("s1")
    apart["s1"].discard("s0")
    groups, alone = groups_of(people, 2, [], apart)
    assert groups == (("s0", "s1"),)
    assert alone == tuple(people[2:])


CIRCLES = [
    # group, partner wished for, order
    ("ab", {"a": "b"}, "ab"),
    ("abc", {}, "abc"),
    ("abc", {"a": "c"}, "acb"),
    ("abcd", {"a": "c"}, "acbd"),
    ("abcd", {"b": "a", "c": "a", "d": "a"}, "abcd"),
]


@pytest.mark.parametrize(("group", "partner", "expected"), CIRCLES)
def test_circle(group: str, partner: dict[str, str], expected: str) -> None:
    assert "".join(circle(group, partner)) == expected
