from dataclasses import replace

import pytest

from sheetgen.checking.class_analysis import class_analysis
from sheetgen.checking.precision import ThirdReadings
from sheetgen.checking.readings_frame import sheet_count
from sheetgen.core.outcome import Undefined
from tests.simulation import BOOK, SHARED_PAIR, Design, attempt_of, simulated_class


def test_analysis_leaves_files_with_the_same_numbers_out_of_the_comparisons() -> None:
    book, attempts = simulated_class(Design(3), 1)
    found = class_analysis(attempts, book, 1)
    assert {(pair.first_student, pair.second_student) for pair in found.same.pairs} == {SHARED_PAIR}
    assert (sheet_count(found.rounds), sheet_count(found.apart)) == (90, 88)
    assert sum(one.measurements for one in found.between) == 7 * 88


def test_analysis_with_declared_partners_keeps_their_files() -> None:
    book, attempts = simulated_class(Design(1), 1)
    found = class_analysis(attempts, book, 1, declared=[SHARED_PAIR])
    assert (found.same.pairs, found.same.declared_out, sheet_count(found.apart)) == ((), 1, 30)


def test_analysis_has_a_retest_only_with_an_earlier_session() -> None:
    book, attempts = simulated_class(Design(1), 1)
    assert class_analysis(attempts, book, 1).retest is None
    later = [
        replace(one, record=replace(one.record, session=3)) for one in attempts if one.record is not None
    ]
    second = [
        replace(one, record=replace(one.record, session=2)) for one in attempts if one.record is not None
    ]
    found = class_analysis(later, book, 3, [*attempts, *second])
    assert found.earlier == 2
    assert found.retest is not None
    assert len(found.retest.rows) == 30


def test_third_readings_of_the_students() -> None:
    """Chest: 10 and 14 with a tolerance of 2 mm ask for a third; the teacher's sheet does not count."""
    entries = {
        "caliper_id": "C01",
        "zero_mm": 0.0,
        "reading_1_chest": 10.0,
        "reading_2_chest": 14.0,
        "reading_1_thigh": 20.0,
        "reading_2_thigh": 20.5,
    }
    sheets = [attempt_of(student, "P01", entries) for student in ("S01", "S02", "T1")]
    found = class_analysis(sheets, BOOK, 1).thirds
    by_site = {one.site: one for one in found}
    assert by_site["chest"] == ThirdReadings("chest", 2, 4.0, 2, 0)
    assert by_site["thigh"] == ThirdReadings("thigh", 2, 0.5, 0, 0)
    assert by_site["triceps"] == ThirdReadings("triceps", 0, None, 0, 0)


@pytest.mark.parametrize("attempts", [[], [attempt_of("S01", "P01", {"data_source": "practice"})]])
def test_analysis_of_a_session_without_readings(attempts: list[object]) -> None:
    found = class_analysis(attempts, BOOK, 1)  # type: ignore[arg-type]
    assert (sheet_count(found.rounds), found.sites, found.repeats) == (0, (), ())
    assert isinstance(found.worst, Undefined)
