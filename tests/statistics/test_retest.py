import pytest
from msgspec.structs import replace

from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.readings_frame import readings_frame
from sheetgen.statistics.repeatability import Undefined
from sheetgen.statistics.retest import Change, RetestRow, error_model, retest
from tests.simulation import BOOK, FOLDS, attempt_of
from tests.statistics.measured import measured, rounds


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
    return retest(readings_frame(attempts, BOOK)).rows[0]


# thicker at the chest [mm], of a band of 2.086 x TEM = 1.475 mm; beyond it; the sum, 1.977 sqrt(7) x TEM
CHANGES = (
    (0.0, False, False),
    (1.0, False, False),
    (1.5, True, False),
    (-1.5, True, False),
    (4.0, True, True),
)


@pytest.mark.parametrize(("more", "chest", "total"), CHANGES)
def test_change_against_the_class_own_error(more: float, chest: bool, total: bool) -> None:
    """All rounds 1 mm apart: TEM sqrt(0.5), band t sqrt(2) sqrt(0.5) / sqrt(2), t with 20 pairs, and 140."""
    row = _row(_class(10, more=more))
    assert not isinstance(row.total, Undefined)
    assert row.reasons == ()
    assert (row.sites[0].what, round(row.sites[0].change, 9)) == ("chest", more)
    assert (round(row.sites[0].band, 3), round(row.total.band, 3)) == (1.475, 3.699)
    assert (row.sites[0].beyond, row.total.beyond) == (chest, total)
    assert round(row.total.change, 9) == more


def test_a_class_too_small_goes_by_the_published_limit() -> None:
    """7.5 % of 11 mm is 0.825 mm, band 1.96 times that."""
    report = retest(readings_frame(_class(4), BOOK))
    assert round(report.rows[0].sites[0].band, 3) == 1.617
    assert report.source == "published"


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
    assert retest(readings_frame([*attempts[:19], _sheet(12, 1)], BOOK)).missing == ("P09", "P12")


def test_practice_in_the_second_session_is_no_retest() -> None:
    report = retest(readings_frame(_class(10, data_source="practice"), BOOK))
    assert (report.missing, len(report.rows)) == (("P00",), 9)


def test_no_second_session() -> None:
    report = retest(readings_frame(_class(10)[:10], BOOK))
    assert (report.rows, len(report.missing)) == ((), 10)


def test_the_error_of_both_sessions_is_pooled() -> None:
    """Rounds 1 mm apart in the first and 2 mm in the second: TEM sqrt(5 / 4), band 2.086 times that."""
    attempts = [_sheet(number, session, gap=float(session)) for session in (1, 2) for number in range(10)]
    row = _row(attempts)
    assert [round(site.band, 4) for site in row.sites] == [2.3322] * 7


def test_every_field_of_a_row() -> None:
    """The sum of 106 mm before; its band is sqrt(7) times that of a site."""
    row = _row(_class(10, more=1.5))
    before = {
        "chest": 11.0, "midaxillary": 12.0, "triceps": 14.0, "subscapular": 14.0, "abdominal": 19.0,
        "suprailiac": 16.0, "thigh": 20.0,
    }  # fmt: skip
    assert (row.participant_code, row.copy_codes) == ("P00", ("S00-P00-1", "S00-P00-2"))
    assert (row.first_values, row.second_values) == (before, {**before, "chest": 12.5})
    assert [(one.what, one.before, one.after, one.change, one.beyond) for one in row.sites] == [
        (site, fold, 12.5 if site == "chest" else fold, 1.5 if site == "chest" else 0.0, site == "chest")
        for site, fold in before.items()
    ]
    assert isinstance(row.total, Change)
    assert (row.total.what, row.total.before, row.total.after, row.total.change, row.total.beyond) == (
        "sum", 106.0, 107.5, 1.5, False,
    )  # fmt: skip


def test_a_published_limit_stands_in_at_some_sites_only() -> None:
    """Nine pairs at the chest, one short of the ten degrees of freedom that an error needs."""
    attempts = [*_class(5)[:9], _sheet(4, 2, not_taken_chest="declined")]
    report = retest(readings_frame(attempts, BOOK))
    assert (report.source, report.limited) == ("both", ("chest",))
    row = report.rows[0]
    # 7.5 % of 11 mm; sqrt(0.5) mm elsewhere.
    assert [round(site.band, 3) for site in row.sites] == [1.617, *[1.576] * 6]
    assert retest(readings_frame(_class(5), BOOK)).source == "class"


def test_a_class_without_any_error_goes_by_the_published_limit() -> None:
    attempts = [_sheet(number, session, gap=0.0) for session in (1, 2) for number in range(10)]
    assert retest(readings_frame(attempts, BOOK)).source == "published"


def test_the_limit_is_of_the_mean_of_both_values() -> None:
    """Chest 11 and 13 mm: 7.5 % of 12 mm is 0.9 mm, 1.96 times that 1.764 mm."""
    chest = _row(_class(4, more=2.0)).sites[0]
    assert (round(chest.band, 3), chest.beyond) == (1.764, True)


def test_two_measurers_of_one_person_have_a_row_each() -> None:
    """A measurer who was there once is left out where another was there twice."""
    attempts = [
        *_class(10),
        _sheet(0, 1, student="S21"),
        _sheet(0, 2, student="S21"),
        _sheet(0, 1, student="S22"),
        _sheet(0, 2, student="S23"),
    ]
    rows = [row for row in retest(readings_frame(attempts, BOOK)).rows if row.participant_code == "P00"]
    assert [row.copy_codes for row in rows] == [
        ("S00-P00-1", "S00-P00-2"), ("S21-P00-1", "S21-P00-2"),
    ]  # fmt: skip


def test_other_sessions_than_the_first_two_may_be_compared() -> None:
    attempts = [_sheet(number, session) for session in (1, 2, 3) for number in range(10)]
    report = retest(readings_frame(attempts, BOOK), 2, 3)
    assert report.rows[0].copy_codes == ("S00-P00-2", "S00-P00-3")


def test_several_reasons_are_all_given() -> None:
    row = _row(_class(10, student="S29", side="left", caliper_id="C02"))
    assert [reason.reason for reason in row.reasons] == ["another-measurer", "another-caliper", "other-side"]


def test_values_of_someone_else_the_first_time_are_not_shown() -> None:
    attempts = _class(10)
    attempts[0] = _sheet(0, 1, participant_today="P07")
    row = _row(attempts)
    assert (row.first_values, len(row.second_values)) == ({}, 7)
    assert row.reasons == (Undefined("someone-else"),)


def test_no_change_is_claimed_from_a_sheet_that_is_flagged_in_question_or_copied() -> None:
    """A reading the scale cannot show; a sheet that waits for the teacher; one like another."""
    reasons = [("code", "S00-P00-2")]
    assert _row(_class(10, reading_1_thigh=19.3)).reasons == (Undefined("flagged-sheet", tuple(reasons)),)
    attempts = _class(10)
    attempts[10] = replace(attempts[10], status="review")
    row = _row(attempts)
    assert row.reasons == (Undefined("waiting-sheet", tuple(reasons)),)
    assert (row.total, row.sites) == (Undefined("no-change-score"), ())
    copied = retest(readings_frame(_class(10), BOOK), copied=["S00-P00-2"]).rows[0]
    assert copied.reasons == (Undefined("copied-sheet", tuple(reasons)),)


# how the errors grow, differences of the rounds at folds of 10 and 40 mm
GROWTH = ((0.0, 1.0, 1.0), (0.5, 1.0, 2.0), (1.0, 1.0, 4.0))


@pytest.mark.parametrize(("exponent", "thin", "thick"), GROWTH)
def test_the_error_grows_with_the_fold_as_the_class_has_it(
    exponent: float, thin: float, thick: float
) -> None:
    sheets = [
        measured(f"S{one}", f"P{one}", {"chest": (fold - gap / 2, fold + gap / 2)})
        for one in range(5)
        for fold, gap in ((10.0, thin), (40.0, thick))
    ]
    found = error_model(rounds(sheets))
    assert found.exponent == exponent
    assert found.at("chest", 10.0) == (pytest.approx(thin * 0.5**0.5), 10)
    assert found.at("chest", 40.0)[0] == pytest.approx(thick * 0.5**0.5)
    assert found.at("thigh", 20.0) == (1.5, float("inf"))
