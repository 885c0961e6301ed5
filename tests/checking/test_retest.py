from dataclasses import replace

import pytest

from sheetgen.checking.retest import BandSource, RetestRow, retest
from sheetgen.core.outcome import Undefined
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from tests.simulation import BOOK, FOLDS, attempt_of


def _sheet(
    number: int,
    session: int,
    more: float = 0.0,
    gap: float = 1.0,
    student: str = "",
    **changed: str | float | None,
) -> Attempt:
    """Student n measures participant n: round 2 is `gap` above round 1, the chest thicker by `more`."""
    entries: dict[str, str | float | None] = {
        "data_source": "measured", "caliper_id": "C01", "zero_mm": 0.0, "side": "right", "age_years": 25.0,
    }  # fmt: skip
    for site, fold in FOLDS.items():
        fold += more if site == "chest" else 0.0
        entries[f"reading_1_{site}"], entries[f"reading_2_{site}"] = fold - gap / 2, fold + gap / 2
    who = student or f"S{number:02}"
    return attempt_of(who, f"P{number:02}", {**entries, **changed}, session=session)


def _class(count: int, **second: str | float | None) -> list[Attempt]:
    first = [_sheet(number, 1) for number in range(count)]
    return [*first, *(_sheet(number, 2, **(second if number == 0 else {})) for number in range(count))]  # type: ignore[arg-type]


def _row(attempts: list[Attempt]) -> RetestRow:
    return retest(attempts, BOOK).rows[0]


# thicker at the chest [mm], of a band of 1.96 x TEM = 1.386 mm; beyond it; the sum, band sqrt(7) as wide
CHANGES = (
    (0.0, False, False),
    (1.0, False, False),
    (1.5, True, False),
    (-1.5, True, False),
    (4.0, True, True),
)


@pytest.mark.parametrize(("more", "chest", "total"), CHANGES)
def test_change_against_the_class_own_error(more: float, chest: bool, total: bool) -> None:
    """All rounds 1 mm apart: TEM sqrt(0.5), band 1.96 sqrt(2) sqrt(0.5) / sqrt(2)."""
    row = _row(_class(10, more=more))
    assert not isinstance(row.total, Undefined)
    assert row.reasons == ()
    assert (row.sites[0].what, round(row.sites[0].change, 9)) == ("chest", more)
    assert (round(row.sites[0].band, 3), round(row.total.band, 3)) == (1.386, 3.667)
    assert (row.sites[0].beyond, row.total.beyond) == (chest, total)
    assert round(row.total.change, 9) == more
    assert row.source == BandSource("class")


def test_a_class_too_small_goes_by_the_published_limit() -> None:
    """7.5 % of 11 mm is 0.825 mm, band 1.96 times that."""
    row = _row(_class(4))
    assert round(row.sites[0].band, 3) == 1.617
    assert row.source == BandSource("published")


# changed in session 2, the reason
REASONS: tuple[tuple[dict[str, str], Undefined], ...] = (
    ({"caliper_id": "C02"}, Undefined("another-caliper", (("first", "C01"), ("then", "C02")))),
    ({"caliper_id": "mine"}, Undefined("caliper-not-one")),
    ({"student": "S29"}, Undefined("another-measurer")),
    ({"participant_today": "P07"}, Undefined("someone-else")),
    ({"side": "left"}, Undefined("other-side", (("first", "right"), ("then", "left")))),
)


@pytest.mark.parametrize(("changed", "reason"), REASONS)
def test_no_change_score(changed: dict[str, str], reason: Undefined) -> None:
    row = _row(_class(10, more=4.0, **changed))
    assert row.reasons == (reason,)
    assert row.total == Undefined("no-change-score")
    assert row.sites == ()


def test_another_protocol_has_no_change_score() -> None:
    attempts = _class(10)
    attempts[10] = replace(attempts[10], protocol_id="four-sites")
    values = (("first", "seven-sites"), ("then", "four-sites"))
    assert _row(attempts).reasons == (Undefined("another-protocol", values),)


def test_values_of_someone_else_are_not_shown_under_the_code() -> None:
    row = _row(_class(10, participant_today="P07"))
    assert len(row.first_values) == 7
    assert row.second_values == {}


def test_a_missing_site_leaves_no_sum_to_compare() -> None:
    row = _row(_class(10, not_taken_thigh="declined"))
    assert row.total == Undefined("no-sum")
    assert len(row.sites) == 6


def test_who_was_measured_once_is_named() -> None:
    attempts = _class(10)
    assert retest([*attempts[:19], _sheet(12, 1)], BOOK).missing == ("P09", "P12")


def test_practice_in_the_second_session_is_no_retest() -> None:
    report = retest(_class(10, data_source="practice"), BOOK)
    assert (report.missing, len(report.rows)) == (("P00",), 9)


# gap of the rounds in session 2, what it is
PROGRESS = (
    (1.0, "as-before"),
    (0.5, "closer-by-chance"),
    (0.1, "closer"),
    (0.0, "closer"),
    (2.0, "less-closely-by-chance"),
    (3.0, "less-closely"),
)


@pytest.mark.parametrize(("gap", "verdict"), PROGRESS)
def test_progress_of_the_measurer(gap: float, verdict: str) -> None:
    """F with 7 and 7 degrees of freedom is 4.99 at 97.5 %."""
    one = retest(_class(10, gap=gap), BOOK).progress[0]
    assert (one.student_id, one.before.mean_mm, one.after.mean_mm) == ("S00", 1.0, gap)
    assert one.verdict == verdict


def test_findings_then_and_now() -> None:
    def finding(severity: str) -> Finding:
        return Finding("entry-off-scale", severity, "", "", "")

    attempts = _class(10)
    attempts[0] = replace(attempts[0], findings=(finding("error"), finding("warning"), finding("note")))
    one = retest(attempts, BOOK).progress[0]
    assert (one.findings_before, one.findings_after) == (2, 0)


def test_no_second_session() -> None:
    report = retest(_class(10)[:10], BOOK)
    assert (report.rows, report.progress, len(report.missing)) == ((), (), 10)
