"""A class of 30 with ten calipers and a known truth: how often the package finds it. Rates are printed."""

import os

import pytest

from tests.simulation import Design, found_in, rates

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))
SEEDS = range(200 if NIGHTLY else 12)

# design, least rates; of seeds 1000 to 1199 a caliper was found in 0.955, 0.595, 0 and 0.58 of classes
LEAST: tuple[tuple[str, Design, dict[str, float]], ...] = (
    (
        "three measurers a participant",
        Design(3),
        {
            "worst site found": 0.9,
            "caliper found": 0.8,
            "shared pair flagged": 0.95,
            "honest pair left alone": 0.95,
        },
    ),
    (
        "two measurers a participant",
        Design(2),
        {
            "worst site found": 0.9,
            "caliper found": 0.3,
            "shared pair flagged": 0.95,
            "honest pair left alone": 0.95,
        },
    ),
    (
        "one measurer a participant",
        Design(1),
        {"worst site found": 0.85, "caliper cannot be told": 1.0, "shared pair flagged": 0.95},
    ),
    (
        "one measurer, and the teacher",
        Design(1, teacher=True),
        {"worst site found": 0.85, "caliper found": 0.25, "shared pair flagged": 0.95},
    ),
)


@pytest.mark.parametrize(
    ("name", "design", "least"),
    [LEAST[0], *(pytest.param(*one, marks=pytest.mark.nightly) for one in LEAST[1:])],
    ids=[name for name, _, _ in LEAST],
)
def test_rates(
    name: str, design: Design, least: dict[str, float], capsys: pytest.CaptureFixture[str]
) -> None:
    found = rates(design, SEEDS)
    with capsys.disabled():
        shares = ", ".join(f"{what} {100 * share:.1f} %" for what, share in found.items())
        print(f"\n{name}, {len(SEEDS)} classes: {shares}")
    assert {what: found[what] for what in least if found[what] < least[what]} == {}
    # One class in twenty may blame a caliper, and one an innocent pair, with all calipers and pairs together.
    assert found["another caliper blamed"] <= 0.16
    assert found["an innocent pair flagged"] <= 0.12


@pytest.mark.nightly
def test_detection_falls_with_fewer_measurers() -> None:
    three, two, one = (rates(Design(count), range(300, 325))["caliper found"] for count in (3, 2, 1))
    assert three > two > one == 0.0


def test_a_class_without_fault_is_left_alone() -> None:
    found = rates(Design(3, off_mm=0.0, shared=False), range(500, 525 if NIGHTLY else 512))
    assert found["caliper found"] <= 0.08
    # One class in twenty may blame one: more than two of twelve would be a chance of one in fifty.
    assert found["another caliper blamed"] <= 0.17
    assert (found["shared pair flagged"], found["honest pair left alone"]) == (0.0, 1.0)


@pytest.mark.nightly
def test_the_shared_file_does_not_hide_the_caliper() -> None:
    """The copied sheet is about someone else: even where it is not left out it is too far off to count."""
    seeds = range(700, 715)
    assert sum(found_in(Design(3), seed, settled=False)["caliper found"] for seed in seeds) >= 9
