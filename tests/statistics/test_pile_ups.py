from sheetgen.statistics.digits import DigitTest, SignTest
from sheetgen.statistics.outcome import Undefined
from sheetgen.statistics.pile_ups import compression, digit_preference, identical_records
from tests.statistics.measured import measured, rounds

SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")


def _same_everywhere(first: float, second: float) -> dict[str, tuple[float, float]]:
    return dict.fromkeys(SITES, (first, second))


def test_readings_on_whole_millimetres_pile_up() -> None:
    """70 readings on whole millimetres at a 0.5 mm scale: chi-square 70."""
    sheets = [measured(f"S{one}", f"P{one}", _same_everywhere(10 + one, 10.5)) for one in range(10)]
    (found,) = digit_preference(rounds(sheets))
    assert (found.division_mm, found.sheets, found.counts.counts) == (0.5, 10, (70, 0))
    assert isinstance(found.test, DigitTest)
    assert (found.test.chi_square, found.piles_up) == (70.0, True)
    assert found.digit == 0


def test_readings_that_use_the_scale_do_not_pile_up() -> None:
    sheets = [measured(f"S{one}", f"P{one}", _same_everywhere(10 + one / 2, 10.0)) for one in range(10)]
    (found,) = digit_preference(rounds(sheets))
    assert (found.counts.counts, found.piles_up) == ((35, 35), False)


def test_each_scale_is_tested_on_its_own_and_few_readings_say_nothing() -> None:
    sheets = [
        measured("S1", "P1", _same_everywhere(10, 10)),
        measured("S2", "P2", _same_everywhere(10, 10), division=100),
    ]
    half, whole = digit_preference(rounds(sheets))
    assert (half.division_mm, whole.division_mm) == (0.5, 1.0)
    assert half.test == Undefined("few-digits", (("digits", 2), ("needed", 10), ("there", 7)))
    assert not half.piles_up
    assert isinstance(whole.test, Undefined)


def test_round_2_thinner_everywhere() -> None:
    report = compression(
        rounds(
            [
                measured("S1", "P1", _same_everywhere(10, 9.5)),
                measured("S2", "P2", _same_everywhere(10, 10.5)),
                measured("S3", "P3", _same_everywhere(10, 10)),
                measured("T1", "P3", _same_everywhere(10, 9), is_teacher=True),
            ]
        )
    )
    one, two, three = report.students
    assert isinstance(one.test, SignTest)
    assert (one.test.probability, one.everywhere) == (1 / 128, True)
    assert not two.everywhere
    assert three.test == Undefined("no-pair-differs")
    assert report.expected_everywhere == 2 / 128
    assert isinstance(report.whole_class, SignTest)
    assert (report.whole_class.lower, report.whole_class.higher, report.whole_class.equal) == (7, 7, 7)


def test_four_pairs_are_not_everywhere() -> None:
    report = compression(rounds([measured("S1", "P1", dict.fromkeys(SITES[:4], (10, 9)))]))
    assert not report.students[0].everywhere
    assert report.expected_everywhere == 0.0


def test_identical_pairs_judged_by_the_class() -> None:
    """1.9 % of honest records at a 1 mm scale with a technical error of 0.4 mm."""
    sheets = [
        measured("S1", "P1", _same_everywhere(10, 10), division=100),
        measured("S2", "P2", {**_same_everywhere(10, 10), "thigh": (10, 11)}, division=100),
        measured("S3", "P3", dict.fromkeys(SITES[:4], (10, 10)), division=100),
    ]
    report = identical_records(rounds(sheets), dict.fromkeys(SITES, 0.4))
    (found,) = report.records
    assert isinstance(found.chance, float) and isinstance(report.expected, float)
    assert (found.copy_code, found.sites, round(100 * found.chance, 1)) == ("S1-P1", 7, 1.9)
    assert report.expected == 2 * found.chance


def test_identical_pairs_where_the_error_is_not_known() -> None:
    report = identical_records(rounds([measured("S1", "P1", _same_everywhere(10, 10))]), {"chest": 0.4})
    assert isinstance(report.records[0].chance, Undefined)
    assert isinstance(report.expected, Undefined)
