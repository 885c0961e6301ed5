import pytest

from sheetgen.report.agreement_pages import agreement_sections, caliper_sections
from tests.report.analysed import TITLES, alone, compared
from tests.report.invented import TEXTS


def test_calipers_side_by_side_find_the_forgotten_zero() -> None:
    offsets, _ = caliper_sections(compared()[2], TEXTS)
    assert {row[0]: row[6] for row in offsets.rows if row[6] is not None} == {"C04": 1.0}
    assert offsets.sentences[2] == "Each interval is one of 99.55 %."
    assert offsets.sentences[-1] == (
        "Sheets left out: 1 with two calipers, one not registered, or a zero that is not the registered one; "
        "2 with the same numbers as another."
    )


def test_calipers_list_a_typed_zero_that_is_not_the_registered_one() -> None:
    said = caliper_sections(compared()[2], TEXTS)[1].sentences[0]
    assert said == "S01-P00-1, caliper C02: typed -0.5 mm, on record 0 mm."


def test_calipers_that_cannot_be_told_have_no_section() -> None:
    assert caliper_sections(alone()[2], TEXTS) == ()


def test_agreement_between_students() -> None:
    between, _ = agreement_sections(compared()[2], TITLES, TEXTS)
    assert between.sentences[-1] == ("Sheets left out because they hold the same numbers as another: 2.")
    assert [row[:2] for row in between.rows] == [(title, 30) for title in TITLES.values()]
    assert all(row[8] for row in between.rows)
    assert {row[6:8] for row in between.rows} == {(10.0, 7.5)}


def test_agreement_with_the_teacher_states_the_multiplier() -> None:
    _, against = agreement_sections(compared()[2], TITLES, TEXTS)
    assert against.sentences[1] == (
        "Limits of agreement: mean difference minus and plus 1.96 standard deviations."
    )
    for row in against.rows:
        deviation, mean, lower, upper = row[2:6]
        assert isinstance(mean, float)
        assert isinstance(deviation, float)
        assert (lower, upper) == pytest.approx((mean - 1.96 * deviation, mean + 1.96 * deviation))


def test_agreement_of_single_measurers_has_no_section() -> None:
    assert agreement_sections(alone()[2], TITLES, TEXTS) == ()
