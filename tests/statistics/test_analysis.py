from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from sheetgen.statistics.analysis import (
    caliper_words,
    class_analysis,
    class_findings,
    digit_words,
    identical_words,
    pair_words,
    reason_words,
    site_words,
    thinner_words,
    worst_words,
)
from sheetgen.statistics.calipers import CaliperOffset
from sheetgen.statistics.digits import Compression, IdenticalRecord
from sheetgen.statistics.precision import SitePrecision, WorstSite, third_readings
from sheetgen.statistics.readings_frame import sheet_count
from sheetgen.statistics.repeatability import Interval, Undefined, technical_error
from sheetgen.statistics.same_numbers import NumbersPair
from sheetgen.texts.languages import load_texts, texts_in
from tests.class_samples import CLASSES
from tests.simulation import BOOK, SHARED_PAIR, Design, attempt_of, simulated_class


def test_analysis_leaves_files_with_the_same_numbers_out_of_the_comparisons() -> None:
    book, attempts = simulated_class(Design(3), 1)
    found = class_analysis(attempts, book, 1)
    assert {(pair.first_student, pair.second_student) for pair in found.same.pairs} == {SHARED_PAIR}
    assert (sheet_count(found.rounds), sheet_count(found.apart)) == (90, 88)
    assert sum(one.people + one.error.degrees_of_freedom for one in found.between) == 7 * 88


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
    """Chest: 10 and 14 with a tolerance of 2 mm ask for a third, which is missing; at the subscapular fold it
    is there. The teacher's sheet does not count. Five people, since of fewer no mean is given."""
    entries = {
        "caliper_id": "C01",
        "zero_mm": 0.0,
        "reading_1_chest": 10.0,
        "reading_2_chest": 14.0,
        "reading_1_thigh": 20.0,
        "reading_2_thigh": 20.5,
        **{f"reading_{number}_subscapular": value for number, value in ((1, 10.0), (2, 13.0), (3, 11.5))},
    }
    sheets = [attempt_of(f"S0{number}", f"P0{number}", entries) for number in range(1, 6)]
    sheets.append(attempt_of("T1", "P01", entries))
    found = third_readings(class_analysis(sheets, BOOK, 1).rounds)
    by_site = {site: counts for site, *counts in found}
    assert by_site["chest"] == [0, 0]
    assert by_site["thigh"] == [5, 0]
    assert by_site["subscapular"] == [5, 5]
    assert by_site["triceps"] == [0, 0]


@pytest.mark.parametrize("attempts", [[], [attempt_of("S01", "P01", {"data_source": "practice"})]])
def test_analysis_of_a_session_without_readings(attempts: list[object]) -> None:
    found = class_analysis(attempts, BOOK, 1)  # type: ignore[arg-type]
    assert (sheet_count(found.rounds), found.sites, found.repeats) == (0, (), ())
    assert isinstance(found.worst, Undefined)


TEXTS = texts_in("en", "findings", "report")


@pytest.mark.parametrize("code", CLASSES)
def test_a_class_that_provokes_it(code: str) -> None:
    assert code in {finding.code for finding in class_findings(CLASSES[code](), TEXTS)}


@pytest.mark.parametrize(
    "code",
    [
        code
        for code in CLASSES
        if code not in ("class-site-stands-out", "class-zero-forgotten", "class-same-numbers")
    ],
)
def test_a_class_without_it(code: str) -> None:
    assert code not in {finding.code for finding in class_findings(CLASSES["class-site-stands-out"](), TEXTS)}


def test_findings_about_files_name_codes_and_come_first() -> None:
    findings = class_findings(CLASSES["class-same-numbers"](), TEXTS)
    assert findings[0].code == "class-same-numbers"
    assert findings[0].found.startswith("S05-P04-1 and S20-P19-1: needs a conversation: ")
    assert findings[0].expected == "fewer than 3 sites with both rounds equal"
    assert (findings[0].severity, findings[0].remedy[:22]) == ("warning", "Talk to both students,")


def test_a_site_goes_by_its_title_where_it_has_one() -> None:
    analysis = CLASSES["class-site-stands-out"]()
    found = [
        next(
            one.found
            for one in class_findings(analysis, TEXTS, titles)
            if one.code == "class-site-stands-out"
        )
        for titles in ({"abdominal": "Belly fold"}, {})
    ]
    assert [words.split(" repeats")[0] for words in found] == ["Belly fold", "abdominal"]


WORDS = load_texts("report.en")
WHY = Undefined("few-pairs", (("pairs", 9), ("needed", 10)))
WHY_WORDS = "9 pairs of readings: an error needs 10 at least"
OFFSET = CaliperOffset("B", 18, 18, 6, 1.04, Interval(0.8, 1.28, 0.99), True, 1.0)


def test_reason_holds_its_numbers() -> None:
    assert reason_words(WHY, WORDS) == WHY_WORDS


def test_worst_site_goes_by_its_title() -> None:
    worst = WorstSite("chest", 14.14, True)
    assert worst_words(worst, {"chest": "Chest"}, WORDS) == (
        "Chest repeats worst, 14.1 % of the fold, by more than chance"
    )
    assert worst_words(replace(worst, stands_out=False), {}, WORDS) == (
        "chest repeats worst, 14.1 % of the fold, but by no more than chance"
    )


# the class against the limits, in words
JUDGEMENTS = (
    ("skilled", "within 5 %, held acceptable of a skilled measurer"),
    ("close-skilled", "close to the limit of 5 % for skilled measurers"),
    ("beginner", "within 7.5 %, held acceptable of a beginner measurer"),
    ("close-beginner", "close to the limit of 7.5 % for beginners"),
    ("above", "above 7.5 %, held acceptable of a beginner"),
    ("few-people", "too few people for a limit"),
)


@pytest.mark.parametrize(("judgement", "words"), JUDGEMENTS)
def test_site_against_the_published_limits(judgement: str, words: str) -> None:
    error = technical_error([(10.0, 11.0)] * 20)
    told = {"relative": 4.0, "relative_interval": Interval(3.9, 5.9), "judgement": judgement}
    site = SimpleNamespace(people=19, comparison="within", **told)
    assert site_words(site, WORDS) == f"4.0 % (between 3.9 and 5.9): {words}"
    known = SitePrecision("chest", 20, error, sheets=20)
    assert site_words(replace(known, unsettled=WHY), WORDS) == WHY_WORDS
    assert site_words(replace(known, error=WHY), WORDS) == WHY_WORDS


def test_final_digits() -> None:
    (scale,) = CLASSES["class-digit-preference"]().digits
    assert digit_words(scale, WORDS) == (
        "readings pile up on the digit 0: read what the scale shows, not rounder"
    )


def test_second_round_thinner() -> None:
    student = Compression("S1", ("K1",), 7)
    assert thinner_words(student, WORDS) == (
        "round 2 thinner in 7 of 7 pairs that differ: by chance 1 in 128; was the caliper held too long, or "
        "no rest between rounds?"
    )


def test_rounds_alike() -> None:
    record = IdenticalRecord("K1", "S1", 7, 0.019)
    question = "round 2 equals round 1 at all 7 sites; a question only: was round 2 measured?"
    assert identical_words(record, WORDS) == f"{question} By chance 1.9 % of honest sheets in this class."
    assert identical_words(replace(record, chance=WHY), WORDS) == question


# offset [mm], what is known of it, in words
OFFSETS = (
    (OFFSET, "reads 1.04 mm high against the others: the zero looks forgotten, near 1 mm"),
    (
        replace(OFFSET, offset=-1.04, interval=Interval(-1.28, -0.8, 0.99), near_mm=-1.0),
        "reads 1.04 mm low against the others: the zero looks forgotten, near -1 mm",
    ),
    (
        replace(OFFSET, near_mm=None),
        "reads 1.04 mm high against the others, by no whole division",
    ),
    (
        replace(OFFSET, offset=-1.04, near_mm=None),
        "reads 1.04 mm low against the others, by no whole division",
    ),
    (
        replace(OFFSET, beyond_chance=False, near_mm=None),
        "+1.04 mm against the others, but one measurer alone used it: it may be the measurer",
    ),
    (
        replace(OFFSET, offset=0.1, interval=Interval(-0.14, 0.34, 0.99), beyond_chance=False, near_mm=None),
        "not told from the others (+0.10 mm, -0.14 to +0.34)",
    ),
    (replace(OFFSET, offset=WHY, interval=WHY, beyond_chance=False), WHY_WORDS),
    (replace(OFFSET, interval=WHY), WHY_WORDS),
)


@pytest.mark.parametrize(("offset", "words"), OFFSETS)
def test_caliper_against_the_others(offset: CaliperOffset, words: str) -> None:
    assert caliper_words(offset, WORDS) == words


def test_same_numbers() -> None:
    pair = NumbersPair("K1", "S1", "K2", "S2", False, 5, 12, 14, 4, 0.000231, ())
    assert pair_words(pair, WORDS) == (
        "needs a conversation: 12 of 14 readings equal as they stand, 5 sites in both rounds; 4 sites or "
        "more are expected in 0.00023 honest pairs of this class"
    )
