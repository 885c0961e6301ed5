import random

import pytest

from sheetgen.statistics.chances import (
    SiteSpread,
    altered_chances,
    least_matches,
    match_chances,
    practice_chances,
)

SEVEN = [SiteSpread(1.0, 6.0)] * 7


def test_two_people_measured_independently() -> None:
    """4 million simulated pairs of sheets, worked out apart from this project: at a 1 mm scale four or more
    sites with both readings equal in 1e-6 of pairs (some four pairs), at 0.5 mm below 1e-6."""
    assert 3e-7 < match_chances(SEVEN, 100, 0.7)[4] < 3e-6
    assert match_chances(SEVEN, 50, 0.7)[4] < 1e-6


# scale [0.01 mm], TEM, spread, share in common
CASES = ((100, 0.7, 3.0, 0.7), (100, 1.2, 4.0, 0.0), (50, 0.4, 2.0, 0.5))


@pytest.mark.parametrize(("division", "error", "spread", "common"), CASES)
def test_chances_against_drawn_pairs(division: int, error: float, spread: float, common: float) -> None:
    dice = random.Random(f"{division} {error}")
    step, pairs, counts = division / 100, 12_000, [0] * 4

    def sheet() -> list[tuple[int, int]]:
        body = dice.gauss(0, spread * common**0.5)
        folds = [15 + body + dice.gauss(0, spread * (1 - common) ** 0.5) for _ in range(3)]
        return [
            (round((fold + dice.gauss(0, error)) / step), round((fold + dice.gauss(0, error)) / step))
            for fold in folds
        ]

    for _ in range(pairs):
        counts[sum(one == other for one, other in zip(sheet(), sheet(), strict=True))] += 1
    chances = match_chances([SiteSpread(error, spread)] * 3, division, common)
    drawn = (sum(counts[1:]) / pairs, sum(counts[2:]) / pairs)
    assert chances[1] == pytest.approx(drawn[0], rel=0.12)
    assert chances[2] == pytest.approx(drawn[1], rel=0.5, abs=3e-4)


def test_more_spread_or_a_finer_scale_makes_matches_rarer() -> None:
    base = match_chances(SEVEN, 100, 0.7)[3]
    assert match_chances([SiteSpread(1.0, 8.0)] * 7, 100, 0.7)[3] < base
    assert match_chances(SEVEN, 50, 0.7)[3] < base
    assert match_chances(SEVEN, 100, 0.9)[3] > base


def test_the_threshold_rises_with_the_class() -> None:
    chances = match_chances(SEVEN, 100, 0.7)
    sizes = (30, 500, 10_000)
    found = [least_matches(chances, size * (size - 1) // 2, 0.025) for size in sizes]
    assert [least for least, _ in found] == [3, 5, 6]
    assert all(expected < 0.025 for _, expected in found)


# scale [0.01 mm], TEM, spread, share in common, chance of one site
EXACT = ((100, 1.0, 2.0, 0.0, 0.0254794331), (50, 0.4, 2.0, 0.5, 0.0163690894))


@pytest.mark.parametrize(("division", "error", "spread", "common", "chance"), EXACT)
def test_chance_of_one_site_by_integration(
    division: int, error: float, spread: float, common: float, chance: float
) -> None:
    """Worked out apart from this project: h(k) by the midpoint rule, the mean over G by the same."""
    none, one = match_chances([SiteSpread(error, spread)], division, common)
    assert none == pytest.approx(1.0, abs=1e-8)
    assert one == pytest.approx(chance, abs=1e-9)


def test_two_sites_with_nothing_in_common_are_independent() -> None:
    """Chances p and q: at least one site p + q - p q, both p q."""
    sites = [SiteSpread(1.0, 2.0), SiteSpread(0.5, 1.0)]
    (_, p), (_, q) = (match_chances([site], 100, 0.0) for site in sites)
    assert match_chances(sites, 100, 0.0)[1:] == pytest.approx((p + q - p * q, p * q), abs=1e-8)


def test_least_matches_where_the_bound_is_met_exactly() -> None:
    """Fewer than expected is wanted, not as many; where none is enough one more than there are sites."""
    assert least_matches((1.0, 0.25, 0.125), 4, 1.0) == (2, 0.5)
    assert least_matches((1.0, 0.25, 0.125), 4, 0.5) == (3, 0.0)
    assert least_matches((1.0,), 4, 0.5) == (1, 0.0)
    assert least_matches((1.0, 0.25), 0, 0.5) == (1, 0.0)


def test_least_matches_is_never_below_the_floor() -> None:
    assert least_matches((1.0, 0.25, 0.125), 4, 2.0, 2) == (2, 0.5)
    assert least_matches((1.0, 0.25), 4, 2.0, 3) == (3, 0.0)


def test_no_error_and_no_spread_always_match() -> None:
    assert match_chances([SiteSpread(0.0, 0.0)] * 2, 50, 0.5) == pytest.approx((1.0, 1.0, 1.0))


def test_chances_of_altered_readings_against_drawn_pairs() -> None:
    """Three sites on a 1 mm scale, TEM 0.7 mm, spread 3 mm: alterations by which two sites agree, a pair."""
    dice, pairs, counts = random.Random(15), 4_000, [0] * 4
    for _ in range(pairs):
        one, other = (
            [
                [round(fold + dice.gauss(0, 0.7)) for _ in range(2)]
                for fold in [dice.gauss(20, 3) for _ in range(3)]
            ]
            for _ in range(2)
        )
        for turned in (other, [pair[::-1] for pair in other]):
            for shift in range(-40, 41):
                counts[
                    sum(a == c + shift and b == d + shift for (a, b), (c, d) in zip(one, turned, strict=True))
                ] += 1
    chances = altered_chances([SiteSpread(0.7, 3.0)] * 3, 100, 0.0)
    assert chances[2] == pytest.approx(sum(counts[2:]) / pairs, rel=0.12)


def test_a_practice_list_is_met_by_chance_as_often_as_drawn_lists() -> None:
    """Folds even from 8 to 28 mm, the rounds alike or a division apart, a 1 mm scale: at the upper side."""
    dice, pairs, counts = random.Random(16), 40_000, [0] * 3
    for _ in range(pairs):
        one, other = (
            [
                (round(fold), round(fold + dice.choice((0, 1, -1))))
                for fold in (dice.uniform(8, 28), dice.uniform(8, 28))
            ]
            for _ in range(2)
        )
        counts[sum(left == right for left, right in zip(one, other, strict=True))] += 1
    _, one_site, both = practice_chances(2, 100)
    assert one_site == pytest.approx(sum(counts[1:]) / pairs, rel=0.1)
    assert both == pytest.approx(1 / 3600)
