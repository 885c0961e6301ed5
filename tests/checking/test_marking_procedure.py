import pytest

from sheetgen.checking.marking import CHECKS, Seen
from sheetgen.checking.recalculate import recalculate
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Value
from tests.checking.marking_given import PROTOCOL, RIGHT
from tests.sheets import SETTINGS


def seen(entries: dict[str, Value], *codes: str) -> Seen:
    results = recalculate(PROTOCOL, SETTINGS, entries)
    return Seen(PROTOCOL, SETTINGS, entries, results, [Finding(code) for code in codes])


@pytest.mark.parametrize("check", CHECKS)
def test_a_sheet_without_a_fault_has_no_lapse(check: str) -> None:
    lapses, chances = CHECKS[check](seen(RIGHT))
    assert (lapses, chances > 0) == (0, True)


# check, what is entered, findings, lapses and chances
@pytest.mark.parametrize(
    ("check", "changes", "codes", "expected"),
    [
        ("cautions-confirmed", {"cautions_confirmed": None}, (), (1, 1)),
        ("side-recorded", {"side": "front"}, (), (1, 1)),
        ("caliper-chosen", {"caliper_id": "C9"}, (), (1, 1)),
        ("caliper-issued", {}, ("procedure-other-caliper",), (1, 1)),
        ("zero-read", {"zero_mm": "none"}, (), (1, 1)),
        ("zero-as-registered", {}, ("procedure-zero-differs",), (1, 1)),
        ("lengths-typed", {"length_thigh_cm": None}, (), (1, 2)),
        ("readings-complete", {"reading_1_chest": None, "reading_2_thigh": "x"}, (), (2, 14)),
        ("readings-complete", {"not_taken_chest": "skin"}, (), (0, 12)),
        ("readings-on-scale", {}, ("entry-off-scale", "entry-not-above-zero"), (2, 16)),
        ("rounds-in-order", {}, ("procedure-round-2-without-round-1",), (1, 16)),
        ("reason-or-readings", {}, ("entry-not-taken-with-readings",), (1, 7)),
        # three findings of one change are one lapse
        ("change-complete", {}, ("procedure-change-incomplete",) * 3, (1, 1)),
        ("third-where-needed", {}, ("procedure-third-missing",), (1, 7)),
        ("third-only-there", {}, ("procedure-third-not-needed",), (1, 7)),
    ],
)
def test_lapses(
    check: str, changes: dict[str, Value], codes: tuple[str, ...], expected: tuple[int, int]
) -> None:
    assert CHECKS[check](seen({**RIGHT, **changes}, *codes)) == expected


def test_nothing_measured_gives_no_chance() -> None:
    assert CHECKS["third-where-needed"](seen({})) == (0, 0)
    assert CHECKS["readings-on-scale"](seen({})) == (0, 0)
