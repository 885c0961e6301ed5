import pytest

from sheetgen.checking.precision import class_errors, repeat_differences, site_precision, worst_site
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import TechnicalError
from tests.checking.measured import Sheet, measured, rounds
from tests.reference_values import rows


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
    assert thigh.judgement == "skilled"
    assert [limit.percent for limit in thigh.limits] == [7.5, 5.0]
    assert "2000" in thigh.limits[0].source


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


def test_few_people_are_not_held_against_a_limit() -> None:
    chest, _ = site_precision(rounds(_class(19)))
    assert isinstance(chest.relative, float)
    assert chest.judgement == "few-people"


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
    assert found.by_site == (("chest", 0.5), ("thigh", 1.5))
    assert (found.pairs, found.mean_mm) == (4, 1.0)
    assert (found.largest_site, found.largest_mm) == ("thigh", 1.5)


def test_repeat_difference_of_one_round() -> None:
    (found,) = repeat_differences(rounds([measured("S01", "P02", {"chest": (10, None)})]))
    assert found.mean_mm == Undefined("no-site-twice")
    assert (found.largest_site, found.largest_mm) == ("", Undefined("no-site-twice"))
