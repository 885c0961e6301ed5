from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError
from sheetgen.statistics.precision import (
    SitePrecision,
    between_students,
    class_errors,
    first_goes,
    load_precision,
    repeat_differences,
    save_precision,
    site_precision,
    with_kept,
    with_teacher,
    worst_site,
)
from sheetgen.statistics.repeatability import (
    Agreement,
    Interval,
    IntraclassCorrelation,
    TechnicalError,
    Undefined,
)
from tests.reference_values import rows
from tests.statistics.measured import Sheet, measured, rounds


def _class(count: int, chest: float = 1.0, thigh: float = 1.0) -> list[Sheet]:
    """Every measurer's rounds differ by so much; means of 10 and 20 mm."""
    return [
        measured(
            f"S{one:02}",
            f"P{one:02}",
            {"chest": (10 - chest / 2, 10 + chest / 2), "thigh": (20 + thigh / 2, 20 - thigh / 2)},
        )
        for one in range(count)
    ]


def test_technical_error_by_site() -> None:
    """sqrt(sum d^2 / 2n) with every difference 2 mm is sqrt(2), 14.1 % of 10 mm."""
    chest, thigh = site_precision(rounds(_class(20, chest=2.0)))
    assert isinstance(chest.error, TechnicalError) and isinstance(chest.relative, float)
    assert (chest.site, chest.sheets, chest.people) == ("chest", 20, 20)
    assert (round(chest.error.value, 4), round(chest.relative, 2)) == (1.4142, 14.14)
    assert isinstance(chest.interval, Interval)
    assert round(chest.interval.lower, 2) == 1.08
    assert chest.judgement == "above"
    # 3.5 % of 20 mm, between 2.7 and 5.2.
    assert isinstance(thigh.relative_interval, Interval)
    assert (round(thigh.relative_interval.lower, 2), round(thigh.relative_interval.upper, 2)) == (2.7, 5.11)
    assert thigh.judgement == "close-skilled"


def test_technical_error_of_the_published_differences() -> None:
    """Ten published duplicate differences come to 0.33 mm."""
    gaps = [float(row["difference_mm"]) for row in rows("duplicate_differences")]
    sheets = [measured(f"S{n}", f"P{n}", {"chest": (10.0, 10.0 + gap)}) for n, gap in enumerate(gaps)]
    (chest,) = site_precision(rounds(sheets))
    assert round(class_errors([chest])["chest"], 2) == 0.33


def test_a_small_class_has_no_error() -> None:
    chest, _ = site_precision(rounds(_class(9)))
    why = Undefined("few-pairs", (("pairs", 9), ("needed", 10)))
    for result in (chest.error, chest.interval, chest.relative):
        assert result == why
    assert chest.judgement == ""
    assert class_errors([chest]) == {}
    assert worst_site([chest]) == Undefined("few-sites")


def _four_people(students: int) -> list[Sheet]:
    """Folds of 10 to 13 mm, each measured by so many, rounds 1 mm apart."""
    return [
        measured(f"S{student}{one}", f"P{one}", {"chest": (9.5 + one, 10.5 + one)})
        for one in range(4)
        for student in range(students)
    ]


def test_a_site_of_fewer_than_five_people_has_no_statistics() -> None:
    """Twelve sheets, and between students 16 - 4 degrees of freedom: enough but for the people."""
    why = Undefined("small-cell", (("people", 4), ("needed", 5)))
    (chest,) = site_precision(rounds(_four_people(3)))
    assert (chest.sheets, chest.people) == (12, 4)
    assert (chest.error, chest.interval, chest.relative) == (why, why, why)
    (between,) = between_students(rounds(_four_people(4)), {})
    assert (between.error, between.correlation) == (why, why)
    assert with_teacher(rounds(_with_teacher(4, students=3))) == why


def test_few_people_are_not_held_against_a_limit() -> None:
    chest, _ = site_precision(rounds(_class(19)))
    assert isinstance(chest.relative, float)
    assert chest.judgement == "few-people"


# pairs without a settled third reading, of 30; whether an interval is given
UNSETTLED = ((3, True), (4, False))


@pytest.mark.parametrize(("count", "given"), UNSETTLED)
def test_a_site_with_many_unsettled_pairs_has_no_interval(count: int, given: bool) -> None:
    """Rounds 2 mm apart; those unsettled 5 mm, and only in the error with all of them."""
    frame = rounds(_class(30, chest=2.0))
    out = (frame["sheet"] < count) & (frame["site"] == "chest")
    frame = frame.assign(
        gap=frame["gap"].mask(out),
        whole_gap=frame["whole_gap"].mask(out, 500.0),
        why=frame["why"].mask(out, "third-unsettled"),
    )
    chest, _ = site_precision(frame)
    assert isinstance(chest.error, TechnicalError)
    assert (chest.sheets, round(chest.error.value, 3)) == (30 - count, 1.414)
    assert chest.whole == pytest.approx((((30 - count) * 4 + count * 25) / 60) ** 0.5)
    why = Undefined("many-unsettled", (("count", count), ("pairs", 30)))
    assert isinstance(chest.interval, Interval) if given else chest.interval == why
    assert chest.judgement == ("above" if given else "unsettled")


def test_a_teacher_is_no_part_of_the_class() -> None:
    teacher = measured("T1", "P00", {"chest": (10.0, 30.0)}, is_teacher=True)
    assert site_precision(rounds([*_class(20), teacher])) == site_precision(rounds(_class(20)))


def test_a_class_without_sheets() -> None:
    assert site_precision(rounds([])) == ()
    assert repeat_differences(rounds([])) == ()


# difference at the chest, worst site, whether it stands out
WORST = ((2.0, "chest", True), (0.5, "thigh", False), (0.6, "chest", False))


@pytest.mark.parametrize(("chest", "site", "stands_out"), WORST)
def test_worst_site(chest: float, site: str, stands_out: bool) -> None:
    found = worst_site(site_precision(rounds(_class(20, chest=chest, thigh=1.01))))
    assert not isinstance(found, Undefined)
    assert (found.site, found.stands_out) == (site, stands_out)


def test_rounds_that_always_repeat_have_no_worst_site() -> None:
    found = worst_site(site_precision(rounds(_class(20, chest=0.0, thigh=0.0))))
    assert not isinstance(found, Undefined)
    assert not found.stands_out


def test_repeat_difference_over_all_sheets_of_a_student() -> None:
    one = measured("S01", "P02", {"chest": (10, 11), "thigh": (20, 22.5), "calf": (9, None)})
    other = measured("S01", "P03", {"chest": (10, 10), "thigh": (20, 19.5)})
    (found,) = repeat_differences(rounds([one, other]))
    assert found.copy_codes == ("S01-P02", "S01-P03")
    assert (found.pairs, found.mean_mm) == (4, 1.0)
    assert found.largest_site == "thigh"


def test_repeat_difference_of_one_round() -> None:
    (found,) = repeat_differences(rounds([measured("S01", "P02", {"chest": (10, None)})]))
    assert found.mean_mm is None
    assert found.largest_site == ""


def _two_measurers(people: int, apart: float = 2.0) -> list[Sheet]:
    """Folds of 10, 11, 12 ... mm; the second measurer reads higher by `apart`, rounds 1 mm apart."""
    sheets = []
    for one in range(people):
        for student, more in (("A", 0.0), ("B", apart)):
            fold = 10 + one + more
            sheets.append(measured(f"{student}{one}", f"P{one:02}", {"chest": (fold - 0.5, fold + 0.5)}))
    return sheets


def test_between_students() -> None:
    """sqrt(sum d^2 / 2n) with d = 2; total sqrt(0.5 + 2) with an error within of sqrt(0.5)."""
    (chest,) = between_students(rounds(_two_measurers(12)), {"chest": 0.5**0.5})
    assert chest.people == 12
    assert isinstance(chest.error, TechnicalError) and isinstance(chest.total, float)
    assert (round(chest.error.value, 4), round(chest.total, 4)) == (1.4142, 1.5811)
    assert isinstance(chest.relative, float)
    assert round(chest.relative, 3) == 8.571  # 1.4142 / 16.5
    assert isinstance(chest.interval, Interval)
    assert isinstance(chest.correlation, IntraclassCorrelation)
    # Mean squares 2 x 13 between people and 2 within: (26 - 2) / (26 + 2).
    assert round(chest.correlation.value, 4) == 0.8571


def test_between_four_observers_as_published() -> None:
    """Stature of ten people by four observers, in millimetres: 3.06 mm."""
    sheets = []
    for number, row in enumerate(rows("four_observers")):
        for observer in ("first_m", "second_m", "third_m", "fourth_m"):
            value = float(row[observer]) * 1000
            sheets.append(measured(observer, f"P{number}", {"stature": (value, value)}))
    (stature,) = between_students(rounds(sheets), {})
    assert isinstance(stature.error, TechnicalError)
    assert round(stature.error.value, 2) == 3.06
    assert stature.total == Undefined("within-unknown")


def test_one_measurer_each_says_nothing_between() -> None:
    sheets = [measured(f"S{one}", f"P{one}", {"chest": (10, 11)}) for one in range(30)]
    (chest,) = between_students(rounds(sheets), {"chest": 0.7})
    reason = Undefined("no-two-students")
    assert (chest.error, chest.total, chest.correlation) == (reason, reason, reason)


def test_few_people_between() -> None:
    (chest,) = between_students(rounds(_two_measurers(9)), {"chest": 0.7})
    assert chest.error == Undefined("few-between", (("people", 9), ("students", 18)))


def test_too_few_with_the_same_number_of_measurers_for_a_correlation() -> None:
    """Nine people measured by two, three of them by a third as well: 12 degrees of freedom, six pairs."""
    third = [measured("C", f"P{one:02}", {"chest": (12, 12)}) for one in range(3)]
    (chest,) = between_students(rounds([*_two_measurers(9), *third]), {})
    assert isinstance(chest.error, TechnicalError)
    assert chest.error.degrees_of_freedom == 12
    values = (("people", 6), ("measurers", 2), ("needed", 10))
    assert chest.correlation == Undefined("few-with-measurers", values)


def test_a_second_go_of_one_measurer_does_not_count_between() -> None:
    again = measured("A0", "P00", {"chest": (30, 30)})
    kept = first_goes(rounds([*_two_measurers(1), again]))
    assert list(kept["student_id"]) == ["A0", "B0"]
    assert list(kept["mean_mm"]) == [10.0, 12.0]


def _with_teacher(people: int, students: int = 1) -> list[Sheet]:
    sheets = []
    for one in range(people):
        fold = 10.0 + one
        sheets.append(measured("T1", f"P{one:02}", {"chest": (fold, fold)}, is_teacher=True))
        for student in range(students):
            more = 1.0 if one % 2 else 2.0
            value = (fold + more, fold + more)
            sheets.append(measured(f"S{one}-{student}", f"P{one:02}", {"chest": value}))
    return sheets


def test_against_the_teacher() -> None:
    """Differences of 1 and 2 mm in turn: mean 1.5, standard deviation sqrt(10 x 0.25 / 9)."""
    found = with_teacher(rounds(_with_teacher(10)))
    assert not isinstance(found, Undefined)
    (chest,) = found
    assert isinstance(chest.agreement, Agreement)
    assert (chest.people, chest.agreement.pairs, chest.agreement.mean_difference) == (10, 10, 1.5)
    assert round(chest.agreement.upper_limit, 3) == 2.533
    assert isinstance(chest.agreement.mean_interval, Interval)


def test_students_who_share_a_person_get_limits_without_intervals() -> None:
    found = with_teacher(rounds(_with_teacher(5, students=2)))
    assert not isinstance(found, Undefined)
    assert isinstance(found[0].agreement, Agreement)
    assert found[0].agreement.mean_difference == 1.6
    assert found[0].agreement.mean_interval == Undefined("shared-person")


def test_few_people_against_the_teacher() -> None:
    """No site has limits, so there is no table of them: one reason for all."""
    found = with_teacher(rounds(_with_teacher(9)))
    assert found == Undefined("few-beside-teacher", (("sheets", 9), ("needed", 10)))


def test_no_sheet_of_the_teacher() -> None:
    assert with_teacher(rounds(_two_measurers(3))) == Undefined("no-teacher-sheet")


def test_every_interval_of_students_who_share_a_person_says_why_it_is_not_given() -> None:
    found = with_teacher(rounds(_with_teacher(5, students=2)))
    assert not isinstance(found, Undefined)
    (chest,) = found
    why = Undefined("shared-person")
    assert isinstance(chest.agreement, Agreement)
    found_of = chest.agreement
    assert (found_of.mean_interval, found_of.lower_interval, found_of.upper_interval) == (why, why, why)
    assert (chest.site, chest.people, found_of.pairs) == ("chest", 5, 10)


def test_every_field_where_too_few_were_measured_between() -> None:
    (chest,) = between_students(rounds(_two_measurers(9)), {"chest": 0.7})
    why = Undefined("few-between", (("people", 9), ("students", 18)))
    assert (chest.site, chest.people) == ("chest", 9)
    assert (chest.error, chest.interval, chest.relative, chest.total, chest.correlation) == (why,) * 5


def test_ten_people_are_enough_between() -> None:
    (chest,) = between_students(rounds(_two_measurers(10)), {})
    assert isinstance(chest.error, TechnicalError)
    assert isinstance(chest.correlation, IntraclassCorrelation)


def test_sheets_of_the_teacher_do_not_count_between_students() -> None:
    teacher = [measured("T1", f"P{one:02}", {"chest": (9, 9)}, is_teacher=True) for one in range(12)]
    assert between_students(rounds([*_two_measurers(12), *teacher]), {}) == between_students(
        rounds(_two_measurers(12)), {}
    )


def test_a_person_the_teacher_did_not_measure_or_whose_round_is_missing_is_left_out() -> None:
    more = [
        measured("S50", "P50", {"chest": (9, 9)}),
        measured("S51", "P00", {"chest": (9, None)}),
        measured("T1", "P60", {"chest": (9, None)}, is_teacher=True),
        measured("S60", "P60", {"chest": (9, 9)}),
    ]
    assert with_teacher(rounds([*_with_teacher(10), *more])) == with_teacher(rounds(_with_teacher(10)))


CHEST = SitePrecision("chest", 23, TechnicalError(0.61, 12.4, 24, 24), sheets=24, left_out=2)
THIGH = SitePrecision("thigh", 4, TechnicalError(0.5, 20.0, 10, 10), sheets=10)
FEW = Undefined("few-pairs", (("pairs", 3), ("needed", 10)))
BICEPS = SitePrecision("biceps", 30, FEW, sheets=3)
FIRST, NEXT = "2027-03-31", "2027-04-09"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return ClassFolder(tmp_path)


def test_precision_of_five_people_or_more_is_kept_with_its_day(folder: ClassFolder) -> None:
    """A later reading that finds the same leaves the day; another session stays as it is."""
    for session, day in ((1, FIRST), (2, FIRST), (1, NEXT)):
        save_precision(folder, session, (CHEST, THIGH, BICEPS), day)
    assert load_precision(folder) == tuple((session, replace(CHEST, kept_from=FIRST)) for session in (1, 2))
    assert folder.kept_precision.read_text(encoding="utf-8").splitlines() == [
        "session,site,sheets,people,tem_mm,mean_mm,degrees_of_freedom,left_out,worked_out_on",
        "1,chest,24,23,0.61,12.4,24,2,2027-03-31",
        "2,chest,24,23,0.61,12.4,24,2,2027-03-31",
    ]


def test_nothing_to_keep_makes_no_file(folder: ClassFolder) -> None:
    save_precision(folder, 1, (THIGH, BICEPS), FIRST)
    assert list(folder.root.iterdir()) == []


def test_kept_precision_stands_in_only_for_files_that_are_gone() -> None:
    kept = (replace(CHEST, kept_from=FIRST),)
    left = SitePrecision("chest", 11, TechnicalError(0.7, 12.0, 12, 12), sheets=12)
    more = SitePrecision("chest", 25, TechnicalError(0.6, 12.5, 26, 26), sheets=26)
    assert with_kept((), kept, True) == kept
    assert with_kept((left, THIGH), kept, True) == (*kept, THIGH)
    assert with_kept((more,), kept, True) == (more,)
    assert with_kept((left,), kept, False) == (left,)


@pytest.mark.parametrize("line", ("1,chest", "1,chest,24,23,a,12.4,24,2,", "1,chest,24,23,nan,12.4,24,2,"))
def test_a_damaged_line_is_named(folder: ClassFolder, line: str) -> None:
    folder.keep.mkdir()
    folder.kept_precision.write_text(f"headings\n{line}\n", encoding="utf-8")
    with pytest.raises(FolderError, match=r"precision\.csv:2"):
        load_precision(folder)
